// The panel of the board: what is asked stands here, beside the tiles, so that no box ever
// lies upon them.
const $ = (id) => document.getElementById(id);

let hint = ""; // what stands there when nothing is asked

// asks reports whether something is asked.
export const asks = () => $("panel-cells").childElementCount > 0;

// ask shows buttons under a title. Each has words, what it does, and whether it is pressed,
// when it is one that is switched.
export function ask(title, cells) {
  if (!asks()) hint = $("panel-title").textContent;
  $("panel-title").textContent = title;
  $("panel-cells").replaceChildren(...cells.map(cell));
  $("trail").hidden = true;
}

function cell({ words, act, pressed, kind }) {
  const b = document.createElement("button");
  Object.assign(b, { type: "button", className: `tap ${kind ?? ""}`, textContent: words });
  if (pressed !== undefined) b.setAttribute("aria-pressed", String(pressed));
  b.onclick = act;
  return b;
}

// rest ends what is asked.
export function rest() {
  if (!asks()) return;
  $("panel-title").textContent = hint;
  $("panel-cells").replaceChildren();
  $("trail").hidden = false;
}
