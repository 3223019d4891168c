"use strict";
// Keys for everything that the page offers. Elements name their key by data-key; entries of the record are walked
// through by j and k. No key works while a field has the focus, except Escape.
(function () {
  const entries = Array.from(document.querySelectorAll("[data-entry]"));
  let at = -1;
  function typing(target) {
    return target.closest("input:not([type=radio]):not([type=checkbox]), textarea, select") !== null;
  }
  function walk(step) {
    if (entries.length === 0) { return; }
    if (at >= 0) { entries[at].classList.remove("here"); }
    at = Math.min(entries.length - 1, Math.max(0, at + step));
    const entry = entries[at];
    entry.classList.add("here");
    entry.focus({ preventScroll: true });
    entry.scrollIntoView({ block: "center", behavior: "auto" });
  }
  function inEntry(selector) {
    return at < 0 ? null : entries[at].querySelector(selector);
  }
  document.addEventListener("focusin", function (event) {
    const entry = event.target.closest("[data-entry]");
    if (entry !== null) {
      if (at >= 0) { entries[at].classList.remove("here"); }
      at = entries.indexOf(entry);
      entry.classList.add("here");
    }
  });
  document.addEventListener("keydown", function (event) {
    if (event.ctrlKey || event.altKey || event.metaKey) { return; }
    if (event.key === "Escape" && typing(event.target)) { event.target.blur(); return; }
    if (typing(event.target)) { return; }
    if (event.key === "j" || event.key === "k") { event.preventDefault(); walk(event.key === "j" ? 1 : -1); return; }
    if (event.key === "p" || event.key === "P") {
      const time = inEntry("a.time[data-audio]") || document.querySelector("a.time[data-lead]");
      if (time !== null) { event.preventDefault(); window.playTime(time); }
      return;
    }
    const own = inEntry("[data-key='" + CSS.escape(event.key) + "']");
    const target = own || document.querySelector("[data-key='" + CSS.escape(event.key) + "']:not([data-entry] *)");
    if (target === null) { return; }
    event.preventDefault();
    if (target.matches("input[type=radio], input[type=checkbox]")) { target.checked = true; target.focus(); }
    else if (target.matches("input, textarea, select")) { target.focus(); if (target.select) { target.select(); } }
    else { target.click(); }
  });
  const keys = document.querySelector("dialog.keys");
  const opener = document.querySelector("[data-opens-keys]");
  if (keys !== null && opener !== null) {
    opener.hidden = false;
    opener.addEventListener("click", function () { keys.showModal(); });
  }
  const first = document.querySelector("[data-focus]");
  if (first !== null) { first.focus(); }
}());
