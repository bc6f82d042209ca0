// The page of the simulated unit: asks for its state four times a second, lights what is so, sends what hands do.
"use strict";

(function () {
  const root = document.getElementById("unit");
  if (!root) {
    return;
  }
  const base = root.dataset.base;
  const OFTEN_ms = 250;
  const SELDOM_ms = 2000; // nobody sees the page
  const MOST_EVENTS = 200;
  const el = function (id) { return document.getElementById(id); };
  let bits = "";
  let lastEvent = 0;
  let generation = 0;
  let lastPoint = -1;
  let over = false;
  let missed = 0;

  function text(node, words) {
    if (node && node.textContent !== words) {
      node.textContent = words;
    }
  }

  function made(name, className, words) {
    const node = document.createElement(name);
    if (className) {
      node.className = className;
    }
    if (words !== undefined) {
      node.textContent = words;
    }
    return node;
  }

  // What hands do

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
      el("emergency-stop").click();
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
        text(el("task-said"), told.said);
      }
    });
  });

  // What is so

  const rows = Array.from(document.querySelectorAll("#matrix tbody tr")).map(function (row) {
    return {
      row: row,
      now: row.querySelector(".now"),
      item: Number(row.dataset.row),
      cause: row.dataset.cause === undefined ? -1 : Number(row.dataset.cause),
      first: row.dataset.first === undefined ? -1 : Number(row.dataset.first),
      alarm: row.dataset.alarm || "",
      cells: Array.from(row.querySelectorAll(".cell.on, .cell.off")),
      needs: Array.from(row.querySelectorAll(".cell.need")),
    };
  });
  const effects = Array.from(document.querySelectorAll("#matrix [data-effect]"));
  const lamps = Array.from(document.querySelectorAll("[data-lamp]"));

  function is(place) {
    return place >= 0 && bits[place] === "1";
  }

  function lightRow(one) {
    const on = is(one.item);
    const stays = on && one.cause >= 0 && !is(one.cause);
    const active = on || (one.alarm && is(one.cause));
    const first = is(one.first);
    let words = "";
    if (active) {
      const shape = one.alarm === "high" ? "■" : one.alarm ? "▲" : "●";
      words = shape + " " + (stays ? "latched" : "true") + (first ? ", first" : "");
    } else if (first) {
      words = "came first";
    }
    text(one.now, words);
    one.row.classList.toggle("true", Boolean(active));
    one.row.classList.toggle("abnormal", Boolean(active && one.alarm));
    one.row.classList.toggle("high", Boolean(active && one.alarm === "high"));
    one.row.classList.toggle("first", first);
    one.cells.forEach(function (cell) { cell.classList.toggle("acts", on); });
    one.needs.forEach(function (cell) { cell.classList.toggle("lacks", !on); });
    const lacks = one.needs.length > 0 && !on;
    one.row.classList.toggle("holds-back", lacks);
    if (lacks && !words) {
      text(one.now, "missing");
    }
  }

  function light() {
    rows.forEach(lightRow);
    effects.forEach(function (head) {
      const on = is(Number(head.dataset.effect));
      head.classList.toggle("lit", on);
      text(head.querySelector(".lamp"), on ? "on" : "off");
    });
    lamps.forEach(function (lamp) {
      const wet = is(Number(lamp.dataset.lamp));
      lamp.classList.toggle("wet", wet);
      text(lamp.querySelector(".dot"), wet ? "●" : "○");
      text(lamp.querySelector(".lamp-word"), wet ? "wet" : "dry");
    });
    el("horn").hidden = !is(Number(root.dataset.horn));
  }

  el("only-true").addEventListener("change", function (event) {
    el("matrix").classList.toggle("only-true", event.target.checked);
  });

  function showDevices(told) {
    const shares = told.shares;
    const shown = told.shown;
    ["temperature", "level", "heat", "evaporation"].forEach(function (name) { text(el("n-" + name), shown[name]); });
    text(el("w-blower"), shares.blower > 0.98 ? "● runs" : shares.blower > 0.02 ? "◐ runs up or down" : "○ stands");
    text(el("w-pump"), shares.pump > 0.98 ? "● runs" : shares.pump > 0.02 ? "◐ runs up or down" : "○ stands");
    text(el("w-spray"), shares.spray > 0.02 ? "● " + Math.round(100 * shares.spray) + " % falls" : "○ none");
    text(el("w-phase"), (shares.heat > 0 ? "● " : "○ ") + told.phase);
    text(el("w-refill"), shares.refill > 0.5 ? "● water comes" : "○ none");
    text(el("w-drain"), shares.drain > 0.02 ? "● open" : "○ shut");
    text(el("w-thermometer"), shown.thermometer);
    text(el("w-power"), told.power ? "● on" : "■ off");
    ["blower", "pump", "spray", "heat", "refill", "drain"].forEach(function (name) {
      el("d-" + name).classList.toggle("works-now", shares[name] > 0.02);
    });
    el("d-exhaust").classList.toggle("works-now", shares.blower > 0.02);
    const low = Number(root.dataset.low);
    const high = Number(root.dataset.high);
    const share = Math.min(Math.max((told.gauge_m - low) / (high - low), 0), 1);
    const y = 384 - 368 * share;
    el("gauge-liquor").setAttribute("y", y.toFixed(1));
    el("gauge-liquor").setAttribute("height", (392 - y).toFixed(1));
    el("gauge-pointer").setAttribute("d", "M2 " + y.toFixed(1) + " L18 " + (y - 8).toFixed(1) + " L18 " + (y + 8).toFixed(1) + " Z");
    const top = 380 - 144 * Math.min(told.gauge_m / Number(root.dataset.rim), 1);
    el("tank-liquor").setAttribute("y", top.toFixed(1));
    el("tank-liquor").setAttribute("height", (379 - top).toFixed(1));
  }

  function showPanel(told) {
    document.querySelectorAll("[data-selector]").forEach(function (button) {
      const here = told.selectors[button.dataset.selector] === button.dataset.position;
      button.setAttribute("aria-pressed", here ? "true" : "false");
    });
    document.querySelectorAll("[data-supply]").forEach(function (button) {
      const here = (told.supplies[button.dataset.supply] || "on") === button.dataset.state;
      button.setAttribute("aria-pressed", here ? "true" : "false");
    });
    const stop = el("emergency-stop");
    const name = "emergency stop";
    const pushed = told.pushed.includes(name);
    stop.setAttribute("aria-pressed", pushed ? "true" : "false");
    stop.value = (pushed ? "pull||" : "push||") + name;
    text(stop.lastElementChild, pushed ? name + ": in; pull it" : name);
    document.querySelectorAll("[data-speed]").forEach(function (button) {
      button.setAttribute("aria-pressed", Number(button.dataset.speed) === told.speed ? "true" : "false");
    });
  }

  // Alarms and events

  let alarmsKnown = "";
  let statesKnown = {};
  function showAlarms(told) {
    const key = JSON.stringify(told.alarms);
    if (key === alarmsKnown) {
      return;
    }
    alarmsKnown = key;
    const list = el("alarms");
    const states = {};
    const news = [];
    const lines = told.alarms.map(function (one) {
      const [row, title, priority, state, since] = one;
      states[row] = state;
      if (state.includes("unacknowledged") && !(statesKnown[row] || "").includes("unacknowledged")) {
        news.push(title);
      }
      const line = made("li", "alarm-line " + (state.includes("unack") ? "unacknowledged " : "") + (priority === "high" ? "high" : "medium"));
      line.append(
        made("span", "shape", priority === "high" ? "■" : "▲"),
        made("strong", "", title),
        made("span", "alarm-state", state),
        made("span", "number soft", "since " + since + ", " + priority),
      );
      line.firstChild.setAttribute("aria-hidden", "true");
      const marked = el("matrix").querySelector('tr.first[data-alarm] th');
      if (marked && marked.textContent === title) {
        line.append(made("span", "came-first", "came first"));
      }
      return line;
    });
    list.replaceChildren.apply(list, lines.length ? lines : [made("li", "none", "No alarm stands.")]);
    text(el("alarm-count"), lines.length ? String(lines.length) : "none");
    if (news.length) {
      text(el("say"), "Alarm: " + news.join("; "));
    }
    statesKnown = states;
  }

  function showEvents(told) {
    if (!told.events.length) {
      return;
    }
    const body = el("events");
    told.events.forEach(function (one) {
      const [number, clock, kind, words, on] = one;
      lastEvent = Math.max(lastEvent, number);
      if (kind === "seen") {
        text(el("seen"), words);
      }
      const row = made("tr", "event-" + kind);
      row.append(made("td", "number", clock), made("td", "", words), made("td", "", on === null ? kind : on ? "on" : "off"));
      body.prepend(row);
    });
    while (body.rows.length > MOST_EVENTS) {
      body.deleteRow(-1);
    }
  }

  let alteredKnown = "";
  function showAltered(told) {
    const list = el("altered");
    const key = JSON.stringify(told.altered);
    if (!list || key === alteredKnown) {
      return;
    }
    alteredKnown = key;
    const lines = told.altered.map(function (one) {
      const line = made("li", "between");
      const words = made("span", "word caution", "");
      words.append(made("span", "shape", "▲"), made("span", "", one[1]));
      words.firstChild.setAttribute("aria-hidden", "true");
      line.append(words);
      if (one[2]) {
        const button = made("button", "", "Put right");
        button.type = "button";
        button.append(made("span", "sr", " " + one[1]));
        button.addEventListener("click", function () { deed(one[2]); });
        line.append(button);
      }
      return line;
    });
    list.replaceChildren.apply(list, lines.length ? lines : [made("li", "none", "Everything is in order.")]);
  }

  // The trainer

  let taskKnown = "";
  function showTask(task) {
    if (!task || !el("task")) {
      return;
    }
    text(el("task-clock"), task.clock);
    const key = JSON.stringify(Object.assign({}, task, { clock: "" }));
    if (key === taskKnown) {
      return;
    }
    taskKnown = key;
    const dangerous = task.dangerous ? "; ■ dangerous: " + task.dangerous : "";
    text(el("task-count"), task.reached + " of " + task.goals + " goals" + dangerous);
    text(el("hints-left"), String(task.hints_left));
    const lines = task.told.map(function (one) {
      return made("li", "", (one[1] ? "● " : "○ ") + one[0] + (one[1] ? " (" + one[1] + ")" : " (not reached)"));
    });
    task.wrong.forEach(function (one) {
      lines.push(made("li", one[2] ? "word alarm wraps" : "word caution wraps", (one[2] ? "■ dangerous: " : "▲ mistaken: ") + one[1]));
    });
    task.hints.forEach(function (hint) { lines.push(made("li", "hint", "Hint: " + hint)); });
    el("task-told").replaceChildren.apply(el("task-told"), lines);
    const box = el("debrief");
    box.hidden = task.verdict === "at work";
    if (!box.hidden) {
      const parts = [made("p", task.verdict === "passed" ? "verdict" : "verdict alarm", (task.verdict === "passed" ? "" : "■ ") + task.verdict)];
      if (task.harm) {
        parts.push(made("p", "", task.harm));
      }
      if (task.cause) {
        parts.push(made("p", "", "Behind it: " + task.cause + "."));
      }
      parts.push(made("p", "", task.debrief));
      parts.push(made("p", "soft", task.wrong.length + " wrong deeds, " + task.dangerous + " of them dangerous; " + Math.max(task.guesses - (task.cause_named ? 1 : 0), 0) + " wrong guesses; " + task.hints.length + " hints."));
      const back = made("a", "button", "To the tasks");
      back.href = root.dataset.train;
      parts.push(back);
      box.replaceChildren.apply(box, parts);
      text(el("say"), "Task " + task.verdict);
    }
  }

  // Trends

  const KEYS_OF_TRENDS = ["temperature", "level", "heat", "evaporation"];
  const series = [[], [], [], [], []];
  let plots = [];

  function colour(name) {
    return getComputedStyle(document.documentElement).getPropertyValue(name).trim();
  }

  function clock(seconds) {
    const whole = Math.round(seconds);
    const pad = function (value) { return String(value).padStart(2, "0"); };
    return Math.floor(whole / 3600) + ":" + pad(Math.floor(whole / 60) % 60) + ":" + pad(whole % 60);
  }

  // A steady line is not blown up to look restless.
  function wide(_, least, most) {
    const half = Math.max((most - least) * 0.55, 0.01 * Math.abs(most), 1e-6);
    const middle = (least + most) / 2;
    return [middle - half, middle + half];
  }

  function drawPlots() {
    plots.forEach(function (plot) { plot.destroy(); });
    const axis = { stroke: colour("--ink-soft"), grid: { stroke: colour("--line"), width: 1 }, ticks: { stroke: colour("--line"), width: 1 }, font: "13px sans-serif" };
    plots = KEYS_OF_TRENDS.map(function (name, place) {
      const box = el("trend-" + name);
      return new window.uPlot({
        width: Math.max(box.clientWidth, 200),
        height: 170,
        legend: { show: false },
        cursor: { y: false },
        scales: { x: { time: false }, y: { range: wide } },
        axes: [
          Object.assign({}, axis, { values: function (_, marks) { return marks.map(clock); }, space: 70 }),
          Object.assign({}, axis, { size: 62 }),
        ],
        series: [{}, { stroke: colour("--ink"), width: 2, points: { show: false } }],
      }, [series[0], series[place + 1]], box);
    });
  }

  let drawn = 0;
  function showPoints(told) {
    const points = told.points;
    if (points.generation !== generation) {
      generation = points.generation;
      series.forEach(function (values) { values.length = 0; });
      lastPoint = -1;
    }
    points.rows.forEach(function (row) {
      if (row[0] > lastPoint) {
        lastPoint = row[0];
        series.forEach(function (values, place) { values.push(row[place]); });
      }
    });
    KEYS_OF_TRENDS.forEach(function (name) { text(el("trend-" + name + "-now"), told.shown[name]); });
    const now = Date.now();
    if (points.rows.length && now - drawn > 900 && window.uPlot) {
      drawn = now;
      if (!plots.length) {
        drawPlots();
      }
      plots.forEach(function (plot, place) { plot.setData([series[0], series[place + 1]]); });
    }
  }

  let width = 0;
  new ResizeObserver(function () {
    if (plots.length && root.clientWidth !== width) {
      width = root.clientWidth;
      plots.forEach(function (plot, place) {
        plot.setSize({ width: Math.max(el("trend-" + KEYS_OF_TRENDS[place]).clientWidth, 200), height: 170 });
      });
    }
  }).observe(root);
  window.matchMedia("(prefers-color-scheme: dark)").addEventListener("change", function () {
    if (plots.length) {
      drawPlots();
    }
  });

  // Asking

  function show(told) {
    if (told.state === "none" || told.state === "ended") {
      over = true;
      text(el("standing"), told.state === "none" ? "this unit is no longer there: begin again" : "ended: " + told.why);
      text(el("say"), el("standing").textContent);
      root.classList.add("over");
      if (told.bits === undefined) {
        return;
      }
    }
    if (told.bits === undefined) {
      text(el("standing"), "being prepared");
      return;
    }
    text(el("clock"), told.clock);
    if (!over) {
      text(el("standing"), told.speed === 0 ? "held still" : told.alarms.length ? "alarm stands" : "no alarm");
      el("standing").classList.toggle("abnormal", told.alarms.length > 0);
    }
    if (told.bits !== bits) {
      bits = told.bits;
      light();
    }
    showDevices(told);
    showPanel(told);
    showAlarms(told);
    showEvents(told);
    showAltered(told);
    showTask(told.task);
    showPoints(told);
  }

  function ask() {
    const query = new URLSearchParams({ events: lastEvent, generation: generation, points: lastPoint });
    fetch(base + "/state?" + query, { headers: { Accept: "application/json" } }).then(function (answer) {
      if (!answer.ok) {
        throw new Error(String(answer.status));
      }
      return answer.json();
    }).then(function (told) {
      missed = 0;
      show(told);
    }).catch(function () {
      missed += 1;
      if (missed > 3) {
        text(el("standing"), "the server cannot be reached: what is shown is old");
        el("standing").classList.add("abnormal");
      }
    }).finally(function () {
      if (!over) {
        window.setTimeout(ask, document.hidden || missed > 3 ? SELDOM_ms : OFTEN_ms);
      }
    });
  }
  ask();
})();
