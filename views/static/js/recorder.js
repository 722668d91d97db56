// The chairside recorder. An act is kept in this browser before the screen says
// so, and sent until the server has answered. Nothing is taken away: Undo adds
// an act that takes another back.
import { key, mss, say, Refused } from "./send.js";
import { data } from "./pack.js";
import { clock } from "./clock.js";
import { hold } from "./hold.js";
import { watchedFilms } from "./films.js";
import { ask, asks, rest } from "./panel.js";
import { paint } from "./wet.js";
import { redo } from "./ready.js";
import { stayAwake } from "./awake.js";
import { lastOf, mark, more, onTap, put, readBoard, showGroups, tileOf, tiles, turnOf } from "./board.js";
import * as queue from "./queue.js";

const $ = (id) => document.getElementById(id);
const root = $("recorder");
const shelf = `stillwet-taps-${data.id}`; // where an earlier program kept what waited
const opened = performance.now(); // the pack was just read
// How notes read.
const noted = new Map([...root.querySelectorAll("[data-note]")].map((b) => [b.dataset.note, b.textContent.trim()]));
// What a note about a part of the station begins with.
const abouts = new Map([...root.querySelectorAll("[data-about]")].map((b) => [b.dataset.about, b.textContent.trim()]));
const longest = 90000; // that a cleaning of hands is timed

// mine are the acts of this browser, which are all in its database; data.acts is what the
// server had when the page was opened, data.before what an earlier program wrote.
const self = await queue.device().catch(closed);
let mine = await queue.acts(data.id);
let keeping = Promise.resolve(); // until all that was tapped is kept
let unkept = 0; // so many are being kept
let sending = false;
let stuck = "";
let lastTap = { button: "", at: -1000 };
let notice = { text: "", until: 0 };

const floor = Math.max(0, ...data.acts.filter((a) => a.device === self).map((a) => a.n));
const endKey = key();
const beginning = Math.max(data.elapsed_ms, ...data.acts.map((a) => a.device === self ? a.at_ms : 0), ...mine.map((a) => a.at_ms));
const now = clock(beginning + performance.now() - opened, data.offline, async () => (await queue.fetched(data.id, 8000)).data?.elapsed_ms);

// closed is said where the browser keeps nothing at all: then nothing may be tapped.
function closed() {
  $("trouble").textContent = "This browser keeps nothing for this page: its storage is full, or closed to it. Record with another one.";
  return new Promise(() => {});
}

const waiting = () => mine.filter((a) => a.state === "waiting");
const count = (n) => `${n} ${n === 1 ? "act" : "acts"}`;

// trouble says once, and shows until it is over, why acts are not sent.
function trouble(text) {
  if (text && text !== stuck) say($("said"), text);
  stuck = text;
}

// elsewhere is who records in place of this tab: "device", "tab" or nobody.
const tab = await hold(data.id, () => { tab.here = false; lookOn("tab"); });
let elsewhere = data.holder && data.holder !== self ? "device" : tab.here ? "" : "tab";
const light = stayAwake(() => !elsewhere);

function lookOn(who) {
  elsewhere = who;
  light();
  askToHold();
  show();
}

function askToHold() {
  $("held-why").textContent = elsewhere === "tab" ? "Another tab of this browser records it."
    : `Another tablet or browser records it${data.since ? `, since ${data.since}` : ""}. ${count(order().filter((a) => a.device !== self).length)} have come from others.`;
  if (!$("held").open) $("held").showModal();
}

// follow shows what has come meanwhile to one who only looks.
async function follow() {
  if (!elsewhere || document.hidden) return;
  try {
    const pack = await queue.fetched(data.id, 8000);
    if (pack.way) return location.replace(pack.way);
    if (pack.data) Object.assign(data, { acts: pack.data.acts, before: pack.data.before, since: pack.data.since });
    mine = await queue.acts(data.id);
  } catch { /* it is asked again */ }
  show();
}

async function takeOver() {
  $("held-wrong").hidden = true;
  try {
    if (elsewhere === "device") {
      const answer = await queue.ask(data.person, `${root.dataset.url}/take-over`, { key: key(), device: self });
      if (answer.holder !== self) throw new Error("another page answered");
    }
    if (!tab.here) tab.here = await tab.take();
    mine = await queue.acts(data.id);
    elsewhere = "";
    light();
    $("held").close();
    show();
    flush();
  } catch (error) {
    $("held-wrong").hidden = false;
    $("held-wrong").textContent = error instanceof Refused || error instanceof queue.Elsewhere ? whyNot(error) : "The server does not answer. Taking over needs it.";
  }
}

