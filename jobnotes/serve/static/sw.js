/**
 * Keeps the capture page so that it starts without a network. The server puts the digest of the page's files in
 * SHELL.version, and their addresses in SHELL.files: when one of them changes, so does this script, and the
 * browser fetches all of them anew. What the API says is never kept.
 */
"use strict";

const SHELL = /* shell */ { version: "", files: [] };
const NAME = `shell-${SHELL.version}`;

self.addEventListener("install", (event) => {
  event.waitUntil(
    (async () => {
      const cache = await caches.open(NAME);
      const answers = await Promise.all(SHELL.files.map((file) => fetch(file, { cache: "no-cache", redirect: "error" })));
      if (answers.some((answer) => !answer.ok)) throw new Error("a file of the page is missing");
      await Promise.all(answers.map((answer, at) => cache.put(SHELL.files[at], answer)));
      await self.skipWaiting();
    })(),
  );
});

self.addEventListener("activate", (event) => {
  event.waitUntil(
    (async () => {
      for (const name of await caches.keys()) if (name.startsWith("shell-") && name !== NAME) await caches.delete(name);
      await self.clients.claim();
    })(),
  );
});

self.addEventListener("fetch", (event) => {
  const { origin, pathname } = new URL(event.request.url);
  if (event.request.method !== "GET" || origin !== self.location.origin || !SHELL.files.includes(pathname)) return;
  event.respondWith(
    (async () => (await (await caches.open(NAME)).match(pathname)) ?? fetch(event.request))(),
  );
});
