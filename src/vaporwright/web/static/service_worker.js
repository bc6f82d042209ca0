// Keeps the pages of tests that were seen, and what they need, for a tablet that loads one again without a line.
// Always the server first; what is kept is forgotten when somebody signs out.
"use strict";

const NAME = "vaporwright-floor-1";
const PATIENCE_ms = 4000;

self.addEventListener("install", function () { self.skipWaiting(); });
self.addEventListener("activate", function (event) { event.waitUntil(self.clients.claim()); });

function isKept(url) {
  return url.pathname.startsWith("/static/") || /^\/jobs\/[^/]+\/acceptance\/[^/]+(\/steps\/[^/]+|\/performance|\/punch)?$/.test(url.pathname);
}

self.addEventListener("fetch", function (event) {
  const url = new URL(event.request.url);
  if (url.origin !== self.location.origin) {
    return;
  }
  if (event.request.method === "POST" && ["/sign-out", "/sign-in", "/who"].includes(url.pathname)) {
    event.waitUntil(caches.delete(NAME));
    return;
  }
  if (event.request.method !== "GET" || event.request.headers.has("HX-Request") || !isKept(url)) {
    return;
  }
  event.respondWith(answered(event.request));
});

async function answered(request) {
  const kept = await caches.open(NAME);
  try {
    const answer = await fetch(request, { signal: AbortSignal.timeout(PATIENCE_ms) });
    if (answer.ok && !answer.redirected) {
      await kept.put(request, answer.clone());
    }
    return answer;
  } catch (error) {
    const found = await kept.match(request);
    return found || Response.error();
  }
}
