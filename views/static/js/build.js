// The build page: the same buttons as the plain form, without the page
// coming back after each press.
import { keeper } from "./keep.js";
import { say } from "./send.js";

const form = document.getElementById("build");
const list = document.getElementById("steps");
const said = document.getElementById("said");
const saved = document.getElementById("saved");
const news = document.getElementById("news");
const hinted = document.getElementById("hinted");
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
let chosen = -1; // the row that shows its tools
let last = -1; // the row that was added or moved last
let added = { id: "", at: -Infinity }; // the last press of a step to choose
const hintsOf = (li) => [...li.querySelectorAll(".hint")].map((e) => ({
  row: [...list.children].indexOf(li) + 1, message: e.querySelector(".said").textContent, again: e.querySelector(".again span").textContent,
  why: e.querySelectorAll("dd")[0].textContent, next: e.querySelectorAll("dd")[1].textContent,
}));
const columns = new CSSStyleSheet(); // how many the rows stand in
document.adoptedStyleSheets = [columns];
let hints = [...list.children].flatMap(hintsOf);
let carried = steps; // the rows that hints stand at
// A hint is known by what it says before its list of things, and by its step: both
// outlast a change elsewhere in the order.
const known = (h) => `${h.message.split(": ")[0].replace(/\.$/, "")} ${carried[h.row - 1]}`;
let arrived = hints.map(known).reverse(); // hints by the last answer, the newest first
let fresh = ""; // the one that stands at the last press until it is mended or hidden
let more = 0; // others that came with it
let visited = 0; // how many were gone to, from the newest
const open = new Set([...list.querySelectorAll(".hint[open] .said")].map((e) => e.textContent)); // what the hints say that are open

const name = (i) => labels.get(steps[i]) ?? steps[i];
const button = (n) => form.querySelector(`.row button[name=${n}]`);
const oneColumn = matchMedia("(max-width: 55.99rem)");
const calm = matchMedia("(prefers-reduced-motion: reduce)");
const pace = () => (calm.matches ? "instant" : "smooth");
row.querySelector(".here input").type = "checkbox"; // each a stop of the Tab key; without a script they exclude each other
button("redo").hidden = false;
form.classList.add("quick");
document.getElementById("ways").textContent = "Press a step of the order to move it, take it out or insert after it; or drag it. With a keyboard, Alt with an arrow key moves the step you are on.";

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
  if (!row || oneColumn.matches) return;
  const space = 44; // of the line under a row that says where the next one goes
  const by = row.top < box.top || row.height + space > box.height ? row.top - box.top : Math.max(0, row.bottom + space - box.bottom);
  roll.scrollBy({ top: by, behavior: pace() });
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

function tell(text) {
  document.getElementById("peek").hidden = true;
  say(said, text);
}

function settle(text) {
  if (after > steps.length) after = -1;
  carry();
  draw();
  tell(text);
  keep.change();
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
    mark(li, i === chosen);
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
    place.setAttribute("aria-label", `Move to place: new place of step ${i + 1}, ${label}`);
    for (const h of hints.filter((h) => h.row === i + 1)) li.append(hintAt(h));
    const here = li.querySelector(".here input");
    here.value = i + 1;
    here.setAttribute("aria-label", `Insert after this: the next step goes after step ${i + 1}, ${label}`);
    li.classList.toggle("moved", i === moved);
    return li;
  }));
  lay();
  drawAfter();
  drawNews();
  document.getElementById("count").textContent = many(steps.length);
  button("undo").disabled = undo.length === 0;
  button("redo").disabled = redo.length === 0;
  document.getElementById("clear").hidden = steps.length === 0;
  document.getElementById("empty").hidden = steps.length > 0;
  document.getElementById("see").hidden = steps.length === 0;
  for (const b of form.querySelectorAll("button[name=add]")) {
    const n = steps.filter((id) => id === b.value).length;
    b.querySelector(".times").textContent = n ? `${n}×` : "";
  }
  settleFinish();
}

