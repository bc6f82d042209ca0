// What hands do at a simulated unit: buttons pushed for as long as they are held, keys, forms sent without a new page.
"use strict";

(function () {
  const root = document.getElementById("unit");
  if (!root) {
    return;
  }
  const base = root.dataset.base;

  function send(address, fields) {
    const body = new URLSearchParams(fields);
    return fetch(address, {
      method: "POST",
      headers: { "X-CSRF-Token": window.vaporwright.token, Accept: "application/json" },
      body: body,
      keepalive: true,
    }).then(function (answer) {
      return answer.json().catch(function () { return {}; }).then(function (told) {
        if (!answer.ok) {
          window.vaporwright.say(told.problem || (told.error && told.error.problem) || "That did not work. Load the page again.");
        }
        return told;
      });
    }, function () {
      window.vaporwright.say("The server cannot be reached: that was not done.");
      return {};
    });
  }

  function deed(value) {
    return send(base + "/deed", { deed: value });
  }

  const held = new Set();
  function push(button) {
    const name = button.dataset.push;
    if (!held.has(name)) {
      held.add(name);
      button.classList.add("down");
      deed("push||" + name);
    }
  }
  function pull(button) {
    const name = button.dataset.push;
    if (held.delete(name)) {
      button.classList.remove("down");
      deed("pull||" + name);
    }
  }
  function pullAll() {
    document.querySelectorAll("[data-push]").forEach(pull);
  }

  let handled = false; // by pointer or key; a click without either comes from an aid and is a press
  document.querySelectorAll("[data-push]").forEach(function (button) {
    button.addEventListener("pointerdown", function (event) {
      if (event.button === 0) {
        handled = true;
        button.setPointerCapture(event.pointerId);
        push(button);
      }
    });
    ["pointerup", "pointercancel", "lostpointercapture"].forEach(function (kind) {
      button.addEventListener(kind, function () { pull(button); });
    });
    button.addEventListener("keydown", function (event) {
      if ((event.key === " " || event.key === "Enter") && !event.altKey) {
        event.preventDefault();
        push(button);
      }
    });
    button.addEventListener("keyup", function (event) {
      if (event.key === " " || event.key === "Enter") {
        event.preventDefault();
        pull(button);
      }
    });
    button.addEventListener("blur", function () { pull(button); });
    button.addEventListener("click", function (event) {
      event.preventDefault();
      if (!handled) {
        deed("press||" + button.dataset.push);
      }
      handled = false;
    });
    button.addEventListener("contextmenu", function (event) { event.preventDefault(); }); // a long touch is a push
  });
  window.addEventListener("blur", pullAll);

  const KEYS = { KeyS: "start", KeyT: "stop", KeyR: "reset", KeyL: "silence", KeyA: "acknowledge" };
  document.addEventListener("keydown", function (event) {
    if (!event.altKey || !event.shiftKey || event.ctrlKey || event.metaKey) {
      return;
    }
    const name = KEYS[event.code];
    if (name) {
      event.preventDefault();
      push(document.querySelector('[data-push="' + name + '"]'));
    } else if (event.code === "KeyE" && !event.repeat) {
      event.preventDefault();
      document.getElementById("emergency-stop").click();
    }
  });
  document.addEventListener("keyup", function (event) {
    const name = KEYS[event.code];
    if (name) {
      pull(document.querySelector('[data-push="' + name + '"]'));
    } else if (event.key === "Alt" || event.key === "Shift") {
      pullAll();
    }
  });

  root.addEventListener("submit", function (event) {
    const form = event.target;
    if (!form.classList.contains("hands-form")) {
      return;
    }
    event.preventDefault();
    const fields = {};
    new FormData(form).forEach(function (value, key) {
      if (key !== "csrf") {
        fields[key] = value;
      }
    });
    if (event.submitter && event.submitter.name) {
      fields[event.submitter.name] = event.submitter.value;
    }
    send(form.getAttribute("action"), fields).then(function (told) {
      if (told.said !== undefined && form.dataset.kind === "ask" && !form.action.endsWith("/hint")) {
        document.getElementById("task-said").textContent = told.said;
      }
    });
  });
})();
