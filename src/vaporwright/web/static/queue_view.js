// What waits in this browser, in sight: to be looked at, and what was refused to be put right, sent again or discarded.
"use strict";

(function () {
  const bar = document.getElementById("kept");
  if (!bar) {
    return;
  }
  const { clock, files, kept } = window.vaporwright;
  const ASKED = { text: "What was entered", reason: "Why", by: "By whom", minutes: "How long, in minutes" };
  const SMALL_px = 220;
  const items = new Map(); // by key, with what they show: made anew only when that changes, so that typing goes on
  let listOpen = false;
  let shownBefore = "";
  let latest = null;

  document.addEventListener("vaporwright:kept", function (event) {
    latest = event.detail;
    paint(latest);
  });

  function paint(now) {
    const own = now.entries.filter(function (pair) { return pair[1].who === now.who; });
    const waiting = own.filter(function (pair) { return !pair[1].refused; });
    const refused = own.filter(function (pair) { return pair[1].refused; });
    const others = now.entries.filter(function (pair) { return pair[1].who !== now.who; });
    document.querySelectorAll(".kept-note").forEach(function (note) { note.remove(); });
    own.forEach(function (pair) { beside(pair[1]); });
    const shows = JSON.stringify([own.map(stateOf), others.length, now.signedOut, now.storageWorks]);
    if (shows === shownBefore) {
      return;
    }
    shownBefore = shows;
    const focused = document.activeElement;
    bar.replaceChildren();
    bar.hidden = !now.entries.length;
    if (refused.length) {
      bar.append(made("p", "■ Refused (" + refused.length + "):"), listOf(refused, refusedItem));
    }
    if (waiting.length) {
      bar.append(made("p", waitingWords(waiting.length, now)), waitingList(waiting));
    }
    if (others.length) {
      const names = Array.from(new Set(others.map(function (pair) { return pair[1].who; }))).join(", ");
      bar.append(made("p", "▲ Kept here for " + names + " (" + others.length + "): sent when they are signed in here."));
    }
    items.forEach(function (_, key) { if (!own.some(function (pair) { return pair[0] === key; })) { items.delete(key); } });
    if (focused && focused !== document.body && bar.contains(focused)) {
      focused.focus();
    }
  }

  function waitingWords(count, now) {
    const why = now.signedOut ? " Sign in again, in another tab, and load this page again to send them." : " They go out by themselves when the server answers.";
    return "▲ Kept here, not yet sent (" + count + ")." + why + (now.storageWorks ? "" : " This browser keeps nothing over a reload: leave this page open.");
  }

  // What an item shows hangs on its entry, and on whether somebody else's reading stands in its field by now.
  function stateOf(pair) {
    return [pair[0], pair[1].body, pair[1].refused || "", pair[1].refused ? correctable(pair[1]) : ""];
  }

  function waitingList(waiting) {
    const folded = made("details");
    folded.className = "kept-list";
    folded.open = listOpen;
    folded.addEventListener("toggle", function () { listOpen = folded.open; });
    folded.append(made("summary", "Look at what waits"), listOf(waiting, waitingItem));
    return folded;
  }

  function listOf(pairs, make) {
    const list = made("ul");
    pairs.forEach(function (pair) {
      const state = JSON.stringify(stateOf(pair));
      const had = items.get(pair[0]);
      const element = had && had.state === state ? had.element : make(pair[0], pair[1]);
      items.set(pair[0], { state: state, element: element });
      list.append(element);
    });
    return list;
  }

  // Items

  function waitingItem(key, entry) {
    const item = made("li");
    item.append(made("span", told(entry)));
    looks(item, entry);
    goes(item, entry);
    return item;
  }

  function told(entry) {
    const cells = Object.entries(entry.body.cells || {}).map(function (pair) { return named(pair[0]) + " " + pair[1]; }).join(", ");
    const what = entry.file ? entry.file.name + ", " + kept.size(entry.file.size) : entry.body.text || cells || entry.body.reason || "";
    const step = entry.body.step ? " (" + entry.body.step + ")" : "";
    return entry.label + step + (what ? ": " + what : "") + ", at " + clock.shown(entry.clock);
  }

  function named(channel) {
    return channel.replaceAll("_", " ");
  }

  function goes(item, entry) {
    if (entry.page !== location.pathname) {
      const there = made("a", "To its page");
      there.href = entry.page;
      item.append(there);
    }
  }

  // A picture is drawn here: the page takes pictures from nowhere but the server. Anything else can be saved.
  async function looks(item, entry) {
    if (!entry.file) {
      return;
    }
    const place = made("span");
    place.className = "kept-file";
    item.append(place);
    const content = await files.get(entry.file.id);
    if (!content) {
      place.append(made("span", "The file is no longer in this browser."));
      return;
    }
    const saves = made("a", "Save a copy");
    saves.href = URL.createObjectURL(content);
    saves.download = entry.file.name;
    try {
      const picture = await createImageBitmap(content);
      const button = made("button");
      button.type = "button";
      button.className = "kept-picture";
      button.setAttribute("aria-label", "Look at " + entry.file.name);
      button.append(drawn(picture, Math.min(1, SMALL_px / Math.max(picture.width, picture.height))));
      button.addEventListener("click", function () { large(picture, entry.file.name); });
      place.append(button);
    } catch (error) {
      place.append(made("span", entry.file.type === "application/pdf" ? "A PDF." : "No picture that this browser can show."));
    }
    place.append(saves);
  }

  function drawn(picture, share) {
    const canvas = made("canvas");
    canvas.width = Math.max(1, Math.round(picture.width * share));
    canvas.height = Math.max(1, Math.round(picture.height * share));
    canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
    return canvas;
  }

  function large(picture, name) {
    const dialog = made("dialog");
    dialog.className = "kept-large";
    dialog.setAttribute("aria-label", name);
    const closes = made("button", "Close");
    closes.type = "button";
    closes.addEventListener("click", function () { dialog.close(); });
    dialog.addEventListener("close", function () { dialog.remove(); });
    dialog.append(closes, drawn(picture, Math.min(1, 1600 / Math.max(picture.width, picture.height))));
    document.body.append(dialog);
    dialog.showModal();
  }

  function refusedItem(key, entry) {
    const item = made("li");
    item.className = "refused";
    item.append(made("span", told(entry) + ". " + entry.refused));
    looks(item, entry);
    goes(item, entry);
    if (correctable(entry)) {
      item.append(asking("Enter mine as a correction", "Enter the correction", [["reason", "Why it is corrected", ""]], function (typed) {
        kept.again(key, { kind: "correction", corrects: correctable(entry), reason: typed.reason });
      }));
    }
    item.append(correcting(key, entry), sending(key), discarding(key));
    return item;
  }

  // The reading that stands in the field by now, where somebody else was first and this is their page.
  function correctable(entry) {
    const card = document.querySelector("[data-step]");
    if (!card || entry.body.kind !== "reading" || entry.page !== location.pathname || card.dataset.step !== entry.body.step) {
      return "";
    }
    const standing = document.querySelector('[data-field="' + CSS.escape(entry.body.field) + '"] input[name="corrects"]');
    return standing ? standing.value : "";
  }

  function correcting(key, entry) {
    const fields = Object.keys(ASKED).filter(function (name) { return entry.body[name] !== undefined && !entry.file; });
    const asked = fields.map(function (name) { return [name, ASKED[name], entry.body[name]]; });
    Object.entries(entry.body.cells || {}).forEach(function (pair) { asked.push(["cell." + pair[0], named(pair[0]), pair[1]]); });
    asked.push(["happened", "Done at, by the clock on the wall, where the tablet's was wrong", entry.body.happened || "", "datetime-local"]);
    asked.push(["late_because", "Why the time is typed", entry.body.late_because || ""]);
    return asking("Put it right", "Send it so", asked, function (typed) {
      const changes = { happened: typed.happened, late_because: typed.late_because };
      fields.forEach(function (name) { changes[name] = name === "minutes" ? Number(typed[name].replace(",", ".")) : typed[name]; });
      if (Object.keys(entry.body.cells || {}).length) {
        changes.cells = {};
        Object.keys(entry.body.cells).forEach(function (name) { if (typed["cell." + name].trim()) { changes.cells[name] = typed["cell." + name]; } });
      }
      kept.again(key, changes);
    });
  }

  // A folded form: fields of name, words, value and kind.
  function asking(title, does, asked, deals) {
    const folded = made("details");
    const form = made("form");
    folded.append(made("summary", title), form);
    asked.forEach(function (one) {
      const label = made("label");
      const box = made("input");
      box.name = one[0];
      box.type = one[3] || "text";
      box.value = one[2];
      box.autocomplete = "off";
      box.required = !["happened", "late_because"].includes(one[0]) && !one[0].startsWith("cell.");
      label.append(made("span", one[1]), box);
      form.append(label);
    });
    const button = made("button", does);
    button.className = "main";
    form.append(button);
    form.addEventListener("submit", function (event) {
      event.preventDefault();
      deals(Object.fromEntries(new FormData(form)));
    });
    return folded;
  }

  function sending(key) {
    const button = made("button", "Send it again");
    button.type = "button";
    button.addEventListener("click", function () { kept.again(key, {}); });
    return button;
  }

  // Two presses: a glove slips, and what is discarded is nowhere else.
  function discarding(key) {
    const place = made("span");
    place.className = "kept-discard";
    const first = made("button", "Discard it");
    first.type = "button";
    first.addEventListener("click", function () {
      const sure = made("button", "Discard it for good");
      const keeps = made("button", "Keep it");
      sure.type = keeps.type = "button";
      sure.addEventListener("click", function () { kept.drop(key); });
      keeps.addEventListener("click", function () {
        place.replaceChildren(first);
        first.focus();
      });
      place.replaceChildren(sure, keeps);
      keeps.focus();
    });
    place.append(first);
    return place;
  }

  // The same beside the field that it belongs to.
  function beside(entry) {
    const card = document.querySelector("[data-step]");
    if (!card || !entry.body.field || entry.page !== location.pathname || card.dataset.step !== entry.body.step) {
      return;
    }
    const part = document.querySelector('[data-field="' + CSS.escape(entry.body.field) + '"]');
    if (!part) {
      return;
    }
    const note = made("p", (entry.body.text || "") + ": " + (entry.refused ? "refused, " + entry.refused : "kept here, not yet sent"));
    note.className = "kept-note" + (entry.refused ? " refused" : "");
    part.append(note);
  }

  function made(kind, text) {
    const element = document.createElement(kind);
    if (text !== undefined) {
      element.textContent = text;
    }
    return element;
  }
})();
