// The build page: the same buttons as the plain form, without the page
// coming back after each press.
import { post, say, Refused } from "./send.js";

const form = document.getElementById("build");
const list = document.getElementById("steps");
const said = document.getElementById("said");
const saved = document.getElementById("saved");
const row = document.getElementById("row").content.firstElementChild;
const hintPart = document.getElementById("hint").content.firstElementChild;
const roll = document.getElementById("roll");
const finish = document.getElementById("finish");
const field = (f, name) => f.elements.namedItem(name);
const offered = [...form.querySelectorAll("button[name=add]")];
const labels = new Map(offered.map((b) => [b.value, b.querySelector(".name").textContent.trim()]));
const thens = new Map(offered.map((b) => [b.value, b.dataset.then]));

let steps = [...list.children].map((li) => li.dataset.step);
let after = Number(form.querySelector("input[name=after]:checked")?.value ?? -1);
let undo = [];
let redo = [];
let revision = Number(form.elements.revision.value);
let sending = false;
let dirty = false;
let pending = null; // a save as it was first sent, until it is answered
let refused = false;
let chosen = -1; // the row that shows its tools
let added = { id: "", at: -Infinity }; // the last press of a step to choose
const hintsOf = (li) => [...li.querySelectorAll(".hint")].map((e) => ({
  row: [...list.children].indexOf(li) + 1, message: e.querySelector(".said").textContent, again: e.querySelector(".again span").textContent,
  why: e.querySelectorAll("dd")[0].textContent, next: e.querySelectorAll("dd")[1].textContent,
}));
const half = new CSSStyleSheet(); // how many rows the first of two columns has
document.adoptedStyleSheets = [half];
let doneText = "";
let hints = [...list.children].flatMap(hintsOf);
let carried = steps; // the rows that hints stand at
let told = hints.map((h) => h.message); // by the last answer
const open = new Set([...list.querySelectorAll(".hint[open] .said")].map((e) => e.textContent)); // what the hints say that are open

const name = (i) => labels.get(steps[i]) ?? steps[i];
const button = (n) => form.querySelector(`.row button[name=${n}]`);
const rowButton = (i, n) => list.children[i]?.querySelector(`button[name=${n}]`);
button("redo").hidden = false;
form.classList.add("quick");
document.getElementById("ways").textContent = "Press a step of the order for what can be done with it, or drag it. With a keyboard, Alt with an arrow key moves the step you are on.";

// change replaces the list and the mark, remembers both as they were and saves.
function change(next, text, mark = after) {
  undo.push({ steps, after });
  redo = [];
  steps = next;
  after = mark;
  settle(text);
}

// show rolls a row into sight inside the order's own box. The page stays where
// it is: on a phone the next step is still to be pressed there.
function show(i) {
  const row = list.children[i]?.getBoundingClientRect();
  const box = roll.getBoundingClientRect();
  if (!row) return;
  const space = 44; // of the line under a row that says where the next one goes
  const by = row.top < box.top ? row.top - box.top : Math.max(0, row.bottom + space - box.bottom);
  roll.scrollBy({ top: by, behavior: matchMedia("(prefers-reduced-motion: reduce)").matches ? "instant" : "smooth" });
}

const many = (n) => (n === 1 ? "1 step" : `${n} steps`);

// carry lets hints stay with their rows before and behind what was changed, until the
// answer to the save brings them anew.
function carry() {
  const was = carried;
  const most = Math.min(was.length, steps.length);
  let before = 0;
  while (before < most && was[before] === steps[before]) before++;
  let behind = 0;
  while (behind < most - before && was.at(-1 - behind) === steps.at(-1 - behind)) behind++;
  hints = hints.filter((h) => h.row <= before || h.row > was.length - behind)
    .map((h) => (h.row <= before ? h : { ...h, row: h.row + steps.length - was.length }));
  carried = steps;
}