// record keeps an act, shows it when it is kept, and sends it.
function record(entry, text) {
  if (elsewhere) return askToHold();
  finishedAt = null;
  unkept += 1;
  counts();
  keeping = queue.keep(data.id, data.person, floor, { at_ms: now(), ...entry }).then((row) => {
    unkept -= 1;
    if (!mine.some((a) => a.n === row.n)) mine.push(row);
    say($("said"), text);
    show();
    flush();
  }, notKept);
  return keeping;
}

// notKept says at once that an act is not in the record.
function notKept(error) {
  unkept -= 1;
  const why = error?.name === "QuotaExceededError" ? "This tablet's storage is full." : "This browser cannot keep it.";
  notice = { text: `Not recorded: ${why} Note it on paper.`, until: performance.now() + 30000 };
  say($("said"), notice.text);
  show();
}

async function flush() {
  if (sending || waiting().length === 0) return;
  sending = true;
  let wait = 0;
  try {
    const answer = await queue.send(data.id, data.person);
    if (!answer) mine = await queue.acts(data.id); // another page of this browser has sent them
    for (const row of answer?.rows ?? []) settled(row);
    trouble("");
    if (answer && waiting().length === 0) askAgain();
    if (answer?.holder && answer.holder !== self && !elsewhere) lookOn("device");
  } catch (error) {
    trouble(whyNot(error));
    wait = error instanceof Refused && error.status !== 401 ? 5000 : 2000;
  }
  sending = false;
  show();
  if (wait) setTimeout(flush, wait);
  else flush();
}

function whyNot(error) {
  if (error instanceof queue.Elsewhere) return `Somebody else is signed in. Sign in yourself to send ${count(waiting().length)}.`;
  if (!(error instanceof Refused)) return window.isSecureContext ? "No answer from the server; trying again." : "No answer; do not reload or close this page.";
  return error.status === 401 ? `Sign in on another tab to send ${count(waiting().length)}.` : error.message;
}

// settled is what the server said of an act. Of one that it will never take the preceptor
// must know that it is not in the record.
function settled(row) {
  mine = mine.map((a) => (a.n === row.n ? row : a));
  if (row.state !== "refused" && row.state !== "late") return;
  notice = { text: `Not recorded: ${row.why}`, until: performance.now() + 10000 };
  say($("said"), notice.text);
}

// order is all acts that count as they stand in the log: each device's by its numbers, the
// devices by their times.
function order() {
  const all = new Map(data.acts.map((a) => [a.key, a]));
  for (const a of mine) all.set(a.key, { ...a, device: self });
  const sorted = [...all.values()].filter((a) => !["refused", "late"].includes(a.state)).sort((a, b) => (a.device < b.device ? -1 : a.device > b.device ? 1 : a.n - b.n));
  let last = null;
  for (const a of sorted) {
    if (last?.device === a.device) a.at_ms = Math.max(a.at_ms, last.at_ms);
    last = a;
  }
  return sorted.sort((a, b) => a.at_ms - b.at_ms);
}

// gone is the acts that were taken back.
function gone() {
  const keys = new Set(order().map((a) => a.undo).filter(Boolean));
  for (const l of data.before) {
    const m = /^undone (\d+)$/.exec(l.text);
    const of = m && data.before.find((x) => x.seq === Number(m[1]));
    if (of) keys.add(of.key);
  }
  return keys;
}

// taps is everything that was tapped, oldest first, one entry a tap.
function taps() {
  const list = [];
  for (const l of data.before) {
    if (l.text.startsWith("undone ")) continue;
    const prev = list.at(-1);
    if (prev && prev.key === l.key) prev.texts.push(l.text);
    else list.push({ key: l.key, step: l.step, at_ms: l.at_ms, texts: [l.text] });
  }
  for (const a of order()) if (!a.undo && !list.some((t) => t.key === a.key)) list.push({ key: a.key, step: a.step ?? "", at_ms: a.at_ms, texts: [a.text ?? ""] });
  return list;
}

function labelOf(t) {
  const step = data.steps[t.step];
  if (!step) return words(t.texts[0]);
  const timed = handsOf(t.step) && t.texts.map((x) => /^(?:rub|wash) hands (\S+)s$/.exec(x)).find(Boolean);
  const product = step.shelf && data.in_use.length > 1 && takenIn(t);
  return timed ? `${step.label}, ${timed[1]} s` : product ? `${step.label}: ${data.products[product].title}` : step.label;
}

