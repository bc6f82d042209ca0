// Asks the worker to keep this page, as it stands, for a tablet that loads it again without a line; says when it is kept.
"use strict";

(function () {
  const mark = document.querySelector("[data-floor]");
  if (!mark || !mark.dataset.serviceWorker || !("serviceWorker" in navigator)) {
    return;
  }
  const PATIENCE_ms = 2000; // so that several changes at once are kept once
  let timer = 0;

  async function keep() {
    const ready = await navigator.serviceWorker.ready;
    const channel = new MessageChannel();
    channel.port1.onmessage = function (event) { said(event.data.kept); };
    ready.active.postMessage({ keep: location.href.split("#")[0] }, [channel.port2]);
  }

  function said(kept) {
    const words = document.getElementById("offline-words");
    if (!kept || window.vaporwright.pageIsKept) {
      return;
    }
    window.vaporwright.pageIsKept = true;
    if (words) {
      words.textContent = "Without a line to the server: what you enter on this page, photographs too, is kept in this browser and sent once when the line is back. This page, and every other of this test that was opened here, can be loaded again without a line, until you sign out.";
    }
  }

  document.addEventListener("vaporwright:refreshed", function () {
    clearTimeout(timer);
    timer = setTimeout(keep, PATIENCE_ms);
  });
  navigator.serviceWorker.addEventListener("controllerchange", keep); // a new version keeps nothing of the old one
  navigator.serviceWorker.register("/service-worker.js").then(keep).catch(function () {}); // a certificate that is not trusted
})();