function settle(text) {
  if (after > steps.length) after = -1;
  carry();
  draw();
  doneText = text;
  say(said, text);
  document.getElementById("peek").textContent = text;
  dirty = true;
  save();
}

function draw(moved = -1) {
  list.replaceChildren(...steps.map((id, i) => {
    const li = row.cloneNode(true);
    const label = labels.get(id) ?? id;
    li.dataset.step = id;
    const then = steps.indexOf(id) === i ? thens.get(id) : "";
    li.draggable = true;
    li.querySelector(".label").textContent = label;
    li.querySelector(".label").setAttribute("aria-label", `Step ${i + 1}, ${label}`);
    li.classList.toggle("chosen", i === chosen);
    li.classList.toggle("late", i >= steps.length / 2); // of the second column, where there are two
    li.querySelector(".then").textContent = then;
    li.querySelector(".then").hidden = !then;
    const dress = (n, verb, off) => {
      const b = li.querySelector(`button[name=${n}]`);
      b.value = i + 1;
      b.setAttribute("aria-label", `${verb} step ${i + 1}, ${label}`);
      b.disabled = off;
    };
    dress("up", "Move up", i === 0);
    dress("down", "Move down", i === steps.length - 1);
    dress("move", "Move to that place", steps.length < 2);
    dress("remove", "Remove", false);
    const place = li.querySelector(".to");
    place.name = `to${i + 1}`;
    place.max = steps.length;
    place.setAttribute("aria-label", `New place of step ${i + 1}, ${label}`);
    for (const h of hints.filter((h) => h.row === i + 1)) li.append(hintAt(h));
    const here = li.querySelector("input");
    here.value = i + 1;
    here.checked = after === i + 1;
    here.setAttribute("aria-label", `Insert here: the next step goes after step ${i + 1}, ${label}`);
    li.classList.toggle("moved", i === moved);
    return li;
  }));
  half.replaceSync(`.steps { --half: ${Math.max(1, Math.ceil(steps.length / 2))}; }`);
  form.querySelector("input[name=after][value='-1']").checked = after < 0;
  document.getElementById("count").textContent = many(steps.length);
  button("undo").disabled = undo.length === 0;
  button("redo").disabled = redo.length === 0;
  document.getElementById("clear").hidden = steps.length === 0;
  document.getElementById("empty").hidden = steps.length > 0;
  for (const b of form.querySelectorAll("button[name=add]")) {
    const n = steps.filter((id) => id === b.value).length;
    b.querySelector(".times").textContent = n ? `${n}×` : "";
  }
  settleFinish();
}

function hintAt(h) {
  const part = hintPart.cloneNode(true);
  part.querySelector(".said").textContent = h.message;
  part.querySelector(".again").hidden = !h.again;
  part.querySelector(".again span").textContent = h.again ?? "";
  const facts = part.querySelectorAll("dd");
  [facts[0].textContent, facts[1].textContent] = [h.why, h.next];
  part.open = open.has(h.message);
  part.addEventListener("toggle", () => { if (part.open) open.add(h.message); else if (part.isConnected) open.delete(h.message); });
  return part;
}

// hear puts the hints of the last save to their rows; what is new is open, and told
// after what was done.
function hear(fresh) {
  const known = new Set(told);
  hints = fresh;
  told = fresh.map((h) => h.message);
  const more = fresh.filter((h) => !known.has(h.message));
  if (fresh.length > 3 && more.length > 0) open.clear();
  if (fresh.length <= 3) for (const h of more) open.add(h.message); // more would bury the order
  const at = focused();
  draw();
  focusOn(at);
  if (more.length > 0 && !form.querySelector("[name=hints][value=end]")?.checked) {
    say(said, `${doneText} Hint at step ${more[0].row}: ${more[0].message.split(": ")[0].replace(/\.$/, "")}.${more.length > 1 ? ` And ${more.length - 1} more.` : ""}`);
  }
}

