"use strict";
// What the page shows, and what a touch does.
(function () {
  const words = JSON.parse(document.body.dataset.words);
  const RATE = 16000;
  const FRESH_S = 15; // what was said longer ago is shown, and not spoken
  const byId = function (id) { return document.getElementById(id); };
  let known = { login: "", jobs: [], trades: [] };
  let rows = []; // recordings of this person that are not closed yet
  let others = false; // recordings of somebody else are on this phone
  let current = null; // the recording that the page is about
  let contact = { state: "off", problem: "" };
  let live = null; // the shop's last word on what it understood
  let aloud = true;
  let armed = null; // the second touch of Finish
  let peak = 0;

  function fill(text, values) { return text.replace(/\{(\w+)\}/g, function (all, name) { return name in values ? values[name] : all; }); }
  function clock(seconds) { const s = Math.floor(seconds); return Math.floor(s / 60) + ":" + String(s % 60).padStart(2, "0"); }
  function span(seconds) {
    const s = Math.round(seconds);
    if (s < 60) { return fill(words.time.seconds, { s: s }); }
    if (s < 3600 && s % 60 === 0) { return fill(words.time.round, { m: s / 60 }); }
    if (s < 3600) { return fill(words.time.minutes, { m: Math.floor(s / 60), s: s % 60 }); }
    return fill(words.time.hours, { h: Math.floor(s / 3600), m: Math.floor(s % 3600 / 60) });
  }
  function stamp(date, between) {
    const two = function (n) { return String(n).padStart(2, "0"); };
    return date.getFullYear() + "-" + two(date.getMonth() + 1) + "-" + two(date.getDate()) + " " + two(date.getHours()) + between + two(date.getMinutes());
  }
  function id() { return crypto.randomUUID().replaceAll("-", ""); }
  function put(place, text) { if (place.textContent !== text) { place.textContent = text; } }
  function line(text, time) {
    const row = document.createElement("li");
    if (time !== undefined) { const mark = document.createElement("span"); mark.className = "time"; mark.textContent = time; row.append(mark); }
    const told = document.createElement("span");
    told.textContent = text;
    row.append(told);
    return row;
  }
  function list(place, items, none) {
    const made = items.length > 0 ? items : [line(none)];
    if (items.length === 0) { made[0].className = "none"; }
    place.replaceChildren.apply(place, made);
  }

  // ---- which job

  function showJobs() {
    const place = byId("jobs");
    const here = rows.filter(function (row) { return row.state === "open"; });
    const items = known.jobs.map(function (job) {
      const row = here.find(function (one) { return one.job.id === job.id || one.job.key === job.key; });
      const begun = row && row.samples > 0 ? fill(words.job.unfinished, { span: span(row.samples / RATE) }) : "";
      return entry(job, job.title, begun || [job.about, job.state].filter(Boolean).join(", "), row);
    });
    for (const row of here) {
      if (known.jobs.some(function (job) { return row.job.id === job.id || (job.key && row.job.key === job.key); })) { continue; }
      items.unshift(entry(row.job, title(row.job), fill(words.job.here, { when: span(row.samples / RATE) }), row));
    }
    list(place, items, words.job.none);
    const left = rows.reduce(function (sum, row) { return sum + row.samples - row.shopSamples; }, 0) / RATE;
    const told = left >= 0.5 ? [fill(words.job.waits, { span: span(left) })] : [];
    put(byId("waiting"), told.concat(others ? [words.job.others] : []).join(" "));
  }

  function entry(job, name, about, row) {
    const item = document.createElement("li");
    const button = document.createElement("button");
    button.type = "button";
    button.className = "touch job";
    const strong = document.createElement("strong");
    strong.textContent = name;
    const small = document.createElement("small");
    small.textContent = about;
    button.append(strong, small);
    button.addEventListener("click", function () { work(job, row); });
    item.append(button);
    return item;
  }

  function title(job) { return job.title || job.work_order || fill(words.job.unnamed, { when: job.begun || "" }); }

  async function work(job, row) {
    if (row === undefined) {
      const now = new Date();
      row = {
        id: id(), login: known.login, job: Object.assign({}, job), name: fill(words.job.recorded, { when: stamp(now, ".") }),
        pieces: 0, samples: 0, shop: 0, shopSamples: 0, state: "open", breaks: [], photos: [], edge: Date.now(), running: false,
      };
      await Shelf.put("recordings", row);
      rows.push(row);
    }
    await Shelf.keepNote("current", row.id);
    enter(row);
  }

  function enter(row) {
    current = row;
    live = null;
    Recorder.use(row, onRecorder);
    Line.add(row, true);
    byId("choose").hidden = true;
    byId("work").hidden = false;
    document.body.dataset.view = "work";
    put(byId("title"), title(row.job));
    prompt(null);
    if (row.running && Date.now() - row.edge < 600000) { touch(); }
    show();
  }

  async function leave() {
    if (["recording", "starting", "taken"].includes(Recorder.state())) { await Recorder.pause(); }
    await Shelf.keepNote("current", null);
    if (current.samples === 0 && current.photos.length === 0) {
      const empty = current;
      rows = rows.filter(function (row) { return row !== empty; });
      Line.remove(empty);
      await Shelf.drop("recordings", empty.id);
    }
    current = null;
    byId("work").hidden = true;
    byId("choose").hidden = false;
    document.body.dataset.view = "choose";
    await refresh();
  }

  // ---- the one control

  function touch() {
    const state = Recorder.state();
    if (Recorder.resting()) { Recorder.rest(false); Line.send({ do: "listen", recording: current.id }); show(); return; }
    if (state === "recording" || state === "taken") { Recorder.pause().catch(function () {}); return; }
    if (state === "finished") { const job = current.job; work(job, undefined).then(function () { Recorder.start().catch(function () {}); }); return; }
    Recorder.start().catch(function () {});
  }

  async function finish() {
    if (current === null || current.state !== "open") { return; }
    await Recorder.finish();
    Line.add(current, true);
    show();
  }

  function onRecorder(what, value) {
    if (what === "piece") { Line.piece(value); }
    if (what === "state" && value === "recording") { peak = 0; }
    show();
  }

  // ---- what is shown

  function show() {
    if (current === null) { return; }
    const state = Recorder.resting() && Recorder.state() === "recording" ? "resting" : Recorder.state();
    const broken = current.running && (state === "paused" || state === "blocked") && current.samples > 0;
    const control = byId("control");
    control.dataset.state = state;
    put(byId("state"), words.state[state] || "");
    put(byId("hint"), broken ? fill(words.hint.broken, { clock: clock(current.samples / RATE) }) : words.hint[state] || "");
    put(byId("clock"), clock(Recorder.seconds()));
    put(byId("safe"), safe());
    put(byId("contact"), contactWords());
    const taken = current.photos.length;
    put(byId("photo-word"), taken === 0 ? words.work.photo : fill(words.work.photo_count, { count: taken }));
    byId("finish").disabled = current.state !== "open" || current.samples === 0;
    if (armed === null) { put(byId("finish"), words.work.finish); }
    showLive();
  }

  function safe() {
    const all = current.samples / RATE;
    const shop = Math.min(current.shopSamples, current.samples) / RATE;
    const photos = current.photos.filter(function (one) { return !one.sent; }).length;
    const more = photos === 0 ? "" : " " + (photos === 1 ? words.safe.photos_one : fill(words.safe.photos_many, { count: photos }));
    const values = { phone: span(Math.max(all - shop, 0)), shop: span(shop) };
    if (all === 0) { return words.safe.none + more; }
    if (current.state === "sealed") { return fill(words.safe.ended, values) + more; }
    if (shop === 0) { return fill(words.safe.phone, values) + more; }
    if (all - shop < 0.05) { return fill(current.state === "closing" ? words.safe.closing : words.safe.shop, values) + more; }
    return fill(words.safe.both, values) + more;
  }

  function contactWords() {
    if (contact.state === "refused") { return fill(words.line.refused, { problem: contact.problem }); }
    if (contact.state !== "on") { return words.line[contact.state]; }
    if (live && live.off) { return words.line.unheard; }
    if (live && live.loading) { return words.line.loading; }
    if (live && live.behind > 8 && current.state === "open") { return fill(words.line.behind, { clock: clock(live.at) }); }
    return words.line.on;
  }

  function showLive() {
    const board = live && live.board;
    const heard = board ? board.heard.map(function (one) { return line(one.text, clock(one.at)); }) : [];
    list(byId("heard"), heard, contact.state === "on" ? words.work.nothing_heard : words.work.not_live);
    list(byId("off"), board ? board.off.map(function (text) { return line(text); }) : [], board ? words.work.nothing_off : words.work.not_known);
    list(byId("lacking"), board ? board.lacking.map(function (check) {
      const row = line(check.title);
      row.className = check.stop ? "stop" : "";
      if (check.word) { const small = document.createElement("small"); small.textContent = fill(words.work.in_state, { state: check.word }); row.append(small); }
      return row;
    }) : [], board ? words.work.nothing_lacking : words.work.not_known);
  }

  function prompt(what) {
    const place = byId("prompt");
    place.hidden = what === null;
    if (what !== null) {
      place.className = what.kind;
      put(place.firstElementChild, what.text);
      byId("sheet").scrollTop = 0;
    }
  }

  function onLive(message) {
    if (current === null || message.recording !== current.id) { return; }
    live = Object.assign(live || {}, { loading: false }, message);
    const told = { shown: [], aloud: [], kind: "" }; // several at once are one: a second must not cut the first short
    for (const event of message.events || []) { take(event, told); }
    if (told.aloud.length > 0) { speak(told.aloud.join(" ")); }
    show();
  }

  function take(event, told) {
    const fresh = current.samples / RATE - event.at < FRESH_S && current.state === "open";
    if (event.event === "prompt") {
      told.shown.push(event.text);
      told.kind = told.kind === "warning" ? told.kind : event.kind;
      prompt({ text: told.shown.join(" "), kind: told.kind });
      if (event.kind === "warning" && fresh && navigator.vibrate) { navigator.vibrate([250, 120, 250]); }
      if (event.aloud && fresh) { told.aloud.push(event.text); }
    } else if (event.event === "request") {
      if (event.reply) { prompt({ text: event.reply, kind: "reply" }); }
      if (event.aloud && event.reply && fresh) { told.aloud.push(event.reply); }
    } else if (event.event === "answer") {
      prompt(null);
    } else if (event.event === "check" && event.after === "confirmed") {
      const place = byId("prompt");
      if (place.dataset.about === event.check) { prompt(null); }
    } else if (event.event === "listening" && fresh) {
      Recorder.rest(!event.on);
    } else if (event.event === "finished" && fresh) {
      prompt({ text: event.reply, kind: "reply" });
      told.aloud.push(event.reply);
      finish();
    }
    if (event.event === "prompt" && (told.shown.length === 1 || event.kind === "warning")) { byId("prompt").dataset.about = event.about; }
    if (event.event === "request") { byId("prompt").dataset.about = ""; }
  }

  // What the tool says is heard by the microphone too: the shop is told, so that it is no part of the job.
  function speak(text) {
    if (!aloud || !("speechSynthesis" in window)) { return; }
    const said = new SpeechSynthesisUtterance(text);
    const about = current.id;
    let from = Recorder.seconds();
    said.lang = document.documentElement.lang;
    said.onstart = function () { from = Recorder.seconds(); };
    said.onend = function () { Line.send({ do: "spoke", recording: about, text: text, start: from, end: Recorder.seconds() + 0.3 }); };
    speechSynthesis.cancel();
    speechSynthesis.speak(said);
  }

  // ---- photos

  async function photo(file) {
    const at = Recorder.seconds();
    const row = current;
    try {
      const data = await smaller(file);
      const digest = await crypto.subtle.digest("SHA-256", data);
      const sha256 = Array.from(new Uint8Array(digest), function (byte) { return byte.toString(16).padStart(2, "0"); }).join("");
      const one = { id: id(), recording: row.id, at: at, data: data, sha256: sha256 };
      await Shelf.put("photos", one);
      row.photos.push({ id: one.id, at: at, sent: false });
      await Shelf.merge("recordings", row.id, { photos: row.photos });
      put(byId("photo-told"), fill(words.work.photo_taken, { clock: clock(at) }));
    } catch (error) {
      put(byId("photo-told"), words.work.photo_failed);
      byId("photo-told").classList.remove("unseen");
    }
    show();
    sendPhotos();
  }

  // At most 2048 pixels a side. Drawing it anew also leaves out where it was taken.
  async function smaller(file) {
    const picture = await createImageBitmap(file);
    const share = Math.min(1, 2048 / Math.max(picture.width, picture.height));
    const canvas = document.createElement("canvas");
    canvas.width = Math.round(picture.width * share);
    canvas.height = Math.round(picture.height * share);
    canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
    const blob = await new Promise(function (resolve) { canvas.toBlob(resolve, "image/jpeg", 0.85); });
    return blob.arrayBuffer();
  }

  let sending = false;
  async function sendPhotos() {
    if (sending || contact.state !== "on") { return; }
    sending = true;
    try {
      for (const one of await Shelf.all("photos")) {
        const row = rows.find(function (r) { return r.id === one.recording; }) || await Shelf.get("recordings", one.recording);
        if (!row || row.login !== known.login) { continue; }
        const answer = await fetch("/onsite/photos/" + one.recording + "/" + Math.round(one.at * 1000), {
          method: "PUT", body: one.data, headers: { "content-type": "image/jpeg", "x-sha256": one.sha256, accept: "application/json" },
        });
        if (!answer.ok || answer.redirected) { continue; }
        for (const kept of row.photos) { if (kept.id === one.id) { kept.sent = true; } }
        await Shelf.merge("recordings", row.id, { photos: row.photos });
        await Shelf.drop("photos", one.id);
      }
    } catch (error) { /* sent with the next try */ } finally { sending = false; }
    show();
  }

  // ---- the line

  function onLine(what, value) {
    if (what === "contact") { contact = value; if (value.state === "on") { sendPhotos(); refresh(); } }
    if (what === "job" && value.row === current) { put(byId("title"), title(current.job)); sendPhotos(); }
    if (what === "sealed") { rows = rows.filter(function (row) { return row.id !== value.row.id; }); sendPhotos(); }
    if (what === "live") { onLive(value); return; }
    if (current === null) { showJobs(); } else { show(); }
  }

  async function refresh() {
    try {
      const answer = await fetch("/onsite/state", { headers: { accept: "application/json" } });
      if (answer.ok && !answer.redirected) {
        const told = await answer.json();
        const other = known.login !== "" && known.login !== told.login;
        known = told;
        await Shelf.keepNote("known", told);
        if (other) { window.location.reload(); return; }
      }
    } catch (error) { /* what was known last holds */ }
    const place = byId("trade");
    if (place.options.length === 1) {
      for (const trade of known.trades) { place.add(new Option(trade.replaceAll("-", " "), trade)); }
    }
    if (current === null) { showJobs(); }
  }

  // ---- beginning

  function wire() {
    byId("control").addEventListener("click", touch);
    byId("back").addEventListener("click", leave);
    byId("begin").addEventListener("submit", function (event) {
      event.preventDefault();
      const order = byId("work_order").value.trim();
      work({ id: null, key: id(), work_order: order, trade: byId("trade").value, begun: stamp(new Date(), ":") }, undefined);
      byId("work_order").value = "";
    });
    byId("finish").addEventListener("click", function () {
      if (armed === null) {
        put(byId("finish"), words.work.finish_again);
        armed = window.setTimeout(function () { armed = null; show(); }, 4000);
        return;
      }
      window.clearTimeout(armed);
      armed = null;
      finish();
    });
    byId("voice").addEventListener("click", function () {
      aloud = !aloud;
      byId("voice").setAttribute("aria-pressed", String(aloud));
      put(byId("voice"), aloud ? words.work.speak : words.work.silent);
      if (!aloud && "speechSynthesis" in window) { speechSynthesis.cancel(); }
      Shelf.keepNote("aloud", aloud);
    });
    byId("photo").addEventListener("change", function (event) {
      const file = event.target.files[0];
      if (file) { photo(file); }
      event.target.value = "";
    });
    const bar = byId("level").firstElementChild;
    document.addEventListener("sound", function (event) {
      let sum = 0;
      for (const one of event.detail) { sum += one * one; }
      const decibels = 10 * Math.log10(sum / event.detail.length / 1073741824 + 1e-9);
      peak = Math.max(peak * 0.8, Math.min(1, Math.max(0, 1 + decibels / 54)));
    });
    window.setInterval(function () {
      if (current === null) { return; }
      if (Recorder.state() !== "recording") { peak = 0; }
      bar.style.transform = "scaleX(" + peak.toFixed(3) + ")";
      put(byId("clock"), clock(Recorder.seconds()));
    }, 120);
    window.setInterval(sendPhotos, 5000);
  }

  async function begin() {
    wire();
    if (navigator.storage && navigator.storage.persist) { navigator.storage.persist().catch(function () {}); }
    if ("serviceWorker" in navigator) { navigator.serviceWorker.register("/onsite/worker.js", { scope: "/onsite" }).catch(function () {}); }
    known = await Shelf.note("known") || known;
    aloud = await Shelf.note("aloud") !== false;
    byId("voice").setAttribute("aria-pressed", String(aloud));
    put(byId("voice"), aloud ? words.work.speak : words.work.silent);
    await refresh();
    const all = await Shelf.all("recordings");
    const open = all.filter(function (row) { return row.state !== "sealed"; });
    rows = open.filter(function (row) { return row.login === known.login; });
    others = open.length > rows.length;
    Line.begin(onLine);
    const wanted = await Shelf.note("current");
    const row = rows.find(function (one) { return one.id === wanted && one.state === "open"; });
    for (const one of rows) { if (one !== row) { Line.add(one, false); } }
    if (row) { enter(row); } else { showJobs(); }
    document.body.dataset.begun = "yes";
  }

  // One page at a time: two would count pieces against each other.
  function alone() { put(byId("waiting"), ""); begin(); return new Promise(function () {}); }
  if (navigator.locks) {
    navigator.locks.request("voicereport", { ifAvailable: true }, function (lock) { if (lock === null) { put(byId("waiting"), words.job.twice); } });
    navigator.locks.request("voicereport", alone);
  } else { begin(); }
}());