function words(text) {
  const surface = /^(still wet|dry) (.+)$/.exec(text);
  if (surface) return `${surface[1] === "dry" ? "Looks dry" : "Still wet"}: ${data.surfaces[surface[2]]?.title ?? surface[2]}`;
  for (const [start, say] of abouts) if (text.startsWith(`${start} `)) return `${say} ${data.surfaces[text.slice(start.length + 1)]?.title ?? ""}`;
  const unseen = /^not seen (.+)$/.exec(text);
  if (unseen && !data.words[text]) return `Not seen: ${data.steps[unseen[1]]?.label ?? unseen[1]}`;
  return data.words[text] ?? noted.get(text) ?? { prompted: "Prompt given", pause: "Pause for patient safety", resume: "Going on" }[text] ?? text;
}

const { films, tileFilm, kindOf, stateOf, wanted, wants, faceSeen, undried, shownAs, share, actsOf, wetOf, takenIn, declares, slack } = watchedFilms(data, now);
const handsOf = (step) => actsOf(step).find((a) => a.hands)?.hands;

// timing is the cleaning of hands that goes on: the latest step that was tapped, when
// it is one, and nobody has said yet when it was over.
function timing(list) {
  const t = list.findLast((x) => x.step);
  const hands = t && handsOf(t.step);
  if (!hands || t.texts.some((x) => x.startsWith(`${hands} `))) return null;
  const ms = now() - t.at_ms;
  return ms < longest ? { step: t.step, key: t.key, hands, ms } : null;
}

readBoard();
const stepsOf = (list) => list.map((t) => t.step);

// What nobody could see is not asked again for the same film.
const waved = new Map();
const asksFor = (wet, s) => kindOf(wet.get(s)) === "ask" && waved.get(s) !== wet.get(s).since;

// asked is the faces that wait for somebody to look.
const asked = (wet) => tiles.filter((t) => t.kind === "face" && t.steps.flatMap(wetOf).some((s) => asksFor(wet, s)));

// ending is those that must be seen and of which nobody can tell any more after some
// acts.
function ending(acts) {
  const wet = films(live());
  const on = new Set(acts.map((a) => a.on).filter(Boolean));
  return asked(wet).filter((t) => wants(wet, t.steps) && (acts.some((a) => a.ready || a.all_dry) || t.steps.flatMap(wetOf).some((x) => on.has(x))));
}

function paused(list) {
  let on = false;
  for (const t of list) { if (t.texts[0] === "pause") on = true; if (t.texts[0] === "resume") on = false; }
  return on;
}

const live = () => { const g = gone(); return taps().filter((t) => !g.has(t.key)); };

const stopped = (list) => list.find((t) => t.texts[0]?.startsWith("stopped "));

function show() {
  const list = live();
  showTiles(list);
  const last = list.at(-1);
  if (last) $("last").textContent = `Last: ${mss(last.at_ms)} ${labelOf(last)}`;
  $("undo").disabled = list.length === 0;
  halted(paused(list), stopped(list));
  showTrail(list);
  $("trouble").textContent = elsewhere ? "Recorded elsewhere: here you only look." : stuck;
  counts();
  if (performance.now() < notice.until) $("last").textContent = notice.text;
  if ($("begin") && list.length === 0 && !unkept && !elsewhere && !document.querySelector("dialog[open]")) $("begin").showModal();
  offer(list);
}

// counts are the acts that are safe in this browser or with the server, those of them that
// the server has, and those that wait.
function counts() {
  const wait = waiting().length;
  const refused = mine.filter((a) => a.state === "refused").length;
  const saved = new Set([...data.before.map((l) => l.key), ...order().map((a) => a.key)]).size;
  $("sent").textContent = `${saved} saved, ${saved - wait} sent, ${wait} waiting${refused ? `, ${refused} refused` : ""}`;
  $("sent").dataset.waiting = wait || refused || unkept ? "yes" : "no";
}

// offer asks by itself, where nothing else is asked, of a face whose time has come and that
// has to be seen: what would make the result incomplete is asked for in time.
function offer(list) {
  if (asks() || mode || elsewhere || unkept || !$("more").hidden || paused(list) || stopped(list) || document.querySelector("dialog[open]")) return;
  const wet = films(list);
  const tile = asked(wet).find((t) => wants(wet, t.steps));
  if (tile) askFace(tile);
}

// showTrail lists what was tapped last.
let trailed = "";
function showTrail(list) {
  const latest = list.slice(-7).reverse().map((t) => `${mss(t.at_ms)} ${labelOf(t)}`);
  if (trailed === latest.join("\n")) return;
  trailed = latest.join("\n");
  $("trail").replaceChildren(...latest.map((text) => Object.assign(document.createElement("li"), { textContent: text })));
}

