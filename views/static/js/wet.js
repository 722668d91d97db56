// What a surface's film is doing, told from the wipes so far. An estimate for
// the eye: the server judges the log.

// wetted is the surfaces that a step wipes wet.
export const wetted = (step) => (step.acts ?? []).filter((a) => a.wets).map((a) => a.wipe);

// timeline plays the taps of a run: a tap begins when the one before it is
// finished, its own seconds pass first, then its wipes, one after another.
export function timeline(data, taps) {
  const films = new Map();
  const done = [];
  let free = 0;
  let product = "";
  for (const tap of taps) {
    const step = data.steps[tap.step];
    if (!step) continue;
    const begin = Math.max(tap.at_ms, free);
    let t = begin + step.seconds * 1000;
    for (const act of step.acts ?? []) {
      if (act.product) product = data.product || act.product;
      if (!act.wipe) continue;
      t += data.surfaces[act.wipe].wipe_s * 1000;
      if (act.wets && product) wet(films, data, act.wipe, product, t);
    }
    free = t;
    done.push({ step: tap.step, label: step.label, begin, end: t });
  }
  return { films, done, free };
}

// wet adds a wipe; one that comes while the surface is still wet goes on with
// the same film.
function wet(films, data, surface, product, at) {
  const dries = (data.surfaces[surface].dries_s[product] ?? 0) * 1000;
  const need = (data.products[product]?.label_s ?? 0) * 1000;
  const f = films.get(surface);
  if (f && at <= f.dry) films.set(surface, { ...f, dry: at + dries, need });
  else films.set(surface, { since: at, dry: at + dries, need, reachedBefore: f ? f.reachedBefore || f.dry - f.since >= f.need : false });
}

// film tells the state of a surface at a moment.
export function film(f, now) {
  if (now < f.since) return { state: "coming", share: 0 };
  const end = Math.min(now, f.dry);
  const wetFor = end - f.since;
  const reached = wetFor >= f.need;
  const state = reached ? "reached" : now >= f.dry ? "early" : "wet";
  return { state, wetFor, dryAt: now >= f.dry ? f.dry : null, share: f.need ? Math.min(1, wetFor / f.need) : 1 };
}
