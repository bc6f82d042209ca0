// The page of the simulated unit: is told of it as it goes, lights what is so. Where it is not told (the stream breaks, or
// nobody sees the page) it asks by itself. What hands do is in controls_hands.js.
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
  let last = {};
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

  // What is so

  const rows = Array.from(document.querySelectorAll("#matrix tbody tr")).map(function (row) {
    return {
      row: row,
      shape: row.querySelector(".now .shape"),
      words: row.querySelector(".now .words"),
      cells: Array.from(row.querySelectorAll(".cell.on, .cell.off")),
      needs: Array.from(row.querySelectorAll(".cell.need")),
    };
  });
  const effects = Array.from(document.querySelectorAll("#matrix .effect"));
  const lamps = Array.from(document.querySelectorAll("[data-lamp]"));
  const OFF = ["", "", "", 0];

  function lightCells(cells, name, words, on) {
    cells.forEach(function (cell) {
      cell.classList.toggle(name, on);
      text(cell.querySelector(".at-once"), on ? words : "");
    });
  }

  function light(lit) {
    rows.forEach(function (one, number) {
      const [classes, shape, words, on] = lit.rows[number] || OFF;
      if (one.row.className !== classes) {
        one.row.className = classes;
      }
      text(one.shape, shape);
      text(one.words, words);
      lightCells(one.cells, "acts", ", acts now", Boolean(on));
      lightCells(one.needs, "lacks", ", missing now", !on);
    });
    effects.forEach(function (head, number) {
      const on = lit.effects[number] === "1";
      head.classList.toggle("lit", on);
      text(head.querySelector(".lamp"), on ? "on" : "off");
    });
    lamps.forEach(function (lamp, number) {
      const wet = lit.rods[number] === "1";
      lamp.classList.toggle("wet", wet);
      text(lamp.querySelector(".dot"), wet ? "●" : "○");
      text(lamp.querySelector(".lamp-word"), wet ? "wet" : "dry");
    });
    text(el("matrix-said"), lit.said);
    el("horn").hidden = !lit.horn;
  }

  if (window.matchMedia("(max-width: 40rem)").matches) {
    el("only-true").checked = true; // a phone has no room for what does not act
  }

  function showDevices(told) {
    const shares = told.shares;
    ["temperature", "level", "heat", "evaporation"].forEach(function (name) { text(el("n-" + name), told.shown[name]); });
    Object.keys(told.devices).forEach(function (name) { text(el("w-" + name), told.devices[name]); });
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
      const [row, title, priority, state, since, first] = one;
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
      if (first) {
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

  function showEvents(events) {
    const body = el("events");
    if (!lastEvent) {
      body.replaceChildren(); // those that came with the page
    }
    events.forEach(function (one) {
      const [number, clock, kind, words, on] = one;
      if (number <= lastEvent) {
        return;
      }
      lastEvent = number;
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
        button.name = "deed";
        button.value = one[2];
        button.append(made("span", "sr", " " + one[1]));
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
    const key = JSON.stringify(task);
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
      parts.push(made("p", "soft", task.wrong.length + " wrong deeds, " + task.dangerous + " of them dangerous; " + Math.max(task.guesses - (task.cause_named ? 1 : 0), 0) + " wrong guesses; hints: " + task.hints.length + "."));
      const ways = made("p", "buttons");
      [["To the tasks", root.dataset.train], ["Results", "/training"]].forEach(function (way) {
        const link = made("a", "button", way[0]);
        link.href = way[1];
        ways.append(link);
      });
      parts.push(ways);
      box.replaceChildren.apply(box, parts);
      text(el("say"), "Task " + task.verdict);
    }
  }

  // Trends

  const KEYS_OF_TRENDS = ["temperature", "level", "heat", "evaporation"];
  const HEIGHT_px = 220;
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
    const STEPS_s = [10, 30, 60, 120, 300, 600, 1800, 3600, 7200, 14400];
    const axis = { stroke: colour("--ink-soft"), grid: { stroke: colour("--line"), width: 1 }, ticks: { stroke: colour("--line"), width: 1 }, font: "13px sans-serif", labelFont: "13px sans-serif", labelSize: 20 };
    plots = KEYS_OF_TRENDS.map(function (name, place) {
      const box = el("trend-" + name);
      return new window.uPlot({
        width: Math.max(box.clientWidth, 200),
        height: HEIGHT_px,
        legend: { show: false },
        cursor: { y: false },
        scales: { x: { time: false }, y: { range: wide } },
        axes: [
          Object.assign({}, axis, { values: function (_, marks) { return marks.map(clock); }, space: 70, incrs: STEPS_s, label: "time of the unit [h:min:s]" }),
          Object.assign({}, axis, { size: 72, space: 30, label: "[" + box.dataset.unit + "]" }),
        ],
        series: [{}, { stroke: colour("--ink"), width: 2, points: { show: false } }],
      }, [series[0], series[place + 1]], box);
    });
  }

  let drawn = 0;
  function showPoints(points) {
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
        plot.setSize({ width: Math.max(el("trend-" + KEYS_OF_TRENDS[place]).clientWidth, 200), height: HEIGHT_px });
      });
    }
  }).observe(root);
  window.matchMedia("(prefers-color-scheme: dark)").addEventListener("change", function () {
    if (plots.length) {
      drawPlots();
    }
  });

  // Being told, and asking

  function ended(told) {
    over = true;
    text(el("standing"), told.state === "none" ? "this unit is no longer there: begin again" : told.standing);
    text(el("say"), el("standing").textContent);
    root.classList.add("over");
  }

  // What is told adds to what was; events and points are further ones, not a state.
  function show(news) {
    if (news.state === "none") {
      ended(news);
      return;
    }
    const told = last = Object.assign({}, last, news);
    text(el("standing"), told.standing);
    el("standing").classList.toggle("abnormal", Boolean(told.alarms && told.alarms.length));
    if (told.shown !== undefined) {
      text(el("clock"), told.clock);
      if (news.lit) {
        light(told.lit);
      }
      if (news.shares || news.devices || news.shown || news.gauge_m !== undefined) {
        showDevices(told);
        KEYS_OF_TRENDS.forEach(function (name) { text(el("trend-" + name + "-now"), told.shown[name]); });
      }
      showPanel(told);
      showAlarms(told);
      if (news.events && news.events.length) {
        showEvents(news.events);
      }
      showAltered(told);
      if (told.task) {
        text(el("task-clock"), told.task_clock);
        showTask(told.task);
      }
      if (news.points) {
        showPoints(news.points);
      }
    }
    if (told.state === "ended") {
      ended(told);
    }
  }

  function isAlone() {
    text(el("standing"), "the server cannot be reached: what is shown is old");
    el("standing").classList.add("abnormal");
  }

  function ask() {
    const query = new URLSearchParams({ events: lastEvent, generation: generation, points: lastPoint });
    return fetch(base + "/state?" + query, { headers: { Accept: "application/json" } }).then(function (answer) {
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
        isAlone();
      }
    });
  }

  const SILENT_ms = 12000; // the stream says something every 5 s
  const AGAIN_ms = 15000; // after it broke, until it is tried again
  let stream = null;
  let brokeAt = 0;
  let heardAt = 0;

  function listen() {
    heardAt = Date.now();
    stream = new EventSource(base + "/live?after=" + [lastEvent, generation, Math.round(10 * lastPoint)].join("."));
    stream.onmessage = function (message) {
      heardAt = Date.now();
      missed = 0;
      show(JSON.parse(message.data));
      if (over) {
        hush();
      }
    };
    stream.addEventListener("alive", function () { heardAt = Date.now(); });
    stream.onerror = function () {
      if (stream && stream.readyState === EventSource.CLOSED) {
        breaks(); // refused; a line that is merely cut is taken up again by the browser
      }
    };
  }

  function hush() {
    if (stream) {
      stream.close();
      stream = null;
    }
  }

  function breaks() {
    hush();
    brokeAt = Date.now();
  }

  // A page that nobody sees holds no line (a browser has few) and asks seldom: it is the unit that must not seem left.
  function goOn() {
    if (over) {
      return;
    }
    if (document.hidden) {
      hush();
    } else if (stream && Date.now() - heardAt > SILENT_ms) {
      breaks();
    } else if (!stream && window.EventSource && Date.now() - brokeAt > AGAIN_ms) {
      listen();
    }
    const wait = document.hidden || missed > 3 ? SELDOM_ms : OFTEN_ms;
    (stream ? Promise.resolve() : ask()).finally(function () { window.setTimeout(goOn, stream ? 1000 : wait); });
  }
  document.addEventListener("visibilitychange", function () {
    if (!document.hidden && !stream && !over) {
      brokeAt = 0;
    }
  });
  window.addEventListener("pagehide", hush);
  goOn();
})();
