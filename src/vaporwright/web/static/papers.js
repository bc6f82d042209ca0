// Links to papers that take a moment to write: how far one is stands beside the link until it is there.
"use strict";

(function () {
  const EVERY_ms = 400;

  document.addEventListener("click", function (event) {
    const link = event.target.closest("a[data-paper]");
    if (!link || event.ctrlKey || event.metaKey || event.shiftKey || event.button) { return; }
    event.preventDefault();
    if (link.getAttribute("aria-disabled") === "true") { return; }
    const place = document.createElement("div");
    place.className = "working no-print";
    const said = document.createElement("p");
    said.setAttribute("role", "status");
    const part = document.createElement("div");
    place.append(said, part);
    (link.closest(".buttons") || link).after(place);
    said.textContent = "Writing: " + link.textContent.trim() + ".";
    link.setAttribute("aria-disabled", "true");
    ask(link.getAttribute("href"), part, function (where) {
      link.removeAttribute("aria-disabled");
      place.remove();
      if (where) {
        const kept = document.createElement("a"); // not the page goes there: what is typed in it stays
        kept.href = where;
        kept.download = "";
        kept.click();
      } else {
        location.assign(link.getAttribute("href")); // it says what is wrong
      }
    });
  });

  async function ask(address, part, done) {
    try {
      const answer = await fetch(address + (address.includes("?") ? "&" : "?") + "how_far=yes", {
        headers: { "HX-Request": "true", "HX-Request-Type": "partial" },
      });
      if (answer.status === 200) {
        part.innerHTML = await answer.text();
        window.setTimeout(function () { ask(address, part, done); }, EVERY_ms);
        return;
      }
      done(answer.headers.get("X-Go-To"));
    } catch (error) {
      done("");
    }
  }
})();
