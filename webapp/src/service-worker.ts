/**
 * Keeps the app and what it needs without signal. Nothing of a visit lives here: readings and marks are in IndexedDB.
 *
 * The app's files are taken from the cache as one set; a new set is fetched as a whole and used from the next opening.
 * Of the API only what describes the day and the method is kept: the network is asked first, the cache when it is silent.
 */
/// <reference lib="webworker" />

declare const __FILES__: string[];
declare const __SET__: string;

const worker = self as unknown as ServiceWorkerGlobalScope;
const APP = `app-${__SET__}`;
const FACTS = "facts";
const KEPT = /^\/api\/v1\/(refrigerants|criteria|sentences|day-pack|about|settings)(\/|$)/;
const PATIENCE = 4000;

worker.addEventListener("install", (event) => {
  event.waitUntil(
    (async () => {
      const cache = await caches.open(APP);
      await cache.addAll(__FILES__.map((file) => new Request(file, { cache: "reload" })));
      await worker.skipWaiting();
    })(),
  );
});

worker.addEventListener("activate", (event) => {
  event.waitUntil(
    (async () => {
      for (const name of await caches.keys()) if (name !== APP && name !== FACTS) await caches.delete(name);
      await worker.clients.claim();
    })(),
  );
});

worker.addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (request.method !== "GET" || url.origin !== worker.location.origin) return;
  if (url.pathname.startsWith("/api/")) {
    if (KEPT.test(url.pathname)) event.respondWith(networkFirst(request));
    return;
  }
  if (url.pathname === "/open") return;
  if (request.mode === "navigate") event.respondWith(fromApp("/", request));
  else if (__FILES__.includes(url.pathname)) event.respondWith(fromApp(url.pathname, request));
});

async function fromApp(path: string, request: Request): Promise<Response> {
  const found = await (await caches.open(APP)).match(path);
  return found ?? fetch(request);
}

async function networkFirst(request: Request): Promise<Response> {
  const cache = await caches.open(FACTS);
  const giveUp = new AbortController();
  const timer = setTimeout(() => giveUp.abort(), PATIENCE);
  try {
    const answer = await fetch(request, { signal: giveUp.signal });
    if (answer.ok) await cache.put(request, answer.clone());
    return answer;
  } catch (error) {
    const kept = await cache.match(request);
    if (!kept) throw error;
    const headers = new Headers(kept.headers);
    headers.set("x-steadfeed-kept", "1");
    return new Response(kept.body, { status: kept.status, headers });
  } finally {
    clearTimeout(timer);
  }
}
