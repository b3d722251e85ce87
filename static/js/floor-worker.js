// Keeps the floor's own pages and their files, so that the lists open without signal.
// Never touches anything but GET; what is marked is kept by floor.js, not here.
"use strict";
const STORE = "floor";
const FLOOR = new URL("/floor/", self.location).href;
const WHOSE = "/floor/whose";
const PATIENCE = 5000;

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));

self.addEventListener("message", (event) => {
  if (event.data && event.data.kind === "keep") event.waitUntil(keep(event.data));
  if (event.data && event.data.kind === "forget") event.waitUntil(caches.delete(STORE));
});

// A shared tablet: another person's pages go before the first of this one's comes in.
async function keep(data) {
  const whose = await caches.open(STORE).then((store) => store.match(WHOSE)).then((kept) => kept && kept.text());
  if (whose !== data.person) await caches.delete(STORE);
  const store = await caches.open(STORE);
  await store.put(WHOSE, new Response(data.person));
  await Promise.all(data.urls.map((url) => fetch(url, { credentials: "same-origin" }).then((answer) => put(store, url, answer)).catch(() => {})));
  for (const client of await self.clients.matchAll()) client.postMessage({ kind: "kept" });
}

function put(store, request, answer) {
  return answer.ok && !answer.redirected ? store.put(request, answer) : undefined;
}

self.addEventListener("fetch", (event) => {
  const request = event.request;
  const url = new URL(request.url);
  if (request.method !== "GET" || url.origin !== self.location.origin) return;
  if (request.headers.get("HX-Request")) return;
  const ours = request.mode === "navigate" || url.pathname.startsWith("/static/");
  if (!ours) return;
  const fromNetwork = fetch(request);
  event.waitUntil(fromNetwork.then((answer) => remember(request, answer.clone())).catch(() => {}));
  event.respondWith(soonest(request, fromNetwork));
});

// The network's answer; what is kept, when the network fails or takes too long.
async function soonest(request, fromNetwork) {
  const copy = await kept(request);
  if (!copy) return fromNetwork;
  const late = new Promise((resolve) => setTimeout(resolve, PATIENCE, copy));
  return Promise.race([fromNetwork.catch(() => copy), late]);
}

async function remember(request, answer) {
  if (!(await caches.has(STORE))) return;
  const store = await caches.open(STORE);
  await put(store, request.url, answer);
}

// A page that was never opened with signal gives way to the list.
async function kept(request) {
  if (!(await caches.has(STORE))) return undefined;
  const store = await caches.open(STORE);
  const found = await store.match(request.url, { ignoreVary: true });
  return found || (request.mode === "navigate" ? store.match(FLOOR, { ignoreVary: true }) : undefined);
}
