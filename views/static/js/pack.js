// What the page of a recording shows: fetched while the server answers, and kept in this
// browser for when it does not. It holds no token.
import * as queue from "./queue.js";

const id = location.pathname.split("/")[2];
const never = new Promise(() => {});

// fill puts the board in the place of what stood there.
function fill(pack) {
  const board = document.createElement("template");
  board.innerHTML = pack.board;
  document.getElementById("shell").replaceWith(board.content);
  document.title = `Recording ${pack.data.learner} · Stillwet`;
  return { ...pack.data, finish: pack.finish };
}

const tell = (text) => { document.getElementById("opening").textContent = text; };

async function open() {
  const kept = await queue.pack(id).catch(() => null);
  let pack;
  try {
    pack = await queue.fetched(id, kept ? 8000 : 30000);
  } catch {
    if (!kept) {
      tell("The server does not answer, and this browser has not kept this recording. It is made ready by being opened once, or by “Get ready for offline” on the watch page, while there is network.");
      return never;
    }
    return fill({ ...kept, data: { ...kept.data, elapsed_ms: kept.data.elapsed_ms + Math.max(0, Date.now() - kept.at), offline: true } });
  }
  if (pack.way) location.replace(pack.way);
  if (pack.refused) tell(pack.refused);
  return pack.board ? fill(pack) : never;
}

if (navigator.serviceWorker) navigator.serviceWorker.register("/sw.js").catch(() => {}); // only where the page is safe from listeners

export const data = await open();
