// The chairside recorder. An act is kept in this browser before the screen says
// so, and sent until the server has answered. Nothing is taken away: Undo adds
// an act that takes another back.
import { key, mss, say, Refused } from "./send.js";
import { data } from "./pack.js";
import { hold } from "./hold.js";
import { paint, wetted } from "./wet.js";
import * as queue from "./queue.js";

const $ = (id) => document.getElementById(id);
const root = $("recorder");
const shelf = `stillwet-taps-${data.id}`; // where an earlier program kept what waited
const opened = performance.now(); // the pack was just read
const buttons = new Map([...root.querySelectorAll(".tap[data-step]")].map((b) => [b.dataset.step, b]));
const idle = new Map([...buttons.values()].map((b) => [b, b.querySelector(".state")?.textContent ?? ""]));
// How notes read: of one about a surface, its words in place of the blank.
const noted = new Map([...root.querySelectorAll("[data-note]")].map((b) => {
  const kind = b.closest("details")?.querySelector("summary").textContent.trim();
  const own = b.textContent.trim();
  return [b.dataset.note, kind ? kind.replace("…", own) : own];
}));
const mustSee = new Set(data.must_see);
const slack = data.slack_ms; // a tap may be off by so much
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
// closed is said where the browser keeps nothing at all: then nothing may be tapped.
function closed() {
  $("trouble").textContent = "This browser keeps nothing for this page: its storage is full, or closed to it. Record with another one.";
  return new Promise(() => {});
}

const now = () => Math.round(beginning + performance.now() - opened);
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

function lookOn(who) {
  elsewhere = who;
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
  if (!(error instanceof Refused)) return "No answer from the server; trying again.";
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
  return timed ? `${step.label}, ${timed[1]} s` : step.label;
}

function words(text) {
  const surface = /^(still wet|dry) (.+)$/.exec(text);
  if (surface) return `${surface[1] === "dry" ? "Looks dry" : "Still wet"}: ${data.surfaces[surface[2]]?.title ?? surface[2]}`;
  const unseen = /^not seen (.+)$/.exec(text);
  if (unseen && !noted.has(text)) return `Not seen: ${data.steps[unseen[1]]?.label ?? unseen[1]}`;
  return data.words[text] ?? noted.get(text) ?? { prompted: "Prompt given", pause: "Pause for patient safety", resume: "Going on" }[text] ?? text;
}

const actsOf = (step) => data.steps[step]?.acts ?? [];
const wetOf = (step) => wetted(data.steps[step]);
const handsOf = (step) => actsOf(step).find((a) => a.hands)?.hands;
const declares = (step) => actsOf(step).some((a) => a.ready);

// timing is the cleaning of hands that goes on: the latest step that was tapped, when
// it is one, and nobody has said yet when it was over.
function timing(list) {
  const t = list.findLast((x) => x.step);
  const hands = t && handsOf(t.step);
  if (!hands || t.texts.some((x) => x.startsWith(`${hands} `))) return null;
  const ms = now() - t.at_ms;
  return ms < longest ? { step: t.step, key: t.key, hands, ms } : null;
}

// films tells, for each surface, when it was first wiped without having been
// seen dry since, and how long it had been wet when somebody looked at or after
// its time. When the station is declared ready first, looking comes too late.
function films(list) {
  const wet = new Map();
  let product = data.product;
  for (const t of list) {
    if (declares(t.step)) for (const f of wet.values()) if (!f.seen && !f.alone && (f.dry ?? t.at_ms) - f.since >= f.need - slack) f.late = true;
    for (const act of actsOf(t.step)) {
      if (act.product) product = act.product;
      if (act.wets) wipeFilm(wet, act.wipe, t.at_ms, product);
      if (act.dries) dry(wet, act.dries, t.at_ms);
      if (act.all_dry) allDry(wet, t.at_ms);
      wet.delete(act.blood);
      mar(wet.get(act.on), t.at_ms);
    }
    for (const text of t.texts) heard(wet, text, t.at_ms);
  }
  return wet;
}

// mar: a film that was not left alone for its time has to be seen wet for it.
function mar(f, at) {
  if (f?.alone && at - f.since < f.need + slack) f.alone = false;
}