function showTiles(list) {
  const wet = films(list);
  const on = timing(list);
  const end = Boolean(stopped(list));
  const used = new Set(list.map((t) => t.step));
  for (const tile of tiles) {
    tile.el.setAttribute("aria-disabled", String(end));
    tile.el.toggleAttribute("data-used", tile.steps.some((s) => used.has(s)));
    if (tile.kind === "gear") showGear(tile, list);
    else if (tile.kind === "face") showFace(tile, wet);
    else if (handsOf(tile.steps[0])) showHands(tile, on);
  }
  showGroups();
}

// showGear names what the next tap notes, and below it what was noted last.
function showGear(tile, list) {
  const last = lastOf(tile, stepsOf(list));
  put(tile.name, data.steps[turnOf(tile, stepsOf(list))].words);
  put(tile.state, last ? `✓ ${data.steps[last].words}` : "");
}

function showHands(tile, on) {
  const timed = on?.step === tile.steps[0];
  tile.el.toggleAttribute("data-timing", timed);
  put(tile.state, timed ? `Timing ${mss(on.ms)} – tap when over` : tile.idle);
}

function showFace(tile, wet) {
  const f = tileFilm(wet, tile.steps);
  paint(tile.el, shownAs(f, wet, tile.steps), share(f));
  const done = tile.steps.filter((s) => wetOf(s).some((x) => wet.has(x))).length;
  const part = f && done < tile.steps.length ? `${done} of ${tile.steps.length}: ` : "";
  put(tile.state, f ? part + stateOf(f, "") : "");
}

// halted shows that it was paused, or stopped: then nothing but undoing and finishing
// is left.
function halted(pause, end) {
  root.classList.toggle("paused", pause || Boolean(end));
  $("halt").hidden = !pause && !end;
  $("halt").textContent = end ? "Stopped." : "Paused.";
  $("pause").lastElementChild.textContent = pause ? "Resume" : "Pause for patient safety";
  for (const id of ["pause", "help", "unseen", "open-more"]) $(id).disabled = Boolean(end);
}

function tick() {
  $("time").textContent = mss(now());
  show();
}

// bounced says that a tap came too soon after one on the same button to be meant, by when
// the finger was there: a busy page hears of it later.
function bounced(button, label) {
  const t = window.event.timeStamp;
  if (lastTap.button !== button || t - lastTap.at >= 500) {
    lastTap = { button, at: t };
    return false;
  }
  notify(`Second tap on “${label}” ignored`);
  return true;
}

// notify says something for a moment in place of the last tap.
function notify(text) {
  notice = { text, until: performance.now() + 4000 };
  say($("said"), text);
  show();
}

// once lets a button of the record count one press of two in a bounce.
function once(id, act) {
  $(id).onclick = () => { if (!bounced(id, $(id).textContent.trim())) act(); };
}

// The board's mode is what the next tap on it means, besides what it always means: that it
// was not seen, or that a note is about it.
let mode = null;
function setMode(next) {
  mode = next;
  root.dataset.mode = next?.name ?? "";
  $("unseen").setAttribute("aria-pressed", String(next?.name === "unseen"));
}

// calm ends what was asked and meant.
function calm() {
  setMode(null);
  rest();
}

// tapTile takes a tap on a tile.
function tapTile(tile) {
  if (stopped(live())) return notify("It was stopped. Undo takes that back.");
  if (bounced(tile.title, tile.title)) return;
  if (mode) return mode.take(tile);
  if (tile.kind === "face" && damp(tile)) return askFace(tile);
  goOn();
  rest();
  if (tile.kind === "face") return wipeFace(tile);
  tap(turnOf(tile, stepsOf(live())));
}

// damp reports whether a part of a face is wet, as far as anybody knows.
function damp(tile) {
  const wet = films(live());
  return tile.steps.flatMap(wetOf).some((s) => wet.has(s) && wet.get(s).dry === undefined);
}

// tap notes a step, or ends the timing of hands that it began.
function tap(step) {
  const on = timing(live());
  if (on?.step === step) return over(on);
  if (data.steps[step].shelf && data.in_use.length > 1) return askProduct(step);
  before(step);
}

// askProduct asks of which of the products in use a wipe is.
function askProduct(step) {
  ask(`${data.steps[step].label}: of which product?`, [
    ...data.in_use.map((id) => ({ words: data.products[id].title, kind: "answer", act: () => { rest(); note(step, `take wipe w of ${id}`); } })), cancel]);
}

