"use strict";
// The line to the shop: pieces go out in order, a few at a time, and count as there when the shop says so. A line that
// breaks is taken up again; what the shop has, it says itself.
window.Line = (function () {
  const AHEAD = 12; // pieces under way
  const STALE_MS = 8000; // without an answer for so long the line is taken for dead
  const WAITS_MS = [300, 1000, 2000, 4000];

  let socket = null;
  let tries = 0;
  let timer = null;
  let tell = function () {};
  let answered = 0; // when the shop last said something
  let contact = "off";
  let hearing = Promise.resolve();
  const sendings = new Map(); // by recording: { row, open, next, under, ears, closed }

  function say(state, problem) {
    if (contact !== state || problem) { contact = state; tell("contact", { state: state, problem: problem || "" }); }
  }

  function connect() {
    window.clearTimeout(timer);
    timer = null;
    if (socket !== null || sendings.size === 0 || navigator.onLine === false) { return; }
    const scheme = window.location.protocol === "https:" ? "wss:" : "ws:";
    const one = new WebSocket(scheme + "//" + window.location.host + "/onsite/line");
    one.binaryType = "arraybuffer";
    socket = one;
    answered = Date.now();
    one.onopen = function () {
      if (socket !== one) { return; }
      answered = Date.now();
      for (const sending of sendings.values()) { hello(sending); }
    };
    one.onmessage = function (event) {
      if (socket !== one) { return; }
      answered = Date.now();
      tries = 0;
      const message = JSON.parse(event.data);
      hearing = hearing.then(function () { return hear(message); }).catch(function () { drop(); }); // in order
    };
    one.onclose = function (event) { if (socket === one) { down(event.code); } };
    one.onerror = function () {};
  }

  function down(code) {
    socket = null;
    for (const sending of sendings.values()) { sending.open = false; sending.under.clear(); sending.closed = false; }
    say(code === 4401 ? "signin" : "off");
    const wait = code === 4401 ? 15000 : WAITS_MS[Math.min(tries, WAITS_MS.length - 1)];
    tries += 1;
    window.clearTimeout(timer);
    timer = window.setTimeout(connect, wait);
  }

  function drop() {
    if (socket === null) { return; }
    const one = socket;
    one.onclose = one.onmessage = null;
    one.close();
    down(0);
  }

  function send(message) { if (socket !== null && socket.readyState === 1) { socket.send(JSON.stringify(message)); } }

  function hello(sending) {
    const row = sending.row;
    send({ do: "open", recording: row.id, name: row.name, job: row.job, live: sending.live });
  }

  async function hear(message) {
    const sending = sendings.get(message.recording);
    if (message.problem && sending !== undefined) { refused(sending, message); return; }
    if (message.opened) {
      say("on");
      if (sending === undefined) { return; }
      const row = sending.row;
      row.job = Object.assign({}, row.job, message.job);
      tell("job", { row: row });
      if (message.sealed) { await sealed(sending, message.sealed); return; }
      sending.open = true;
      sending.has = new Set();
      for (const span of message.have) { for (let n = span[0]; n <= span[1]; n += 1) { sending.has.add(n); } }
      let at = 0;
      while (sending.has.has(at + 1)) { at += 1; }
      await mark(sending, at);
      sending.next = at + 1;
      pump(sending);
    } else if (message.kept !== undefined && sending !== undefined) {
      sending.under.delete(message.kept);
      sending.has.add(message.kept);
      let at = sending.row.shop;
      while (sending.has.has(at + 1)) { at += 1; sending.has.delete(at - 1); }
      if (at !== sending.row.shop) { await mark(sending, at); }
      pump(sending);
    } else if (message.sealed && sending !== undefined) {
      await sealed(sending, message.sealed);
    } else if (message.live) {
      tell("live", message);
    }
  }

  // How much of the recording, from its start on, is at the shop.
  async function mark(sending, at) {
    const row = sending.row;
    if (at === row.shop) { return; }
    row.shop = at;
    // every piece but those before a pause is as long as the others; the shelf knows
    row.shopSamples = at >= row.pieces ? row.samples : await lengthTo(sending, at);
    tell("safe", { row: row });
    if (!sending.marking) {
      sending.marking = true;
      window.setTimeout(function () { sending.marking = false; keep(row); }, 1000);
    }
  }

  function keep(row) {
    Shelf.merge("recordings", row.id, { shop: row.shop, shopSamples: row.shopSamples, job: row.job }).catch(function () {});
  }

  async function lengthTo(sending, at) {
    let from = sending.measured;
    if (from.at > at) { from = { at: 0, samples: 0 }; }
    let samples = from.samples;
    for (let n = from.at + 1; n <= at; n += 1) {
      const piece = await Shelf.piece(sending.row.id, n);
      samples += piece ? piece.data.byteLength / 2 : 0;
    }
    sending.measured = { at: at, samples: samples };
    return samples;
  }

  async function pump(sending) {
    if (!sending.open || sending.pumping) { return; }
    sending.pumping = true;
    try {
      while (sending.open && sending.under.size < AHEAD) {
        const number = following(sending);
        if (number === null) { break; }
        sending.under.add(number);
        if (number > 0) { sending.next = number + 1; }
        const piece = await Shelf.piece(sending.row.id, number);
        if (!sending.open) { break; }
        if (piece === undefined) { sending.under.delete(number); break; }
        out(sending, piece);
      }
    } finally { sending.pumping = false; }
    close(sending);
  }

  function following(sending) {
    const row = sending.row;
    while (sending.next <= row.pieces && sending.has.has(sending.next)) { sending.next += 1; }
    if (sending.next <= row.pieces) { return sending.next; }
    const last = row.state === "closing" && row.shop === row.pieces && !sending.has.has(0) && !sending.under.has(0);
    return last ? 0 : null;
  }

  function out(sending, piece) {
    const ear = sending.ears.get(piece.number);
    sending.ears.delete(piece.number);
    const top = new TextEncoder().encode(JSON.stringify({
      recording: piece.recording, number: piece.number, sha256: piece.sha256, bytes: piece.data.byteLength,
    }));
    const frame = new Uint8Array(4 + top.length + piece.data.byteLength + (ear ? ear.byteLength : 0));
    new DataView(frame.buffer).setUint32(0, top.length);
    frame.set(top, 4);
    frame.set(new Uint8Array(piece.data), 4 + top.length);
    if (ear) { frame.set(new Uint8Array(ear), 4 + top.length + piece.data.byteLength); }
    socket.send(frame);
  }

  function close(sending) {
    const row = sending.row;
    if (row.state !== "closing" || !sending.open || sending.closed || row.shop !== row.pieces || !sending.has.has(0)) { return; }
    sending.closed = true;
    send({ do: "close", recording: row.id, pieces: row.pieces + 1, breaks: row.breaks });
  }

  async function sealed(sending, what) {
    const row = sending.row;
    sending.open = false;
    row.state = "sealed";
    row.shop = row.pieces;
    row.shopSamples = row.samples;
    row.sha256 = what.sha256;
    await Shelf.sealed(Object.assign({}, row));
    sendings.delete(row.id);
    tell("safe", { row: row });
    tell("sealed", { row: row });
  }

  function refused(sending, message) {
    if (message.again) { // it did not arrive as it was sent
      sending.under.delete(message.number);
      sending.next = Math.min(sending.next, Math.max(1, message.number));
      window.setTimeout(function () { pump(sending); }, 1000);
      return;
    }
    sending.open = false;
    say("refused", message.problem);
  }

  window.setInterval(function () {
    if (socket === null) { return; }
    let owed = socket.readyState === 0;
    for (const sending of sendings.values()) { owed = owed || sending.under.size > 0 || (sending.closed && sending.open); }
    if (owed && Date.now() - answered > STALE_MS) { drop(); }
    if (!owed) { send({ do: "there" }); if (Date.now() - answered > 3 * STALE_MS) { drop(); } }
  }, 2000);
  window.addEventListener("offline", drop);
  window.addEventListener("online", function () { tries = 0; connect(); });
  document.addEventListener("visibilitychange", function () { if (document.visibilityState === "visible") { tries = 0; connect(); } });

  return {
    begin: function (listener) { tell = listener; },
    add: function (row, live) {
      const known = sendings.get(row.id);
      if (known !== undefined) {
        if (live && !known.live) { known.live = true; if (known.open) { known.open = false; known.under.clear(); hello(known); } }
        return;
      }
      sendings.set(row.id, { row: row, live: Boolean(live), open: false, next: 1, under: new Set(), has: new Set(), ears: new Map(), closed: false, measured: { at: row.shop, samples: row.shopSamples } });
      if (socket === null) { tries = 0; connect(); } else if (socket.readyState === 1) { hello(sendings.get(row.id)); }
    },
    remove: function (row) { sendings.delete(row.id); },
    piece: function (what) {
      const sending = sendings.get(what.recording.id);
      if (sending === undefined) { return; }
      if (what.ear) { sending.ears.set(what.number, what.ear); if (sending.ears.size > 40) { sending.ears.delete(sending.ears.keys().next().value); } }
      pump(sending);
    },
    send: send,
    state: function () { return contact; },
  };
}());
