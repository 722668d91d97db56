// The screen of a board stays on while it is in use: nobody unlocks a tablet in gloves.
// A browser lets the lock go whenever the page is hidden, and has none where the address is
// not safe from listeners.
let lock = null;
let asking = false;

// stayAwake keeps the screen on as long as the page is to be seen and wanted() says so. What
// it gives back looks again, for when that has changed.
export function stayAwake(wanted) {
  const due = () => wanted() && !document.hidden;
  const follow = async () => {
    const on = due();
    if (!navigator.wakeLock || asking || on === Boolean(lock)) return;
    asking = true;
    await (on ? take() : leave()).catch(() => {}); // refused, as by a tablet that saves its battery: asked again when the page comes back
    asking = false;
    if (due() !== on) follow();
  };
  document.addEventListener("visibilitychange", follow);
  follow();
  return follow;
}

async function take() {
  lock = await navigator.wakeLock.request("screen");
  lock.addEventListener("release", () => { lock = null; });
}

async function leave() {
  const was = lock;
  lock = null;
  await was.release();
}
