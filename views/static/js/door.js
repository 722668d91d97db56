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

// Where the server counts in UTC, as a machine does that nobody told, the zone of whoever sets
// the clinic up is the better proposal. What they typed themself stays.
const zone = document.getElementById("zone");
if (zone && /^(Etc\/)?UTC$/.test(zone.value) && !document.querySelector("[role=alert]")) {
  zone.value = Intl.DateTimeFormat().resolvedOptions().timeZone || zone.value;
}
