// The acts that were recorded in this browser: each is in its database before it is
// shown, and is sent until the server has said what became of it. Nothing here knows
// what an act means.
import { key, post, Refused } from "./send.js";

const most = 200; // in one sending

// got is the outcome of one request of the database.
const got = (request) => new Promise((done, fail) => {
  request.onsuccess = () => done(request.result);
  request.onerror = () => fail(request.error);
});

let opening;
function database() {
  opening ??= new Promise((done, fail) => {
    const request = indexedDB.open("stillwet", 1);
    request.onupgradeneeded = () => {
      request.result.createObjectStore("acts", { keyPath: ["demo", "n"] });
      request.result.createObjectStore("packs", { keyPath: "demo" });
      request.result.createObjectStore("own");
    };
    request.onsuccess = () => {
      request.result.onversionchange = () => request.result.close();
      done(request.result);
    };
    request.onerror = () => { opening = undefined; fail(request.error); };
  });
  return opening;
}

// within does its work in one transaction, and is over when all of it is on the disk.
async function within(mode, work) {
  const t = (await database()).transaction(["acts", "packs", "own"], mode, { durability: "strict" });
  const kept = new Promise((done, fail) => {
    t.oncomplete = done;
    t.onabort = () => fail(t.error ?? new Error("It was not kept."));
  });
  kept.catch(() => {}); // it is asked for below
  try {
    const value = await work((store) => t.objectStore(store));
    await kept;
    return value;
  } catch (error) {
    try { t.abort(); } catch { /* it was */ }
    throw error;
  }
}

const of = (demo) => IDBKeyRange.bound([demo, 0], [demo, Infinity]);

// device names this browser to the server. Its acts of a demonstration are numbered.
export const device = () => within("readwrite", async (store) => {
  const was = await got(store("own").get("device"));
  if (was) return was;
  const name = `d-${key()}`;
  await got(store("own").put(name, "device"));
  return name;
});

// acts are those of one demonstration, or all, in their order.
export const acts = (demo) => within("readonly", (store) => got(store("acts").getAll(demo && of(demo))));

// keep numbers an act and keeps it. It is a part of the record from then on, whatever
// becomes of the page; until then it is not, and must not be shown as if it were.
export const keep = (demo, person, floor, entry) => within("readwrite", async (store) => {
  const last = await got(store("acts").openKeyCursor(of(demo), "prev"));
  const row = { demo, n: Math.max(floor, last ? last.key[1] : 0) + 1, key: key(), person, wall: new Date().toISOString(), state: "waiting", ...entry };
  await got(store("acts").add(row));
  return row;
});

// forget drops what is kept of a demonstration that is over.
export const forget = (demo) => within("readwrite", async (store) => {
  await got(store("acts").delete(of(demo)));
  await got(store("packs").delete(demo));
});

// settle notes what the server said of acts.
const settle = (rows, answers) => within("readwrite", async (store) => {
  const said = new Map(answers.map((a) => [a.key, a]));
  const changed = [];
  for (const row of rows) {
    const a = said.get(row.key);
    if (!a) continue;
    const now = { ...row, state: { stored: "sent", same: "sent" }[a.as] ?? a.as, why: a.why ?? "" };
    await got(store("acts").put(now));
    changed.push(now);
  }
  return changed;
});

// Elsewhere is somebody else's sign-in, by which nothing of this person's is sent.
export class Elsewhere extends Error {}

// session is who is signed in, with a token for forms. It is kept in memory alone.
let session = null;
export async function signedIn() {
  if (session) return session;
  const response = await fetch("/session", { headers: { Accept: "application/json" }, cache: "no-store", redirect: "error" });
  const answer = await response.json();
  if (response.status >= 400) throw response.status < 500 ? new Refused(response.status, answer) : new Error(answer.error);
  if (typeof answer.token !== "string" || typeof answer.person !== "string") throw new Error("another page answered");
  session = answer;
  return session;
}

// ask posts as somebody, with a token of their present session. A token can be of a
// session before: then it is asked once more with a new one.
export async function ask(person, url, body) {
  for (const last of [false, true]) {
    const who = await signedIn();
    if (who.person !== person) { session = null; throw new Elsewhere(); }
    try {
      return await post(url, who.token, body);
    } catch (error) {
      if (error instanceof Refused && (error.status === 401 || error.status === 403)) session = null;
      if (last || !(error instanceof Refused) || error.status !== 403) throw error;
    }
  }
}

const wire = ({ key: k, n, at_ms, wall, step, text, undo }) => ({ key: k, n, at_ms, wall, step, text, undo });

// send sends what waits of a demonstration, up to a batch, and gives the rows that were
// answered and which device records; null when nothing waits.
export async function send(demo, person) {
  const rows = (await acts(demo)).filter((r) => r.state === "waiting" && r.person === person).slice(0, most);
  if (rows.length === 0) return null;
  const answer = await ask(person, `/demonstrations/${demo}/batch`, { device: await device(), acts: rows.map(wire) });
  if (!Array.isArray(answer.acts)) throw new Error("another page answered"); // a network that asks for a sign-in of its own
  return { rows: await settle(rows, answer.acts), holder: answer.holder };
}