// heard is what a note tells of a surface, or of all.
function heard(wet, text, at) {
  if (text === "all dry") allDry(wet, at);
  const m = /^(dry|still wet|blood on) (.+)$/.exec(text);
  const f = m && wet.get(m[2]);
  if (!f) return;
  if (m[1] === "blood on") wet.delete(m[2]);
  else if (m[1] === "dry") dry(wet, m[2], at);
  else if (f.dry === undefined && at - f.since >= f.need + slack) f.seen ??= at - f.since;
}

function dry(wet, surface, at) {
  const f = wet.get(surface);
  if (f) f.dry ??= at;
}

function allDry(wet, at) {
  for (const surface of wet.keys()) dry(wet, surface, at);
}

// wipeFilm wets a surface; the product of the wipe in hand says for how long it
// has to stay so, and of two products in one film the longer time; or to be left alone
// from the latest wipe on, which asks nobody to look.
function wipeFilm(wet, surface, at, product) {
  const need = (data.products[product]?.label_s ?? 0) * 1000;
  const f = wet.get(surface);
  const alone = Boolean(data.products[product]?.alone);
  if (!f || f.dry !== undefined) wet.set(surface, { since: at, need, alone });
  else if (f.alone) wet.set(surface, { since: alone ? at : f.since, need: Math.max(f.need, need), alone });
  else if (!f.seen) f.need = Math.max(f.need, need);
}

// stepFilm is the youngest film of a step's surfaces, the one that needs
// longest; one that is dry comes first. It is seen when all of them are.
function stepFilm(wet, step) {
  const found = wetOf(step).map((s) => wet.get(s)).filter(Boolean);
  if (found.length === 0) return null;
  const dried = found.filter((f) => f.dry !== undefined);
  const f = (dried.length > 0 ? dried : found).reduce((a, b) => (b.since > a.since ? b : a));
  return { ...f, late: found.some((x) => x.late), seen: found.every((x) => x.seen) ? Math.max(...found.map((x) => x.seen)) : 0 };
}

// kindOf tells what is known of a film: "ask" when its time has come and nobody
// has said what they see, "unseen" when it was found dry after that. A tap may be off
// by the slack, so the time has come that much later, and is broken that much sooner.
function kindOf(f) {
  if (!f) return "";
  if (f.seen) return "seen";
  if (f.alone) return now() - f.since < f.need + slack ? "alone" : "had";
  const t = (f.dry ?? now()) - f.since;
  if (f.dry !== undefined) return t < f.need - slack ? "early" : "unseen";
  return t < f.need + slack ? "wet" : "ask";
}

function stateOf(f, before) {
  const t = f ? ((f.alone ? undefined : f.dry) ?? now()) - f.since : 0;
  const need = mss(f?.need ?? 0);
  return {
    "": before, wet: `Wet ${mss(t)} of ${need}`, ask: `${need} – still wet?`,
    early: `Dry at ${mss(t)} of ${need}`, unseen: `Dry ${mss(t)}, not seen`,
    alone: `Left alone ${mss(t)} of ${need}`, had: `${need} left alone`,
    seen: `Seen wet at ${mss(f?.seen ?? 0)}${f?.dry === undefined ? "" : ", dry"}`,
  }[kindOf(f)];
}

// wanted is the surfaces that the clinic asks to be seen wet: some by name, and of
// one thing a whole face, as long as none was: the one that is nearest to it.
function wanted(wet) {
  const all = new Set(mustSee);
  if (faceSeen(wet)) return all;
  const hopeful = data.one_face.faces.filter((face) => face.every((s) => ["wet", "ask", "seen", "alone", "had"].includes(kindOf(wet.get(s)))));
  const seen = (face) => face.filter((s) => wet.get(s).seen).length;
  for (const s of hopeful.sort((a, b) => seen(b) / b.length - seen(a) / a.length)[0] ?? []) all.add(s);
  return all;
}

const faceSeen = (wet) => !data.one_face || data.one_face.faces.some((face) => face.every((s) => ["seen", "had"].includes(kindOf(wet.get(s)))));

// asked is the wipe buttons that wait for somebody to look.
const asked = (wet) => [...buttons.keys()].filter((step) => kindOf(stepFilm(wet, step)) === "ask");

