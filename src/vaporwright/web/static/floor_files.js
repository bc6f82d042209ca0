// Files that wait for the line: in IndexedDB, under an id of their own; in memory where the browser keeps nothing.
"use strict";

(function () {
  const NAME = "vaporwright-floor";
  const STORE = "files";
  const LONG_ms = 86400000; // after which a file that nothing waits for is forgotten: its entry was never kept
  const inMemory = new Map();
  let opened = null;

  function open() {
    opened = opened || new Promise(function (resolve, reject) {
      const asked = indexedDB.open(NAME, 1);
      asked.onupgradeneeded = function () { asked.result.createObjectStore(STORE, { keyPath: "id" }); };
      asked.onsuccess = function () { resolve(asked.result); };
      asked.onerror = function () { reject(asked.error); };
    }).catch(function (error) {
      opened = null;
      throw error;
    });
    return opened;
  }

  async function done(mode, work) {
    const database = await open();
    return new Promise(function (resolve, reject) {
      const deal = database.transaction(STORE, mode, { durability: "strict" });
      const asked = work(deal.objectStore(STORE));
      deal.oncomplete = function () { resolve(asked.result); };
      deal.onabort = deal.onerror = function () { reject(deal.error || asked.error); };
    });
  }

  // True: kept over a reload. False: kept as long as this page lives. Raises QuotaExceededError where there is no room.
  async function put(id, file) {
    const content = new Blob([await file.arrayBuffer()], { type: file.type }); // what a camera left may be gone later
    try {
      await done("readwrite", function (store) { return store.put({ id: id, content: content, at: Date.now() }); });
      return true;
    } catch (error) {
      if (error && error.name === "QuotaExceededError") {
        throw error;
      }
      inMemory.set(id, content);
      return false;
    }
  }

  async function get(id) {
    if (inMemory.has(id)) {
      return inMemory.get(id);
    }
    try {
      const found = await done("readonly", function (store) { return store.get(id); });
      return found ? found.content : null;
    } catch (error) {
      return null;
    }
  }

  async function drop(id) {
    inMemory.delete(id);
    try {
      await done("readwrite", function (store) { return store.delete(id); });
    } catch (error) {
      return; // swept later
    }
  }

  async function sweep(wanted) {
    try {
      const all = await done("readonly", function (store) { return store.getAll(); });
      all.filter(function (one) { return !wanted.has(one.id) && Date.now() - one.at > LONG_ms; }).forEach(function (one) { drop(one.id); });
    } catch (error) {
      return;
    }
  }

  window.vaporwright.files = { put: put, get: get, drop: drop, sweep: sweep };
})();
