// Keeps the page for when there is no network. A new version waits until it is asked to take over.
const NAME = 'bloomsalt-VERSION';
const FILES = ['./', 'page.js', 'worker.js', 'bloomsalt.wasm', 'style.css', 'icon.svg', 'manifest.webmanifest'];

self.addEventListener('install', (event) => {
  event.waitUntil(caches.open(NAME).then((cache) => cache.addAll(FILES.map((file) => new Request(file, { cache: 'reload' })))));
});
self.addEventListener('activate', (event) => {
  event.waitUntil(
    caches.keys().then((names) => Promise.all(names.filter((name) => name.startsWith('bloomsalt-') && name !== NAME).map((name) => caches.delete(name))))
      .then(() => self.clients.claim()),
  );
});
self.addEventListener('message', ({ data }) => data === 'take over' && self.skipWaiting());
self.addEventListener('fetch', (event) => {
  if (event.request.method !== 'GET' || new URL(event.request.url).origin !== location.origin) return;
  event.respondWith(caches.open(NAME).then((cache) => cache.match(event.request, { ignoreSearch: true })).then((kept) => kept ?? fetch(event.request)));
});
