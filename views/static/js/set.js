// The form of a row of the clinic's procedure: what the loader has against it is said as it
// is typed, and what was typed is there again after a reload.
const form = document.querySelector("form[data-try]");
// The form of a row is the same after it was refused, whatever the address says then.
const named = (name) => form?.elements[name]?.value ?? "";
const typed = ["stillwet typed", named("list"), named("procedure"), named("row")].join(" ");
const sent = "stillwet typed sent";

function forget(name) {
  if (name) sessionStorage.removeItem(name);
  sessionStorage.removeItem(sent);
}

// fields are those that somebody fills in.
const fields = () => [...form.elements].filter((x) => x.name.startsWith("f-"));
const values = () => JSON.stringify(fields().map((x) => [x.name, x.value, x.checked ?? false]));

function watch() {
  const asServed = values();
  if (!form.querySelector(".wrong")) again();
  let waiting = 0;
  form.addEventListener("input", () => {
    if (values() === asServed) sessionStorage.removeItem(typed);
    else sessionStorage.setItem(typed, values());
    clearTimeout(waiting);
    waiting = setTimeout(check, 400);
  });
  form.addEventListener("submit", () => sessionStorage.setItem(sent, typed));
}

// again puts back what was typed before a reload, and says so.
function again() {
  const kept = sessionStorage.getItem(typed);
  if (!kept) return;
  JSON.parse(kept).forEach(([name, value, checked], i) => {
    const x = fields()[i];
    if (x?.name !== name) return;
    if (x.type === "checkbox" || x.type === "radio") x.checked = checked;
    else x.value = value;
  });
  const note = document.createElement("p");
  note.className = "note";
  note.setAttribute("role", "status");
  note.append("What you had typed here before is in the form again, and is not in the draft yet. ");
  const fresh = document.createElement("button");
  fresh.type = "button";
  fresh.className = "btn plain";
  fresh.textContent = "Show the form as it stands in the draft";
  fresh.addEventListener("click", () => { forget(typed); location.assign(here()); });
  note.append(fresh);
  form.prepend(note);
  check();
}

// here is the row's own address: a page that was refused has another, and a reload of it would
// send the form again.
const here = () => `/set/edit?${new URLSearchParams({ list: named("list"), procedure: named("procedure"), row: named("row"), ...(named("row") ? {} : { new: "yes" }) })}`;

let asked = 0;

// check asks what the loader says; a server that is not there is no fault of the form.
async function check() {
  const mine = ++asked;
  let answer;
  try {
    const response = await fetch(form.dataset.try, { method: "POST", headers: { Accept: "application/json" }, body: new URLSearchParams(new FormData(form)), redirect: "error" });
    if (!response.ok) return;
    answer = await response.json();
  } catch {
    return;
  }
  if (mine === asked) show(answer);
}

// show puts each sentence at its field, which may consist of several.
function show({ wrong, problem }) {
  for (const said of form.querySelectorAll(".wrong[id^=field-]")) {
    const name = said.id.slice(6, -6);
    if (!wrong[name]) tell(of(name), name, "");
  }
  for (const [name, text] of Object.entries(wrong)) tell(of(name), name, text);
  tell(form.querySelector("button.big"), "form", problem);
}

const of = (name) => fields().find((x) => x.name === `f-${name}` || x.name.startsWith(`f-${name}-`));

// tell puts a sentence before a field, or takes it away.
function tell(x, name, text) {
  const id = `field-${name}-wrong`;
  let said = document.getElementById(id);
  if (!text) {
    said?.remove();
    x?.removeAttribute("aria-invalid");
    return;
  }
  if (!said) {
    said = document.createElement("p");
    said.className = "wrong";
    said.setAttribute("role", "alert");
    said.id = id;
    const cell = x.closest("td");
    if (cell) cell.prepend(said);
    else (x.closest(".field") ?? x.parentElement).before(said);
  }
  if (said.textContent !== text) said.textContent = text;
  if (name === "form") return;
  x.setAttribute("aria-invalid", "true");
  x.setAttribute("aria-errormessage", id);
}

// What was sent and taken leads away from its form: then it need not be kept any more.
if (!form) forget(sessionStorage.getItem(sent));
else watch();
