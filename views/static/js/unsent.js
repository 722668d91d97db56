// On every page of those who record: what of this browser's acts has not been sent, by
// whom, and what can be done about it. Nobody signs out without having been told.
import * as queue from "./queue.js";
import { Refused } from "./send.js";

const box = document.getElementById("unsent");
const me = box.dataset.person;
const day = 24 * 60 * 60 * 1000;
let trouble = "";
let late = 0;
let leaving = false; // a first press on Sign out was refused

const count = (n) => `${n} ${n === 1 ? "act" : "acts"}`;
const unsent = async () => (await queue.acts()).filter((a) => a.state === "waiting");

function add(tag, text, act) {
  const e = document.createElement(tag);
  e.textContent = text;
  if (act) Object.assign(e, { type: "button", className: "btn quiet", onclick: act });
  return e;
}

function sentences(own, others) {
  const all = [];
  if (own.length) all.push(`${count(own.length)} that you recorded in this browser ${own.length === 1 ? "is" : "are"} not sent yet.`);
  if (own.some((a) => Date.now() - Date.parse(a.wall) > day)) all.push("They have waited for more than a day. Some browsers delete after a week what a page keeps: send them, or save a copy.");
  if (trouble) all.push(trouble);
  if (leaving && own.length) all.push("You are still signed in: send them first, save a copy, or sign out all the same. They stay in this browser until you sign in here again.");
  if (others) all.push(`${count(others)} that somebody else recorded ${others === 1 ? "waits" : "wait"} in this browser. ${others === 1 ? "It is" : "They are"} sent when they sign in here.`);
  if (late) all.push(`${count(late)} came after the demonstration had been closed: kept beside the record, and no part of it.`);
  return all;
}

async function show() {
  const all = await unsent();
  const own = all.filter((a) => a.person === me);
  const told = sentences(own, all.length - own.length);
  box.hidden = told.length === 0;
  const row = document.createElement("div");
  row.className = "row";
  if (own.length) row.append(add("button", "Send now", send), add("button", "Save a copy", () => copy(own)));
  if (leaving && own.length) row.append(add("button", "Sign out all the same", leave));
  box.replaceChildren(...told.map((text) => add("p", text)), ...(row.childElementCount ? [row] : []));
}

// send sends what is one's own, recording by recording.
async function send() {
  trouble = "";
  try {
    const own = (await unsent()).filter((a) => a.person === me);
    for (const demo of new Set(own.map((a) => a.demo))) {
      for (let sent = await queue.send(demo, me); sent?.rows.length; sent = await queue.send(demo, me)) late += sent.rows.filter((a) => a.state === "late").length;
    }
  } catch (error) {
    trouble = error instanceof Refused ? error.message : error instanceof queue.Elsewhere ? "Sign in yourself to send them." : "The server does not answer. They are kept.";
  }
  await show();
}

// copy gives what waits as a file without names, for when this browser cannot send it.
async function copy(own) {
  const recordings = [...new Set(own.map((a) => a.demo))].map((demo) => ({ demonstration: demo, acts: own.filter((a) => a.demo === demo).map(queue.wire) }));
  const text = JSON.stringify({ format: "stillwet-acts-1", device: await queue.device(), recordings });
  const link = document.createElement("a");
  Object.assign(link, { href: URL.createObjectURL(new Blob([text], { type: "application/json" })), download: `stillwet-acts-${new Date().toISOString().slice(0, 16).replace(":", "")}.json` });
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 60000);
}

// Who signs out leaves no names behind; acts that wait stay, and say nothing without them.
const exit = document.querySelector('form[action="/sign-out"]');
async function leave() {
  for (const pack of await queue.packs().catch(() => [])) await queue.dropPack(pack.demo).catch(() => {});
  exit.submit();
}

exit?.addEventListener("submit", async (event) => {
  event.preventDefault();
  const own = (await unsent().catch(() => [])).filter((a) => a.person === me);
  if (own.length === 0 || leaving) return leave();
  leaving = true;
  await show();
  box.scrollIntoView({ block: "center" });
});

// tidy drops what nobody needs any more: packs of others, and what is left of recordings
// that are over, which only the watch page knows.
async function tidy() {
  for (const pack of await queue.packs()) if (pack.person !== me) await queue.dropPack(pack.demo);
  const list = document.getElementById("recordings");
  if (!list) return;
  const open = new Set(list.dataset.open.split(" "));
  const rows = await queue.acts();
  const mine = new Set([...rows.filter((a) => a.person === me).map((a) => a.demo), ...(await queue.packs()).map((p) => p.demo)]);
  for (const demo of mine) if (!open.has(demo) && !rows.some((a) => a.demo === demo && a.state === "waiting")) await queue.forget(demo);
}

// ready keeps the open recordings in this browser, and says how far that goes.
async function ready(button) {
  const said = document.getElementById("ready-said");
  const open = document.getElementById("recordings").dataset.open.split(" ").filter(Boolean);
  said.textContent = "Fetching…";
  try {
    if (navigator.serviceWorker) {
      await navigator.serviceWorker.register("/sw.js");
      await navigator.serviceWorker.ready;
    }
    for (const demo of open) if (!(await queue.fetched(demo, 30000)).board) throw new Error("it is over");
    said.textContent = navigator.serviceWorker ? `Ready: ${open.length === 1 ? "this recording" : `these ${open.length} recordings`} can be opened and gone on with while the server is away.`
      : "Fetched, but this address is not served over HTTPS: the browser keeps no page. While the server is away, do not reload or close the recorder. What is tapped is kept all the same.";
    button.hidden = Boolean(navigator.serviceWorker);
  } catch {
    said.textContent = "Not ready: the server does not answer, or this browser cannot keep it. Try again.";
  }
}

const button = document.getElementById("ready");
if (button) {
  button.hidden = false;
  button.onclick = () => ready(button);
}
await send();
await tidy().catch(() => {});
