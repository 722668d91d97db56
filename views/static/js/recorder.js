// The chairside recorder. A tap is kept in this browser before the screen says
// so, and sent until the server has answered. Nothing is taken away: Undo adds
// a line that takes another back.
import { key, mss, post, say, Refused } from "./send.js";
import { wetted } from "./wet.js";

const $ = (id) => document.getElementById(id);
const data = JSON.parse($("recorder-data").textContent);
const root = $("recorder");
const token = root.dataset.token;
const shelf = `stillwet-taps-${data.id}`;
const opened = performance.now();
const buttons = new Map([...$("taps").querySelectorAll(".tap")].map((b) => [b.dataset.step, b]));

// lines are what the server has; waiting is what it has not answered yet.
let lines = data.lines;
let waiting = load();
let sending = false;
let stuck = "";
let refused = 0;
let lastTap = { button: "", at: -1000 };
let notice = { text: "", until: 0 };

const now = () => Math.round(data.elapsed_ms + performance.now() - opened);

function load() {
  try { return JSON.parse(localStorage.getItem(shelf)) ?? []; } catch { return []; }
}
function keep() {
  try { localStorage.setItem(shelf, JSON.stringify(waiting)); } catch { stuck = "This browser cannot keep taps. Do not close the page."; }
}

const count = (n) => `${n} ${n === 1 ? "tap" : "taps"}`;

// trouble says once, and shows until it is over, why taps are not sent.
function trouble(text) {
  if (text && text !== stuck) say($("said"), text);
  stuck = text;
}

// record keeps a tap, shows it, and sends it.
function record(entry, text) {
  finishedAt = null;
  waiting.push({ key: key(), at_ms: now(), ...entry });
  keep();
  $("last").textContent = `Last: ${mss(now())} ${text}`;
  say($("said"), text);
  show();
  flush();
}

async function flush() {
  if (sending || waiting.length === 0) return;
  sending = true;
  const entry = waiting[0];
  let wait = 0;
  try {
    const answer = entry.undo ? await post(`${root.dataset.url}/undo`, token, { ...entry, seq: seqOf(entry.undo) })
      : await post(`${root.dataset.url}/observe`, token, entry);
    const known = new Set(lines.map((l) => l.seq));
    lines.push(...answer.lines.filter((l) => !known.has(l.seq)));
    waiting.shift();
    trouble("");
  } catch (error) {
    if (error instanceof Refused && error.status !== 401) {
      trouble(error.message);
      if (error.status === 422 || error.status === 400) refuse(error.message);
      else wait = 5000;
    } else {
      trouble(error instanceof Refused ? `Sign in again on another tab to send ${count(waiting.length)}.` : "No answer from the server; trying again.");
      wait = 2000;
    }
  }
  keep();
  sending = false;
  show();
  if (wait) setTimeout(flush, wait);
  else flush();
}

// refuse lets a tap go that the server will never take, and says so: the
// preceptor must know that it is not in the record.
function refuse(why) {
  waiting.shift();
  refused += 1;
  trouble("");
  notice = { text: `Not recorded: ${why}`, until: performance.now() + 10000 };
  say($("said"), notice.text);
}

// The lines of one tap carry its key.
const seqOf = (k) => lines.find((l) => l.key === k)?.seq ?? 0;

// gone is the taps that were taken back.
function gone() {
  const keys = new Set(waiting.filter((w) => w.undo).map((w) => w.undo));
  for (const l of lines) {
    const m = /^undone (\d+)$/.exec(l.text);
    if (m) { const of = lines.find((x) => x.seq === Number(m[1])); if (of) keys.add(of.key); }
  }
  return keys;
}

// taps is everything that was tapped, sent or not, oldest first, one entry a tap.
function taps() {
  const list = [];
  for (const l of lines) {
    if (l.text.startsWith("undone ")) continue;
    const prev = list.at(-1);
    if (prev && prev.key === l.key) { prev.texts.push(l.text); continue; }
    list.push({ key: l.key, step: l.step, at_ms: l.at_ms, texts: [l.text], sent: true });
  }
  for (const w of waiting) if (!w.undo && !list.some((t) => t.key === w.key)) list.push({ key: w.key, step: w.step ?? "", at_ms: w.at_ms, texts: [w.text ?? ""], sent: false });
  return list;
}

const labelOf = (t) => (t.step && data.steps[t.step] ? data.steps[t.step].label : words(t.texts[0]));
function words(text) {
  const surface = /^(still wet|dry) (.+)$/.exec(text);
  if (surface) return `${surface[1] === "dry" ? "Looks dry" : "Still wet"}: ${data.surfaces[surface[2]]?.title ?? surface[2]}`;
  const unseen = /^not seen (.+)$/.exec(text);
  if (unseen) return `Not seen: ${data.steps[unseen[1]]?.label ?? unseen[1]}`;
  return { prompted: "Prompt given", pause: "Pause for patient safety", resume: "Going on" }[text] ?? text;
}

const wetOf = (step) => wetted(data.steps[step]);

const declares = (step) => (data.steps[step]?.acts ?? []).some((a) => a.ready);

