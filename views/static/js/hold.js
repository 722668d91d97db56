// One tab of a browser records a demonstration; the others look on. Where the browser has
// locks they say which; where it has none (an address without HTTPS) the tabs ask each
// other.

// hold asks for a recording. It gives whether this tab has it, and a way to take it from
// the one that has; lost is told when another takes it from here.
export async function hold(demo, lost) {
  return navigator.locks ? byLock(`stillwet-${demo}`, lost) : byAsking(`stillwet-${demo}`, lost);
}

async function byLock(name, lost) {
  const take = (how) => new Promise((done) => {
    navigator.locks.request(name, how, (lock) => {
      done(Boolean(lock));
      return lock && new Promise(() => {}); // until the tab is closed
    }).catch(lost);
  });
  return { here: await take({ ifAvailable: true }), take: () => take({ steal: true }) };
}

async function byAsking(name, lost) {
  const channel = new BroadcastChannel(name);
  let here = false;
  let answered = false;
  channel.onmessage = ({ data }) => {
    if (data === "who" && here) channel.postMessage("here");
    if (data === "here") answered = true;
    if (data === "mine" && here) { here = false; lost(); }
  };
  channel.postMessage("who");
  await new Promise((done) => { setTimeout(done, 250); });
  here = !answered;
  return { here, take: async () => { channel.postMessage("mine"); here = true; return true; } };
}
