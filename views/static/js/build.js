// The build page: the same buttons as the plain form, without the page
// coming back after each press.
import { post, say, Refused } from "./send.js";

const form = document.getElementById("build");
const list = document.getElementById("steps");
const said = document.getElementById("said");
const saved = document.getElementById("saved");
const row = document.getElementById("row").content.firstElementChild;
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

const name = (i) => labels.get(steps[i]) ?? steps[i];
const button = (n) => form.querySelector(`.row button[name=${n}]`);
const rowButton = (i, n) => list.children[i]?.querySelector(`button[name=${n}]`);
button("redo").hidden = false;

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

function settle(text) {
  if (after > steps.length) after = -1;
  draw();
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
    li.querySelector(".label").textContent = label;
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
    dress("remove", "Remove", false);
    const here = li.querySelector("input");
    here.value = i + 1;
    here.checked = after === i + 1;
    here.setAttribute("aria-label", `Insert here: the next step goes after step ${i + 1}, ${label}`);
    li.classList.toggle("moved", i === moved);
    return li;
  }));
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

// move keeps the focus on the same button of the moved row; at an end it goes
// to the row's first button that can be pressed.
function move(i, by, from) {
  const to = i + by;
  if (to < 0 || to >= steps.length) return;
  const next = [...steps];
  [next[i], next[to]] = [next[to], next[i]];
  change(next, `${name(i)} is now step ${to + 1} of ${steps.length}.`);
  draw(to);
  const same = rowButton(to, from);
  (same && !same.disabled ? same : list.children[to].querySelector("button:not(:disabled)")).focus();
}

function remove(i) {
  const gone = name(i);
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
  up: (v) => move(v - 1, -1, "up"),
  down: (v) => move(v - 1, 1, "down"),
  remove: (v) => remove(v - 1),
  undo: () => { step(undo, redo, "Taken back."); if (button("undo").disabled) button("redo").focus(); },
  redo: () => { step(redo, undo, "Done again."); if (button("redo").disabled) button("undo").focus(); },
  clear: () => { change([], "The list is empty. Undo brings it back.", -1); document.getElementById("clear").open = false; document.getElementById("order").focus(); },
};

form.addEventListener("submit", (event) => {
  event.preventDefault();
  const by = event.submitter;
  if (by && acts[by.name]) acts[by.name](by.name === "add" ? by.value : Number(by.value));
});

form.addEventListener("change", (event) => {
  if (event.target.name === "after") after = Number(event.target.value);
});

list.addEventListener("keydown", (event) => {
  if (!event.altKey || (event.key !== "ArrowUp" && event.key !== "ArrowDown")) return;
  const i = [...list.children].indexOf(event.target.closest("li"));
  if (i < 0) return;
  event.preventDefault();
  const up = event.key === "ArrowUp";
  move(i, up ? -1 : 1, event.target.name === "after" ? (up ? "up" : "down") : event.target.name);
});

draw();
