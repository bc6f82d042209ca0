// What every page needs of a script: the token of forms for htmx, focus after a swap, the menu, keyboard help.
"use strict";

(function () {
  const token = document.querySelector('meta[name="csrf-token"]').content;

  // Every request of htmx carries the token that a form has in a hidden field.
  document.addEventListener("htmx:config:request", function (event) {
    event.detail.ctx.request.headers["X-CSRF-Token"] = token;
  });

  // The network is gone, or the server: say so where a message is looked for.
  document.addEventListener("htmx:error", function () {
    say("The server cannot be reached. What you typed is still here; try again.");
  });

  function say(text) {
    const place = document.getElementById("messages");
    const box = document.createElement("div");
    box.className = "notice alarm";
    const shape = document.createElement("span");
    shape.className = "shape";
    shape.setAttribute("aria-hidden", "true");
    shape.textContent = "■";
    const words = document.createElement("p");
    words.textContent = text;
    box.append(shape, words);
    place.replaceChildren(box);
    place.scrollIntoView({ block: "nearest" });
  }
  window.vaporwright = { token: token, say: say };

  // A swap may take away what had the focus: give it to the element of the same id, or to what asks for it.
  let focused = "";
  document.addEventListener("htmx:before:swap", function () {
    focused = document.activeElement ? document.activeElement.id : "";
  });
  document.addEventListener("htmx:after:swap", function (event) {
    const target = event.detail.ctx ? event.detail.ctx.target : null;
    const asks = target ? target.querySelector("[data-focus]") : null;
    if (target && target.id === "messages") {
      target.scrollIntoView({ block: "nearest" });
    }
    if (asks) {
      asks.focus();
    } else if (document.activeElement === document.body && focused) {
      const same = document.getElementById(focused);
      if (same) {
        same.focus();
      } else if (target && target.isConnected) {
        target.setAttribute("tabindex", "-1");
        target.focus({ preventScroll: true });
      }
    }
  });

  // A form that is marked so asks before it is sent.
  document.addEventListener("submit", function (event) {
    const question = event.target.getAttribute("data-ask");
    if (question && !window.confirm(question)) {
      event.preventDefault();
    }
  });

  // A filter that is marked so sends itself when a choice is made.
  document.addEventListener("change", function (event) {
    if (event.target.matches("[data-send-on-change]")) {
      event.target.form.requestSubmit();
    }
  });

  // The menu closes by Escape and by a click elsewhere.
  document.addEventListener("click", function (event) {
    document.querySelectorAll("details.menu[open]").forEach(function (menu) {
      if (!menu.contains(event.target)) {
        menu.open = false;
      }
    });
  });

  // On a narrow screen the way is longer than its line: the stop at hand is brought into sight.
  const here = document.querySelector('.stops a[aria-current="page"]');
  if (here) {
    here.scrollIntoView({ block: "nearest", inline: "center" });
  }

  const help = document.getElementById("keyboard-help");
  document.querySelectorAll("[data-opens-help]").forEach(function (button) {
    button.hidden = false;
    button.addEventListener("click", function () {
      help.showModal();
    });
  });
  document.querySelectorAll("[data-prints]").forEach(function (button) {
    button.hidden = false;
    button.addEventListener("click", function () {
      document.querySelectorAll("details.folded").forEach(function (part) {
        part.open = true;
      });
      window.print();
    });
  });

  // Keys with Alt and Shift: single letters would get in the way of those who speak or switch.
  document.addEventListener("keydown", function (event) {
    if (event.key === "Escape") {
      const menu = document.querySelector("details.menu[open]");
      if (menu) {
        menu.open = false;
        menu.querySelector("summary").focus();
      }
      return;
    }
    if (!event.altKey || !event.shiftKey || event.ctrlKey || event.metaKey) {
      return;
    }
    const stop = /^Digit[1-9]$/.test(event.code) ? document.querySelectorAll(".stops a")[Number(event.code.slice(5)) - 1] : null;
    const place = {
      KeyH: function () { help.showModal(); },
      KeyJ: function () { window.location.assign("/jobs"); },
      KeyF: function () { const box = document.querySelector("[data-search]") || document.querySelector("main input, main select, main textarea"); if (box) { box.focus(); } },
      KeyM: function () { const menu = document.querySelector("details.menu"); menu.open = true; menu.querySelector("summary").focus(); },
    }[event.code];
    if (stop) {
      event.preventDefault();
      stop.click();
    } else if (place) {
      event.preventDefault();
      place();
    }
  });
})();
