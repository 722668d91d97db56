// The run page: the clock, busy hands, and buttons that tell how wet a surface
// is. Every tap goes to the server, which keeps the run; a reload goes on there.
import { key, mss, post, say, Refused } from "./send.js";
import { film, paint, timeline, wetted } from "./wet.js";
import { stayAwake } from "./awake.js";

const $ = (id) => document.getElementById(id);
const data = JSON.parse($("run-data").textContent);
const root = $("run");
const token = root.dataset.token;
const pace = data.pace;
const opened = performance.now();
const buttons = new Map([...root.querySelectorAll(".tap")].map((b) => [b.dataset.step, b]));
const taps = data.taps ?? [];
const queue = [];
let sending = false;
let over = false;
let refusal = "";
let played = timeline(data, taps);

// tell says something for a few seconds; what is past must not stand there.
let silence = 0;
function tell(text) {
  clearTimeout(silence);
  say($("said"), text);
  silence = setTimeout(() => { $("said").textContent = ""; }, 6000);
}

const now = () => Math.round((data.elapsed_ms + performance.now() - opened) * pace);

// left is how long the hands are still busy, in the seconds of the run.
const left = (t) => `${Math.ceil((played.free - t) / 1000)} s left`;

function tap(step) {
  if (refusal) return refused();
  if (over) return;
  const t = now();
  if (t < played.free) {
    tell(`Not taken: your hands are busy, ${left(t)}.`);
    return;
  }
  ending = null;
  const entry = { step, at_ms: t };
  taps.push(entry);
  queue.push({ ...entry, key: key() });
  played = timeline(data, taps);
  trail();
  tick();
  flush();
}

// refused says why the run goes on only after a reload, at every tap from then.
function refused() {
  ask(refusal, "Load the page again", () => location.reload());
}

// flush sends the taps in their order, each until it is answered.
async function flush() {
  if (sending || queue.length === 0) return;
  sending = true;
  try {
    const { key: k, step, at_ms } = queue[0];
    await post(`${root.dataset.url}/tap`, token, { draft: data.draft, key: k, step, at_ms });
    queue.shift();
  } catch (error) {
    if (error instanceof Refused) {
      over = true;
      refusal = error.message;
      $("finish").disabled = true;
      refused();
      return;
    }
    tell("The server does not answer. Your steps are kept here and sent again.");
    await new Promise((r) => setTimeout(r, 1500));
  } finally {
    sending = false;
  }
  flush();
}

// Where a button wipes several surfaces, it tells of the one that is worst.
const worst = ["spoilt", "early", "unwiped", "wet", "alone", "reached", "dry"];
const severity = (x) => worst.indexOf(x.state);

function stepFilm(step, t) {
  const found = wetted(data.steps[step]).filter((s) => played.films.has(s)).map((s) => {
    const f = played.films.get(s);
    return { ...film(f, t), surface: s, need: f.need };
  });
  return found.sort((a, b) => severity(a) - severity(b) || (a.wetFor ?? 0) - (b.wetFor ?? 0))[0];
}

function words(x) {
  if (!x) return "Not wiped";
  if (x.coming) return "Being wiped";
  if (x.state === "spoilt") return "Spoilt again";
  if (x.state === "early") return `Too short, dry ${mss(x.dryAt)}`;
  if (x.state === "reached") return `${mss(x.need)} reached, wet`;
  if (x.state === "dry") return "Reached, dry";
  return `${x.state === "alone" ? "Left alone" : "Wet"} ${mss(x.wetFor)} of ${mss(x.need)}`;
}

// told is what was said of films that dried; a reload does not say it again.
const told = new Set();
function dried(x, quietly) {
  const name = `${x.surface} ${x.dryAt}`;
  if (x.state !== "early" || told.has(name)) return;
  told.add(name);
  if (!quietly) tell(`${data.surfaces[x.surface].title}: dried at ${mss(x.dryAt)}, its wet time was too short.`);
}

// happened is how many of the world's events were told.
let happened = 0;
function world(t, quietly) {
  const past = played.events.filter((e) => e.at <= t);
  if (!quietly && past.length > happened) tell(past.slice(happened).map((e) => `${mss(e.at)} ${e.text}.`).join(" "));
  if (past.length !== happened) { happened = past.length; trail(); }
}

const put = (element, text) => { if (element.textContent !== text) element.textContent = text; };

function tick(quietly = false) {
  const t = now();
  put($("time"), mss(t));
  world(t, quietly);
  const current = played.done.at(-1);
  const busy = Boolean(current && t < current.end);
  put($("doing"), busy ? `${data.steps[current.step].doing}, ${left(t)}` : "Your hands are free.");
  $("busy").value = busy ? (t - current.begin) / (current.end - current.begin) : 0;
  for (const [step, b] of buttons) {
    b.setAttribute("aria-disabled", String(busy || over));
    b.classList.toggle("just", busy && current.step === step);
    const state = b.querySelector(".state");
    if (!state) continue;
    const x = stepFilm(step, t);
    put(state, words(x));
    if (wetted(data.steps[step]).length > 0) paint(b, x?.state ?? "unwiped", x?.share);
    if (x) dried(x, quietly);
  }
}

function trail() {
  const past = [...played.done.map((d) => ({ at: d.begin, text: d.label })), ...played.events.slice(0, happened)];
  past.sort((a, b) => a.at - b.at);
  $("trail").replaceChildren(...past.slice(-3).reverse().map((d) => {
    const li = document.createElement("li");
    li.textContent = `${mss(d.at)} ${d.text}`;
    return li;
  }));
}

function ask(text, yes, act) {
  $("ask-text").textContent = text;
  $("ask-yes").textContent = yes;
  $("ask-yes").onclick = () => { $("ask").close(); act(); };
  if (!$("ask").open) $("ask").showModal();
}
$("ask-no").onclick = () => $("ask").close();

// end finishes or leaves the run. What is sent again after a lost answer says
// the same moment, so that it is answered and not done anew.
let ending = null;
async function end(path, body) {
  try {
    const answer = await post(`${root.dataset.url}/${path}`, token, body);
    over = true;
    location.assign(answer.way);
  } catch (error) {
    tell(error instanceof Refused ? error.message : "The server does not answer. Try again in a moment.");
  }
}

$("finish").onclick = () => {
  if (queue.length > 0) return tell(`${queue.length === 1 ? "1 step is" : `${queue.length} steps are`} still being sent. Finish in a moment.`);
  if (now() < played.free) return tell("Your hands are still busy with the last step. Finish when it is done.");
  ask("Finish this run and have it judged?", "Finish", () => end("finish", { draft: data.draft, key: root.dataset.key, at_ms: ending ??= now() }));
};
$("discard").onclick = () => ask("Leave this run? It will not be kept.", "Leave the run", () => end("discard", { draft: data.draft }));
$("situation").onclick = () => $("story").showModal();
$("story-close").onclick = () => $("story").close();
for (const place of [$("taps"), $("more")]) place.addEventListener("click", (event) => {
  const b = event.target.closest(".tap");
  if (!b) return;
  $("more").close();
  tap(b.dataset.step);
});
$("open-more")?.addEventListener("click", () => $("more").showModal());
for (const b of document.querySelectorAll("[data-close]")) b.onclick = () => b.closest("dialog").close();

stayAwake(() => !over);
$("plain").hidden = window.isSecureContext;
trail();
tick(true);
setInterval(() => tick(), 200);
