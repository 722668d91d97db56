// The panel of the board: what is asked stands here, beside the tiles, so that no box ever
// lies upon them.
const $ = (id) => document.getElementById(id);
const hint = $("panel-title")?.textContent ?? "";

let from = null; // the tile that it speaks of

// asks reports whether something is asked.
export const asks = () => $("panel-cells").childElementCount > 0;

// about is the tile of which something is asked.
export const about = () => (asks() ? from : null);

// ask shows buttons under a title. Each has words, what it does, and whether it is pressed,
// when it is one that is switched.
export function ask(title, cells, tile = null) {
  from = tile;
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
  from = null;
  $("panel-title").textContent = hint;
  $("panel-cells").replaceChildren();
  $("trail").hidden = false;
}

export const title = (text) => { if ($("panel-title").textContent !== text) $("panel-title").textContent = text; };
