"use strict";
// What is kept on the phone: recordings and their numbered pieces, photos, jobs, a few notes. A piece counts as kept
// when its transaction was put on disk.
window.Shelf = (function () {
  const VERSION = 1;
  let opened = null;

  function open() {
    if (opened === null) {
      opened = new Promise(function (resolve, reject) {
        const request = indexedDB.open("voicereport", VERSION);
        request.onupgradeneeded = function () {
          const base = request.result;
          base.createObjectStore("recordings", { keyPath: "id" });
          base.createObjectStore("pieces", { keyPath: ["recording", "number"] });
          base.createObjectStore("photos", { keyPath: "id" });
          base.createObjectStore("jobs", { keyPath: "key" });
          base.createObjectStore("notes", { keyPath: "name" });
        };
        request.onsuccess = function () { resolve(request.result); };
        request.onerror = function () { opened = null; reject(request.error); };
      });
    }
    return opened;
  }

  async function write(stores, work, durability) {
    const base = await open();
    return new Promise(function (resolve, reject) {
      const deal = base.transaction(stores, "readwrite", { durability: durability || "strict" });
      deal.oncomplete = function () { resolve(); };
      deal.onerror = deal.onabort = function () { reject(deal.error || new Error("not stored")); };
      work(deal);
    });
  }

  async function read(store, ask) {
    const base = await open();
    return new Promise(function (resolve, reject) {
      const request = ask(base.transaction(store, "readonly").objectStore(store));
      request.onsuccess = function () { resolve(request.result); };
      request.onerror = function () { reject(request.error); };
    });
  }

  function put(store, value) { return write([store], function (deal) { deal.objectStore(store).put(value); }); }

  // The piece and the count of its recording together: there is never a piece that is not counted.
  function putPiece(recording, piece) {
    return write(["recordings", "pieces"], function (deal) {
      deal.objectStore("pieces").put(piece);
      deal.objectStore("recordings").put(recording);
    });
  }

  // Some fields of a row, the others as they are by then; null where the row is gone.
  function merge(store, key, fields) {
    return write([store], function (deal) {
      const place = deal.objectStore(store);
      const request = place.get(key);
      request.onsuccess = function () { if (request.result) { place.put(Object.assign(request.result, fields)); } };
    }, "relaxed");
  }

  // The pieces go only here: once the shop has closed the recording and said so.
  function sealed(recording) {
    return write(["recordings", "pieces"], function (deal) {
      deal.objectStore("recordings").put(recording);
      deal.objectStore("pieces").delete(IDBKeyRange.bound([recording.id, 0], [recording.id, Infinity]));
    });
  }

  return {
    put: put,
    putPiece: putPiece,
    sealed: sealed,
    merge: merge,
    drop: function (store, key) { return write([store], function (deal) { deal.objectStore(store).delete(key); }); },
    get: function (store, key) { return read(store, function (s) { return s.get(key); }); },
    all: function (store) { return read(store, function (s) { return s.getAll(); }); },
    piece: function (recording, number) {
      return read("pieces", function (s) { return s.get([recording, number]); });
    },
    note: async function (name) { const found = await read("notes", function (s) { return s.get(name); }); return found && found.value; },
    keepNote: function (name, value) { return put("notes", { name: name, value: value }); },
  };
}());
