// The service worker: it keeps the recorder's page and its files, which are the same for
// everybody, and gives them when the server does not answer. It keeps nothing of a
// person: names and acts are in the page's own database.
const cacheName = "stillwet-VERSION";
const shell = "/recorder";
const files = FILES;
const patience = 6000; // then the server counts as away

self.addEventListener("install", (event) => {
  self.skipWaiting(); // a page and its files are always of one version
  event.waitUntil(caches.open(cacheName).then((cache) => cache.addAll([shell, ...files].map((url) => new Request(url, { cache: "reload" })))));
});

self.addEventListener("activate", (event) => {
  event.waitUntil((async () => {
    for (const name of await caches.keys()) if (name.startsWith("stillwet-") && name !== cacheName) await caches.delete(name);
    await self.clients.claim();
  })());
});

self.addEventListener("fetch", (event) => {
  const url = new URL(event.request.url);
  if (event.request.method !== "GET" || url.origin !== location.origin) return;
  if (event.request.mode === "navigate" && /^\/demonstrations\/[^/]+\/record$/.test(url.pathname)) event.respondWith(page(event.request));
  else if (files.includes(url.pathname)) event.respondWith(caches.match(event.request).then((kept) => kept ?? fetch(event.request)));
});

// page is the server's answer, or the kept page when there is none, or one that says that
// something between has none.
async function page(request) {
  const late = new Promise((done) => { setTimeout(done, patience); });
  const answer = await Promise.race([fetch(request).catch(() => null), late]);
  if (answer && ![502, 503, 504].includes(answer.status)) return answer;
  return (await caches.match(shell)) ?? answer ?? Response.error();
}
