// The board of a station: its tiles, and what is found under More. What a tap does is its
// page's to say.
const $ = (id) => document.getElementById(id);

// tiles are the buttons of the board, once it is read. A tile of gear puts on, takes off and
// puts away in turn; ends are the other steps that put it away.
export const tiles = [];

// readBoard takes up the board, once the page has it.
export function readBoard() {
  tiles.push(...[...$("board").querySelectorAll(".tap[data-steps]")].map((el) => ({
    el, kind: el.dataset.kind, steps: el.dataset.steps.split(" "), ends: el.dataset.ends.split(" ").filter(Boolean),
    title: el.querySelector(".name").textContent, name: el.querySelector(".name"), state: el.querySelector(".state"), idle: el.querySelector(".state").textContent.trim(),
  })));
  $("open-more").onclick = () => more($("more").hidden);
  const parts = [...document.querySelectorAll(".board-parts button")];
  for (const b of parts) b.onclick = () => {
    $("board").dataset.area = b.dataset.area;
    for (const x of parts) x.setAttribute("aria-pressed", String(x === b));
  };
  for (const b of document.querySelectorAll("[data-close]")) b.onclick = () => b.closest("dialog").close();
}

export const tileOf = (step) => tiles.find((t) => t.steps.includes(step));

// showGroups says on the button of each group of the list form what goes on in it, since only
// one group can be seen.
export function showGroups() {
  for (const b of $("board").querySelectorAll("[data-list]")) {
    const of = tiles.filter((t) => t.el.parentElement.id === `list-${b.dataset.list}`);
    const count = (...states) => of.filter((t) => states.includes(t.el.dataset.state)).length;
    const [asks, short, wet] = [count("ask"), count("early", "spoilt"), count("wet", "alone", "open", "reached")];
    put(b.querySelector(".state"), asks ? `${asks} asked` : short ? `${short} too short` : wet ? `${wet} wet` : "");
  }
}

function list(name) {
  for (const b of $("board").querySelectorAll("[data-list]")) {
    b.setAttribute("aria-pressed", String(b.dataset.list === name));
    $(`list-${b.dataset.list}`).hidden = b.dataset.list !== name;
  }
}

// lastOf is the step of a tile that was done last of those done.
export const lastOf = (tile, done) => done.findLast((s) => tile.steps.includes(s) || tile.ends.includes(s));

// turnOf is the step that the next tap on a tile stands for.
export const turnOf = (tile, done) => tile.steps[(tile.steps.indexOf(lastOf(tile, done)) + 1) % tile.steps.length];

// put sets a text, and leaves one that is the same alone: nothing is read out again.
export const put = (element, text) => { if (element.textContent !== text) element.textContent = text; };

// mark shows which tile was tapped last, none without one.
export function mark(tile) {
  for (const t of tiles) t.el.classList.remove("just");
  tile?.el.classList.add("just");
}

// onTap hears taps on the board: on a tile, or what stands under More, which then makes room
// again: a step, a note, or what a note is about.
export function onTap({ tile, step, note, about }) {
  $("board").addEventListener("click", (event) => {
    const b = event.target.closest(".tap");
    if (!b) return;
    const on = tiles.find((t) => t.el === b);
    const under = [[step, b.dataset.step], [note, b.dataset.note], [about, b.dataset.about]].find(([, x]) => x);
    if (on) tile(on);
    else if (under) { more(false); under[0](under[1], b); }
    else if (b.dataset.list) list(b.dataset.list);
    else if (b.dataset.group) group(b.dataset.group);
    else if (b.hasAttribute("data-groups")) group("");
    else if (b.hasAttribute("data-back")) more(false);
  });
}

// more shows what is done now and then in the place of the rest of the board.
export function more(open) {
  $("more").hidden = !open;
  $("board").toggleAttribute("data-more", open);
  $("open-more").setAttribute("aria-expanded", String(open));
  if (open) group("");
}

function group(name) {
  for (const g of $("more").querySelectorAll(".board-groups")) g.hidden = g.id !== (name ? `group-${name}` : "groups");
}