const wants = (wet, step) => { const all = wanted(wet); return wetOf(step).some((s) => all.has(s)); };

// ending is those that must be seen and of which nobody can tell any more after some
// acts.
function ending(acts) {
  const wet = films(live());
  const on = new Set(acts.map((a) => a.on).filter(Boolean));
  return asked(wet).filter((s) => wants(wet, s) && (acts.some((a) => a.ready || a.all_dry) || wetOf(s).some((x) => on.has(x))));
}

// undried is the surfaces that have to be dry before a step and of which that was not
// noted.
function undried(step) {
  const wet = films(live());
  return (data.steps[step].dry ?? []).filter((s) => wet.has(s) && wet.get(s).dry === undefined);
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
  showButtons(list);
  const open = asked(films(list)).length;
  const end = stopped(list);
  $("wet").textContent = `Still wet: ${open}`;
  $("wet").disabled = open === 0 || Boolean(end);
  const last = list.at(-1);
  if (last) $("last").textContent = `Last: ${mss(last.at_ms)} ${labelOf(last)}`;
  $("undo").disabled = list.length === 0;
  halted(paused(list), end);
  $("trouble").textContent = elsewhere ? "Recorded elsewhere: here you only look." : stuck;
  counts();
  if (performance.now() < notice.until) $("last").textContent = notice.text;
  if ($("begin") && list.length === 0 && !unkept && !elsewhere && !document.querySelector("dialog[open]")) $("begin").showModal();
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

function showButtons(list) {
  const wet = films(list);
  const on = timing(list);
  const end = Boolean(stopped(list));
  for (const [step, b] of buttons) {
    b.setAttribute("aria-disabled", String(end));
    const state = b.querySelector(".state");
    if (!state) continue;
    if (handsOf(step)) {
      if (on?.step === step) b.dataset.timing = "yes";
      else delete b.dataset.timing;
      state.textContent = on?.step === step ? `Timing ${mss(on.ms)} – tap when over` : idle.get(b);
      continue;
    }
    const f = stepFilm(wet, step);
    paint(b, shownAs(f, wet, step), share(f));
    state.textContent = stateOf(f, idle.get(b));
  }
}

// shownAs is the state by which a film is shown: of one that was seen wet for its time,
// whether it is dry by now; of one that nobody must see, that its time is over.
function shownAs(f, wet, step) {
  const kind = kindOf(f);
  if (kind === "seen" || kind === "had") return f.dry === undefined ? "reached" : "dry";
  if (kind === "ask" && !wants(wet, step)) return "open";
  return kind || "unwiped";
}

// share is how much of its time a film has been wet.
const share = (f) => (!f ? 0 : f.seen || !f.need ? 1 : Math.min(1, (((f.alone ? undefined : f.dry) ?? now()) - f.since) / f.need));

// halted shows that it was paused, or stopped: then nothing but undoing and finishing
// is left.
function halted(pause, end) {
  root.classList.toggle("paused", pause || Boolean(end));
  $("halt").hidden = !pause && !end;
  $("halt").textContent = end ? "Stopped." : "Paused.";
  $("pause").lastElementChild.textContent = pause ? "Resume" : "Pause for patient safety";
  for (const id of ["pause", "prompt", "unseen", "open-more"]) $(id).disabled = Boolean(end);
}

function tick() {
  $("time").textContent = mss(now());
  show();
}

// bounced says that a tap came too soon after one on the same button to be meant.
function bounced(button, label) {
  const t = performance.now();
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

// once lets a button below the steps count one press of two in a bounce.
function once(id, act) {
  $(id).onclick = () => { if (!bounced(id, $(id).textContent)) act(); };
}

function tap(step) {
  if (stopped(live())) return notify("It was stopped. Undo takes that back.");
  if (bounced(`step ${step}`, data.steps[step].label)) return;
  const on = timing(live());
  if (on?.step === step) return over(on);
  const f = stepFilm(films(live()), step);
  if (f && f.dry === undefined) return ask(step, f);
  before(step);
}

// over ends the timing of hands: the tap that began it is taken back, and the same
// recorded with its whole seconds.
function over({ step, key: began, hands, ms }) {
  const s = Math.floor(ms / 1000);
  if (s < 1) return notify(`Second tap on “${data.steps[step].label}” ignored`);
  record({ undo: began }, "");
  wipe(step, `${hands} ${s}s`);
}

// before asks what nobody can tell any more once a step is noted.
function before(step, answered = 0) {
  const open = answered < 1 ? ending(actsOf(step)) : [];
  if (open.length > 0) return look(open, data.steps[step].label, () => before(step, 1));
  const damp = answered < 2 ? undried(step) : [];
  if (damp.length > 0) return feel(damp, data.steps[step].label, () => before(step, 2));
  wipe(step);
}

const namesOf = (step) => wetOf(step).map((s) => data.surfaces[s].title).join(", ");

function fill(id, names) {
  $(id).replaceChildren(...names.map((name) => {
    const li = document.createElement("li");
    li.textContent = name;
    return li;
  }));
}

// look asks for wipe buttons whose time has come; label is what is to be noted after
// it, and next notes it.
function look(steps, label = "", next = () => {}) {
  fill("looking-list", steps.map(namesOf));
  $("looking-why").hidden = $("looking-skip").hidden = !label;
  $("looking-why").textContent = `“${label}” is not noted yet. Once it is, it is too late to tell whether these stayed wet for their time.`;
  $("looking-skip").textContent = `Note “${label}” without this`;
  $("looking-skip").onclick = () => { $("looking").close(); next(); };
  $("looking-all").onclick = () => {
    $("looking").close();
    for (const step of steps) seeWet(step);
    next();
  };
  $("looking").showModal();
}

// feel asks whether surfaces are dry before a step for which they have to be.
function feel(surfaces, label, next) {
  fill("drying-list", surfaces.map((s) => data.surfaces[s].title));
  $("drying-why").textContent = `“${label}” is not noted yet. Once it is, it is too late to tell whether these were dry.`;
  $("drying-skip").textContent = `Note “${label}” without this`;
  $("drying-skip").onclick = () => { $("drying").close(); next(); };
  $("drying-all").onclick = () => {
    $("drying").close();
    seeDry(surfaces);
    next();
  };
  $("drying").showModal();
}

function seeDry(surfaces) {
  const wet = [...films(live())].filter(([, f]) => f.dry === undefined);
  if (surfaces.length > 3 && wet.length === surfaces.length) return record({ text: "all dry" }, words("all dry"));
  for (const s of surfaces) record({ text: `dry ${s}` }, words(`dry ${s}`));
}

function seeWet(step) {
  for (const s of wetOf(step)) record({ text: `still wet ${s}` }, words(`still wet ${s}`));
}

function wipe(step, text) {
  for (const b of buttons.values()) b.classList.remove("just");
  buttons.get(step).classList.add("just");
  record(text ? { step, text } : { step }, labelOf({ step, texts: [text ?? ""] }));
}

// ask: a second tap on a wet surface can mean three things.
function ask(step, f) {
  $("again-title").textContent = `${data.steps[step].label}: ${f.alone ? "left alone" : "wet"} ${mss(now() - f.since)} of ${mss(f.need)}. What do you see?`;
  $("again-early").hidden = !["wet", "alone"].includes(kindOf(f));
  $("again").dataset.step = step;
  $("again").showModal();
}

$("again").addEventListener("click", (event) => {
  const b = event.target.closest("button[data-answer]");
  if (!b) return;
  const step = $("again").dataset.step;
  $("again").close();
  if (b.dataset.answer === "wiped") return wipe(step);
  if (b.dataset.answer === "still") return seeWet(step);
  if (b.dataset.answer === "dry") seeDry(wetOf(step));
});

for (const place of [$("taps"), $("more")]) place.addEventListener("click", (event) => {
  const b = event.target.closest(".tap");
  if (!b) return;
  $("more").close();
  if (b.dataset.step) tap(b.dataset.step);
  else saw(b.dataset.note);
});
$("open-more").onclick = () => $("more").showModal();

// saw records a watcher's note.
function saw(text) {
  if (bounced(text, words(text))) return;
  const note = () => record({ text }, words(text));
  const open = text === "all dry" ? ending([{ all_dry: true }]) : [];
  const early = text === "all dry" ? [...films(live())].filter(([, f]) => !f.dry && now() - f.since < f.need - slack) : [];
  if (early.length > 0 && bounced.early !== early.length) {
    bounced.early = early.length; // said once: a second press means it
    notice = { text: `Not noted: ${early.length} have not had their contact time. Dry already? Press it once more.`, until: performance.now() + 8000 };
    say($("said"), notice.text);
    show();
  } else if (open.length > 0) look(open, words(text), note);
  else note();
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
once("undo", () => {
  const last = live().at(-1);
  if (!last) return;
  buttons.get(last.step)?.classList.remove("just");
  notice = { text: `Taken back: ${labelOf(last)}`, until: performance.now() + 4000 };
  record({ undo: last.key }, notice.text);
});
$("wet").onclick = () => look(asked(films(live())));
once("prompt", () => record({ text: "prompted" }, "Prompt given: it counts as practice"));
once("pause", () => (paused(live()) ? record({ text: "resume" }, "Going on") : record({ text: "pause" }, "Paused for patient safety")));
$("unseen").onclick = () => $("which").showModal();

// listUnseen puts every step that somebody does into the list of what could not be
// seen, area by area.
function listUnseen() {
  const areas = new Map();
  for (const [step, b] of buttons) {
    if (data.steps[step].happens) continue;
    const area = b.closest("[aria-label]").getAttribute("aria-label");
    if (!areas.has(area)) areas.set(area, []);
    areas.get(area).push(step);
  }
  $("which-list").replaceChildren(...[...areas].map(([area, steps]) => {
    const details = document.createElement("details");
    const summary = document.createElement("summary");
    const stack = document.createElement("div");
    summary.textContent = area;
    stack.className = "stack";
    stack.append(...steps.map((step) => {
      const b = document.createElement("button");
      Object.assign(b, { type: "button", className: "btn quiet", textContent: data.steps[step].label });
      b.dataset.unseen = step;
      return b;
    }));
    details.append(summary, stack);
    return details;
  }));
}
listUnseen();
$("which-list").addEventListener("click", (event) => {
  const b = event.target.closest("button[data-unseen]");
  if (!b) return;
  $("which").close();
  record({ text: `not seen ${b.dataset.unseen}` }, `Not seen: ${b.textContent.trim()}`);
});
for (const b of document.querySelectorAll("[data-close]")) b.onclick = () => b.closest("dialog").close();

$("end").onclick = openFinish;
function openFinish() {
  const g = gone();
  $("log").replaceChildren(...taps().map((t) => {
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
  $("undone").hidden = over || undone(wet) === "";
  $("undone").textContent = undone(wet);
  $("undeclared").hidden = over || list.some((t) => declares(t.step));
}

// undone is what has to be done again before the next patient, as far as the board knows.
function undone(wet) {
  const usual = new Set([...buttons.keys()].flatMap(wetOf));
  const not = [...usual].filter((s) => !wet.has(s));
  const short = [...wet].filter(([s, f]) => usual.has(s) && ["wet", "alone", "early"].includes(kindOf(f))).map(([s]) => s);
  const names = (list) => list.map((s) => data.surfaces[s].title).join("; ");
  if (not.length + short.length === 0) return "";
  return `The station is not ready.${not.length ? ` Not noted as wiped: ${names(not)}.` : ""}${short.length ? ` Not wet for their time: ${names(short)}.` : ""} Have these done before the next patient, and tell the charge nurse.`;
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

// lastOf is the number of the last act of each device that is known here, our own first.
function lastOf() {
  const last = new Map([[self, Math.max(floor, ...mine.map((a) => a.n))]]);
  for (const a of data.acts) last.set(a.device, Math.max(a.n, last.get(a.device) ?? 0));
  return [...last].map(([device, n]) => ({ device, n }));
}

let accepted = "";
let finishedAt = null; // when it was finished first; another tap takes that back
$("finish-yes").onclick = async () => {
  const comment = $("comment").value;
  answers();
  await sent();
  finishedAt ??= now();
  close("end", { key: endKey, at_ms: finishedAt, comment, sure: comment !== "" && comment === accepted, last: lastOf() });
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
