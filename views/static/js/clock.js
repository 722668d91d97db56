// The time since a recording began. performance.now() goes on whatever the tablet's clock
// is set to, but on many tablets it stands still while they sleep; the clock on the wall
// goes on then, and can be set. So what performance.now() measured counts, and where the
// wall has gone on by more since somebody last looked:
//  - the page was out of sight meanwhile: the tablet slept, and the wall's time counts;
//  - it was in sight: the clock was set, and it does not. Nor does what it was set back.
// Who sets the clock in the tablet's settings has the page out of sight as well, and a lid may
// close over a page in sight. So whenever the two differ the server is asked until it
// answers, and what it says counts from then on.
const differ = 2000; // ms that the two may differ by without any of this
const longest = 4 * 60 * 60 * 1000; // that a recording lasts, and so that a tablet sleeps in one
const again = 5000; // after which a server that did not answer is asked once more

// clock gives the ms since the start, which were so many when it is made, by the wall alone
// where the page was opened without the server; elapsed asks the server for them.
export function clock(beginning, byWall, elapsed) {
  let time = beginning;
  let [measured, wall, away, asking] = [performance.now(), Date.now(), document.hidden, false];
  document.addEventListener("visibilitychange", () => { away ||= document.hidden; now(); }); // before anything is tapped

  function now() {
    const [m, w] = [performance.now(), Date.now()];
    const more = w - wall - (m - measured);
    time += m - measured;
    if (more > differ && more < longest && away) time += more;
    [measured, wall, away] = [m, w, document.hidden];
    if (Math.abs(more) > differ) ask();
    return Math.round(time);
  }

  async function ask() {
    if (asking) return;
    asking = true;
    try {
      const told = await elapsed();
      const off = told - now();
      if (Math.abs(off) > differ) time += off; // NaN of a recording that is over is not
    } catch {
      setTimeout(ask, again);
    }
    asking = false;
  }
  if (byWall) ask();
  return now;
}
