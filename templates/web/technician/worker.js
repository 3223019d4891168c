"use strict";
// Keeps the page and its files on the phone, so that it opens without a network. Never keeps answers with anybody's data.
const NAME = "{{ name }}";
const FILES = {{ files|tojson }};
const WAIT_MS = 3000;

self.addEventListener("install", function (event) {
  event.waitUntil((async function () {
    const cache = await caches.open(NAME);
    for (const address of FILES) {
      const answer = await fetch(address, { cache: "no-cache" });
      if (!answer.ok || answer.redirected) { throw new Error(address); }
      await cache.put(address, answer);
    }
    await self.skipWaiting();
  }()));
});

self.addEventListener("activate", function (event) {
  event.waitUntil((async function () {
    for (const name of await caches.keys()) { if (name !== NAME) { await caches.delete(name); } }
    await self.clients.claim();
  }()));
});

self.addEventListener("fetch", function (event) {
  const address = new URL(event.request.url);
  if (event.request.method !== "GET" || address.origin !== self.location.origin) { return; }
  if (event.request.mode === "navigate" && address.pathname === "/onsite") { event.respondWith(page(event.request)); return; }
  if (FILES.includes(address.pathname) && address.pathname !== "/onsite") {
    event.respondWith(caches.match(address.pathname).then(function (kept) { return kept || fetch(event.request); }));
  }
});

// The server's page where it answers soon, else the one that is kept.
async function page(request) {
  const kept = await caches.match("/onsite");
  const asked = fetch(request);
  if (kept === undefined) { return asked; }
  const late = new Promise(function (resolve) { setTimeout(resolve, WAIT_MS, kept); });
  return Promise.race([asked.then(function (answer) { return answer.status >= 500 ? kept : answer; }).catch(function () { return kept; }), late]);
}
