// Pages of a test: what others enter appears by itself, the instrument is remembered, other keys, the trend.
"use strict";

(function () {
  const EVERY_ms = 2000;
  const line = document.getElementById("line");
  let lostSince = null;

  // A root with data-live is asked for anew; of its parts, those whose version differs are replaced. What somebody is
  // typing into stays, as long as nothing was entered there.
  async function refresh(root) {
    let answer;
    try {
      const also = root.dataset.also ? "&" + root.dataset.also : "";
      answer = await fetch(root.dataset.live + "?seq=" + (root.dataset.seq || "-1") + also, {
        headers: { "HX-Request": "true", "HX-Request-Type": "partial" },
        signal: AbortSignal.timeout(8000),
      });
    } catch (error) {
      lost();
      return;
    }
    if (window.vaporwright.clock) {
      window.vaporwright.clock.saw(answer);
    }
    found();
    const where = answer.headers.get("X-Go-To");
    if (where) {
      root.removeAttribute("data-live");
      location.assign(where);
      return;
    }
    if (answer.headers.get("HX-Redirect")) {
      root.removeAttribute("data-live");
      window.vaporwright.say("You are signed out. What you entered is kept here; sign in again to send it.");
      return;
    }
    if (answer.status !== 200) {
      return;
    }
    const made = new DOMParser().parseFromString(await answer.text(), "text/html");
    const fresh = made.querySelector("[data-live]");
    if (fresh) {
      root.dataset.seq = fresh.dataset.seq || "";
      if (fresh.dataset.also) { root.dataset.also = fresh.dataset.also; }
    }
    let trend = false;
    made.querySelectorAll("[data-part]").forEach(function (part) {
      const old = document.getElementById(part.id);
      if (old && old.dataset.version !== part.dataset.version) {
        const open = Array.from(old.querySelectorAll("details[open] > summary")).map(function (one) { return one.firstChild.textContent.trim(); });
        trend = trend || old.dataset.trendVersion !== part.dataset.trendVersion;
        const made = document.adoptNode(part);
        old.replaceWith(made);
        made.querySelectorAll("details > summary").forEach(function (one) {
          if (open.includes(one.firstChild.textContent.trim())) { one.parentElement.open = true; }
        });
        ready(made);
      }
    });
    if (window.vaporwright.kept) {
      window.vaporwright.kept.paint();
    }
    document.dispatchEvent(new CustomEvent("vaporwright:refreshed"));
    if (trend) {
      drawTrends();
    }
  }

  function lost() {
    lostSince = lostSince || new Date();
    if (line) {
      line.hidden = false;
      line.textContent = "▲ No line to the server since " + lostSince.toTimeString().slice(0, 5) + ". What you enter is kept here and sent later." + (window.vaporwright.pageIsKept ? "" : " Do not load this page again or leave it before.");
    }
  }

  function found() {
    if (lostSince && window.vaporwright.kept) {
      window.vaporwright.kept.send();
    }
    lostSince = null;
    if (line) {
      line.hidden = true;
    }
  }

  document.querySelectorAll("[data-live]").forEach(function (root) {
    const every_ms = Number(root.dataset.every || EVERY_ms);
    const next = async function () {
      if (!document.hidden && root.isConnected && root.dataset.live) {
        await refresh(root);
      }
      if (root.dataset.live) {
        setTimeout(next, every_ms);
      }
    };
    setTimeout(next, every_ms);
  });

  // One's own entry: the verdict at once, then on to the next field.
  document.addEventListener("vaporwright:entered", async function (event) {
    for (const root of document.querySelectorAll("[data-live]")) {
      await refresh(root);
    }
    const entry = event.detail.entry;
    if (entry.body.kind !== "reading" || entry.refused) {
      return;
    }
    const parts = Array.from(document.querySelectorAll("[data-field]"));
    const place = parts.findIndex(function (part) { return part.dataset.field === entry.body.field; });
    const input = parts.slice(place + 1).map(function (part) { return part.querySelector(".reading-form input[name=text]"); }).find(Boolean);
    if (input && document.activeElement === document.body) {
      input.focus();
    }
  });

  function ready(place) {
    place.querySelectorAll("[data-keys]").forEach(function (button) { button.hidden = false; });
    place.querySelectorAll("select[data-instrument]").forEach(function (select) {
      const known = remembered(select.dataset.instrument);
      if (!select.value && Array.from(select.options).some(function (one) { return one.value === known; })) {
        select.value = known;
      }
    });
  }

  function remembered(kind) {
    try {
      return localStorage.getItem("vaporwright.with." + kind) || "";
    } catch (error) {
      return "";
    }
  }

  document.addEventListener("change", function (event) {
    if (event.target.matches("select[data-instrument]")) {
      try {
        localStorage.setItem("vaporwright.with." + event.target.dataset.instrument, event.target.value);
      } catch (error) {
        return;
      }
    }
  });

  // Fractions and units need letters: the keypad gives way to the whole keyboard, and comes back.
  document.addEventListener("click", function (event) {
    const button = event.target.closest("[data-keys]");
    if (button) {
      const input = document.getElementById(button.dataset.keys);
      input.inputMode = input.inputMode === "text" ? "decimal" : "text";
      input.focus();
    }
  });

  // The trend: each line in its own stroke, with its name and the value under the pointer below.
  const DASHES = [[], [8, 4], [2, 3], [10, 3, 2, 3], [4, 4]];
  async function drawTrends() {
    for (const place of document.querySelectorAll("[data-trend]")) {
      let data;
      try {
        data = await (await fetch(place.dataset.trend)).json();
      } catch (error) {
        continue;
      }
      if (!data.series || !data.series.length || typeof uPlot === "undefined") {
        place.textContent = "No row yet.";
        continue;
      }
      const style = getComputedStyle(document.documentElement);
      const ink = style.getPropertyValue("--ink").trim();
      const soft = style.getPropertyValue("--ink-soft").trim();
      const grid = style.getPropertyValue("--line").trim();
      const unit = data.series[0].unit;
      const axis = { stroke: soft, grid: { stroke: grid, width: 1 }, ticks: { stroke: grid, width: 1 } };
      place.replaceChildren();
      new uPlot(
        {
          width: Math.max(place.clientWidth - 20, 280),
          height: 320,
          scales: { x: { time: false } },
          hooks: { draw: [function (plot) { named(plot, data.series, ink); }] },
          axes: [Object.assign({ label: "min" }, axis), Object.assign({ label: unit }, axis)],
          series: [{ label: "min" }].concat(data.series.map(function (one, index) {
            return { label: one.label, stroke: index ? soft : ink, width: index ? 1.5 : 2.5, dash: DASHES[index % DASHES.length], points: { show: data.minutes.length < 60 }, value: function (_, value) { return value == null ? "" : value.toFixed(1) + " " + one.unit; } };
          })),
        },
        [data.minutes].concat(data.series.map(function (one) { return one.values; })),
        place,
      );
    }
  }

  // Names at the lines themselves, at their right end, so that nobody has to match a key.
  function named(plot, series, ink) {
    const pen = plot.ctx;
    const ratio = window.devicePixelRatio || 1;
    pen.save();
    pen.font = 12 * ratio + "px sans-serif";
    pen.textAlign = "right";
    pen.fillStyle = ink;
    const taken = [];
    series.forEach(function (one) {
      const value = one.values.filter(function (each) { return each !== null; }).pop();
      let at = plot.valToPos(value, "y", true) - 6 * ratio;
      while (taken.some(function (other) { return Math.abs(other - at) < 13 * ratio; })) { at -= 13 * ratio; }
      taken.push(at);
      pen.fillText(one.label, plot.bbox.left + plot.bbox.width - 4 * ratio, at);
    });
    pen.restore();
  }

  ready(document);
  window.addEventListener("load", drawTrends);
})();
