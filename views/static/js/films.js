// What whoever watches knows of the films on surfaces: how long each has been wet, what was
// seen of it, and what still has to be. data is the procedure's, now tells the time of the
// recording; a tap may be off by the slack.
import { mss } from "./send.js";
import { wetted } from "./wet.js";

export function watchedFilms(data, now) {
  const mustSee = new Set(data.must_see);
  const slack = data.slack_ms;
  const actsOf = (step) => data.steps[step]?.acts ?? [];
  const wetOf = (step) => wetted(data.steps[step]);
  const declares = (step) => actsOf(step).some((a) => a.ready);

  // films tells, for each surface, when it was first wiped without having been
  // seen dry since, and how long it had been wet when somebody looked at or after
  // its time. When the station is declared ready first, looking comes too late.
  function films(list) {
    const wet = new Map();
    let product = data.product;
    for (const t of list) {
      if (declares(t.step)) for (const f of wet.values()) if (!f.seen && !f.alone && (f.dry ?? t.at_ms) - f.since >= f.need - slack) f.late = true;
      for (const act of actsOf(t.step)) {
        if (act.product) product = takenIn(t) ?? act.product;
        if (act.wets) wipeFilm(wet, act.wipe, t.at_ms, product);
        if (act.dries) dry(wet, act.dries, t.at_ms);
        if (act.all_dry) allDry(wet, t.at_ms);
        wet.delete(act.blood);
        mar(wet.get(act.on), t.at_ms);
      }
      for (const text of t.texts) heard(wet, text, t.at_ms);
    }
    return wet;
  }

  // takenIn is the product of a wipe from the shelf, where it was asked.
  function takenIn(t) {
    return t.texts.map((text) => /^take wipe w\d* of (.+)$/.exec(text ?? "")?.[1]).find((id) => id in data.products);
  }

  // mar: a film that was not left alone for its time has to be seen wet for it; one that
  // was surely used before it is to be wiped again.
  function mar(f, at) {
    if (!f) return;
    if (!f.seen && (f.dry ?? at) - f.since < f.need - slack) f.used ??= at;
    if (f.alone && at - f.since < f.need + slack) f.alone = false;
  }

  // heard is what a note tells of a surface, or of all.
  function heard(wet, text, at) {
    if (text === "all dry") allDry(wet, at);
    const m = /^(dry|still wet|blood on) (.+)$/.exec(text);
    const f = m && wet.get(m[2]);
    if (!f) return;
    if (m[1] === "blood on") wet.delete(m[2]);
    else if (m[1] === "dry") dry(wet, m[2], at);
    else if (f.dry === undefined && at - f.since >= f.need + slack) f.seen ??= at - f.since;
  }

  function dry(wet, surface, at) {
    const f = wet.get(surface);
    if (f) f.dry ??= at;
  }

  function allDry(wet, at) {
    for (const surface of wet.keys()) dry(wet, surface, at);
  }

  // wipeFilm wets a surface; the product of the wipe in hand says for how long it
  // has to stay so, and of two products in one film the longer time; or to be left alone
  // from the latest wipe on, which asks nobody to look.
  function wipeFilm(wet, surface, at, product) {
    const need = (data.products[product]?.label_s ?? 0) * 1000;
    const f = wet.get(surface);
    const alone = Boolean(data.products[product]?.alone);
    if (!f || f.dry !== undefined) wet.set(surface, { since: at, need, alone });
    else if (f.alone) wet.set(surface, { since: alone ? at : f.since, need: Math.max(f.need, need), alone });
    else if (!f.seen) f.need = Math.max(f.need, need);
    delete wet.get(surface).used;
  }

  // tileFilm is the youngest film of the surfaces of a tile's steps, the one that needs
  // longest; one that is dry comes first. It is seen when all of them are.
  function tileFilm(wet, steps) {
    const found = steps.flatMap(wetOf).map((s) => wet.get(s)).filter(Boolean);
    if (found.length === 0) return null;
    const dried = found.filter((f) => f.dry !== undefined);
    const f = (dried.length > 0 ? dried : found).reduce((a, b) => (b.since > a.since ? b : a));
    return { ...f, late: found.some((x) => x.late), seen: found.every((x) => x.seen) ? Math.max(...found.map((x) => x.seen)) : 0 };
  }

  // kindOf tells what is known of a film: "ask" when its time has come and nobody
  // has said what they see, "unseen" when it was found dry after that. A tap may be off
  // by the slack, so the time has come that much later, and is broken that much sooner.
  function kindOf(f) {
    if (!f) return "";
    if (f.used) return "early";
    if (f.seen) return "seen";
    if (f.alone) return now() - f.since < f.need + slack ? "alone" : "had";
    const t = (f.dry ?? now()) - f.since;
    if (f.dry !== undefined) return t < f.need - slack ? "early" : "unseen";
    return t < f.need + slack ? "wet" : "ask";
  }

  function stateOf(f, before) {
    const t = f ? ((f.alone ? undefined : f.dry) ?? now()) - f.since : 0;
    const need = mss(f?.need ?? 0);
    return {
      "": before, wet: `Wet ${mss(t)} of ${need}`, ask: `${need} – still wet?`,
      early: f?.used ? "Used too early" : `Dry at ${mss(t)} of ${need}`, unseen: `Dry ${mss(t)}, not seen`,
      alone: `Left alone ${mss(t)} of ${need}`, had: `${need} left alone`,
      seen: `Seen wet at ${mss(f?.seen ?? 0)}${f?.dry === undefined ? "" : ", dry"}`,
    }[kindOf(f)];
  }

  // wanted is the surfaces that the clinic asks to be seen wet: some by name, and of
  // one thing a whole face, as long as none was: the one that is nearest to it.
  function wanted(wet) {
    const all = new Set(mustSee);
    if (faceSeen(wet)) return all;
    const hopeful = data.one_face.faces.filter((face) => face.every((s) => ["wet", "ask", "seen", "alone", "had"].includes(kindOf(wet.get(s)))));
    const seen = (face) => face.filter((s) => wet.get(s).seen).length;
    for (const s of hopeful.sort((a, b) => seen(b) / b.length - seen(a) / a.length)[0] ?? []) all.add(s);
    return all;
  }

  const faceSeen = (wet) => !data.one_face || data.one_face.faces.some((face) => face.every((s) => ["seen", "had"].includes(kindOf(wet.get(s)))));

  // wants tells whether the clinic asks to see one of the surfaces of steps.
  const wants = (wet, steps) => { const all = wanted(wet); return steps.flatMap(wetOf).some((s) => all.has(s)); };

  // undried is the surfaces that have to be dry before a step and of which that was not
  // noted.
  function undried(wet, step) {
    return (data.steps[step].dry ?? []).filter((s) => wet.has(s) && wet.get(s).dry === undefined);
  }


  // shownAs is the state by which a film is shown: of one that was seen wet for its time,
  // whether it is dry by now; of one that nobody must see, that its time is over.
  function shownAs(f, wet, steps) {
    const kind = kindOf(f);
    if (kind === "seen" || kind === "had") return f.dry === undefined ? "reached" : "dry";
    if (kind === "ask" && !wants(wet, steps)) return "open";
    return kind || "unwiped";
  }

  // share is how much of its time a film has been wet.
  const share = (f) => (!f ? 0 : f.seen || !f.need ? 1 : Math.min(1, (((f.alone ? undefined : f.dry) ?? now()) - f.since) / f.need));

  return { films, tileFilm, kindOf, stateOf, wanted, wants, faceSeen, undried, shownAs, share, actsOf, wetOf, takenIn, declares, slack };
}
