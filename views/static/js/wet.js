// What a surface's film is doing, told from the wipes so far. An estimate for
// the eye: the server judges the log.

// The states of a surface that boards show: those of the table in surfacestate.go.
export const states = ["unwiped", "wet", "alone", "open", "ask", "reached", "dry", "early", "spoilt", "unseen"];

// paint shows a state on a tile. level is the share of the label time that is over, 0
// to 1: so high the tile is filled.
export function paint(tile, state, level = 0) {
  if (!states.includes(state)) throw new Error(`no such state: ${state}`);
  if (tile.dataset.state !== state) tile.dataset.state = state;
  const share = String(Math.round(level * 1000) / 1000);
  if (share !== (tile.style.getPropertyValue("--level") || "0")) tile.style.setProperty("--level", share);
}

// wetted is the surfaces that a step wipes wet.
export const wetted = (step) => (step.acts ?? []).filter((a) => a.wets).map((a) => a.wipe);

// timeline plays the taps of a run: a tap begins when the one before it is
// finished, its own seconds pass first, then its wipes, one after another. events
// is what the world does, at a time or after the first use of a step.
export function timeline(data, taps) {
  const w = { data, films: new Map(), blood: new Set(data.blood), events: [], now: [], patient: data.patient ?? "", stays: false,
    hands: { gloves: false, product: "", last: data.shelf, face: "", soiled: false } };
  w.coming = data.events.filter((e) => e.at_ms >= 0).sort((a, b) => a.at_ms - b.at_ms);
  const done = [];
  const used = new Set();
  let free = 0;
  note(w, 0);
  for (const tap of taps) {
    const step = data.steps[tap.step];
    if (!step) continue;
    const begin = Math.max(tap.at_ms, free);
    free = begin + step.seconds * 1000;
    for (const act of step.acts ?? []) {
      if (act.wipe) free += data.surfaces[act.wipe].wipe_s * 1000;
      pass(w, free);
      deed(w, act, free);
    }
    done.push({ step: tap.step, label: step.label, begin, end: free });
    if (!used.has(tap.step)) for (const e of data.events) if (e.after === tap.step) happen(w, e, free);
    used.add(tap.step);
  }
  pass(w, Infinity);
  w.events.sort((a, b) => a.at - b.at);
  return { films: w.films, done, free, events: w.events, now: w.now };
}

// note keeps what is so from a moment on of hands and patient.
function note(w, at) {
  const { gloves, product, face, soiled } = w.hands;
  w.now.push({ at, gloves, product, used: face !== "", soiled, patient: w.patient });
}

// nowAt is what was noted last up to a moment; what the world will do is noted ahead.
export const nowAt = (played, t) => played.now.findLast((x) => x.at <= t);

// goes moves the patient. Whoever looks takes her for gone, but not when she cannot leave.
function goes(w, where) {
  if (where === "stays") w.stays = true;
  else if (where === "looked") w.patient &&= w.stays ? w.patient : "gone";
  else if (where) Object.assign(w, { patient: where, stays: false });
}

// pass lets the world do what it does up to a moment.
function pass(w, now) {
  while (w.coming.length > 0 && w.coming[0].at_ms <= now) {
    const e = w.coming.shift();
    happen(w, e, e.at_ms);
  }
}

function happen(w, e, at) {
  w.events.push({ at, text: e.text });
  bleed(w, e.blood);
  goes(w, e.patient);
  note(w, at);
  for (const surface of e.uses ?? []) spoil(w.films, surface, at);
}

// bleed: blood on a surface undoes what was wiped there.
function bleed(w, surface) {
  if (!surface) return;
  w.blood.add(surface);
  w.films.delete(surface);
}

// deed does one act of a step.
function deed(w, act, at) {
  bleed(w, act.blood);
  take(w.hands, act);
  if (act.wipe) wipe(w, act, at);
  if (act.dries) towel(w, act.dries, at);
  if (act.on) mar(w.films, act.on, at);
  goes(w, act.patient);
  note(w, at);
}

