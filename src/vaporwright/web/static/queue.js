// What is entered on the floor goes first into this browser's storage, then to the server: in order, once, by event id.
//
// Each entry is one key of localStorage, so that two tabs do not overwrite each other; its file, where it has one, lies in
// IndexedDB. The id of its event is made here: sent twice (the answer was lost, the page was loaded again, two tabs), the
// server enters it once. An entry is only ever sent under the name of whoever typed it. What the server refuses stays, with
// the reason, until somebody deals with it. queue_view.js shows all of it.
"use strict";

(function () {
  const mark = document.querySelector("[data-floor]");
  if (!mark) {
    return;
  }
  const PREFIX = "vaporwright.kept.";
  const PATIENCE_ms = 10000;
  const SLOWEST_bytes_ms = 50; // a line slower than that is none for a photograph
  const MOST_WAITING_bytes = 100e6;
  const { clock, files } = window.vaporwright;
  const who = mark.dataset.who;
  const lanes = { typed: {}, files: {} }; // a photograph does not keep a reading waiting
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
    const entry = (all().find(function (pair) { return pair[0] === key; }) || [])[1];
    inMemory.delete(key);
    try {
      localStorage.removeItem(key);
    } catch (error) {
      storageWorks = false;
    }
    if (entry && entry.file) {
      files.drop(entry.file.id);
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
  function keep(form, body, more) {
    last_ms = Math.max(Date.now(), last_ms + 1);
    const replaced = all().filter(function (pair) { // a new value deals with one that was refused before, once it is in
      const had = pair[1];
      return had.refused && body.field && had.who === who && had.run === form.dataset.run && had.body.step === body.step && had.body.field === body.field && had.body.kind === body.kind;
    }).map(function (pair) { return pair[0]; });
    const entry = Object.assign({
      who: who, to: form.dataset.kept, run: form.dataset.run, label: form.dataset.label, page: location.pathname, body: body, clock: clock.now(), replaced: replaced,
    }, more);
    put(PREFIX + String(last_ms).padStart(15, "0") + "." + body.event_id, entry);
    paint();
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
      body.at = body.at || clock.hour(); // part of what is entered: the same however often it is sent
    }
    return body;
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
    const box = form.querySelector("input[type=file]");
    if (box) {
      keepFile(form, body, box.files[0]);
      return;
    }
    keep(form, body);
    if (!form.classList.contains("reading-form")) {
      done(form);
    }
  });

  function done(form) {
    form.reset();
    const folded = form.closest("details");
    if (folded) { folded.open = false; }
  }

  // Photographs: what is too large or of another kind is said before anything is kept.

  function size(bytes) {
    return bytes < 100000 ? Math.ceil(bytes / 1000) + " kB" : (bytes / 1e6).toFixed(1) + " MB";
  }

  function faultOf(form, file) {
    const box = form.querySelector("input[type=file]");
    const largest = Number(form.dataset.largest);
    const waiting = all().reduce(function (sum, pair) { return sum + (pair[1].file ? pair[1].file.size : 0); }, 0);
    if (!file || !file.size) {
      return "There is nothing in this file. Choose another.";
    }
    if (!box.accept.split(",").includes(file.type)) {
      return file.name + " is of another kind (" + (file.type || "not known") + "). Allowed: a photograph (JPEG, PNG, WebP) or a PDF.";
    }
    if (file.size > largest) {
      return file.name + " has " + size(file.size) + ". Allowed: at most " + size(largest) + ". Take it smaller.";
    }
    if (waiting + file.size > MOST_WAITING_bytes) {
      return file.name + " has " + size(file.size) + ", and files of " + size(waiting) + " wait here already. Allowed: " + size(MOST_WAITING_bytes) + " together. Send what waits first.";
    }
    return "";
  }

  function sayOf(form, text, wrong) {
    const place = form.querySelector("[role=status]");
    place.textContent = text;
    place.className = wrong ? "refused" : "";
  }

  document.addEventListener("change", function (event) {
    const form = event.target.form;
    if (event.target.type === "file" && form && form.matches("form[data-kept]")) {
      const file = event.target.files[0];
      const fault = file ? faultOf(form, file) : "";
      sayOf(form, fault ? "■ " + fault : file ? file.name + ", " + size(file.size) + ": fits." : "", Boolean(fault));
    }
  });

  async function keepFile(form, body, file) {
    const fault = faultOf(form, file);
    if (fault) {
      sayOf(form, "■ " + fault, true);
      return;
    }
    const button = form.querySelector("button.main");
    button.disabled = true; // pressed twice, it would be kept twice
    try {
      const stays = await files.put(body.event_id, file);
      storageWorks = storageWorks && stays;
      keep(form, { event_id: body.event_id, kind: body.kind, step: body.step, typed_by: body.typed_by }, {
        file: { id: body.event_id, name: file.name, type: file.type, size: file.size },
      });
      sayOf(form, "", false);
      done(form);
    } catch (error) {
      const full = error && error.name === "QuotaExceededError";
      sayOf(form, "■ " + file.name + " is not kept: " + (full ? "this browser has no room for it. Send what waits first." : "it cannot be read. Choose it again."), true);
    } finally {
      button.disabled = false;
    }
  }

  // Sending

  function mine(lane) {
    return all().filter(function (pair) { return pair[1].who === who && !pair[1].refused && (lane === "files") === Boolean(pair[1].file); });
  }

  function send() {
    Object.keys(lanes).forEach(function (lane) {
      lanes[lane].wait_ms = 0;
      drain(lane);
    });
  }

  async function drain(lane) {
    const own = lanes[lane];
    if (own.busy || signedOut || !who || !mine(lane).length) {
      return;
    }
    own.busy = true;
    clearTimeout(own.timer);
    try {
      for (let next = mine(lane)[0]; next; next = mine(lane)[0]) {
        if (!(await reached()) || !(await sendOne(next[0], next[1]))) {
          break;
        }
        own.wait_ms = 0;
      }
    } finally {
      own.busy = false;
      paint();
      if (mine(lane).length && !signedOut) {
        own.wait_ms = Math.min(Math.max(2 * (own.wait_ms || 0), 1000), 15000);
        own.timer = setTimeout(function () { drain(lane); }, own.wait_ms);
      }
    }
  }

  // The server's time is to be known before an age is told; and nobody sends megabytes to find that there is no line.
  async function reached() {
    if (clock.isFresh()) {
      return true;
    }
    try {
      const answer = await fetch("/health", { cache: "no-store", signal: AbortSignal.timeout(PATIENCE_ms) });
      clock.saw(answer);
      return answer.ok;
    } catch (error) {
      return false;
    }
  }

  async function request(entry) {
    const late = { age_s: Math.round(clock.age_s(entry.clock) * 10) / 10 };
    const headers = { "X-CSRF-Token": window.vaporwright.token, "X-Vaporwright": "1" }; // the token may be of a session before
    if (!entry.file) {
      headers["Content-Type"] = "application/json";
      return { headers: headers, body: JSON.stringify(Object.assign({}, late, entry.body)), patience_ms: PATIENCE_ms };
    }
    const content = await files.get(entry.file.id);
    if (!content) {
      return null;
    }
    const form = new FormData();
    const told = Object.assign({}, late, entry.body);
    ["event_id", "typed_by", "step", "age_s", "happened", "late_because"].forEach(function (name) {
      if (told[name] !== undefined) { form.append(name, told[name]); }
    });
    form.append("photo", new File([content], entry.file.name, { type: entry.file.type }));
    return { headers: headers, body: form, patience_ms: PATIENCE_ms + content.size / SLOWEST_bytes_ms };
  }

  // True: dealt with, the next one may go. False: not now.
  async function sendOne(key, entry) {
    let answer;
    let said = {};
    const made = await request(entry);
    if (!made) {
      refuse(key, entry, "the file is no longer in this browser; take it again");
      return true;
    }
    try {
      answer = await fetch(entry.to, { method: "POST", headers: made.headers, body: made.body, signal: AbortSignal.timeout(made.patience_ms) });
      clock.saw(answer);
      said = await answer.json();
    } catch (error) {
      return false; // no line, or half an answer: it is sent again, and entered once
    }
    if (answer.ok) {
      drop(key);
      (entry.replaced || []).forEach(drop);
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
    refuse(key, entry, (why.key ? why.key + ": " : "") + why.problem + (why.allowed ? ". Allowed: " + why.allowed : ""));
    return true;
  }

  function refuse(key, entry, why) {
    entry.refused = why;
    put(key, entry);
    announce(entry, { outcome: "refused", words: why });
    document.dispatchEvent(new CustomEvent("vaporwright:entered", { detail: { entry: entry, said: {} } }));
  }

  // What was refused goes out again with what was put right, as an entry of its own; it keeps the time when it was typed.
  function again(key, changes) {
    const entry = all().find(function (pair) { return pair[0] === key; })[1];
    entry.body = Object.assign({}, entry.body, changes, { event_id: freshId() });
    delete entry.refused;
    put(key, entry);
    paint();
    send();
  }

  function announce(entry, said) {
    const place = document.getElementById("announce");
    place.textContent = entry.label + ": " + (said.outcome ? said.outcome + ". " + (said.words || "") : "entered");
  }

  function paint() {
    document.dispatchEvent(new CustomEvent("vaporwright:kept", { detail: { entries: all(), who: who, signedOut: signedOut, storageWorks: storageWorks } }));
  }

  window.vaporwright.kept = { send: send, paint: paint, drop: function (key) { drop(key); paint(); }, again: again, size: size };
  window.addEventListener("online", send);
  window.addEventListener("storage", function (event) {
    if (!event.key || event.key.startsWith(PREFIX)) { paint(); }
  });
  document.addEventListener("DOMContentLoaded", function () {
    files.sweep(new Set(all().map(function (pair) { return pair[1].file ? pair[1].file.id : ""; })));
    paint();
    reached().then(send); // the server's time is known from the first entry on
  });
})();
