"use strict";
// Plays exactly the seconds beside an entry; a second press stops. Everything else on the page works without this.
(function () {
  let playing = null;
  function stop() {
    if (playing === null) { return; }
    playing.sound.pause();
    playing.sound.currentTime = 0;
    playing.button.setAttribute("aria-pressed", "false");
    playing = null;
  }
  for (const button of document.querySelectorAll("button[data-sound]")) {
    const sound = document.getElementById(button.dataset.sound);
    if (sound === null) { continue; }
    button.disabled = false;
    button.setAttribute("aria-pressed", "false");
    button.addEventListener("click", function () {
      const again = playing !== null && playing.button === button;
      stop();
      if (again) { return; }
      playing = { button: button, sound: sound };
      button.setAttribute("aria-pressed", "true");
      sound.onended = stop;
      sound.play().catch(stop);
    });
  }
}());
