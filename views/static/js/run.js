// The timed run, on the board that whoever watches has: a tap is what the hands do next, and
// keeps them busy for its seconds. Every tap goes to the server, which keeps the run; a
// reload goes on there.
import { key, mss, post, say, Refused } from "./send.js";
import { film, nowAt, paint, timeline, wetted } from "./wet.js";
import { ask as askOnPanel, rest } from "./panel.js";
import { stayAwake } from "./awake.js";
import { mark, onTap, put, readBoard, showGroups, tileOf, tiles, turnOf } from "./board.js";

const $ = (id) => document.getElementById(id);
const data = JSON.parse($("run-data").textContent);
const root = $("run");
const token = root.dataset.token;
const pace = data.pace;
const opened = performance.now();
readBoard();

// The clock of the run begins with its first act. The server counts from when the run was
// opened, so that what is sent is that much more.
const sinceOpened = () => Math.round((data.elapsed_ms + performance.now() - opened) * pace);
let before = data.taps?.[0]?.at_ms ?? 0;
const taps = (data.taps ?? []).map((t) => ({ ...t, at_ms: t.at_ms - before }));
const now = () => (taps.length > 0 ? Math.max(0, sinceOpened() - before) : 0);

const queue = [];
let coming = []; // the parts of a face that the hands go on to
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

// secondsOf is how long a step takes with its wipes.
const secondsOf = (step) => data.steps[step].seconds + (data.steps[step].acts ?? []).reduce((s, a) => s + (a.wipe ? data.surfaces[a.wipe].wipe_s : 0), 0);
const seconds = (steps) => `${steps.reduce((s, x) => s + secondsOf(x), 0)}\u00a0s`;
const names = (step) => wetted(data.steps[step]).map((s) => data.surfaces[s].name).join(", ");

// left is how long the hands are still busy, in the seconds of the run.
const left = (t) => `${Math.ceil((played.free - t) / 1000) + coming.reduce((s, x) => s + secondsOf(x), 0)} s left`;

// idle tells whether the hands can begin something, and says so when they cannot.
function idle() {
  goOn(now());
  if (refusal) refused();
  else if (!over && now() < played.free) tell(`Not taken: your hands are busy, ${left(now())}.`);
  else return !over;
  return false;
}

function begin(step, at) {
  ending = null;
  if (taps.length === 0) { before = sinceOpened(); at = 0; }
  taps.push({ step, at_ms: at });
  queue.push({ step, at_ms: at + before, key: key() });
  played = timeline(data, taps);
  mark(tileOf(step));
  trail();
  flush();
}

// act is what one tap does: one step, or the parts of a face, one after another.
function act(steps) {
  rest();
  coming = steps.slice(1);
  begin(steps[0], now());
  showComing(steps);
  tick();
}

// goOn lets the hands go on to the next part when they are free.
function goOn(t) {
  let went = false;
  while (coming.length > 0 && t >= played.free && !over) {
    begin(coming.shift(), played.free);
    went = true;
  }
  if (went) showComing(coming);
}

// showComing lists the parts that are not wiped yet; each can be left out.
function showComing(steps) {
  const out = new Set();
  const parts = steps.filter((s) => s !== taps.at(-1).step);
  if (parts.length === 0) return rest();
  const draw = () => askOnPanel(`${tileOf(parts[0]).title}: part after part. Take out what you leave.`, parts.map((step) => ({ words: `${names(step)} ${seconds([step])}`, pressed: !out.has(step), act: () => {
    if (!out.delete(step)) out.add(step);
    coming = parts.filter((s) => !out.has(s));
    draw();
    tick();
  } })));
  draw();
}

