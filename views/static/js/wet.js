// What a surface's film is doing, told from the wipes so far. An estimate for
// the eye: the server judges the log.

// wetted is the surfaces that a step wipes wet.
export const wetted = (step) => (step.acts ?? []).filter((a) => a.wets).map((a) => a.wipe);

// timeline plays the taps of a run: a tap begins when the one before it is
// finished, its own seconds pass first, then its wipes, one after another. events
// is what the world does, at a time or after the first use of a step.
export function timeline(data, taps) {
  const films = new Map();
  const done = [];
  const events = (data.events ?? []).filter((e) => e.at_ms >= 0).map((e) => ({ at: e.at_ms, text: e.text }));
  const used = new Set();
  const hands = { gloves: false, product: "", face: "" };
  let free = 0;
  for (const tap of taps) {
    const step = data.steps[tap.step];
    if (!step) continue;
    const begin = Math.max(tap.at_ms, free);
    let t = begin + step.seconds * 1000;
    for (const act of step.acts ?? []) {
      take(hands, act);
      if (!act.wipe) continue;
      t += data.surfaces[act.wipe].wipe_s * 1000;
      if (hands.product) wipe(films, data, act, hands, t);
    }
    free = t;
    done.push({ step: tap.step, label: step.label, begin, end: t });
    if (!used.has(tap.step)) for (const e of data.events ?? []) if (e.after === tap.step) events.push({ at: t, text: e.text });
    used.add(tap.step);
  }
  events.sort((a, b) => a.at - b.at);
  return { films, done, free, events };
}

// take follows the wipe in hand: a wipe goes with the gloves that are taken off.
function take(hands, act) {
  if (act.product) Object.assign(hands, { product: act.product, face: "" });
  if (act.drops || (act.gloves === "off" && hands.gloves)) Object.assign(hands, { product: "", face: "" });
  if (act.gloves) hands.gloves = act.gloves === "on";
}

// wipe uses the wipe in hand. One that has been on another face dirties a
// surface that was disinfected, whose time then starts anew.
function wipe(films, data, act, hands, at) {
  const face = data.surfaces[act.wipe].face;
  const other = hands.face !== "" && hands.face !== face;
  hands.face ||= face;
  if (!act.wets) return;
  if (other) films.delete(act.wipe);
  wet(films, data, act.wipe, hands.product, at);
}

// wet adds a wipe; one that comes while the surface is still wet goes on with
// the same film. A time that was reached before stays reached.
function wet(films, data, surface, product, at) {
  const dries = (data.surfaces[surface].dries_s[product] ?? 0) * 1000;
  const need = (data.products[product]?.label_s ?? 0) * 1000;
  const f = films.get(surface);
  if (f && at <= f.dry) films.set(surface, { ...f, dry: at + dries, need });
  else films.set(surface, { since: at, dry: at + dries, need, best: f ? Math.max(f.best, f.dry - f.since) : 0 });
}

// film tells the state of a surface at a moment.
export function film(f, now) {
  if (now < f.since) return { state: "coming", share: 0 };
  const end = Math.min(now, f.dry);
  const wetFor = end - f.since;
  const reached = Math.max(wetFor, f.best) >= f.need;
  const state = reached ? "reached" : now >= f.dry ? "early" : "wet";
  return { state, wetFor, dryAt: now >= f.dry ? f.dry : null, share: f.need ? Math.min(1, wetFor / f.need) : 1 };
}
