// On every page of those who record: whether acts of this browser wait. Only then, and on
// the watch page, is the rest fetched; and before somebody signs out.
const exit = document.querySelector('form[action="/sign-out"]');
const rest = () => import("./unsent.js");

async function waits() {
  if (document.getElementById("recordings")) return true;
  const known = await indexedDB.databases?.();
  if (known && !known.some((d) => d.name === "stillwet")) return false;
  return new Promise((done) => {
    const request = indexedDB.open("stillwet");
    request.onupgradeneeded = () => request.transaction.abort(); // it is not made here
    request.onerror = () => done(true);
    request.onsuccess = () => {
      const all = request.result.transaction("acts").objectStore("acts").getAll();
      all.onsuccess = () => {
        request.result.close();
        done(all.result.some((a) => a.state === "waiting"));
      };
    };
  });
}

async function first(event) {
  event.preventDefault();
  exit.removeEventListener("submit", first);
  await rest().then(() => exit.requestSubmit(), () => exit.submit());
}

exit?.addEventListener("submit", first);
if (await waits()) {
  exit?.removeEventListener("submit", first);
  await rest();
}
