"use strict";
// A time in the margin plays exactly its seconds of the recording; a second press stops. Without script it is a link
// to the recording at that time. Where the browser cannot read the recording, the server cuts the seconds out of it.
(function () {
  const player = document.createElement("audio");
  player.preload = "none";
  let now = null;
  function stop() {
    if (now === null) { return; }
    player.pause();
    now.link.classList.remove("playing");
    now.link.removeAttribute("aria-current");
    now = null;
  }
  function watch() {
    if (now === null) { return; }
    if (player.currentTime >= now.end || player.ended) { stop(); return; }
    requestAnimationFrame(watch);
  }
  function cutOut(turn) {
    if (now !== turn || turn.cut) { stop(); return; }
    turn.cut = true;
    turn.end = Infinity;
    player.src = turn.link.dataset.cut;
    player.play().then(watch).catch(stop);
  }
  function play(link) {
    const again = now !== null && now.link === link;
    stop();
    if (again) { return; }
    const start = Number(link.dataset.start);
    const turn = { link: link, end: Number(link.dataset.end), cut: false };
    now = turn;
    link.classList.add("playing");
    link.setAttribute("aria-current", "true");
    player.onerror = function () { cutOut(turn); };
    player.onended = stop;
    const source = link.dataset.audio;
    if (player.dataset.source !== source || player.error) {
      player.src = source;
      player.dataset.source = source;
    }
    const go = function () {
      if (now !== turn) { return; }
      player.currentTime = start;
      player.play().then(watch).catch(function () { cutOut(turn); });
    };
    if (player.readyState >= 1) { go(); } else { player.onloadedmetadata = go; player.load(); }
  }
  document.addEventListener("click", function (event) {
    const link = event.target.closest("a.time[data-audio]");
    if (link === null) { return; }
    event.preventDefault();
    play(link);
  });
  window.playTime = play;
  window.soundPlayer = player;
}());