// over ends the timing of hands: the tap that began it is taken back, and the same
// recorded with its whole seconds.
function over({ step, key: began, hands, ms }) {
  const s = Math.floor(ms / 1000);
  if (s < 1) return notify(`Second tap on “${data.steps[step].label}” ignored`);
  record({ undo: began }, "");
  note(step, `${hands} ${s}s`);
}

// note records a step; a prompt that was armed goes before it.
let armed = false;
function note(step, text) {
  if (armed) {
    arm(false);
    record({ text: "prompted" }, words("prompted"));
  }
  mark(tileOf(step));
  record(text ? { step, text } : { step }, labelOf({ step, texts: [text ?? ""] }));
}

// pending notes the act that waits for an answer. Whoever taps on instead does not answer, and
// it is noted all the same: nothing that was tapped is lost.
let pending = null;
function goOn() {
  const noted = pending;
  pending = null;
  if (noted) { rest(); noted(); }
}

function goBack() {
  pending = null;
  rest();
}

// before asks what nobody can tell any more once a step is noted.
function before(step) {
  pending = () => note(step);
  askEach(ending(actsOf(step)), data.steps[step].label, () => feel(step));
}

// feel asks whether surfaces are dry before a step for which they have to be.
function feel(step) {
  const undry = new Set(undried(films(live()), step));
  const label = data.steps[step].label;
  const open = tiles.filter((t) => t.kind === "face" && t.steps.flatMap(wetOf).some((s) => undry.has(s)));
  const next = () => {
    const tile = open.shift();
    if (!tile) return goOn();
    askParts(tile, `Dry? ${tile.title}. “${label}” is noted after it.`, tile.steps.filter((s) => wetOf(s).some((x) => undry.has(x))), [
      { words: "Dry", act: (steps) => { seeDry(steps.flatMap(wetOf).filter((s) => undry.has(s))); next(); } },
      { words: "Still wet", act: (steps) => { seen(tile, steps); next(); } },
      { words: "Did not see", act: next },
      { words: "Go back", kind: "plain", act: goBack },
    ]);
  };
  next();
}

// wipeFace notes that all parts of a face were wiped; each can be taken out again.
function wipeFace(tile) {
  for (const step of tile.steps) note(step);
  if (tile.steps.length > 1) keeping.then(() => showParts(tile));
}

// showParts lists the parts of a face just wiped: a press takes one out, another puts it
// back.
function showParts(tile) {
  const cells = tile.steps.map((step) => {
    const t = live().findLast((x) => x.step === step);
    return { words: partName(step), pressed: Boolean(t), act: () => {
      if (t) record({ undo: t.key }, `Not wiped: ${partName(step)}`);
      else note(step);
      keeping.then(() => showParts(tile));
    } };
  });
  ask(`${tile.title} wiped. Take out what was not.`, cells);
}

const partName = (step) => wetOf(step).map((s) => data.surfaces[s].name).join(", ");

// askFace asks what is seen of a face that is wet.
function askFace(tile) {
  const wet = films(live());
  const open = tile.steps.filter((s) => wetOf(s).some((x) => wet.has(x)));
  const dry = tile.steps.filter((s) => !open.includes(s));
  const f = tileFilm(wet, tile.steps);
  const early = ["wet", "alone"].includes(kindOf(f));
  const title = `${tile.title}: ${f.alone ? "left alone" : "wet"} ${mss(now() - f.since)} of ${mss(f.need)}. ${early ? "Its time is not over." : "What do you see?"}`;
  askParts(tile, title, early && dry.length > 0 ? dry : open, [
    { words: "Still wet", act: (steps) => seen(tile, steps) },
    { words: "Looks dry", act: (steps) => { seeDry(steps.flatMap(wetOf).filter((s) => wet.has(s))); rest(); } },
    { words: dry.length > 0 ? "Wiped" : "Wiped again", act: (steps) => { rest(); steps.forEach((s) => note(s)); } },
    { words: "Did not see", act: () => { wave(tile); rest(); } },
  ]);
}

function seen(tile, steps) {
  const open = films(live());
  for (const s of steps.flatMap(wetOf)) if (open.has(s)) record({ text: `still wet ${s}` }, words(`still wet ${s}`));
  for (const step of tile.steps) if (!steps.includes(step)) waveStep(step);
  rest();
}

const wave = (tile) => tile.steps.forEach(waveStep);
function waveStep(step) {
  const wet = films(live());
  for (const s of wetOf(step)) if (wet.has(s)) waved.set(s, wet.get(s).since);
}

