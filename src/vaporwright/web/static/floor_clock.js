// How long ago something was typed, whatever hour this tablet believes it to be.
//
// Three clocks: the page's own, which nobody sets, but which begins anew with each page and may stand still while a tablet
// sleeps; the tablet's, which goes on but may be wrong or be set; and the server's, seen in the Date of its answers.
"use strict";

(function () {
  const KEY = "vaporwright.clock";
  const CLOSE_ms = 3000; // within which two clocks agree: the server's Date has whole seconds
  const HALF_SECOND_ms = 500; // Date is cut off, not rounded
  const FRESH_ms = 10000;
  const life = Array.from(crypto.getRandomValues(new Uint32Array(3))).join("-"); // of this page
  let seen = read(); // {server, wall, page, life}: the last answer of the server, by each clock
  let kept_ms = 0;

  function read() {
    try {
      return JSON.parse(localStorage.getItem(KEY));
    } catch (error) {
      return null;
    }
  }

  function saw(answer) {
    const server = Date.parse(answer.headers.get("Date") || "");
    if (Number.isNaN(server)) {
      return;
    }
    const before = seen;
    seen = { server: server + HALF_SECOND_ms, wall: Date.now(), page: performance.now(), life: life };
    if (!before || before.life !== life || Math.abs(ahead(seen) - ahead(before)) > CLOSE_ms || seen.page - kept_ms > 60000) {
      kept_ms = seen.page;
      try {
        localStorage.setItem(KEY, JSON.stringify(seen));
      } catch (error) {
        return; // then it is known as long as this page lives
      }
    }
  }

  function ahead(one) {
    return one ? one.server - one.wall : 0;
  }

  function isFresh() {
    return Boolean(seen) && seen.life === life && performance.now() - seen.page < FRESH_ms;
  }

  // To be kept with what is typed.
  function now() {
    return { wall: Date.now(), page: performance.now(), life: life, seen: seen };
  }

  // Seconds since. By the page's clock where this page has lived through; else by the tablet's, put right by the server's
  // time as last seen then and now.
  function age_s(then) {
    const wall_ms = Date.now() + ahead(seen) - (then.wall + ahead(then.seen || seen));
    if (then.life !== life) {
      return wall_ms / 1000;
    }
    const page_ms = performance.now() - then.page;
    return (slept(then, page_ms, wall_ms) ? wall_ms : page_ms) / 1000;
  }

  // Whether the page's clock stood still meanwhile: the server's went further. It cannot have gone too fast.
  function slept(then, page_ms, wall_ms) {
    if (wall_ms < page_ms) {
      return false;
    }
    if (then.seen && then.seen.life === life && seen.life === life) {
      return seen.server - then.seen.server - (seen.page - then.seen.page) > CLOSE_ms;
    }
    return wall_ms - page_ms > CLOSE_ms;
  }

  // The hour here, as the server has it: ISO 8601 with the offset of this place.
  function hour() {
    const right = new Date(Date.now() + ahead(seen));
    const off = -right.getTimezoneOffset();
    const two = function (value) { return String(Math.floor(Math.abs(value))).padStart(2, "0"); };
    const local = new Date(right.getTime() + off * 60000).toISOString().slice(0, 19);
    return local + (off < 0 ? "-" : "+") + two(off / 60) + ":" + two(off % 60);
  }

  // When something was typed, as people read it.
  function shown(then) {
    const right = new Date(Date.now() + ahead(seen) - 1000 * age_s(then));
    const two = function (value) { return String(value).padStart(2, "0"); };
    const today = new Date(Date.now() + ahead(seen)).toDateString() === right.toDateString();
    const day = right.getFullYear() + "-" + two(right.getMonth() + 1) + "-" + two(right.getDate()) + " ";
    return (today ? "" : day) + two(right.getHours()) + ":" + two(right.getMinutes());
  }

  window.vaporwright.clock = { saw: saw, isFresh: isFresh, now: now, age_s: age_s, hour: hour, shown: shown };
})();