// focused is where the focus is in the order, so that it can go back there.
function focused() {
  const e = document.activeElement;
  const li = e?.closest?.("#steps li");
  if (!li) return null;
  const what = e.matches(".label, .to, .here input, summary") ? [".label", ".to", ".here input", "summary"].find((s) => e.matches(s)) : `button[name=${e.name}]`;
  return { row: [...list.children].indexOf(li), what, text: e.value };
}

function focusOn(at) {
  if (!at) return;
  const e = list.children[at.row]?.querySelector(at.what);
  if (at.what === ".to" && e) e.value = at.text;
  e?.focus({ preventScroll: true });
}

function settleFinish() {
  document.getElementById("judge").disabled = steps.length === 0 || dirty || pending !== null || refused;
}

// save sends the whole list; a newer list waits until the answer is there. A
// save without an answer may have been kept all the same: it is sent again as it
// was, which the server answers as the same save.
async function save() {
  if (!pending && dirty) {
    pending = { draft: form.elements.draft.value, revision, steps };
    dirty = false;
  }
  settleFinish();
  if (sending || refused || !pending) return;
  sending = true;
  saved.textContent = "Saving…";
  try {
    const answer = await post(form.action, form.elements.token.value, pending);
    pending = null;
    revision = answer.revision;
    field(form, "revision").value = field(finish, "revision").value = revision;
    saved.textContent = "Saved";
    if (!dirty && (hints.length > 0 || told.length > 0 || answer.hints)) hear(answer.hints ?? []);
  } catch (error) {
    if (error instanceof Refused) {
      saved.textContent = "Not saved";
      say(said, error.message);
      document.getElementById("reload").hidden = false;
      sending = false;
      refused = true;
      settleFinish();
      return;
    }
    saved.textContent = "Not saved yet, trying again";
    sending = false;
    setTimeout(save, 2000);
    return;
  }
  sending = false;
  settleFinish();
  save();
}

function add(id) {
  const at = after < 0 ? steps.length : after;
  const then = steps.includes(id) ? "" : thens.get(id);
  change([...steps.slice(0, at), id, ...steps.slice(at)], `${labels.get(id)} is now step ${at + 1} of ${steps.length + 1}.${then ? ` ${then}` : ""}`, after < 0 ? -1 : after + 1);
  show(at);
}

// move keeps the focus on the same control of the moved row; at an end it goes
// to the row's first button that can be pressed.
function move(i, to, from) {
  if (to === i || to < 0 || to >= steps.length) return;
  const next = [...steps];
  next.splice(to, 0, ...next.splice(i, 1));
  chosen = to;
  change(next, `${name(i)} is now step ${to + 1} of ${steps.length}.`);
  draw(to);
  const same = list.children[to].querySelector(from);
  (same && !same.disabled ? same : list.children[to].querySelector(".tools button:not(:disabled)")).focus();
  show(to);
}

// toPlace moves a row to the place that was typed beside it; row -1 is the one beside
// which Enter was pressed.
function toPlace(i) {
  const typed = [...list.querySelectorAll(".to")];
  const row = i >= 0 ? i : typed.findIndex((e) => e.value !== "");
  const place = Number(typed[row]?.value);
  if (!place) {
    say(said, "To which place? Type its number, then press Move.");
    typed[row]?.focus();
    return;
  }
  move(row, Math.min(Math.max(1, Math.round(place)), steps.length) - 1, "button[name=move]");
}

function remove(i) {
  const gone = name(i);
  chosen = Math.min(i, steps.length - 2);
  const mark = after > i ? after - 1 : after;
  change(steps.filter((_, j) => j !== i), `${gone} is gone. ${steps.length - 1} left.`, mark || -1);
  const next = rowButton(Math.min(i, steps.length - 1), "remove");
  (next ?? document.getElementById("order")).focus();
}