// take follows the wipe in hand: a wipe goes with the gloves that are taken off.
function take(hands, act) {
  if (act.product) fresh(hands, act.product);
  if (act.drops || (act.gloves === "off" && hands.gloves)) hands.product = "";
  if (act.gloves) hands.gloves = act.gloves === "on";
}

const fresh = (hands, product) => Object.assign(hands, { product, last: product, face: "", soiled: false });

// wipe uses the wipe in hand, or a fresh one: who wipes has one. One that has been
// on another face dirties a surface that was disinfected, whose time then starts
// anew; one that goes over blood, or has taken soil off, disinfects nothing, and
// the soil spoils what was disinfected.
function wipe(w, act, at) {
  const { data, films, hands, blood } = w;
  if (!hands.product) fresh(hands, hands.last);
  const face = data.surfaces[act.wipe].face;
  const other = hands.face !== "" && hands.face !== face;
  hands.face ||= face;
  if (!act.wets) {
    hands.soiled ||= blood.has(act.wipe) || !disinfected(films, act.wipe);
    blood.delete(act.wipe);
    return;
  }
  if (hands.soiled) return spoil(films, act.wipe, at);
  if (blood.has(act.wipe)) return;
  if (other || !disinfected(films, act.wipe)) films.delete(act.wipe);
  wet(films, data, act.wipe, hands.product, at);
}

const disinfected = (films, surface) => films.has(surface) && !films.get(surface).spoilt;

// spoil: what is wet there dries as it would, but the surface is no longer disinfected.
function spoil(films, surface, at) {
  const f = films.get(surface);
  if (f) films.set(surface, { ...f, spoilt: at });
}

// towel ends a film.
function towel({ films }, surface, at) {
  const f = films.get(surface);
  if (!f) return;
  films.set(surface, { ...f, dry: Math.min(at, f.dry) });
  mar(films, surface, at);
}

// mar: a surface that is used before its time is to be wiped again, and is not left
// alone any longer.
function mar(films, surface, at) {
  const f = films.get(surface);
  if (!f) return;
  const left = at - f.left < f.need ? Infinity : f.left;
  films.set(surface, { ...f, left, used: f.used ?? (had(f, at) ? undefined : at) });
}

// had tells whether a film had its time by a moment.
const had = (f, at) => f.done || Math.min(at, f.dry) - f.since >= f.need || (f.alone && at - f.left >= f.need);

// wet adds a wipe; one that comes while the surface is still wet goes on with
// the same film, which then needs the longer of its products' times. A time that was
// reached before stays reached. Where the labels count the time that a surface is left
// alone, it runs from the latest wipe, left.
function wet(films, data, surface, product, at) {
  const dries = (data.surfaces[surface].dries_s[product] ?? 0) * 1000;
  const need = (data.products[product]?.label_s ?? 0) * 1000;
  const f = films.get(surface);
  const done = f !== undefined && had(f, at);
  const on = f !== undefined && at <= f.dry;
  const alone = Boolean(data.products[product]?.alone) && (!on || f.alone);
  if (on) films.set(surface, { ...f, dry: at + dries, need: Math.max(need, f.need), done, alone, left: at, used: undefined });
  else films.set(surface, { since: at, dry: at + dries, need, done, alone, left: at });
}

// film tells the state of a surface at a moment, and how much of its time is over.
export function film(f, now) {
  if (now < f.since) return { state: "unwiped", coming: true, share: 0 };
  const wetFor = f.alone ? now - f.left : Math.min(now, f.dry) - f.since;
  if (now >= f.spoilt) return { state: "spoilt", wetFor, dryAt: null, share: 0 };
  const over = now >= f.dry;
  if (now >= f.used) return { state: "early", wetFor: f.used - f.since, dryAt: over ? f.dry : null, usedAt: f.used, share: 0 };
  const reached = !f.spoilt && (f.done || Math.min(now, f.dry) - f.since >= f.need || wetFor >= f.need);
  const share = reached || !f.need ? 1 : Math.max(0, Math.min(1, wetFor / f.need));
  return { state: reached ? (over ? "dry" : "reached") : f.alone && f.left !== Infinity ? "alone" : over ? "early" : "wet", wetFor, dryAt: over ? f.dry : null, share };
}
