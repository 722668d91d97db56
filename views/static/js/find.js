// Finding what is wrong: the marks of the rows, which are saved as one goes. The player
// shows the work; here the act of now is marked beside it.
import "./player.js";
import { keeper } from "./keep.js";
import { say } from "./send.js";

const $ = (id) => document.getElementById(id);
const form = $("find");
const player = $("player");
const toggle = $("act-mark");
const judge = $("judge");
const rows = [...$("rows").children];
const boxes = rows.map((li) => li.querySelector("input"));
const picks = () => boxes.flatMap((b, i) => (b.checked ? [String(i + 1)] : []));
let at = $("act-at").value - 1;

const keep = keeper({
  url: form.getAttribute("action"),
  token: form.elements.token.value,
  draft: form.elements.draft.value,
  revision: Number(form.elements.revision.value),
  now: picks,
  state(text) {
    $("saved").textContent = text;
    settle();
  },
  heard(answer, all) {
    form.elements.revision.value = answer.revision;
    if (all && answer.told) tell(answer.told);
  },
  refused(error) {
    say($("said"), error.message);
    $("reload").hidden = false;
  },
});

function settle() {
  judge.disabled = picks().length === 0 || !keep.kept();
}

// draw shows how many rows are marked, and whether the one of now is.
function draw() {
  const n = picks().length;
  $("marked-title").textContent = `${n} marked`;
  toggle.setAttribute("aria-pressed", boxes[at].checked);
}

function changed(i) {
  const text = `Row ${i + 1} is ${boxes[i].checked ? "marked" : "not marked any more"}. ${picks().length} marked.`;
  if (!boxes[i].checked) rows[i].querySelector(".told").replaceChildren();
  draw();
  say($("said"), text);
  keep.change();
}

// tell puts what practice says to its rows; what is new is told after what was done.
function tell(all) {
  const before = new Set(rows.filter((li) => li.querySelector(".told").children.length > 0));
  rows.forEach((li, i) => li.querySelector(".told").replaceChildren(...all.filter((t) => t.row === i + 1).map(part)));
  const fresh = all.find((t) => !before.has(rows[t.row - 1]));
  if (fresh) say($("said"), `Row ${fresh.row}: ${fresh.text}`);
}

function part(t) {
  const made = $(t.why ? "told" : "fine").content.firstElementChild.cloneNode(true);
  if (!t.why) {
    made.querySelector("span").textContent = t.text;
    return made;
  }
  made.querySelector(".said").textContent = t.text;
  [...made.querySelectorAll("dd")].forEach((dd, i) => { dd.textContent = [t.why, t.next][i]; });
  return made;
}

boxes.forEach((b, i) => b.addEventListener("change", () => {
  player.dispatchEvent(new CustomEvent("look", { detail: i }));
  changed(i);
}));
toggle.addEventListener("click", () => {
  boxes[at].checked = !boxes[at].checked;
  changed(at);
});
player.addEventListener("act", (e) => { at = e.detail; draw(); });
form.addEventListener("submit", (e) => { if (e.submitter?.id !== "judge" || !keep.kept()) e.preventDefault(); });
$("save").hidden = true;
draw();
settle();
