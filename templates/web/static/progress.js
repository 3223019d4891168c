"use strict";
// Files that are dropped or chosen are sent one after the other, each with its progress. And where a job is at work,
// its line is asked for again every two seconds until it is done. Without script the form sends them all at once.
(function () {
  const form = document.querySelector("form[data-upload]");
  if (form !== null) {
    const place = form.querySelector(".drop");
    const chooser = form.querySelector("input[type=file]");
    const list = form.querySelector(".files");
    const show = function () {
      list.replaceChildren();
      for (const file of chooser.files) {
        const row = document.createElement("li");
        row.textContent = file.name + " (" + Math.max(1, Math.round(file.size / 1000)) + " kB)";
        list.append(row);
      }
    };
    chooser.addEventListener("change", show);
    place.addEventListener("dragover", function (event) { event.preventDefault(); place.classList.add("over"); });
    place.addEventListener("dragleave", function () { place.classList.remove("over"); });
    place.addEventListener("drop", function (event) {
      event.preventDefault();
      place.classList.remove("over");
      chooser.files = event.dataTransfer.files;
      show();
    });
    form.addEventListener("submit", function (event) {
      event.preventDefault();
      const meter = document.createElement("progress");
      meter.max = 1;
      meter.value = 0;
      meter.setAttribute("aria-label", form.dataset.sending);
      list.append(meter);
      const button = form.querySelector("[type=submit]");
      button.disabled = true;
      form.querySelectorAll(".fault").forEach(function (one) { one.remove(); });
      const failed = function (told) {
        meter.remove();
        button.disabled = false;
        const fault = document.createElement("p");
        fault.className = "fault";
        fault.setAttribute("role", "alert");
        fault.textContent = told;
        form.prepend(fault);
        fault.scrollIntoView({ block: "center" });
      };
      const request = new XMLHttpRequest();
      request.open("POST", form.action);
      request.setRequestHeader("Accept", "text/html");
      request.upload.onprogress = function (step) { meter.value = step.loaded / step.total; };
      request.onload = function () {
        if (request.status < 400) { window.location.assign(request.responseURL); return; }
        const shown = new DOMParser().parseFromString(request.responseText, "text/html").querySelector(".fault");
        failed(shown === null ? form.dataset.failed : shown.textContent);
      };
      request.onerror = request.ontimeout = request.onabort = function () { failed(form.dataset.failed); };
      request.send(new FormData(form));
    });
  }
  const waiting = document.querySelector("[data-waiting]");
  if (waiting !== null) {
    // Whether a person is in the middle of something that loading the page again would throw away.
    const busy = function () {
      return document.querySelector(".editing") !== null || Array.from(document.querySelectorAll("main textarea, main input[type=file]")).some(function (field) { return field.value !== ""; });
    };
    window.setTimeout(function ask() {
      fetch(waiting.dataset.waiting, { headers: { Accept: "application/json" } }).then(function (answer) {
        if (answer.status >= 400 && answer.status < 500) { window.location.reload(); return null; }
        if (!answer.ok) { throw new Error(String(answer.status)); }
        return answer.json();
      }).then(function (state) {
        if (state === null) { return; }
        const meter = document.querySelector("progress[data-share]");
        const what = document.querySelector("[data-what]");
        if (meter !== null) { meter.value = state.share; }
        if (what !== null) { what.textContent = state.sentence; }
        if (!state.settled) { window.setTimeout(ask, 2000); return; }
        if (!busy()) { window.location.replace(window.location.pathname); return; }
        waiting.textContent = waiting.dataset.done;
      }).catch(function () { window.setTimeout(ask, 5000); });
    }, 2000);
  }
}());