// films tells, for each surface, when it was first wiped without having been
// seen dry since, and how long it had been wet when somebody looked at or after
// its time. When the station is declared ready first, looking comes too late.
function films(list) {
  const wet = new Map();
  let product = data.product;
  for (const t of list) {
    if (declares(t.step)) for (const f of wet.values()) if (!f.seen && (f.dry ?? t.at_ms) - f.since >= f.need) f.late = true;
    for (const act of data.steps[t.step]?.acts ?? []) {
      if (act.product) product = act.product;
      if (act.wets) wipeFilm(wet, act.wipe, t.at_ms, product);
    }
    for (const text of t.texts) {
      const m = /^(dry|still wet) (.+)$/.exec(text);
      if (!m || !wet.has(m[2])) continue;
      const f = wet.get(m[2]);
      if (m[1] === "dry") f.dry = t.at_ms;
      else if (!f.dry && t.at_ms - f.since >= f.need) f.seen ??= t.at_ms - f.since;
    }
  }
  return wet;
}

// wipeFilm wets a surface; the product of the wipe in hand says for how long it
// has to stay so.
function wipeFilm(wet, surface, at, product) {
  const need = (data.products[product]?.label_s ?? 0) * 1000;
  const f = wet.get(surface);
  if (!f || f.dry) wet.set(surface, { since: at, need });
  else f.need = need;
}

// stepFilm is the youngest film of a step's surfaces, the one that needs
// longest; one that is dry comes first. It is seen when all of them are.
function stepFilm(wet, step) {
  const found = wetOf(step).map((s) => wet.get(s)).filter(Boolean);
  if (found.length === 0) return null;
  const dry = found.filter((f) => f.dry);
  const f = (dry.length > 0 ? dry : found).reduce((a, b) => (b.since > a.since ? b : a));
  return { ...f, late: found.some((x) => x.late), seen: found.every((x) => x.seen) ? Math.max(...found.map((x) => x.seen)) : 0 };
}

// kindOf tells what is known of a film: "ask" when its time has come and nobody
// has said what they see, "unseen" when it was found dry after that.
function kindOf(f) {
  if (!f) return "";
  if (f.seen) return "seen";
  const t = (f.dry ?? now()) - f.since;
  if (f.dry) return t < f.need ? "early" : "unseen";
  return t < f.need ? "wet" : "ask";
}

function stateOf(f) {
  const t = f ? (f.dry ?? now()) - f.since : 0;
  const need = mss(f?.need ?? 0);
  return {
    "": "Not wiped", wet: `Wet ${mss(t)} of ${need}`, ask: `${need} – still wet?`,
    early: `Dry at ${mss(t)} of ${need}`, unseen: `Dry at ${mss(t)}, not seen wet at ${need}`,
    seen: `Seen wet at ${mss(f?.seen ?? 0)}${f?.dry ? ", dry" : ""}`,
  }[kindOf(f)];
}

// asked is the wipe buttons that wait for somebody to look.
const asked = (wet) => [...buttons.keys()].filter((step) => kindOf(stepFilm(wet, step)) === "ask");

// ending is those of them of which nobody can tell any more after a step.
function ending(step) {
  const acts = data.steps[step].acts ?? [];
  const on = new Set(acts.map((a) => a.on).filter(Boolean));
  return asked(films(live())).filter((s) => acts.some((a) => a.ready) || wetOf(s).some((x) => on.has(x)));
}

function paused(list) {
  let on = false;
  for (const t of list) { if (t.texts[0] === "pause") on = true; if (t.texts[0] === "resume") on = false; }
  return on;
}

const live = () => { const g = gone(); return taps().filter((t) => !g.has(t.key)); };

function show() {
  const list = live();
  const wet = films(list);
  for (const [step, b] of buttons) {
    const state = b.querySelector(".state");
    if (!state) continue;
    const f = stepFilm(wet, step);
    b.dataset.state = kindOf(f);
    state.textContent = stateOf(f);
  }
  const open = asked(wet).length;
  $("wet").textContent = `Still wet: ${open}`;
  $("wet").disabled = open === 0;
  const last = list.at(-1);
  if (last) $("last").textContent = `Last: ${mss(last.at_ms)} ${labelOf(last)}`;
  $("undo").disabled = list.length === 0;
  const on = paused(list);
  root.classList.toggle("paused", on);
  $("paused").hidden = !on;
  $("trouble").textContent = stuck;
  $("pause").textContent = on ? "Resume" : "Pause for patient safety";
  $("sent").textContent = `${taps().length - waiting.filter((w) => !w.undo).length} saved${waiting.length ? `, ${waiting.length} waiting` : ""}${refused ? `, ${refused} refused` : ""}`;
  $("sent").dataset.waiting = waiting.length || refused ? "yes" : "no";
  if (performance.now() < notice.until) $("last").textContent = notice.text;
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
  notice = { text: `Second tap on “${label}” ignored`, until: t + 4000 };
  say($("said"), notice.text);
  show();
  return true;
}

// once lets a button below the steps count one press of two in a bounce.
function once(id, act) {
  $(id).onclick = () => { if (!bounced(id, $(id).textContent)) act(); };
}