// lay sets the rows in columns, down the first and then the next, each as long as its own
// rows and hints make it. A short order is one column.
function lay() {
  const wide = 225, gap = 12, enough = 460; // pixels, the last of a column that needs no other
  const rows = [...list.children];
  const high = () => rows.map((li) => li.offsetHeight - li.querySelector(".tools").offsetHeight);
  const sum = (some) => some.reduce((a, b) => a + b, 0);
  const room = Math.floor((list.clientWidth + gap) / (wide + gap));
  const n = Math.max(1, Math.min(room, Math.ceil(sum(high()) / enough)));
  columns.replaceSync(`.steps { column-count: ${n}; }`);
  const heights = high();
  const all = sum(heights);
  let column = 1;
  for (const [i, li] of rows.entries()) {
    const turn = i > 0 && column < n && sum(heights.slice(0, i)) + heights[i] / 2 > all * column / n;
    li.classList.toggle("turn", turn);
    if (turn) column++;
  }
}

function drawAfter() {
  for (const e of form.querySelectorAll(".here input")) e.checked = Number(e.value) === after;
}

function bold(text) {
  const b = document.createElement("b");
  b.textContent = text;
  return b;
}

// drawNews shows the newest hint and how many there are. What it says is read aloud when
// it changes, and only then.
function drawNews() {
  const h = hints.find((h) => known(h) === fresh);
  if (!h && fresh && !keep.kept()) return; // its row is on the move; the answer says whether it stays
  const what = h ? `Hint at step ${h.row}: ${h.message}` : "";
  const why = h ? ` ${h.why.split(/(?<=[.]) /)[0]}${more > 0 ? ` And ${more} more.` : ""}` : "";
  if (hinted.textContent !== what + why) hinted.replaceChildren(...(h ? [bold(what), why] : []));
  news.classList.toggle("on", Boolean(h));
  const count = document.getElementById("all-hints");
  count.hidden = hints.length === 0;
  count.textContent = hints.length === 1 ? "1 hint" : `${hints.length} hints`;
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

// hear puts the hints of the last save to their rows; what is new is open, and stands
// where the step was pressed.
function hear(answer) {
  hints = answer;
  const before = new Set(arrived);
  const came = hints.filter((h) => !before.has(known(h))).sort((a, b) => (b.row === last + 1) - (a.row === last + 1));
  arrived = [...came.map(known), ...arrived.filter((k) => hints.some((h) => known(h) === k))];
  if (hints.length > 3 && came.length > 0) open.clear();
  if (hints.length <= 3) for (const h of came) open.add(h.message); // more would bury the order
  if (came.length > 0) [fresh, more, visited] = [known(came[0]), came.length - 1, 0];
  else if (!arrived.includes(fresh)) fresh = "";
  const at = focused();
  draw();
  focusOn(at);
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
  document.getElementById("judge").disabled = steps.length === 0 || !keep.kept();
}

const keep = keeper({
  url: form.action,
  token: form.elements.token.value,
  draft: form.elements.draft.value,
  revision: Number(form.elements.revision.value),
  now: () => steps,
  state(text) {
    saved.textContent = text;
    settleFinish();
  },
  heard(answer, all) {
    field(form, "revision").value = field(finish, "revision").value = answer.revision;
    if (all && (hints.length > 0 || arrived.length > 0 || answer.hints)) hear(answer.hints ?? []);
  },
  refused(error) {
    tell(error.message);
    document.getElementById("reload").hidden = false;
  },
});

function add(id) {
  const at = after < 0 ? steps.length : after;
  const then = steps.includes(id) ? "" : thens.get(id);
  [chosen, last] = [-1, at];
  change([...steps.slice(0, at), id, ...steps.slice(at)], `${labels.get(id)} is now step ${at + 1} of ${steps.length + 1}.${then ? ` ${then}` : ""}`, after < 0 ? -1 : after + 1);
  show(at);
}

// move keeps the focus on the same control of the moved row; at an end it goes
// to the row's first button that can be pressed.
function move(i, to, from) {
  if (to === i || to < 0 || to >= steps.length) return;
  const next = [...steps];
  next.splice(to, 0, ...next.splice(i, 1));
  [chosen, last] = [chosen === i ? to : -1, to];
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
    tell("To which place? Type its number, then press Move.");
    typed[row]?.focus();
    return;
  }
  move(row, Math.min(Math.max(1, Math.round(place)), steps.length) - 1, "button[name=move]");
}

function remove(i) {
  const gone = name(i);
  [chosen, last] = [-1, -1];
  const mark = after > i ? after - 1 : after;
  change(steps.filter((_, j) => j !== i), `${gone} is gone. ${steps.length - 1} left.`, mark || -1);
  const next = list.children[Math.min(i, steps.length - 1)]?.querySelector(".label");
  (next ?? document.getElementById("order")).focus();
}

