// The run page: the clock, busy hands and drying films. Every tap goes to the
// server, which keeps the run; a reload goes on from there.
import { key, mss, post, say, Refused } from "./send.js";
import { film, timeline } from "./wet.js";

const $ = (id) => document.getElementById(id);
const data = JSON.parse($("run-data").textContent);
const root = $("run");
const token = root.dataset.token;
const pace = data.pace;
const opened = performance.now();
const taps = data.taps ?? [];
const queue = [];
let sending = false;
let over = false;
let played = timeline(data, taps);

// tell says something for a few seconds; what is past must not stand there.
let silence = 0;
function tell(text) {
  clearTimeout(silence);
  say($("said"), text);
  silence = setTimeout(() => { $("said").textContent = ""; }, 6000);
}

const now = () => Math.round((data.elapsed_ms + performance.now() - opened) * pace);

function tap(button) {
  if (over) return;
  const t = now();
  if (t < played.free) {
    tell(`Your hands are busy: ${played.done.at(-1).label}.`);
    return;
  }
  const entry = { step: button.dataset.step, at_ms: t };
  taps.push(entry);
  queue.push({ ...entry, key: key() });
  played = timeline(data, taps);
  trail();
  tick();
  flush();
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
      $("finish").disabled = true;
      tell(`${error.message} Reload the page to go on from what is kept.`);
      return;
    }
    tell("The server does not answer. Your steps are kept here and sent again.");
    await new Promise((r) => setTimeout(r, 1500));
  } finally {
    sending = false;
  }
  flush();
}

const svgBar = (share) => {
  const ns = "http://www.w3.org/2000/svg";
  const svg = document.createElementNS(ns, "svg");
  const rect = document.createElementNS(ns, "rect");
  svg.setAttribute("viewBox", "0 0 100 1");
  svg.setAttribute("preserveAspectRatio", "none");
  svg.setAttribute("aria-hidden", "true");
  rect.setAttribute("height", "1");
  rect.setAttribute("width", String(share * 100));
  svg.append(rect);
  return { svg, rect };
};

const rows = new Map();
function filmRow(id) {
  if (rows.has(id)) return rows.get(id);
  const li = document.createElement("li");
  const text = document.createElement("span");
  const title = document.createElement("b");
  const words = document.createElement("span");
  const bar = document.createElement("div");
  const { svg, rect } = svgBar(0);
  title.textContent = `${data.surfaces[id].title}: `;
  li.className = "film";
  bar.className = "level";
  bar.append(svg);
  text.append(title, words);
  li.append(text, bar);
  $("films").append(li);
  const row = { li, words, rect, said: "" };
  rows.set(id, row);
  return row;
}

function words(f, x) {
  const need = mss(f.need);
  if (x.state === "coming") return "being wiped";
  if (x.state === "early") return `dried at ${mss(f.dry)}, before its time`;
  if (x.state === "reached") return x.dryAt === null ? `reached ${need}, still wet` : `reached ${need}, now dry`;
  return `wet ${mss(x.wetFor)} of ${need}`;
}

function tick() {
  const t = now();
  $("time").textContent = mss(t);
  const current = played.done.at(-1);
  const busy = current && t < current.end;
  $("doing").textContent = busy ? `${current.label}…` : "Your hands are free.";
  $("busy").value = busy ? (t - current.begin) / (current.end - current.begin) : 0;
  for (const b of $("taps").querySelectorAll("button")) b.setAttribute("aria-disabled", String(Boolean(busy) || over));
  $("none").hidden = played.films.size > 0;
  for (const [id, f] of played.films) {
    const row = filmRow(id);
    const x = film(f, t);
    row.words.textContent = words(f, x);
    row.li.dataset.state = x.state;
    row.rect.setAttribute("width", String(x.share * 100));
    if (x.state === "early" && row.said !== f.dry) {
      row.said = f.dry;
      tell(`${data.surfaces[id].title} dried before its time.`);
    }
  }
}

function trail() {
  $("trail").replaceChildren(...[...played.done].reverse().slice(0, 12).map((d) => {
    const li = document.createElement("li");
    li.value = played.done.indexOf(d) + 1;
    li.textContent = `${mss(d.begin)} ${d.label}`;
    return li;
  }));
}

function ask(text, yes, act) {
  $("ask-text").textContent = text;
  $("ask-yes").textContent = yes;
  $("ask-yes").onclick = () => { $("ask").close(); act(); };
  $("ask").showModal();
}
$("ask-no").onclick = () => $("ask").close();

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
  if (queue.length > 0) return tell(`${queue.length} steps are still being sent. Finish in a moment.`);
  if (now() < played.free) return tell("Your hands are still busy with the last step. Finish when it is done.");
  ask("Finish this run and have it judged?", "Finish", () => end("finish", { draft: data.draft, key: root.dataset.key, at_ms: now() }));
};
$("discard").onclick = () => ask("Throw this run away? Nothing of it is kept.", "Throw it away", () => end("discard", { draft: data.draft }));
$("taps").addEventListener("click", (event) => {
  const b = event.target.closest("button[data-step]");
  if (b) tap(b);
});

trail();
tick();
setInterval(tick, 200);