// askParts asks something of a face, of which parts can be taken out.
function askParts(tile, title, chosen, acts) {
  const on = new Set(chosen);
  const draw = () => {
    const parts = tile.steps.length < 2 ? [] : tile.steps.map((step) => ({ words: partName(step), pressed: on.has(step), act: () => {
      if (!on.delete(step)) on.add(step);
      draw();
    } }));
    ask(title, [...acts.map((a) => ({ ...a, kind: a.kind ?? "answer", act: () => a.act([...on]) })), ...parts]);
  };
  draw();
}

// askEach asks of faces, one after another, whether they are still wet, before something is
// noted after which nobody can tell.
function askEach(faces, label, next) {
  const left = [...faces];
  const one = () => {
    const tile = left.shift();
    if (!tile) { rest(); return next(); }
    const wet = films(live());
    const open = tile.steps.filter((s) => wetOf(s).some((x) => asksFor(wet, x)));
    askParts(tile, `Still wet? ${tile.title}. Once “${label}” is noted it is too late to tell.`, open, [
      { words: "Still wet", act: (steps) => { seen(tile, steps); one(); } },
      { words: "Looks dry", act: (steps) => { seeDry(steps.flatMap(wetOf)); one(); } },
      { words: "Did not see", act: () => { wave(tile); one(); } },
      { words: "Go back", kind: "plain", act: goBack },
    ]);
  };
  one();
}

function seeDry(surfaces) {
  for (const s of surfaces) record({ text: `dry ${s}` }, words(`dry ${s}`));
}

onTap({
  tile: tapTile,
  step: (step, b) => {
    if (stoppedNow() || bounced(`step ${step}`, b.textContent)) return;
    goOn();
    rest();
    if (mode?.name === "unseen") unseen(step);
    else tap(step);
  },
  note: saw,
  about: (text, b) => aim(text, b.textContent.trim()),
});

function stoppedNow() {
  if (!stopped(live())) return false;
  notify("It was stopped. Undo takes that back.");
  return true;
}

// aim waits for the surface that a note is about.
function aim(text, title) {
  setMode({ name: "about", take: (tile) => {
    const surfaces = tile.kind === "face" ? tile.steps.flatMap(wetOf) : [];
    if (surfaces.length === 0) return notify("Tap the part of the station that it is about.");
    const noted = (s) => { calm(); saw(`${text} ${s}`); };
    if (surfaces.length === 1) return noted(surfaces[0]);
    ask(`${title} Which part?`, [...surfaces.map((s) => ({ words: data.surfaces[s].name, act: () => noted(s) })), cancel]);
  } });
  ask(`${title} Tap the part of the station.`, [cancel]);
}
const cancel = { words: "Cancel", kind: "plain", act: calm };

// saw records a watcher's note.
function saw(text) {
  if (stoppedNow() || bounced(text, words(text))) return;
  goOn();
  const keep = () => { pending = null; record({ text }, words(text)); };
  if (text !== "all dry") return keep();
  pending = keep;
  const early = [...films(live()).values()].filter((f) => !f.dry && now() - f.since < f.need - slack).length;
  const all = () => askEach(ending([{ all_dry: true }]), words(text), keep);
  if (early === 0) return all();
  ask(`${early} ${early === 1 ? "has" : "have"} not had the contact time. Dry already?`, [
    { words: "Yes, all dry", act: () => { rest(); all(); } }, { words: "Go back", kind: "plain", act: rest }]);
}

// Where watching begins is asked before anything else is tapped.
if ($("begin")) {
  $("begin").addEventListener("cancel", (event) => event.preventDefault());
  $("begin").addEventListener("click", (event) => {
    const b = event.target.closest("[data-from]");
    if (!b) return;
    $("begin").close();
    const text = `watching from ${b.dataset.from}`;
    record({ text }, words(text));
  });
}

// lastTogether is what one tap noted: of a face, all its parts.
function lastTogether() {
  const list = live();
  const last = list.at(-1);
  const tile = last && tileOf(last.step);
  if (tile?.kind !== "face") return last ? [last] : [];
  const first = list.findLastIndex((t) => !tile.steps.includes(t.step) || last.at_ms - t.at_ms > 100);
  return list.slice(first + 1);
}
once("undo", async () => {
  await keeping; // or it would take back the act before the one that is being kept
  const last = lastTogether();
  if (last.length === 0) return;
  pending = null;
  calm();
  mark();
  const text = `Taken back: ${last.length > 1 ? tileOf(last[0].step).title : labelOf(last[0])}`;
  for (const t of last.reverse()) record({ undo: t.key }, text);
  notice = { text, until: performance.now() + 4000 };
  show();
});
once("pause", () => (paused(live()) ? record({ text: "resume" }, "Going on") : record({ text: "pause" }, "Paused for patient safety")));

