// "Take this value": what the panel read goes into the record, and whatever else is being typed on the page stays.
"use strict";

(function () {
  document.addEventListener("submit", async function (event) {
    const form = event.target;
    if (!form.matches("form[data-take]")) {
      return;
    }
    event.preventDefault();
    const button = form.querySelector("button");
    button.disabled = true;
    try {
      const answer = await fetch(form.action, {
        method: "POST",
        body: new FormData(form),
        headers: { "HX-Request": "true", "HX-Request-Type": "partial" },
        signal: AbortSignal.timeout(15000),
      });
      const where = answer.headers.get("HX-Redirect");
      if (where) {
        location.assign(where);
      } else if (answer.ok) {
        document.dispatchEvent(new CustomEvent("vaporwright:entered", { detail: { entry: { body: { kind: "panel" } } } }));
      } else {
        told(await answer.text());
      }
    } catch (error) {
      window.vaporwright.say("The server cannot be reached: the value is not taken. Take it again when the line is back.");
    }
    button.disabled = false;
  });

  // A refusal as the server has made it, where messages stand.
  function told(text) {
    const place = document.getElementById("messages");
    place.replaceChildren(...new DOMParser().parseFromString(text, "text/html").body.childNodes);
    place.scrollIntoView({ block: "nearest" });
  }
})();
