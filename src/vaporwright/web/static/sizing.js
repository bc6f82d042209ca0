// The sizing page: defaults against typed values, the chart behind the result, explanations, the list to copy.
"use strict";
/* global htmx */

(function () {
  const form = document.getElementById("enquiry");
  const dialog = document.getElementById("why");
  const PICTURE_AFTER_ms = 500; // the result comes first, its chart when the typing rests
  let pictureTimer = 0;

  function markTyped(field) {
    const boxes = field.querySelectorAll('input[type="checkbox"]');
    const typed = boxes.length
      ? Array.from(boxes).some(function (box) { return box.checked; })
      : field.querySelector("input, select, textarea").value !== "";
    field.classList.toggle("default", !typed);
  }

  function showForHeat() {
    const heat = document.getElementById("field-choices-heat_source");
    const kind = heat.value || heat.options[0].text.split(" ")[0];
    form.querySelectorAll("[data-only-for]").forEach(function (field) {
      field.hidden = field.dataset.onlyFor !== kind && field.classList.contains("default");
    });
  }

  function markProblem(place) {
    const id = place.id.replace(/-problem$/, "");
    const field = place.closest(".field");
    const wrong = place.querySelector(".error") !== null;
    field.classList.toggle("wrong", wrong);
    const control = document.getElementById(id);
    if (wrong) { control.setAttribute("aria-invalid", "true"); } else { control.removeAttribute("aria-invalid"); }
  }

  function renewPicture() {
    const live = document.getElementById("live");
    const figure = document.getElementById("picture");
    const key = live ? live.dataset.key : "";
    if (!key || !figure || figure.dataset.key === key) { return; }
    window.clearTimeout(pictureTimer);
    figure.classList.add("picture-old");
    pictureTimer = window.setTimeout(function () {
      fetch(figure.dataset.source + "?of=" + encodeURIComponent(key), {
        headers: { "HX-Request": "true", "HX-Request-Type": "partial" },
      }).then(function (answer) { return answer.ok ? answer.text() : ""; }).then(function (text) {
        const live = document.getElementById("live");
        if (!text || !live || live.dataset.key !== key) { return; }
        figure.querySelector(".picture-place").replaceChildren(document.createRange().createContextualFragment(text));
        figure.dataset.key = key;
        figure.classList.remove("picture-old");
        window.vaporwright.chartReady(figure.querySelector(".pointed"));
      }).catch(function () { /* the line is lost: the picture stays marked as old */ });
    }, figure.dataset.key ? PICTURE_AFTER_ms : 0);
  }

  function markStale() {
    const live = document.getElementById("live");
    const note = document.querySelector("#full .stale-note");
    if (note && form && form.dataset.changed) { note.hidden = !live || live.dataset.key === note.parentElement.dataset.key; }
  }

  document.addEventListener("htmx:after:swap", function () {
    if (form) {
      form.querySelectorAll(".problem").forEach(markProblem);
      form.querySelectorAll("[data-follows]").forEach(function (shown) {
        document.getElementById(shown.dataset.follows).placeholder = shown.textContent;
      });
    }
    const full = document.getElementById("full");
    if (form && full && full.dataset.renews) { // the choice was made again: its unit is in hand now
      document.getElementById("hand").value = full.dataset.renews;
      delete full.dataset.renews;
      form.dispatchEvent(new Event("change"));
    }
    renewPicture();
    markStale();
    showCopying();
  });

  // How a number came about is shown beside it, not instead of the page.
  document.addEventListener("click", function (event) {
    const link = event.target.closest("a.explained");
    if (link && dialog && !event.ctrlKey && !event.metaKey && !event.shiftKey) {
      event.preventDefault();
      htmx.ajax("GET", link.getAttribute("href"), { target: "#why-body", swap: "innerHTML" }).then(function () {
        if (!dialog.open) { dialog.showModal(); }
        dialog.scrollTop = 0;
      });
    }
    if (event.target === dialog) { dialog.close(); }
  });

  function showCopying() {
    document.querySelectorAll("[data-copies]").forEach(function (button) {
      if (!navigator.clipboard) { return; }
      button.hidden = false;
      button.onclick = function () {
        fetch(button.dataset.copies, { credentials: "same-origin" })
          .then(function (answer) { return answer.text(); })
          .then(function (text) { return navigator.clipboard.writeText(text); })
          .then(function () { button.textContent = "Copied"; })
          .catch(function () { button.textContent = "Not copied: download it"; });
      };
    });
  }
  showCopying();
  renewPicture();

  if (!form) { return; }
  form.addEventListener("input", function (event) {
    const field = event.target.closest(".field");
    if (field && event.target.name !== "why" && event.target.name !== "your_name") {
      markTyped(field);
      form.dataset.changed = "yes";
    }
  });
  form.addEventListener("change", showForHeat);
  document.addEventListener("submit", function () { delete form.dataset.changed; });
  window.addEventListener("beforeunload", function (event) {
    if (form.dataset.changed) { event.preventDefault(); }
  });

  // Paper has what is known as it stands in the form now.
  window.addEventListener("beforeprint", function () {
    const printed = document.getElementById("known-printed");
    printed.querySelectorAll("h3, dl").forEach(function (old) { old.remove(); });
    form.querySelectorAll("details.group").forEach(function (group) {
      const list = document.createElement("dl");
      list.className = "facts";
      group.querySelectorAll(".field:not(.default)").forEach(function (field) {
        const boxes = Array.from(field.querySelectorAll('input[type="checkbox"]:checked'), function (box) { return box.value; });
        const control = field.querySelector('input[type="text"], select, textarea');
        add(list, "dt", field.querySelector("label, legend").firstChild.textContent.trim());
        add(list, "dd", control ? control.value : boxes.join(", "));
      });
      if (list.firstChild) {
        add(printed, "h3", group.querySelector("summary > span").textContent);
        printed.append(list);
      }
    });
  });

  function add(parent, kind, text) {
    const made = document.createElement(kind);
    made.textContent = text;
    parent.append(made);
  }

  // A link to a field opens the group in which it lies.
  document.addEventListener("click", function (event) {
    const link = event.target.closest('a[href^="#field-"]');
    const field = link ? document.getElementById(link.hash.slice(1)) : null;
    if (field) {
      event.preventDefault();
      field.closest("details").open = true;
      field.focus();
    }
  });
})();