// A prompt counts for the next act, and can be taken back until then.
function arm(on) {
  armed = on;
  $("help").toggleAttribute("data-armed", on);
  put($("help").lastElementChild, on ? "Prompt: goes with the next act. Cancel" : "Prompt, stepped in…");
}
once("help", () => {
  if (armed) return arm(false);
  calm();
  ask("Did you help? Then it counts as practice.", [
    { words: "Prompt for the next act", act: () => { rest(); arm(true); } },
    ...data.causes.map((c) => ({ words: words(`stepped in ${c}`).replace("The watcher", "I"), act: () => { rest(); record({ text: `stepped in ${c}` }, words(`stepped in ${c}`)); notify("Noted. It goes on as practice; Finish ends it."); } })),
    cancel,
  ]);
});

// unseen notes that a step could not be seen.
function unseen(step) {
  calm();
  record({ text: `not seen ${step}` }, words(`not seen ${step}`));
}
once("unseen", () => {
  if (mode) return calm();
  rest();
  setMode({ name: "unseen", take: (tile) => {
    if (tile.steps.length === 1) return unseen(tile.steps[0]);
    const name = (s) => (tile.kind === "face" ? partName(s) : data.steps[s].words);
    ask("Which could you not see?", [
      ...(tile.kind === "face" ? [{ words: "All of it", act: () => tile.steps.forEach(unseen) }] : []),
      ...tile.steps.map((s) => ({ words: name(s), act: () => unseen(s) })), cancel]);
  } });
  ask("Tap what you could not see. It counts as not assessed, never as missed.", [
    ...data.unseen.map((text) => ({ words: words(text), act: () => { calm(); record({ text }, words(text)); } })), cancel]);
});

$("end").onclick = openFinish;
function openFinish() {
  goOn();
  const g = gone();
  const timed = (t) => g.has(t.key) && handsOf(t.step); // the tap that began it; its seconds stand in the next
  $("log").replaceChildren(...taps().filter((t) => !timed(t)).map((t) => {
    const li = document.createElement("li");
    const text = document.createElement(g.has(t.key) ? "s" : "span");
    text.textContent = `${mss(t.at_ms)} ${labelOf(t)}${g.has(t.key) ? " (taken back)" : ""}`;
    li.append(text);
    return li;
  }));
  $("waiting").hidden = true;
  if (waiting().length > 0) unsent();
  const list = live();
  $("reason").value = stopped(list)?.texts[0].slice("stopped ".length) ?? "";
  for (const r of marks()) r.checked = verdictOn(list, r.dataset.mark) === r.value;
  warn(list);
  if (!$("finish").open) $("finish").showModal();
}
$("reason").onchange = () => warn(live());

const marks = () => [...$("finish").querySelectorAll("input[data-mark]")];

// verdictOn is what was said last of a mark of the watcher's.
function verdictOn(list, mark) {
  const start = `watcher says ${mark} `;
  return list.map((t) => t.texts[0] ?? "").findLast((x) => x.startsWith(start))?.slice(start.length);
}

function unsent() {
  $("waiting").hidden = false;
  const n = waiting().length;
  $("waiting").textContent = `${count(n)} ${n === 1 ? "is" : "are"} not sent yet. Finish when all are sent.`;
}

// warn says before the end what will be missing in the record. Of work that was
// stopped nothing is.
function warn(list) {
  const wet = films(list);
  const all = wanted(wet);
  const open = [...wet].filter(([s, f]) => all.has(s) && (f.late || ["ask", "unseen"].includes(kindOf(f)))).map(([s]) => data.surfaces[s].title);
  const over = $("reason").value !== "";
  $("unanswered").hidden = over || open.length === 0;
  $("unanswered").textContent = `Nobody has noted whether these stayed wet for their time: ${open.join("; ")}. Without it the result will be incomplete.`;
  $("no-face").hidden = over || faceSeen(wet);
  if (data.one_face) $("no-face").textContent = `No whole side of the ${data.one_face.thing} was seen wet for its time. Without it the result will be incomplete.`;
  const again = redo(data, tiles.flatMap((t) => t.steps), list, wet, kindOf);
  $("undone").hidden = over || again === "";
  $("undone").textContent = again;
  $("undeclared").hidden = over || list.some((t) => declares(t.step));
}

