"use strict";
// The microphone to numbered pieces on the phone. A piece is half a second; number 0 is the head of the WAV file, which
// is known last. Nothing here needs a network.
window.Recorder = (function () {
  const RATE = 16000;
  const PIECE = 8000; // samples
  const SILENT_MS = 2500; // without a block for so long the microphone is taken for lost
  const AGAIN_MS = 2000;

  let recording = null; // row of the shelf
  let listener = function () {};
  let wanted = false; // the person wants it to record
  let state = "ready";
  let resting = false; // silence is stored; what is heard goes to the live ear only
  let sound = null; // { stream, context, node }
  let filled = new Int16Array(PIECE);
  let heard = new Int16Array(PIECE);
  let count = 0;
  let lastBlock = 0;
  let writing = Promise.resolve();
  let lock = null;

  function hex(buffer) {
    return Array.from(new Uint8Array(buffer), function (byte) { return byte.toString(16).padStart(2, "0"); }).join("");
  }

  function become(next) {
    if (state === next) { return; }
    state = next;
    listener("state", next);
  }

  function head(samples) {
    const view = new DataView(new ArrayBuffer(44));
    const letters = function (at, text) { for (let n = 0; n < 4; n += 1) { view.setUint8(at + n, text.charCodeAt(n)); } };
    letters(0, "RIFF"); view.setUint32(4, 36 + 2 * samples, true); letters(8, "WAVE");
    letters(12, "fmt "); view.setUint32(16, 16, true); view.setUint16(20, 1, true); view.setUint16(22, 1, true);
    view.setUint32(24, RATE, true); view.setUint32(28, 2 * RATE, true); view.setUint16(32, 2, true);
    view.setUint16(34, 16, true); letters(36, "data"); view.setUint32(40, 2 * samples, true);
    return view.buffer;
  }

  function take(block) {
    lastBlock = performance.now();
    if (state !== "recording" || block.length === 0) { return; }
    document.dispatchEvent(new CustomEvent("sound", { detail: block }));
    for (let from = 0; from < block.length;) {
      const some = Math.min(PIECE - count, block.length - from);
      if (!resting) { filled.set(block.subarray(from, from + some), count); }
      heard.set(block.subarray(from, from + some), count);
      count += some;
      from += some;
      if (count === PIECE) { flush(); }
    }
  }

  // What is filled becomes a piece. Pieces are put on the shelf one after the other, in order.
  function flush() {
    if (count === 0) { return writing; }
    const data = filled.slice(0, count).buffer;
    const ear = resting ? heard.slice(0, count).buffer : null;
    filled = new Int16Array(PIECE);
    heard = new Int16Array(PIECE);
    count = 0;
    const row = recording;
    writing = writing.then(function () { return store(row, data, ear); });
    return writing;
  }

  async function store(row, data, ear) {
    try {
      const sha256 = hex(await crypto.subtle.digest("SHA-256", data));
      const number = row.pieces + 1;
      const next = Object.assign({}, row, { pieces: number, samples: row.samples + data.byteLength / 2, edge: Date.now() });
      await Shelf.putPiece(next, { recording: row.id, number: number, data: data, sha256: sha256 });
      row.pieces = next.pieces;
      row.samples = next.samples;
      row.edge = next.edge;
      listener("piece", { recording: row, number: number, ear: ear });
    } catch (error) {
      listener("fault", error);
      wanted = false;
      shut();
      become("full");
    }
  }

  async function open() {
    const wish = { echoCancellation: true, noiseSuppression: false, autoGainControl: false, channelCount: 1 };
    const stream = await navigator.mediaDevices.getUserMedia({ audio: wish });
    let context = new AudioContext({ sampleRate: RATE, latencyHint: "playback" });
    let source;
    try {
      source = context.createMediaStreamSource(stream);
    } catch (error) { // a browser that does not change rates on its own: the tap does it
      context.close();
      context = new AudioContext({ latencyHint: "playback" });
      source = context.createMediaStreamSource(stream);
    }
    await context.audioWorklet.addModule(document.body.dataset.tap);
    const node = new AudioWorkletNode(context, "tap", { numberOfInputs: 1, numberOfOutputs: 1, channelCount: 1, channelCountMode: "explicit" });
    const made = { stream: stream, context: context, node: node, ended: null };
    node.port.onmessage = function (event) {
      if (event.data === "end") { if (made.ended) { made.ended(); } } else { take(event.data); }
    };
    source.connect(node);
    node.connect(context.destination); // gives silence; a node that leads nowhere may not be run
    const track = stream.getAudioTracks()[0];
    track.onended = lost;
    track.onmute = lost;
    context.onstatechange = function () { if (context.state !== "running") { lost(); } };
    if (context.state !== "running") { await Promise.race([context.resume(), wait(1500)]); }
    if (context.state !== "running") { close(made); throw new DOMException("needs a touch", "NotAllowedError"); }
    return made;
  }

  function wait(ms) { return new Promise(function (resolve) { window.setTimeout(resolve, ms); }); }

  function close(one) {
    one.context.onstatechange = null;
    for (const track of one.stream.getTracks()) { track.onended = null; track.onmute = null; track.stop(); }
    one.context.close().catch(function () {});
  }

  function shut() { if (sound !== null) { close(sound); sound = null; } release(); }

  // The microphone went away: a call, another program, a rule of the phone. It is asked for until it is back.
  function lost() {
    if (!wanted || state !== "recording") { return; }
    flush();
    if (sound !== null) { close(sound); sound = null; }
    become("taken");
    window.setTimeout(again, AGAIN_MS);
  }

  async function again() {
    if (!wanted || state !== "taken") { return; }
    try { await run(); } catch (error) { if (wanted) { become("taken"); window.setTimeout(again, AGAIN_MS); } }
  }

  async function run() {
    const stopped = recording.edge;
    sound = await open();
    if (!wanted) { shut(); become("paused"); return; }
    if (recording.samples > 0) { // what lies between is no part of the recording; that it is lacking is kept
      recording.breaks.push({ at: recording.samples / RATE, seconds: Math.max(0, (Date.now() - stopped) / 1000) });
    }
    recording.running = true;
    lastBlock = performance.now();
    become("recording");
    keepAwake();
  }

  async function keepAwake() {
    if (!("wakeLock" in navigator) || document.visibilityState !== "visible") { return; }
    try { lock = await navigator.wakeLock.request("screen"); } catch (error) { lock = null; }
  }

  function release() { if (lock !== null) { lock.release().catch(function () {}); lock = null; } }

  async function start() {
    if (wanted || recording === null) { return; }
    wanted = true;
    become("starting");
    try {
      await run();
    } catch (error) {
      wanted = false;
      become(error.name === "NotReadableError" ? "taken" : "blocked");
      throw error;
    }
  }

  // Ends with the last sample that the microphone gave.
  async function pause(next) {
    wanted = false;
    recording.running = false;
    Shelf.merge("recordings", recording.id, { running: false }).catch(function () {});
    const one = sound;
    if (one !== null && state === "recording") {
      const ended = new Promise(function (resolve) { one.ended = resolve; });
      one.node.port.postMessage("end");
      await Promise.race([ended, wait(500)]);
    }
    shut();
    become(next || "paused");
    await flush();
  }

  async function finish() {
    await pause("finished");
    if (recording.samples === 0) { return; }
    const data = head(recording.samples);
    const sha256 = hex(await crypto.subtle.digest("SHA-256", data));
    recording.state = "closing";
    await Shelf.putPiece(Object.assign({}, recording), { recording: recording.id, number: 0, data: data, sha256: sha256 });
    listener("piece", { recording: recording, number: 0, ear: null });
  }

  window.setInterval(function () {
    if (state === "recording" && performance.now() - lastBlock > SILENT_MS) { lost(); }
  }, 1000);
  document.addEventListener("visibilitychange", function () {
    if (state === "recording") { if (document.visibilityState === "visible") { keepAwake(); } else { flush(); } }
    if (state === "taken") { again(); }
  });
  window.addEventListener("pagehide", function () { if (state === "recording") { flush(); } });

  return {
    use: function (row, tell) { recording = row; listener = tell; resting = false; state = ""; become(row.samples > 0 ? "paused" : "ready"); },
    state: function () { return state; },
    recording: function () { return recording; },
    seconds: function () { return recording === null ? 0 : (recording.samples + count) / RATE; },
    rest: function (on) { if (resting !== on) { flush(); resting = on; } },
    resting: function () { return resting; },
    start: start,
    pause: pause,
    finish: finish,
  };
}());
