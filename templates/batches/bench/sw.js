// Opens the bench page while the server is away: from a list of its own files, and nothing else. Looks and lists are
// kept by the page itself.
"use strict";
const CACHE = "frondbook-bench-{{ name }}";
const SHELL = "{{ shell }}";
const FILES = {{ files|safe }};
const PATIENCE_MS = 4000;

self.addEventListener("install", (event) => {
  event.waitUntil((async () => {
    const cache = await caches.open(CACHE);
    await cache.addAll(FILES);
    await keepShell(await fetch(SHELL, { cache: "no-store" }));
    await self.skipWaiting();
  })());
});

self.addEventListener("activate", (event) => {
  event.waitUntil((async () => {
    for (const name of await caches.keys()) {
      if (name.startsWith("frondbook-bench-") && name !== CACHE) await caches.delete(name);
    }
    await self.clients.claim();
  })());
});

// A sign-in page that came in its place is not the shell.
async function keepShell(answer) {
  if (!answer.ok || answer.redirected || !(answer.headers.get("Content-Type") || "").startsWith("text/html")) return;
  await (await caches.open(CACHE)).put(SHELL, answer);
}

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const address = new URL(request.url);
  if (request.method !== "GET" || request.headers.has("HX-Request") || address.origin !== location.origin) return;
  if (request.mode === "navigate" && address.pathname === SHELL) event.respondWith(shell(request));
  else if (request.mode === "navigate" && address.pathname.startsWith("/t/")) event.respondWith(label(request, address));
  else if (FILES.includes(address.pathname)) event.respondWith(file(request));
});

async function fromServer(request) {
  const patience = new AbortController();
  const timer = setTimeout(() => patience.abort(), PATIENCE_MS);
  try {
    return await fetch(request, { signal: patience.signal });
  } finally {
    clearTimeout(timer);
  }
}

async function shell(request) {
  try {
    const answer = await fromServer(request);
    if (answer.status < 500) {
      await keepShell(answer.clone());
      return answer;
    }
  } catch { /* the copy serves */ }
  return (await caches.match(SHELL, { cacheName: CACHE })) || Response.error();
}

// A label scanned with the tablet's camera opens its tray here when the server cannot.
async function label(request, address) {
  try {
    return await fromServer(request);
  } catch {
    const code = address.pathname.slice("/t/".length).replace(/\/$/, "");
    return Response.redirect(`${SHELL}#t=${code}`);
  }
}

async function file(request) {
  return (await caches.match(request, { cacheName: CACHE })) || fetch(request);
}