// tapTile takes a tap on a tile. A face is wiped part after part; when some of it is wet, it
// is asked which part. A tap on anything else is an answer too.
function tapTile(tile) {
  if (!idle()) return;
  if (tile.kind !== "face") return act([turnOf(tile, taps.map((t) => t.step))]);
  const damp = tile.steps.flatMap((s) => wetted(data.steps[s])).some((s) => played.films.has(s) && now() < played.films.get(s).dry);
  if (tile.steps.length === 1 || !damp) return act(tile.steps);
  const part = (words, steps) => ({ words: `${words} ${seconds(steps)}`, kind: "answer", act: () => { if (idle()) act(steps); } });
  askOnPanel(`${tile.title}: which part?`, [part("All, part after part", tile.steps), ...tile.steps.map((s) => part(names(s), [s]))]);
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

// Where a tile wipes several surfaces, it tells of the one that is worst.
const worst = ["spoilt", "early", "unwiped", "wet", "alone", "reached", "dry"];
const severity = (x) => worst.indexOf(x.state);

function filmsOf(tile, t) {
  const found = tile.steps.flatMap((s) => wetted(data.steps[s])).filter((s) => played.films.has(s)).map((s) => {
    const f = played.films.get(s);
    return { ...film(f, t), surface: s, need: f.need };
  });
  return found.sort((a, b) => severity(a) - severity(b) || (a.wetFor ?? 0) - (b.wetFor ?? 0));
}

function words(x) {
  if (x.coming) return "Being wiped";
  if (x.state === "spoilt") return "Spoilt again";
  if (x.usedAt !== undefined) return "Used too early";
  if (x.state === "early") return `Too short, dry ${mss(x.dryAt)}`;
  if (x.state === "reached") return `${mss(x.need)} reached, wet`;
  if (x.state === "dry") return "Reached, dry";
  return `${x.state === "alone" ? "Left alone" : "Wet"} ${mss(x.wetFor)} of ${mss(x.need)}`;
}

// told is what was said of films that came to nothing; a reload does not say it again.
const told = new Set();
function short(x, quietly) {
  const name = `${x.surface} ${x.usedAt ?? x.dryAt}`;
  if (x.state !== "early" || told.has(name)) return;
  told.add(name);
  const why = x.usedAt === undefined ? `dried at ${mss(x.dryAt)}, its wet time was too short.` : `used at ${mss(x.usedAt)}, before its time.`;
  if (!quietly) tell(`${data.surfaces[x.surface].title}: ${why}`);
}

// happened is how many of the world's events were told.
let happened = 0;
function world(t, quietly) {
  const past = taps.length > 0 ? played.events.filter((e) => e.at <= t) : [];
  if (!quietly && past.length > happened) tell(past.slice(happened).map((e) => `${mss(e.at)} ${e.text}.`).join(" "));
  if (past.length !== happened) { happened = past.length; trail(); }
}

function tick(quietly = false) {
  const t = now();
  goOn(t);
  put($("time"), mss(t));
  world(t, quietly);
  const current = played.done.at(-1);
  const busy = Boolean(current && t < current.end);
  put($("doing"), busy ? `${data.steps[current.step].doing}, ${left(t)}` : taps.length > 0 ? "Your hands are free." : "The clock begins with your first act.");
  $("busy").value = busy ? (t - current.begin) / (current.end - current.begin) : 0;
  for (const tile of tiles) {
    tile.el.setAttribute("aria-disabled", String(busy || over));
    tile.el.classList.toggle("just", busy && tile.steps.includes(current.step));
    showTile(tile, t, quietly);
  }
  showGroups();
  showNow(t);
}

const used = (tile) => taps.some((x) => tile.steps.includes(x.step));

function showTile(tile, t, quietly) {
  tile.el.toggleAttribute("data-used", used(tile));
  if (tile.kind === "gear") {
    const next = turnOf(tile, taps.map((x) => x.step));
    put(tile.name, data.steps[next].words);
    put(tile.state, seconds([next]));
  }
  if (tile.kind === "face") showFace(tile, filmsOf(tile, t), quietly);
}

function showFace(tile, films, quietly) {
  const wiped = new Set(films.filter((x) => !x.coming).map((x) => x.surface));
  const parts = tile.steps.filter((s) => wetted(data.steps[s]).some((x) => wiped.has(x))).length;
  const worst = films[0];
  const some = parts > 0 && parts < tile.steps.length && (worst.coming || ["wet", "alone", "reached"].includes(worst.state));
  paint(tile.el, worst?.state ?? "unwiped", worst?.share);
  put(tile.state, worst ? (some ? `${parts} of ${tile.steps.length}: ` : "") + words(worst) : tile.idle);
  for (const x of films) short(x, quietly);
}

// showNow tells what whoever does the work knows of herself without looking.
const where = { chair: "in the chair", there: "there", gone: "gone", "": "nobody" };
function showNow(t) {
  const x = nowAt(played, t);
  put($("now-gloves"), x.gloves ? "on" : "none");
  put($("now-wipe"), x.product ? `${x.soiled ? "soiled" : x.used ? "in use" : "fresh"}: ${data.products[x.product].title}` : "none");
  put($("now-patient"), where[x.patient]);
}

function trail() {
  const past = [...played.done.map((d) => ({ at: d.begin, text: d.label })), ...played.events.slice(0, happened)];
  past.sort((a, b) => a.at - b.at);
  $("trail").replaceChildren(...past.slice(-7).reverse().map((d) => {
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
  ask("Finish this run and have it judged?", "Finish", () => end("finish", { draft: data.draft, key: root.dataset.key, at_ms: ending ??= now() + before }));
};
$("discard").onclick = () => ask("Leave this run? It will not be kept.", "Leave the run", () => end("discard", { draft: data.draft }));
$("situation").onclick = () => $("story").showModal();
$("story-close").onclick = () => $("story").close();
onTap({ tile: tapTile, step: (step) => { if (idle()) act([step]); } });

stayAwake(() => !over);
$("plain").hidden = window.isSecureContext;
trail();
tick(true);
setInterval(() => tick(), 200);
