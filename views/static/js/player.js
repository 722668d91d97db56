// The worked example on the picture of the station: act by act, by hand or by itself.
// What is so after each act came with the page; here it is only shown.
import { say } from "./send.js";

const $ = (id) => document.getElementById(id);
const data = JSON.parse($("player-data").textContent);
const { acts, looks, titles } = data;
const root = $("player");
const last = acts.length - 1;
const still = matchMedia("(prefers-reduced-motion: reduce)");
const scroller = root.querySelector(".scroll");
const cells = [...root.querySelectorAll(".around dd")];
const listed = [...document.querySelectorAll(".worked > li, .rows > li")];
const states = [];
for (const [i, a] of acts.entries()) {
  states.push({ ...states.at(-1), ...a.surfaces });
  a.rows ??= i > 0 ? acts[i - 1].rows : data.start;
}
let at = 0;
let timer = 0;

// A shape of the picture with what of it changes. Its water is drawn full.
const shapes = new Map([...root.querySelectorAll("[data-surface]")].map((g) => {
  const water = g.querySelector(".water");
  return [g.dataset.surface, { g, water, line: g.querySelector(".waterline"), top: Number(water.getAttribute("y")), high: Number(water.getAttribute("height")) }];
}));
const signs = (id) => root.querySelectorAll(`.at[data-of="${id}"] .badge`);

function draw(id, [state, share]) {
  const x = shapes.get(id);
  if (!x) return;
  const look = looks[state];
  const words = `${titles[id]}, ${look.word}`;
  x.g.setAttribute("aria-label", words);
  x.g.querySelector("title").textContent = words;
  for (const part of x.g.querySelectorAll(".part")) part.dataset.state = state;
  rise(x, { full: 1, rising: share / 100 }[look.fill] ?? 0);
  for (const badge of signs(id)) sign(badge, state, look.mark);
}

function rise(x, level) {
  const y = x.top + x.high * (1 - level);
  x.water.setAttribute("y", y);
  x.water.setAttribute("height", x.high * level);
  x.line.setAttribute("y", y);
  x.line.toggleAttribute("hidden", level === 0);
}

function sign(badge, state, mark) {
  badge.toggleAttribute("hidden", mark === "");
  const shape = badge.querySelector(".state-mark");
  shape.dataset.state = state;
  shape.setAttribute("points", mark);
}

// turned are the surfaces whose state an act changed; that water rises is no change.
const turned = (i) => (i < 0 ? [] : Object.keys(acts[i].surfaces).filter((id) => i > 0 && acts[i].surfaces[id][0] !== states[i - 1][id][0]));

function mark(i) {
  const just = turned(i);
  for (const [id, { g }] of shapes) {
    g.classList.toggle("just", just.includes(id));
    for (const label of root.querySelectorAll(`.at[data-of="${id}"]`)) label.classList.toggle("just", just.includes(id));
  }
  const first = just.map((id) => shapes.get(id)?.g).find(Boolean);
  if (first) reveal(first.getBoundingClientRect(), scroller.getBoundingClientRect());
}

// reveal moves a picture that is wider than its place to what has changed.
function reveal(box, frame) {
  if (box.left < frame.left) scroller.scrollLeft += box.left - frame.left - 16;
  if (box.right > frame.right) scroller.scrollLeft += Math.min(box.left - frame.left - 16, box.right - frame.right + 16);
}

function rows(i) {
  const before = i > 0 ? acts[i - 1].rows : data.start;
  cells.forEach((cell, n) => {
    const is = acts[i].rows[n];
    const changed = is !== before[n];
    cell.parentElement.classList.toggle("just", changed);
    cell.textContent = changed ? `${before[n]} → ${is}` : is;
  });
}

function fill(box, { text, changes = "", without = "", why = "" }) {
  box.querySelector(".text").textContent = text;
  box.querySelector(".changes").textContent = changes;
  const reason = box.querySelector(".without");
  if (!reason) return; // work in which something is to be found says no reason
  reason.hidden = !without;
  const [what, ground] = reason.querySelectorAll("span");
  what.textContent = without;
  ground.textContent = why;
}

