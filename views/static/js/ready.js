// What has to be done again at the station before the next patient, as far as the board
// knows: surfaces, the bucket, and the hands of whoever did the work. It judges nothing:
// the findings come when all is sent.

// redo is a sentence that says so, "" when nothing is known to be left. usual are the steps
// that the board shows, wet the films and kindOf what is known of one, list the taps.
export function redo(data, usual, list, wet, kindOf) {
  const acts = (step) => data.steps[step]?.acts ?? [];
  const did = list.flatMap((t) => acts(t.step));
  const left = [...surfaces(data, usual.flatMap(acts), wet, kindOf), ...buckets(data, usual.flatMap(acts), did, list), ...hands(did, unseenOf(list, acts))];
  return left.length === 0 ? "" : `Station not ready: redo ${left.join(", ")} before the next patient; tell the charge nurse.`;
}

// named is what is left, with why, if anything is.
const named = (names, why) => (names.length === 0 ? [] : [`${names.join(", ")} (${why})`]);

function surfaces(data, usual, wet, kindOf) {
  const all = [...new Set(usual.filter((a) => a.wets).map((a) => a.wipe))];
  const title = (s) => data.surfaces[s].title;
  return [
    ...named(all.filter((s) => !wet.has(s)).map(title), "not noted as wiped"),
    ...named(all.filter((s) => ["wet", "alone", "early"].includes(kindOf(wet.get(s)))).map(title), "time not reached"),
  ];
}

// buckets: one that was full is to be emptied, and one that was taken off put back, where
// the procedure has steps for it. What lies before the watching began nobody knows.
function buckets(data, usual, did, list) {
  const whole = !list.some((t) => /^watching from (?!connected$)/.test(t.texts[0] ?? ""));
  const unseen = unseenOf(list, (step) => data.steps[step]?.acts ?? []);
  return Object.entries(data.buckets).flatMap(([id, b]) => {
    const of = (acts) => acts.filter((a) => a.bucket === id).map((a) => a.deed);
    const done = of(did);
    const may = (deed) => of(usual).includes(deed) && !of(unseen).includes(deed);
    if (!b.there && done.length === 0) return [];
    const why = [];
    if (whole && may("emptied") && !done.includes("emptied")) why.push("not emptied");
    if (may("back") && ["off", "aside"].includes(done.findLast((d) => d !== "emptied"))) why.push("not put back");
    return named(why.length > 0 ? [b.title] : [], why.join(", "));
  });
}

// hands: gloves that are still on, or hands that were not cleaned since they came off.
function hands(did, unseen) {
  const last = did.findLastIndex((a) => a.gloves);
  if (last < 0) return [];
  if (did[last].gloves === "on") return unseen.some((a) => a.gloves === "off") ? [] : named(["gloves"], "still on");
  const clean = did.slice(last).some((a) => a.hands) || unseen.some((a) => a.hands);
  return clean ? [] : named(["hands"], "not cleaned since the gloves came off");
}

// unseenOf is the acts of steps that nobody could see: of those nothing is said.
function unseenOf(list, acts) {
  return list.flatMap((t) => t.texts).flatMap((text) => acts(/^not seen (.+)$/.exec(text ?? "")?.[1]));
}
