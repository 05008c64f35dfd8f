// Keeps the barn's page in the browser: the newest from the desk where it answers in time, else the one kept.
"use strict";
const SHELF = "barn", PAGE = "/barn", PATIENCE = 4000;

const asked = async request => {
  const answer = await fetch(request);
  const whole = answer.status === 200 && !answer.redirected && new URL(answer.url).search === "";
  if (whole && (answer.headers.get("content-type") || "").startsWith("text/html")) {
    await (await caches.open(SHELF)).put(PAGE, answer.clone());
  }
  return answer;
};
const kept = async () => (await caches.open(SHELF)).match(PAGE);

self.addEventListener("install", event => {
  self.skipWaiting();
  event.waitUntil(asked(PAGE));
});
self.addEventListener("activate", event => event.waitUntil(self.clients.claim()));
self.addEventListener("fetch", event => {
  const { request } = event;
  if (request.mode !== "navigate" || new URL(request.url).pathname !== PAGE) return;
  const fromDesk = asked(request);
  event.waitUntil(fromDesk.catch(() => null));
  const late = new Promise(done => setTimeout(done, PATIENCE)).then(kept);
  event.respondWith(
    Promise.race([fromDesk, late])
      .then(answer => answer || fromDesk)
      .catch(async error => (await kept()) || Promise.reject(error)),
  );
});
