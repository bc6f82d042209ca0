// What is entered on the floor goes first into this browser's storage, then to the server: in order, once, by event id.
//
// Each entry is one key of localStorage, so that two tabs do not overwrite each other. The id of its event is made here:
// sent twice (the answer was lost, the page was loaded again, two tabs), the server enters it once. An entry is only ever
// sent under the name of whoever typed it. What the server refuses stays, with the reason, until somebody deals with it.
"use strict";

(function () {
  const mark = document.querySelector("[data-floor]");
  if (!mark) {
    return;
  }
  const PREFIX = "vaporwright.kept.";
  const PATIENCE_ms = 10000;
  const who = mark.dataset.who;
  let sending = false;
  let wait_ms = 0;
  let timer = 0;
  let signedOut = false;
  let storageWorks = true;
  const inMemory = new Map(); // where the browser keeps nothing

  function freshId() {
    const bytes = crypto.getRandomValues(new Uint8Array(16)); // randomUUID is not there without TLS
    bytes[6] = (bytes[6] & 0x0f) | 0x40;
    bytes[8] = (bytes[8] & 0x3f) | 0x80;
    const digits = Array.from(bytes, function (one) { return one.toString(16).padStart(2, "0"); }).join("");
    return [digits.slice(0, 8), digits.slice(8, 12), digits.slice(12, 16), digits.slice(16, 20), digits.slice(20)].join("-");
  }

  function put(key, entry) {
    try {
      localStorage.setItem(key, JSON.stringify(entry));
      inMemory.delete(key);
    } catch (error) {
      storageWorks = false;
      inMemory.set(key, entry);
    }
  }

  function drop(key) {
    inMemory.delete(key);
    try {
      localStorage.removeItem(key);
    } catch (error) {
      storageWorks = false;
    }
  }

  function all() {
    const found = Array.from(inMemory.entries());
    try {
      for (let place = 0; place < localStorage.length; place += 1) {
        const key = localStorage.key(place);
        if (key.startsWith(PREFIX)) {
          found.push([key, JSON.parse(localStorage.getItem(key))]);
        }
      }
    } catch (error) {
      storageWorks = false;
    }
    return found.filter(function (pair) { return pair[1] && pair[1].body; }).sort(function (one, other) {
      return one[0] < other[0] ? -1 : 1;
    });
  }

  let last_ms = 0;
  function keep(form, body) {
    last_ms = Math.max(Date.now(), last_ms + 1);
    const entry = {
      who: who, to: form.dataset.kept, run: form.dataset.run, label: form.dataset.label, page: location.pathname, body: body,
    };
    all().forEach(function (pair) { // a new value deals with one that was refused before
      const had = pair[1];
      if (had.refused && had.run === entry.run && had.body.step === body.step && had.body.field === body.field && had.body.kind === body.kind) {
        drop(pair[0]);
      }
    });
    put(PREFIX + String(last_ms).padStart(15, "0") + "." + body.event_id, entry);
    paint();
    wait_ms = 0;
    send();
  }

  // A form becomes the body of an entry. cell.X and with.X are the row of a run and its instruments.
  function bodyOf(form, submitter) {
    const data = new FormData(form);
    if (submitter && submitter.name) {
      data.set(submitter.name, submitter.value);
    }
    const body = { event_id: freshId(), cells: {}, instruments: {} };
    data.forEach(function (value, name) {
      if (typeof value !== "string" || ["csrf", "next", "event_id"].includes(name)) {
        return;
      }
      if (name.startsWith("cell.")) {
        if (value.trim()) { body.cells[name.slice(5)] = value; }
      } else if (name.startsWith("with.")) {
        if (value) { body.instruments[name.slice(5)] = value; }
      } else {
        body[name] = ["number", "minutes"].includes(name) ? Number(value.replace(",", ".")) : value;
      }
    });
    if (form.hasAttribute("data-row")) {
      body.at = body.at || here();
    }
    return body;
  }

  function here() {
    const now = new Date();
    const off = -now.getTimezoneOffset();
    const two = function (value) { return String(Math.floor(Math.abs(value))).padStart(2, "0"); };
    const local = new Date(now.getTime() + off * 60000).toISOString().slice(0, 19);
    return local + (off < 0 ? "-" : "+") + two(off / 60) + ":" + two(off % 60);
  }

  document.addEventListener("submit", function (event) {
    const form = event.target;
    if (!form.matches("form[data-kept]") || event.defaultPrevented || !who) {
      return;
    }
    event.preventDefault();
    const body = bodyOf(form, event.submitter);
    if (Number.isNaN(body.minutes)) {
      window.vaporwright.say("How long: a number of minutes.");
      return;
    }
    keep(form, body);
    if (!form.classList.contains("reading-form")) {
      form.reset();
      const folded = form.closest("details");
      if (folded) { folded.open = false; }
    }
  });

  function mine() {
    return all().filter(function (pair) { return pair[1].who === who && !pair[1].refused; });
  }

  async function send() {
    if (sending || signedOut || !who) {
      return;
    }
    sending = true;
    clearTimeout(timer);
    try {
      for (let next = mine()[0]; next; next = mine()[0]) {
        if (!(await sendOne(next[0], next[1]))) {
          break;
        }
        wait_ms = 0;
      }
    } finally {
      sending = false;
      paint();
      if (mine().length && !signedOut) {
        wait_ms = Math.min(Math.max(2 * wait_ms, 1000), 15000);
        timer = setTimeout(send, wait_ms);
      }
    }
  }

  // True: dealt with, the next one may go. False: not now.
  async function sendOne(key, entry) {
    let answer;
    let said = {};
    try {
      answer = await fetch(entry.to, {
        method: "POST",
        headers: { "Content-Type": "application/json", "X-CSRF-Token": window.vaporwright.token },
        body: JSON.stringify(entry.body),
        signal: AbortSignal.timeout(PATIENCE_ms),
      });
      said = await answer.json();
    } catch (error) {
      return false; // no line, or half an answer: it is sent again, and entered once
    }
    if (answer.ok) {
      drop(key);
      announce(entry, said);
      document.dispatchEvent(new CustomEvent("vaporwright:entered", { detail: { entry: entry, said: said } }));
      return true;
    }
    if (answer.status === 401) {
      signedOut = true;
      return false;
    }
    if (answer.status === 408 || answer.status === 409 || answer.status === 429 || answer.status >= 500) {
      return false;
    }
    const why = said.error || { problem: "the server refused it", allowed: "" };
    entry.refused = (why.key ? why.key + ": " : "") + why.problem + (why.allowed ? ". Allowed: " + why.allowed : "");
    put(key, entry);
    announce(entry, { outcome: "refused", words: entry.refused });
    document.dispatchEvent(new CustomEvent("vaporwright:entered", { detail: { entry: entry, said: {} } }));
    return true;
  }

  function announce(entry, said) {
    const place = document.getElementById("announce");
    place.textContent = entry.label + ": " + (said.outcome ? said.outcome + ". " + (said.words || "") : "entered");
  }

  // What is kept, in sight; and beside the field that it belongs to.
  function paint() {
    const entries = all();
    const bar = document.getElementById("kept");
    const waiting = entries.filter(function (pair) { return pair[1].who === who && !pair[1].refused; });
    const refused = entries.filter(function (pair) { return pair[1].who === who && pair[1].refused; });
    const others = entries.filter(function (pair) { return pair[1].who !== who; });
    bar.replaceChildren();
    bar.hidden = !entries.length;
    if (waiting.length) {
      const why = signedOut ? " Sign in again, in another tab, and load this page again to send them." : " They go out by themselves when the server answers.";
      bar.append(paragraph("▲ Kept here, not yet sent (" + waiting.length + ")." + why + (storageWorks ? "" : " This browser keeps nothing over a reload: leave this page open.")));
    }
    if (others.length) {
      const names = Array.from(new Set(others.map(function (pair) { return pair[1].who; }))).join(", ");
      bar.append(paragraph("▲ Kept here for " + names + " (" + others.length + "): sent when they are signed in here."));
    }
    if (refused.length) {
      const list = document.createElement("ul");
      refused.forEach(function (pair) { list.append(refusedItem(pair[0], pair[1])); });
      bar.append(paragraph("■ Refused (" + refused.length + "):"), list);
    }
    document.querySelectorAll(".kept-note").forEach(function (note) { note.remove(); });
    entries.forEach(function (pair) { beside(pair[1]); });
  }

  function refusedItem(key, entry) {
    const item = document.createElement("li");
    item.className = "refused";
    const words = document.createElement("span");
    words.textContent = entry.label + (entry.body.text ? " " + entry.body.text : "") + ": " + entry.refused;
    const drops = document.createElement("button");
    drops.type = "button";
    drops.textContent = "Discard it";
    drops.addEventListener("click", function () {
      drop(key);
      paint();
    });
    item.append(words);
    if (entry.page !== location.pathname) {
      const there = document.createElement("a");
      there.href = entry.page;
      there.textContent = "To its page";
      item.append(there);
    }
    item.append(drops);
    return item;
  }

  function beside(entry) {
    const card = document.querySelector("[data-step]");
    if (!card || !entry.body.field || entry.page !== location.pathname || card.dataset.step !== entry.body.step) {
      return;
    }
    const part = document.querySelector('[data-field="' + CSS.escape(entry.body.field) + '"]');
    if (!part) {
      return;
    }
    const note = document.createElement("p");
    note.className = "kept-note" + (entry.refused ? " refused" : "");
    note.textContent = (entry.body.text || "") + ": " + (entry.refused ? "refused, " + entry.refused : "kept here, not yet sent");
    part.append(note);
  }

  function paragraph(text) {
    const made = document.createElement("p");
    made.textContent = text;
    return made;
  }

  window.vaporwright.kept = { send: function () { wait_ms = 0; send(); }, paint: paint };
  window.addEventListener("online", window.vaporwright.kept.send);
  window.addEventListener("storage", paint);
  paint();
  send();

  if (mark.dataset.serviceWorker && "serviceWorker" in navigator) {
    navigator.serviceWorker.register("/service-worker.js").catch(function () {}); // a certificate that is not trusted yet
  }
})();
