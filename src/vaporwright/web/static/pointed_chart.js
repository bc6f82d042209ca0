// The rate chart: pointing at a curve, or stepping along it, shows what stands there. All values come from the server
// beside the drawing; here they are only chosen and shown.
"use strict";

(function () {
  let season = ""; // the last one chosen: it stays when the chart is drawn anew

  function ready(chart) {
    const curves = JSON.parse(chart.dataset.curves);
    const along = chart.querySelector('input[type="range"]');
    const radios = Array.from(chart.querySelectorAll('input[type="radio"]'));
    const svg = chart.querySelector("svg");
    const pointer = svg.querySelector(".pointer");
    let curve = null;

    function show(place) {
      const step = curve.steps[place];
      along.value = place;
      along.setAttribute("aria-valuetext", step.words);
      chart.querySelectorAll("[data-told]").forEach(function (told) { told.textContent = step[told.dataset.told]; });
      chart.classList.toggle("settles", step.settles);
      pointer.setAttribute("visibility", "visible");
      const line = pointer.querySelector("line");
      line.setAttribute("x1", step.x);
      line.setAttribute("x2", step.x);
      ["tower", "heat"].forEach(function (name) {
        const dot = pointer.querySelector("." + name);
        dot.setAttribute("visibility", step[name + "_y"] === null ? "hidden" : "inherit");
        dot.setAttribute("cx", step.x);
        dot.setAttribute("cy", step[name + "_y"] === null ? 0 : step[name + "_y"]);
      });
    }

    // Where the drawing is wider than its place, the place goes along.
    function follow() {
      const place = svg.parentElement;
      const at = pointer.querySelector("line").getBoundingClientRect().left - place.getBoundingClientRect().left;
      if (place.scrollWidth > place.clientWidth && (at < 40 || at > place.clientWidth - 40)) {
        place.scrollLeft += at - place.clientWidth / 2;
      }
    }

    function nearest(steps, x) {
      let found = 0;
      steps.forEach(function (step, place) {
        if (Math.abs(step.x - x) < Math.abs(steps[found].x - x)) { found = place; }
      });
      return found;
    }

    function take(name) {
      curve = curves.find(function (one) { return one.season === name; }) || curves[0];
      along.max = curve.steps.length - 1;
      radios.forEach(function (radio) { radio.checked = radio.value === curve.season; });
    }

    function away(one, x, y) {
      const step = one.steps[nearest(one.steps, x)];
      return Math.min.apply(null, [step.tower_y, step.heat_y].map(function (at) {
        return at === null ? Infinity : Math.abs(at - y);
      }));
    }

    function pointAt(event) {
      const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(pointer.getScreenCTM().inverse());
      const far = away(curve, at.x, at.y);
      curves.forEach(function (one) {
        if (away(one, at.x, at.y) < far - 4 && away(one, at.x, at.y) <= away(curve, at.x, at.y)) { take(one.season); }
      });
      show(nearest(curve.steps, at.x));
    }

    svg.addEventListener("pointermove", pointAt);
    svg.addEventListener("pointerdown", pointAt);
    along.addEventListener("input", function () {
      show(Number(along.value));
      follow();
    });
    radios.forEach(function (radio) {
      radio.addEventListener("change", function () {
        const x = curve.steps[Number(along.value)].x;
        const settles = curve.steps[Number(along.value)].settles;
        season = radio.value;
        take(season);
        show(settles ? curve.operating : nearest(curve.steps, x));
        follow();
      });
    });
    chart.querySelector(".to-operating").addEventListener("click", function () {
      show(curve.operating);
      follow();
    });

    take(season || chart.dataset.governing);
    show(curve.operating);
    follow();
  }

  window.vaporwright = window.vaporwright || {};
  window.vaporwright.chartReady = ready;
  document.querySelectorAll(".pointed").forEach(ready);
})();