function tap(step) {
  if (bounced(`step ${step}`, data.steps[step].label)) return;
  const f = stepFilm(films(live()), step);
  if (f && !f.dry) return ask(step, f);
  const open = ending(step);
  if (open.length > 0) return look(open, step);
  wipe(step);
}

const namesOf = (step) => wetOf(step).map((s) => data.surfaces[s].title).join(", ");

// look asks for all wipe buttons whose time has come, or before a step for
// those of which nobody can tell any more when it is done.
function look(steps, next = "") {
  $("looking-list").replaceChildren(...steps.map((step) => {
    const li = document.createElement("li");
    li.textContent = namesOf(step);
    return li;
  }));
  const label = next && data.steps[next].label;
  $("looking-why").hidden = $("looking-skip").hidden = !next;
  $("looking-why").textContent = `“${label}” is not noted yet. Once it is, it is too late to tell whether these stayed wet for their time.`;
  $("looking-skip").textContent = `Note “${label}” without this`;
  $("looking-skip").onclick = () => { $("looking").close(); wipe(next); };
  $("looking-all").onclick = () => {
    $("looking").close();
    for (const step of steps) seeWet(step);
    if (next) wipe(next);
  };
  $("looking").showModal();
}

function seeWet(step) {
  for (const s of wetOf(step)) record({ text: `still wet ${s}` }, words(`still wet ${s}`));
}

function wipe(step) {
  for (const b of buttons.values()) b.classList.remove("just");
  buttons.get(step).classList.add("just");
  record({ step }, data.steps[step].label);
}

// ask: a second tap on a wet surface can mean three things.
function ask(step, f) {
  $("again-title").textContent = `${data.steps[step].label}: wet ${mss(now() - f.since)} of ${mss(f.need)}. What do you see?`;
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
  if (b.dataset.answer === "dry") for (const s of wetOf(step)) record({ text: `dry ${s}` }, words(`dry ${s}`));
});

$("taps").addEventListener("click", (event) => {
  const b = event.target.closest(".tap");
  if (b) tap(b.dataset.step);
});
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
$("which-list").addEventListener("click", (event) => {
  const b = event.target.closest("button[data-unseen]");
  if (!b) return;
  $("which").close();
  record({ text: `not seen ${b.dataset.unseen}` }, `Not seen: ${b.textContent.trim()}`);
});
for (const b of document.querySelectorAll("[data-close]")) b.onclick = () => b.closest("dialog").close();

$("end").onclick = () => {
  const g = gone();
  $("log").replaceChildren(...taps().map((t) => {
    const li = document.createElement("li");
    const text = document.createElement(g.has(t.key) ? "s" : "span");
    text.textContent = `${mss(t.at_ms)} ${labelOf(t)}${g.has(t.key) ? " (taken back)" : ""}`;
    li.append(text);
    return li;
  }));
  $("waiting").hidden = true;
  if (waiting.length > 0) unsent();
  warn(live());
  $("finish").showModal();
};

function unsent() {
  $("waiting").hidden = false;
  $("waiting").textContent = `${count(waiting.length)} ${waiting.length === 1 ? "is" : "are"} not sent yet. Finish when all are saved.`;
}

// warn says before the end what will be missing in the record.
function warn(list) {
  const wet = films(list);
  const open = [...buttons.keys()].filter((step) => {
    const f = stepFilm(wet, step);
    return f?.late || ["ask", "unseen"].includes(kindOf(f));
  });
  $("unanswered").hidden = open.length === 0;
  $("unanswered").textContent = `Nobody has noted whether these stayed wet for their time: ${open.map(namesOf).join("; ")}. Without it the result will be incomplete.`;
  $("undeclared").hidden = list.some((t) => declares(t.step));
}

// close ends the recording. A second press while the first is under way is
// none; what is sent again after a lost answer says the same moment.
let closing = false;
async function close(path, body) {
  if (path === "end" && waiting.length > 0) {
    unsent();
    return;
  }
  if (closing) return;
  closing = true;
  try {
    const answer = await post(`${root.dataset.url}/${path}`, token, body);
    if (answer.warning) {
      $("warning").hidden = false;
      $("warning").textContent = `${answer.warning} Change your words, or press Finish once more to keep them.`;
      accepted = $("comment").value;
      return;
    }
    localStorage.removeItem(shelf);
    location.assign(answer.way);
  } catch (error) {
    $("warning").hidden = false;
    $("warning").textContent = error instanceof Refused ? error.message : "The server does not answer. Nothing is lost; try again in a moment.";
  } finally {
    closing = false;
  }
}
let accepted = "";
let finishedAt = null; // when it was finished first; another tap takes that back
$("finish-yes").onclick = () => {
  const comment = $("comment").value;
  finishedAt ??= now();
  close("end", { key: root.dataset.key, at_ms: finishedAt, comment, sure: comment !== "" && comment === accepted });
};
$("abandon").onclick = () => {
  if ($("abandon").dataset.sure) return close("abandon", { key: root.dataset.key });
  $("abandon").dataset.sure = "yes";
  $("abandon").textContent = "Press once more: it will not be judged";
};

tick();
setInterval(tick, 500);
flush();