function step(from, to, text) {
  if (from.length === 0) return;
  to.push({ steps, after });
  ({ steps, after } = from.pop());
  [chosen, last] = [-1, -1];
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
  if (again) tell(`${labels.get(id)} was pressed twice at once, and is added once. Press it again to have it twice.`);
  else added = { id, at };
  return again;
}

form.addEventListener("change", (event) => {
  if (event.target.name === "hints") sessionStorage.setItem("hints", event.target.value);
  if (event.target.name === "area") showArea();
  if (event.target.name !== "after") return;
  after = event.target.checked ? Number(event.target.value) : -1;
  drawAfter();
  tell(after < 0 ? "The next step goes to the end." : `The next step goes after step ${after}, ${name(after - 1)}.`);
});

function mark(li, yes) {
  li.classList.toggle("chosen", yes);
  li.querySelector(".label").setAttribute("aria-expanded", yes);
}

function choose(i) {
  chosen = i;
  [...list.children].forEach((li, j) => mark(li, i === j));
  show(i);
  if (oneColumn.matches) list.children[i]?.scrollIntoView({ block: "nearest", behavior: pace() });
}

const rowOf = (e) => [...list.children].indexOf(e.closest?.("#steps > li"));

// A row shows its tools when it is pressed, and not when the press begins: they make room
// below it, and what lies there would move away under the finger. A second press at once
// was meant once.
list.addEventListener("click", (event) => {
  if (event.detail > 1 || event.target.closest(".hint, .tools")) return;
  const i = rowOf(event.target);
  choose(i === chosen ? -1 : i);
});
document.addEventListener("click", (event) => { if (!event.target.closest("#steps, #news")) choose(-1); });

// goTo leads to a row, with its tools.
let left = 0; // where the page stood then
function goTo(i) {
  const li = list.children[i];
  if (!li) return;
  if (!form.classList.contains("away")) left = scrollY;
  for (const h of li.querySelectorAll(".hint")) h.open = true;
  choose(i);
  const label = li.querySelector(".label");
  label.focus({ preventScroll: true });
  if (oneColumn.matches) label.scrollIntoView({ block: "center", behavior: pace() });
  else if (roll.scrollHeight <= roll.clientHeight) label.scrollIntoView({ block: "nearest", behavior: pace() });
}

const rowOfHint = (k) => (hints.find((h) => known(h) === k)?.row ?? 0) - 1;

document.getElementById("see").addEventListener("click", (event) => {
  const i = fresh ? rowOfHint(fresh) : last;
  event.preventDefault();
  goTo(i >= 0 ? i : steps.length - 1);
});
document.getElementById("all-hints").addEventListener("click", () => { goTo(rowOfHint(arrived[visited++ % arrived.length])); });
document.getElementById("hide").addEventListener("click", () => {
  fresh = "";
  drawNews();
  document.getElementById("all-hints").focus();
});
document.getElementById("back").addEventListener("click", (event) => {
  event.preventDefault();
  form.querySelector("[name=area]:checked")?.focus({ preventScroll: true });
  scrollTo({ top: left || areas.getBoundingClientRect().top + scrollY - 16, behavior: pace() });
});

// Where one area is shown at a time, so are its seldom steps.
const areas = document.getElementById("areas");
function showArea() {
  const titles = new Map([...form.querySelectorAll("[name=area]")].map((e) => [e.value, e.checked]));
  for (const g of form.querySelectorAll("#seldom .group")) g.classList.toggle("off", titles.get(g.dataset.area) === false);
}
new IntersectionObserver(([e]) => form.classList.toggle("away", !e.isIntersecting), { rootMargin: "0px 0px -160px" }).observe(areas);
let laid = 0;
new ResizeObserver(() => { if (list.clientWidth !== laid) { laid = list.clientWidth; lay(); } }).observe(list);

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
function drawLine(i, behind) {
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
  drawLine(i, behind(list.children[i], event));
});
list.addEventListener("drop", (event) => {
  const i = rowOf(event.target);
  if (dragged < 0 || i < 0) return;
  event.preventDefault();
  const gap = i + (behind(list.children[i], event) ? 1 : 0); // between rows, from 0
  move(dragged, gap > dragged ? gap - 1 : gap, ".label");
});
list.addEventListener("dragend", () => { dragged = -1; drawLine(-1, false); });

const wanted = form.querySelector(`[name=hints][value="${sessionStorage.getItem("hints")}"]`);
if (wanted) wanted.checked = true;
showArea();
draw();
