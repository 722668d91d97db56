// A new password may be looked at while it is typed: a box beside it, that only a script
// can offer.
for (const field of document.querySelectorAll('input[autocomplete="new-password"]')) {
  const label = document.createElement("label");
  label.className = "choice reveal";
  const box = document.createElement("input");
  box.type = "checkbox";
  box.onchange = () => { field.type = box.checked ? "text" : "password"; };
  label.append(box, Object.assign(document.createElement("span"), { textContent: "Show what I type" }));
  field.after(label);
  field.form?.addEventListener("submit", () => { field.type = "password"; }); // so that no browser keeps it as text
}