// answers records what the dialog of the end asks, as far as it was not said before.
function answers() {
  const list = live();
  for (const r of marks()) if (r.checked && verdictOn(list, r.dataset.mark) !== r.value) {
    const text = `watcher says ${r.dataset.mark} ${r.value}`;
    record({ text }, words(text));
  }
  const was = stopped(list);
  const text = $("reason").value ? `stopped ${$("reason").value}` : "";
  if (was && was.texts[0] !== text) record({ undo: was.key }, "");
  if (text && was?.texts[0] !== text) record({ text }, words(text));
}

// sent waits a moment until everything has reached the server.
async function sent() {
  await keeping;
  for (let i = 0; i < 60 && waiting().length > 0; i++) await new Promise((done) => setTimeout(done, 50));
}

// close ends the recording. A second press while the first is under way is
// none; what is sent again after a lost answer says the same moment.
let closing = false;
async function close(path, body) {
  if (path === "end" && waiting().length > 0) return later(body);
  if (closing) return;
  closing = true;
  try {
    const answer = await queue.ask(data.person, `${root.dataset.url}/${path}`, body);
    if (answer.warning) {
      $("warning").hidden = false;
      $("warning").textContent = `${answer.warning} Change your words, or press Finish once more to keep them.`;
      accepted = $("comment").value;
      return;
    }
    if (!answer.way) throw new Error("another page answered");
    await (waiting().length > 0 ? queue.dropPack(data.id) : queue.forget(data.id)); // what waits is sent by the next page
    location.assign(answer.way);
  } catch (error) {
    $("warning").hidden = false;
    $("warning").textContent = error instanceof Refused || error instanceof queue.Elsewhere ? whyNot(error) : "The server does not answer. Nothing is lost; try again in a moment.";
  } finally {
    closing = false;
  }
}
// later notes that it was finished while the server was away. The findings come when all is
// sent; what is not done at the station is told at once.
async function later(body) {
  data.finish = { at_ms: body.at_ms, comment: body.comment };
  await queue.noteFinish(data.id, data.finish).catch(() => {});
  unsent();
  $("waiting").textContent = `Finished at ${mss(body.at_ms)}: noted. ${count(waiting().length)} ${waiting().length === 1 ? "is" : "are"} not sent yet; it is judged when they are. Keep this browser, and open this page again where there is network.`;
  $("finish").scrollTop = 0;
}

// askAgain comes back to a finish that had to wait.
function askAgain() {
  if (!data.finish || elsewhere || document.querySelector("dialog[open]:not(#finish)")) return;
  $("comment").value ||= data.finish.comment;
  openFinish();
  $("waiting").hidden = false;
  $("waiting").textContent = `You finished at ${mss(data.finish.at_ms)}. All is sent now: press Finish to have it judged, or go on recording.`;
  $("finish").scrollTop = 0;
  data.finish = null;
}

// lastNumbers is the number of the last act of each device that is known here, our own first.
function lastNumbers() {
  const last = new Map([[self, Math.max(floor, ...mine.map((a) => a.n))]]);
  for (const a of data.acts) last.set(a.device, Math.max(a.n, last.get(a.device) ?? 0));
  return [...last].map(([device, n]) => ({ device, n }));
}

let accepted = "";
let finishedAt = null; // when it was finished first; another tap takes that back
let finishing = false; // a second press while the first is under way is none
$("finish-yes").onclick = async () => {
  if (finishing) return;
  finishing = true;
  try {
    const comment = $("comment").value;
    answers();
    await sent();
    finishedAt ??= now();
    await close("end", { key: endKey, at_ms: finishedAt, comment, sure: comment !== "" && comment === accepted, last: lastNumbers() });
  } finally {
    finishing = false;
  }
};
$("abandon").onclick = () => {
  if ($("abandon").dataset.sure) return sent().then(() => close("abandon", { key: endKey }));
  $("abandon").dataset.sure = "yes";
  $("abandon").textContent = "Press once more: it will not be judged";
};

// What waits since an earlier program is taken over once.
async function takeOld() {
  let old = [];
  try { old = JSON.parse(localStorage.getItem(shelf)) ?? []; } catch { return; }
  for (const entry of old) if (!mine.some((a) => a.key === entry.key)) mine.push(await queue.keep(data.id, data.person, floor, entry));
  localStorage.removeItem(shelf);
}

$("held-take").onclick = takeOver;
if ($("plain")) $("plain").hidden = window.isSecureContext;
setInterval(follow, 5000);

await takeOld().catch(() => trouble("What waits of before could not be kept anew: this browser's storage is full."));
root.dataset.ready = "yes"; // from here on a tap is heard
if (elsewhere) askToHold();
else if (waiting().length === 0) askAgain();
tick();
setInterval(tick, 500);
flush();
