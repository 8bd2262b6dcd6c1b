// Keeps the yard page for the time without a signal. VERSION and FILES stand before this text.
//
// The page and every file of it come from one cache, filled whole before it is used, so that files
// of two versions never meet. Nothing else is answered here: what is sent or asked of the server
// goes to the server, or fails.

const CACHE = `yard-${VERSION}`;
const PAGE = FILES[0];

self.addEventListener("install", (event) => {
  event.waitUntil(fill().then(() => self.skipWaiting()));
});

async function fill() {
  const cache = await caches.open(CACHE);
  await cache.addAll(FILES.map((file) => new Request(file, { cache: "reload" })));
}

self.addEventListener("activate", (event) => {
  event.waitUntil(forget().then(() => self.clients.claim()));
});

async function forget() {
  const names = await caches.keys();
  await Promise.all(
    names.filter((name) => name.startsWith("yard-") && name !== CACHE).map((name) => caches.delete(name)),
  );
}

self.addEventListener("fetch", (event) => {
  const asked = new URL(event.request.url);
  if (event.request.method !== "GET" || asked.origin !== self.location.origin) return;
  if (FILES.includes(asked.pathname)) event.respondWith(kept(event.request, asked.pathname));
});

async function kept(request, path) {
  const cache = await caches.open(CACHE);
  return (await cache.match(path)) ?? fetch(request);
}