// show is the station after an act; by hand it is said as well.
function show(i, byHand) {
  at = Math.min(last, Math.max(0, i));
  for (const [id, of] of Object.entries(states[at])) draw(id, of);
  rows(at);
  mark(at);
  fill($("act-now"), acts[at]);
  $("act-place").textContent = `Act ${at + 1} of ${acts.length}`;
  $("act-at").value = at + 1;
  $("act-at").setAttribute("aria-valuetext", `Act ${at + 1} of ${acts.length}`);
  listed.forEach((li, n) => (n === at ? li.setAttribute("aria-current", "step") : li.removeAttribute("aria-current")));
  off($("act-back"), at === 0);
  off($("act-on"), at === last);
  $("act-last")?.classList.toggle("come", at === last);
  root.dispatchEvent(new CustomEvent("act", { detail: at }));
  if (byHand) tell();
  else $("act-said").textContent = "";
}

// A button that is off keeps the focus.
const off = (button, is) => button.setAttribute("aria-disabled", is);

function tell() {
  const { text, changes = "", without = "", why = "" } = acts[at];
  say($("act-said"), `Act ${at + 1} of ${acts.length}: ${text}. ${changes} ${without ? `If left out: ${without} ${why}` : ""}`);
}

// How long an act stands: what there is to read of it, reasons too, and some time to look.
function stands({ text, changes = "", without = "", why = "" }) {
  return (2500 + 40 * (text.length + changes.length + without.length + why.length)) * Number($("act-speed").value);
}

// Where picture and act stand under each other, the first use brings both into sight.
let used = false;
function begin() {
  const covered = $("act-now").getBoundingClientRect().top > innerHeight / 2;
  if (!used && covered) root.scrollIntoView();
  used = true;
}

function play() {
  if (still.matches) return step(1);
  if (timer) return pause();
  begin();
  $("act-play").textContent = "Pause";
  show(at === last ? 0 : at, false);
  wait();
}

function wait() {
  clearTimeout(timer);
  timer = setTimeout(() => {
    if (at === last) return pause();
    show(at + 1, false);
    wait();
  }, stands(acts[at]));
}

function pause() {
  clearTimeout(timer);
  timer = 0;
  $("act-play").textContent = "Play";
}

function step(by) {
  pause();
  begin();
  if (at + by >= 0 && at + by <= last) show(at + by, true);
}

// The keys are the player's where nothing else has a use for them.
function keyed(e) {
  const t = e.target;
  if (e.ctrlKey || e.altKey || e.metaKey || !(t === document.body || root.contains(t))) return;
  const by = { ArrowLeft: -1, ArrowRight: 1 }[e.key];
  if (by && !t.matches("select, input") && !(t === scroller && t.scrollWidth > t.clientWidth)) step(by);
  else if (e.key === " " && !t.matches("select, button, a")) play();
  else return;
  e.preventDefault();
}

// reserve finds the longest act, so that nothing moves from one to the next.
function reserve() {
  const box = $("act-longest");
  const highs = acts.map((a) => (fill(box, a), box.offsetHeight));
  fill(box, acts[highs.indexOf(Math.max(...highs))]);
}

function motion() {
  pause();
  $("act-play").hidden = root.querySelector(".speed").hidden = still.matches;
  root.querySelector(".keys").textContent = still.matches ? "The arrow keys step." : "The space bar plays and pauses, the arrow keys step.";
}

$("act-back").addEventListener("click", () => step(-1));
$("act-on").addEventListener("click", () => step(1));
$("act-play").addEventListener("click", play);
$("act-speed").addEventListener("change", () => timer && wait());
$("act-at").addEventListener("input", (e) => step(e.target.value - 1 - at));
document.addEventListener("keydown", keyed);
root.addEventListener("look", (e) => { pause(); show(e.detail, false); });
still.addEventListener("change", motion);
addEventListener("resize", reserve);
root.hidden = false;
motion();
reserve();
document.fonts.ready.then(reserve);
show(0, false);