function step(from, to, text) {
  if (from.length === 0) return;
  to.push({ steps, after });
  ({ steps, after } = from.pop());
  settle(`${text} ${many(steps.length)} now.`);
}

const acts = {
  add: (v) => add(v),
  up: (v) => move(v - 1, v - 2, "button[name=up]"),
  down: (v) => move(v - 1, v, "button[name=down]"),
  move: (v) => toPlace(v - 1),
  remove: (v) => remove(v - 1),
  undo: () => { step(undo, redo, "Taken back."); if (button("undo").disabled) button("redo").focus(); },
  redo: () => { step(redo, undo, "Done again."); if (button("redo").disabled) button("undo").focus(); },
  clear: () => { change([], "The list is empty. Undo brings it back.", -1); document.getElementById("clear").open = false; document.getElementById("order").focus(); },
};

form.addEventListener("submit", (event) => {
  event.preventDefault();
  const by = event.submitter;
  if (!by || !acts[by.name] || (by.name === "add" && twice(by.value, event.timeStamp))) return;
  acts[by.name](by.name === "add" ? by.value : Number(by.value));
});

// twice: a step pressed again at once was meant once.
function twice(id, at) {
  const again = added.id === id && at - added.at < 500;
  if (again) say(said, `${labels.get(id)} was pressed twice at once, and is added once. Press it again to have it twice.`);
  else added = { id, at };
  return again;
}

form.addEventListener("change", (event) => {
  if (event.target.name === "after") after = Number(event.target.value);
  if (event.target.name === "hints") sessionStorage.setItem("hints", event.target.value);
});

function choose(i) {
  chosen = i;
  [...list.children].forEach((li, j) => li.classList.toggle("chosen", i === j));
}

const rowOf = (e) => [...list.children].indexOf(e.closest?.("#steps > li"));

list.addEventListener("focusin", (event) => choose(rowOf(event.target)));
list.addEventListener("click", (event) => { if (!event.target.closest(".hint")) choose(rowOf(event.target)); });
document.addEventListener("pointerdown", (event) => { if (!list.contains(event.target)) choose(-1); });

list.addEventListener("keydown", (event) => {
  const i = rowOf(event.target);
  if (event.key === "Escape" && i >= 0) {
    list.children[i].querySelector(".label").focus();
    choose(-1);
  }
  if (i < 0 || !event.altKey || (event.key !== "ArrowUp" && event.key !== "ArrowDown")) return;
  event.preventDefault();
  move(i, event.key === "ArrowUp" ? i - 1 : i + 1, focused().what);
});

// A row is dragged to where the line shows: before or behind the row under the pointer.
let dragged = -1;
function mark(i, behind) {
  [...list.children].forEach((li, j) => {
    li.classList.toggle("before", j === i && !behind);
    li.classList.toggle("behind", j === i && behind);
  });
}
const behind = (li, event) => event.clientY > li.getBoundingClientRect().top + li.offsetHeight / 2;

list.addEventListener("dragstart", (event) => {
  dragged = rowOf(event.target);
  event.dataTransfer.effectAllowed = "move";
  event.dataTransfer.setData("text/plain", name(dragged));
});
list.addEventListener("dragover", (event) => {
  const i = rowOf(event.target);
  if (dragged < 0 || i < 0) return;
  event.preventDefault();
  mark(i, behind(list.children[i], event));
});
list.addEventListener("drop", (event) => {
  const i = rowOf(event.target);
  if (dragged < 0 || i < 0) return;
  event.preventDefault();
  const gap = i + (behind(list.children[i], event) ? 1 : 0); // between rows, from 0
  move(dragged, gap > dragged ? gap - 1 : gap, ".label");
});
list.addEventListener("dragend", () => { dragged = -1; mark(-1, false); });

const wanted = form.querySelector(`[name=hints][value="${sessionStorage.getItem("hints")}"]`);
if (wanted) wanted.checked = true;
draw();
