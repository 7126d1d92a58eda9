"use strict";
// Forms work without this script. With it, work that takes longer shows how far
// it is and can be cancelled, files can be dropped, a setting that is changed
// takes effect at once, and restrictions can be drawn on the strip map.
(function () {
  const busy = document.getElementById("busy"), doing = document.getElementById("doing"), since = document.getElementById("since"), trouble = document.getElementById("trouble");
  let running = null;

  async function send(form) {
    if (running) return;
    const stop = new AbortController(), data = new FormData(form), began = performance.now();
    const ticket = Array.from(crypto.getRandomValues(new Uint8Array(12)), b => b.toString(16).padStart(2, "0")).join("");
    data.append("ticket", ticket);
    running = stop; trouble.hidden = true; since.textContent = "";
    const late = setTimeout(() => { busy.hidden = false; }, 250);
    const ask = setInterval(async () => {
      since.textContent = Math.round((performance.now() - began) / 1000) + " s";
      try { const told = await (await fetch("/progress/" + ticket, { signal: stop.signal })).json(); if (told.doing) doing.textContent = told.doing; } catch (e) { /* the next one may tell */ }
    }, 400);
    try {
      const plain = form.enctype !== "multipart/form-data";
      const answer = await fetch(form.action, { method: "POST", headers: { Accept: "application/json" }, body: plain ? new URLSearchParams(data) : data, signal: stop.signal });
      const told = await answer.json();
      if (!told.go) throw new Error(told.problem || "the program gave no answer that can be used");
      if (told.go === location.pathname) { sessionStorage.setItem("scroll", String(scrollY)); location.reload(); } else location.assign(told.go);
    } catch (e) {
      busy.hidden = true;
      trouble.textContent = e.name === "AbortError" ? "Cancelled. What was entered is still here." : e instanceof TypeError ? "The program cannot be reached. Is it still running?" : e.message;
      trouble.hidden = false;
    } finally { clearTimeout(late); clearInterval(ask); running = null; }
  }
  document.getElementById("cancel").addEventListener("click", () => { if (running) running.abort(); });
  for (const form of document.querySelectorAll("form.work")) form.addEventListener("submit", event => { event.preventDefault(); send(form); });
  addEventListener("pagehide", () => { if (running) running.abort(); });

  const settings = document.getElementById("settings");
  if (settings && !settings.classList.contains("first")) settings.addEventListener("change", () => { if (settings.reportValidity()) send(settings); });
  const kept = sessionStorage.getItem("scroll");
  if (kept !== null) { sessionStorage.removeItem("scroll"); scrollTo(0, +kept); }

  for (const drop of document.querySelectorAll(".drop")) {
    const input = drop.querySelector("input");
    for (const kind of ["dragenter", "dragover"]) drop.addEventListener(kind, event => { event.preventDefault(); drop.classList.add("over"); });
    for (const kind of ["dragleave", "drop"]) drop.addEventListener(kind, () => drop.classList.remove("over"));
    drop.addEventListener("drop", event => { event.preventDefault(); if (event.dataTransfer.files.length) input.files = event.dataTransfer.files; });
  }
  // A file that misses its place must not replace the page.
  for (const kind of ["dragover", "drop"]) addEventListener(kind, event => event.preventDefault());

  // Restrictions: drag along a strip.
  const closure = document.getElementById("closure"), draw = document.getElementById("draw");
  if (!closure) return;
  const hint = document.getElementById("hint"), strips = [...document.querySelectorAll("svg.strip")];
  let on = false, start = null, mark = null, held = null;
  draw.addEventListener("click", () => {
    on = !on; draw.setAttribute("aria-pressed", on); document.body.classList.toggle("drawing", on);
    hint.textContent = on ? "Drag along a strip, from where the restriction begins to where it ends." : "";
    if (on) document.getElementById("map-title").scrollIntoView({ block: "start" });
  });
  const along = (svg, event) => { const r = svg.getBoundingClientRect(), v = (event.clientY - r.top) * svg.viewBox.baseVal.height / r.height, at = +svg.dataset.from + (+svg.dataset.y - v) / +svg.dataset.k; return Math.max(+svg.dataset.from, Math.min(+svg.dataset.to, at)); };
  for (const svg of strips) {
    svg.addEventListener("pointerdown", event => {
      if (!on) return;
      event.preventDefault(); held = svg; svg.setPointerCapture(event.pointerId); start = along(svg, event);
      for (const old of document.querySelectorAll(".drawn")) old.remove();
      mark = document.createElementNS("http://www.w3.org/2000/svg", "path"); mark.setAttribute("class", "drawn"); svg.appendChild(mark);
    });
    svg.addEventListener("pointermove", event => {
      if (held !== svg) return;
      const end = along(svg, event), y = at => +svg.dataset.y - (at - +svg.dataset.from) * +svg.dataset.k, a = y(start), b = y(end);
      mark.setAttribute("d", "M18 " + Math.min(a, b) + "h140v" + Math.abs(a - b) + "h-140z");
      closure.elements.from.value = Math.round(Math.min(start, end)); closure.elements.to.value = Math.round(Math.max(start, end));
    });
    for (const kind of ["pointerup", "pointercancel"]) svg.addEventListener(kind, () => {
      if (held !== svg) return;
      held = null; draw.click(); hint.textContent = "From " + closure.elements.from.value + " m to " + closure.elements.to.value + " m: choose what runners may use there, then press “Restrict it”.";
      closure.scrollIntoView({ block: "nearest" }); closure.elements.use.focus({ preventScroll: true });
    });
  }
})();
