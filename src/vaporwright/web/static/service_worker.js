// Keeps the pages of tests that were opened, and what they need, for a tablet that loads one again without a line.
// Always the server first; what is kept is forgotten when somebody signs out, and when the server has a new version.
"use strict";

const BEGINNING = "vaporwright-floor-";
const NAME = BEGINNING + "VERSION";
const PATIENCE_ms = 4000;
const LEAVES = ["/sign-out", "/sign-in", "/who", "/api/v1/session"]; // from here on it is another person

self.addEventListener("install", function () { self.skipWaiting(); });
self.addEventListener("activate", function (event) {
  event.waitUntil(forget(function (name) { return name !== NAME; }).then(function () { return self.clients.claim(); }));
});

async function forget(chosen) {
  const names = (await caches.keys()).filter(function (name) { return name.startsWith(BEGINNING); });
  await Promise.all(names.filter(chosen).map(function (name) { return caches.delete(name); }));
}

function isStatic(url) {
  return url.pathname.startsWith("/static/");
}

function isPage(url) {
  return /^\/jobs\/[^/]+\/acceptance\/[^/]+(\/steps\/[^/]+|\/performance|\/punch)?$/.test(url.pathname);
}

self.addEventListener("fetch", function (event) {
  const url = new URL(event.request.url);
  if (url.origin !== self.location.origin) {
    return;
  }
  if (event.request.method !== "GET") {
    if (LEAVES.includes(url.pathname)) {
      event.respondWith(forget(function () { return true; }).then(function () { return fetch(event.request); }));
    }
    return;
  }
  if (event.request.headers.has("HX-Request")) {
    return;
  }
  if (isStatic(url)) {
    event.respondWith(staticFile(event.request));
  } else if (isPage(url)) {
    event.respondWith(page(event.request));
  }
});

// The caches are opened before the server is asked: what comes after they were forgotten goes into one that is gone.

// A static file's address has its hash in it: it never changes.
async function staticFile(request) {
  const kept = await caches.open(NAME);
  const found = request.url.includes("v=") ? await kept.match(request) : undefined;
  if (found) {
    return found;
  }
  try {
    const answer = await fetch(request);
    if (answer.ok) {
      await kept.put(request, answer.clone());
    }
    return answer;
  } catch (error) {
    return (await kept.match(request)) || Response.error();
  }
}

async function page(request) {
  const kept = await caches.open(NAME);
  try {
    const answer = await fetch(request, { signal: AbortSignal.timeout(PATIENCE_ms) });
    await take(kept, request.url, answer.clone());
    return answer;
  } catch (error) {
    return (await kept.match(request.url, { ignoreVary: true })) || notKept(kept);
  }
}

// A page that sends one elsewhere says that the person is signed out: nothing of theirs stays.
async function take(kept, address, answer) {
  if (answer.type === "opaqueredirect" || answer.redirected || answer.status === 401) {
    await forget(function () { return true; });
  } else if (answer.ok) {
    await kept.put(address, answer);
    return true;
  } else if (answer.status === 403 || answer.status === 404) {
    await kept.delete(address);
  }
  return false;
}

// The page that is open asks to be kept as it stands now, with all that it needs.
self.addEventListener("message", function (event) {
  if (event.data && event.data.keep) {
    event.waitUntil(keep(event.data.keep).then(function (done) { event.ports[0].postMessage({ kept: done }); }));
  }
});

async function keep(address) {
  const url = new URL(address);
  if (url.origin !== self.location.origin || !isPage(url)) {
    return false;
  }
  const kept = await caches.open(NAME);
  try {
    const answer = await fetch(address, { credentials: "same-origin", signal: AbortSignal.timeout(PATIENCE_ms) });
    const text = await answer.clone().text();
    if (!(await take(kept, address, answer))) {
      return false;
    }
    const needed = Array.from(text.matchAll(/(?:src|href)="(\/static\/[^"]+)"/g), function (one) { return one[1]; });
    const answers = await Promise.all(needed.map(function (one) { return staticFile(new Request(one)); }));
    return answers.every(function (one) { return one.ok; });
  } catch (error) {
    return Boolean(await kept.match(address, { ignoreVary: true }));
  }
}

// No line, and never opened here: what can be opened instead.
async function notKept(kept) {
  const pages = [];
  const styles = [];
  for (const one of await kept.keys()) {
    const url = new URL(one.url);
    if (isPage(url)) {
      const title = /<title>([^<]*)<\/title>/.exec(await (await kept.match(one, { ignoreVary: true })).text());
      pages.push('<li><a class="button" href="' + escaped(url.pathname) + '">' + (title ? title[1] : escaped(url.pathname)) + "</a></li>");
    } else if (url.pathname.endsWith("/tokens.css") || url.pathname.endsWith("/style.css")) {
      styles.push('<link rel="stylesheet" href="' + escaped(url.pathname + url.search) + '">');
    }
  }
  const list = pages.length ? "<p>These can be opened without a line:</p><ul class=\"plain\">" + pages.join("") + "</ul>" : "";
  const body = '<!doctype html><html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1"><title>No line to the server</title>' + styles.join("") + '</head><body class="floor"><main><h1>No line to the server</h1><p>This page was not opened here before, so this browser has nothing of it. What you entered is still kept here.</p>' + list + "</main></body></html>";
  const policy = "default-src 'self'; style-src 'self'; script-src 'self'; base-uri 'none'; frame-ancestors 'none'";
  return new Response(body, { status: 503, headers: { "Content-Type": "text/html; charset=utf-8", "Content-Security-Policy": policy } });
}

function escaped(text) {
  return text.replaceAll("&", "&amp;").replaceAll("<", "&lt;").replaceAll('"', "&quot;");
}
