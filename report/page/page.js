"use strict";
// Pointing at a place in one drawing shows it in all of them. All drawings but
// the movable plan are there without this script.
(function () {
  const source = document.getElementById("data"), sheet = document.getElementById("sheet");
  if (!source || !sheet) return;
  const d = JSON.parse(source.textContent);
  const sum = (list, scale) => { let v = 0; return Float64Array.from(list || [], x => (v += x) / scale); };
  const plain = (list, scale) => Float64Array.from(list || [], x => x / scale);
  const line = { at: sum(d.line[0], 100), x: sum(d.line[1], 100), y: sum(d.line[2], 100) };
  const path = { at: sum(d.path[0], 100), x: sum(d.path[1], 100), y: sum(d.path[2], 100), low: plain(d.path[3], 100), high: plain(d.path[4], 100) };
  path.nx = plain(d.sides[0], 1000); path.ny = plain(d.sides[1], 1000);
  const fixes = { at: sum(d.fixes[0], 10), x: sum(d.fixes[1], 10), y: sum(d.fixes[2], 10), t: sum(d.fixes[3], 10) };
  const crowd = d.crowd ? { at: sum(d.crowd[0], 100), left: plain(d.crowd[1], 100), low: plain(d.crowd[2], 100), high: plain(d.crowd[3], 100) } : null;
  const ground = { at: sum(d.ground[0], 100), h: sum(d.ground[1], 100) };
  const pairs = list => { const x = new Float64Array(list.length / 2), y = new Float64Array(list.length / 2); let u = 0, v = 0; for (let i = 0; i < x.length; i++) { x[i] = u += list[2 * i] / 100; y[i] = v += list[2 * i + 1] / 100; } return { x, y }; };
  // Long lines are drawn in pieces, so that only what can be seen is drawn.
  const pieces = l => { const out = []; let to; for (let i = 0; i < l.x.length - 1 || i === 0; i = to > i && !(l.gap && l.at[to + 1] - l.at[to] > l.gap) ? to : to + 1) { to = Math.min(l.x.length - 1, i + 40); if (l.gap) for (let k = i; k < to; k++) if (l.at[k + 1] - l.at[k] > l.gap) { to = k; break; } let w = Infinity, s = Infinity, e = -Infinity, n = -Infinity; for (let k = i; k <= to; k++) { w = Math.min(w, l.x[k]); e = Math.max(e, l.x[k]); s = Math.min(s, l.y[k]); n = Math.max(n, l.y[k]); } out.push({ i, to, w, s, e, n }); } return out; };
  const kerbs = d.kerbs.map(pairs), edges = d.edges.map(pairs);
  path.gap = 120;
  for (const l of [...kerbs, ...edges, line, path, fixes]) l.pieces = l.x.length ? pieces(l) : [];

  // find gives the last index whose place is not beyond at.
  const find = (list, at) => { let lo = 0, hi = list.length - 1; while (hi > lo) { const m = (lo + hi + 1) >> 1; if (list[m] <= at) lo = m; else hi = m - 1; } return lo; };
  const mix = (l, key, at) => { const i = find(l.at, at), j = Math.min(i + 1, l.at.length - 1), w = l.at[j] - l.at[i]; const t = w > 0 ? Math.min(1, Math.max(0, (at - l.at[i]) / w)) : 0; return l[key][i] + t * (l[key][j] - l[key][i]); };

  const strips = [...document.querySelectorAll("svg.strip")].map(svg => ({ svg, from: +svg.dataset.from, to: +svg.dataset.to, y: +svg.dataset.y, k: +svg.dataset.k, mark: svg.querySelector(".cursor") }));
  const charts = [...document.querySelectorAll("svg.along")].map(svg => ({ svg, x: +svg.dataset.x, k: +svg.dataset.k, mark: svg.querySelector(".cursor") }));
  const overviews = [...document.querySelectorAll("svg.overview")].map(svg => ({ svg, left: +svg.dataset.left, top: +svg.dataset.top, west: +svg.dataset.west, north: +svg.dataset.north, k: +svg.dataset.k, dot: svg.querySelector(".here"), box: svg.querySelector(".view") }));
  const range = document.getElementById("at"), readout = document.getElementById("readout"), scaleText = document.getElementById("scale");
  const canvas = document.getElementById("plan"), pen = canvas.getContext("2d");

  // Asking for a size makes the browser lay the page out again, so it is asked
  // for once.
  let wide = canvas.clientWidth, high = canvas.clientHeight;
  new ResizeObserver(() => { if (canvas.clientWidth !== wide || canvas.clientHeight !== high) { wide = canvas.clientWidth; high = canvas.clientHeight; ask(); } }).observe(canvas);

  let at = 0, view = { x: 0, y: 0, k: 6 }, asked = false, shown = null, colours = {};
  const rows = [...document.querySelectorAll("tr[data-at]")].map(row => ({ row, at: +row.dataset.at }));
  let here = null;

  function ask() { if (!asked) { asked = true; requestAnimationFrame(draw); } }

  function go(to, keep) {
    at = Math.max(0, Math.min(d.length, to));
    if (!keep) { view.x = mix(line, "x", at); view.y = mix(line, "y", at); }
    ask();
  }

  const length = (m, decimals) => (m / d.short).toFixed(decimals) + " " + d.short_name;
  const side = m => length(Math.abs(m), 1) + (m < 0 ? " right" : " left");
  // A likely path that hugs an edge is itself one end of its interval.
  const range90 = (off, low, high) => {
    const ends = [low, high].map(v => side(off + v)), here = side(off);
    if ((ends[0] === here) !== (ends[1] === here)) return " (90 %: from there to " + ends[ends[0] === here ? 1 : 0] + ")";
    return " (90 %: " + ends[0] + " to " + ends[1] + ")";
  };

  function words() {
    const out = [(at / d.unit).toFixed(2) + " " + d.unit_name];
    let near = null;
    for (const t of d.turns) if (!near || Math.abs(t.at - at) < Math.abs(near.at - at)) near = t;
    if (near) { const off = at - near.at; out.push((Math.abs(off) < 8 ? "in turn " : length(Math.abs(off), 0) + (off < 0 ? " before" : " after") + " turn ") + near.number + " (" + near.words + ")"); }
    if (ground.at.length) out.push("height " + length(mix(ground, "h", at), 0));
    if (path.at.length && Math.abs(path.at[find(path.at, at)] - at) < 60) {
      const i = find(path.at, at), px = path.x[i], py = path.y[i], off = (px - mix(line, "x", path.at[i])) * path.nx[i] + (py - mix(line, "y", path.at[i])) * path.ny[i];
      out.push("likely path " + side(off) + " of the line" + range90(off, path.low[i], path.high[i]));
    }
    if (crowd) {
      let i = find(crowd.at, at);
      if (i + 1 < crowd.at.length && crowd.at[i + 1] - at < at - crowd.at[i]) i++;
      out.push(Math.abs(crowd.at[i] - at) < 15 ? "crowd's middle " + side(crowd.left[i]) + " of the line, nine of ten between " + side(crowd.low[i]) + " and " + side(crowd.high[i]) : "the crowd's place is not told here");
    }
    return out.join(" · ");
  }

  function draw() {
    asked = false;
    for (const s of strips) {
      const on = at >= s.from && (at < s.to || s.to >= d.length - 1 && at <= s.to + 1);
      if (on) s.mark.setAttribute("transform", "translate(0," + (s.y - (at - s.from) * s.k).toFixed(1) + ")");
      if (on !== s.on) { s.mark.classList.toggle("on", on); s.on = on; }
    }
    for (const c of charts) { c.mark.setAttribute("transform", "translate(" + (c.x + at * c.k).toFixed(1) + ",0)"); if (!c.on) { c.mark.classList.add("on"); c.on = true; } }
    if (range.value !== String(Math.round(at))) range.value = Math.round(at);
    const text = words();
    if (text !== shown) { readout.textContent = shown = text; range.setAttribute("aria-valuetext", text); }
    let best = null;
    for (const r of rows) if (Math.abs(r.at - at) < 8 && (!best || Math.abs(r.at - at) < Math.abs(best.at - at))) best = r;
    if (best !== here) { if (here) here.row.classList.remove("here"); if (best) best.row.classList.add("here"); here = best; }
    plan();
    for (const o of overviews) {
      const X = x => o.left + (x - o.west) * o.k, Y = y => o.top + (o.north - y) * o.k;
      o.dot.setAttribute("cx", X(mix(line, "x", at)).toFixed(1)); o.dot.setAttribute("cy", Y(mix(line, "y", at)).toFixed(1));
      const w = Math.max(7, wide / view.k * o.k), h = Math.max(7, high / view.k * o.k);
      o.box.setAttribute("d", "M" + (X(view.x) - w / 2).toFixed(1) + " " + (Y(view.y) - h / 2).toFixed(1) + "h" + w.toFixed(1) + "v" + h.toFixed(1) + "h" + (-w).toFixed(1) + "z");
    }
  }

  function plan() {
    const ratio = Math.min(2, window.devicePixelRatio || 1), W = wide, H = high;
    if (canvas.width !== Math.round(W * ratio) || canvas.height !== Math.round(H * ratio)) { canvas.width = Math.round(W * ratio); canvas.height = Math.round(H * ratio); }
    const { x: cx, y: cy, k } = view, X = x => W / 2 + (x - cx) * k, Y = y => H / 2 - (y - cy) * k;
    const w = cx - W / 2 / k, e = cx + W / 2 / k, s = cy - H / 2 / k, n = cy + H / 2 / k;
    const seen = p => p.e >= w - 2 && p.w <= e + 2 && p.n >= s - 2 && p.s <= n + 2;
    pen.setTransform(ratio, 0, 0, ratio, 0, 0);
    pen.fillStyle = colours.paper; pen.fillRect(0, 0, W, H);
    const trace = (l, near) => { pen.beginPath(); for (const p of l.pieces) { if (!seen(p)) continue; if (near !== undefined && (l.at[p.to] < at - 250 || l.at[p.i] > at + 250) !== !near) continue; pen.moveTo(X(l.x[p.i]), Y(l.y[p.i])); for (let i = p.i + 1; i <= p.to; i++) pen.lineTo(X(l.x[i]), Y(l.y[i])); } };
    pen.lineJoin = "round"; pen.setLineDash([]);
    pen.strokeStyle = colours.ink; pen.lineWidth = 1;
    for (const l of kerbs) { trace(l); pen.stroke(); }
    pen.setLineDash([1, 4]); pen.lineWidth = 1.6;
    for (const l of edges) { trace(l); pen.stroke(); }
    pen.setLineDash([]);
    // On a course that comes by again, only the passage pointed at stands out.
    if (path.x.length) {
      pen.fillStyle = colours.band;
      for (const p of path.pieces) {
        if (!seen(p) || path.at[p.to] < at - 250 || path.at[p.i] > at + 250) continue;
        pen.beginPath();
        for (let i = p.i; i <= p.to; i++) { const u = X(path.x[i] + path.nx[i] * path.high[i]), v = Y(path.y[i] + path.ny[i] * path.high[i]); if (i === p.i) pen.moveTo(u, v); else pen.lineTo(u, v); }
        for (let i = p.to; i >= p.i; i--) pen.lineTo(X(path.x[i] + path.nx[i] * path.low[i]), Y(path.y[i] + path.ny[i] * path.low[i]));
        pen.closePath(); pen.fill();
      }
      pen.strokeStyle = colours.ran;
      pen.globalAlpha = .3; pen.lineWidth = 1; trace(path, false); pen.stroke();
      pen.globalAlpha = 1; pen.lineWidth = 2; trace(path, true); pen.stroke();
    }
    pen.strokeStyle = colours.ink; pen.setLineDash([6, 3]);
    pen.globalAlpha = .3; pen.lineWidth = 1; trace(line, false); pen.stroke();
    pen.globalAlpha = 1; pen.lineWidth = 1.4; trace(line, true); pen.stroke();
    pen.setLineDash([]);
    if (fixes.x.length) {
      pen.strokeStyle = pen.fillStyle = colours.soft; pen.lineWidth = 1;
      const big = k > 2, skip = k > .5 ? 1 : k > .1 ? 3 : 8, r = 2.5;
      pen.beginPath();
      for (const p of fixes.pieces) {
        if (!seen(p)) continue;
        for (let i = p.i; i < p.to; i += skip) { const u = X(fixes.x[i]), v = Y(fixes.y[i]); if (big) { pen.moveTo(u - r, v); pen.lineTo(u + r, v); pen.moveTo(u, v - r); pen.lineTo(u, v + r); } else pen.rect(u, v, 1, 1); }
      }
      if (big) pen.stroke(); else pen.fill();
    }
    pen.beginPath(); pen.arc(X(mix(line, "x", at)), Y(mix(line, "y", at)), 4.5, 0, 7); pen.fillStyle = colours.paper; pen.fill(); pen.strokeStyle = colours.ink; pen.lineWidth = 2.2; pen.stroke();
    // Scale bar and north.
    const far = 90 / k / d.unit >= 1, unit = far ? d.unit : d.short, most = 90 / k / unit;
    let round = Math.pow(10, Math.floor(Math.log10(most))); if (5 * round <= most) round *= 5; else if (2 * round <= most) round *= 2;
    const m = round * unit;
    pen.fillStyle = colours.ink; pen.fillRect(8, H - 12, m * k / 2, 4); pen.lineWidth = .8; pen.strokeRect(8 + m * k / 2, H - 12, m * k / 2, 4);
    pen.font = "11px system-ui, sans-serif"; pen.fillText(Number(round.toPrecision(2)) + " " + (far ? d.unit_name : d.short_name), 13 + m * k, H - 7);
    pen.beginPath(); pen.moveTo(W - 14, 8); pen.lineTo(W - 9.5, 26); pen.lineTo(W - 14, 22); pen.lineTo(W - 18.5, 26); pen.closePath(); pen.fill(); pen.fillText("N", W - 18, 38);
    // A px of CSS is 1/96 inch.
    const t = "about 1 : " + Number((96 / 0.0254 / k).toPrecision(2)).toFixed(0) + ", north up";
    if (scaleText.textContent !== t) scaleText.textContent = t;
  }

  function look() {
    const style = getComputedStyle(document.documentElement);
    for (const name of ["paper", "ink", "soft", "ran", "band"]) colours[name] = style.getPropertyValue("--" + name).trim();
    ask();
  }
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", look);
  addEventListener("resize", ask);

  // Where on the course a pointer is.
  const place = event => {
    for (const s of strips) if (s.svg.contains(event.target)) { const r = s.svg.getBoundingClientRect(), v = (event.clientY - r.top) * s.svg.viewBox.baseVal.height / r.height; return Math.max(s.from, Math.min(s.to, s.from + (s.y - v) / s.k)); }
    for (const c of charts) if (c.svg.contains(event.target)) { const r = c.svg.getBoundingClientRect(); return ((event.clientX - r.left) * c.svg.viewBox.baseVal.width / r.width - c.x) / c.k; }
    for (const o of overviews) if (o.svg.contains(event.target)) {
      const r = o.svg.getBoundingClientRect(), z = Math.max(o.svg.viewBox.baseVal.width / r.width, o.svg.viewBox.baseVal.height / r.height);
      const u = (event.clientX - (r.left + r.right) / 2) * z + o.svg.viewBox.baseVal.width / 2, v = (event.clientY - (r.top + r.bottom) / 2) * z + o.svg.viewBox.baseVal.height / 2;
      const x = (u - o.left) / o.k + o.west, y = o.north - (v - o.top) / o.k;
      let best = 0, dist = Infinity;
      for (let i = 0; i < line.x.length; i++) { const q = (line.x[i] - x) ** 2 + (line.y[i] - y) ** 2; if (q < dist) { dist = q; best = i; } }
      return line.at[best];
    }
    return null;
  };
  const linked = event => { const l = event.target.closest && event.target.closest("[data-at]"); return l ? +l.dataset.at : null; };
  sheet.addEventListener("pointermove", event => { if (event.pointerType === "touch" || event.target === canvas) return; const p = event.target.closest("svg a[data-at]") ? linked(event) : place(event); if (p !== null) go(p); });
  sheet.addEventListener("click", event => {
    const l = linked(event), p = l !== null ? l : place(event);
    if (p === null) return;
    go(p);
    const a = event.target.closest("a[href^='#turn-']");
    if (a && a.closest("svg")) event.preventDefault(); // stay at the drawing; the table is a key away
  });
  sheet.addEventListener("focusin", event => { const l = linked(event); if (l !== null && event.target.matches(":focus-visible")) go(l); });
  range.addEventListener("input", () => go(+range.value));
  const turn = step => { const list = d.turns.map(t => t.at); if (!list.length) return; const next = step > 0 ? list.find(v => v > at + 1) : list.findLast(v => v < at - 1); if (next !== undefined) go(next); };
  document.getElementById("before").addEventListener("click", () => turn(-1));
  document.getElementById("after").addEventListener("click", () => turn(1));

  // The plan moves under a finger, a mouse or the arrow keys.
  const zoom = by => { view.k = Math.max(.02, Math.min(60, view.k * by)); ask(); };
  document.getElementById("nearer").addEventListener("click", () => zoom(1.5));
  document.getElementById("farther").addEventListener("click", () => zoom(1 / 1.5));
  const held = new Map(); let gap = 0;
  canvas.addEventListener("pointerdown", event => { held.set(event.pointerId, [event.clientX, event.clientY]); canvas.setPointerCapture(event.pointerId); gap = 0; });
  canvas.addEventListener("pointermove", event => {
    const last = held.get(event.pointerId);
    if (!last) return;
    if (held.size === 1) { view.x -= (event.clientX - last[0]) / view.k; view.y += (event.clientY - last[1]) / view.k; }
    held.set(event.pointerId, [event.clientX, event.clientY]);
    if (held.size === 2) { const [a, b] = [...held.values()], g = Math.hypot(a[0] - b[0], a[1] - b[1]); if (gap) zoom(g / gap); gap = g; }
    ask();
  });
  for (const end of ["pointerup", "pointercancel"]) canvas.addEventListener(end, event => { held.delete(event.pointerId); gap = 0; });
  canvas.addEventListener("wheel", event => { if (document.activeElement !== canvas && !event.ctrlKey) return; event.preventDefault(); zoom(Math.exp(-event.deltaY / 400)); }, { passive: false });
  canvas.addEventListener("keydown", event => {
    const step = 30 / view.k, moves = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] }[event.key];
    if (moves) { view.x += moves[0] * step; view.y += moves[1] * step; ask(); } else if (event.key === "+" || event.key === "=") zoom(1.25); else if (event.key === "-") zoom(.8); else return;
    event.preventDefault();
  });

  // Tables behind the drawings are printed too.
  let shut = [];
  addEventListener("beforeprint", () => { shut = [...sheet.querySelectorAll("details:not([open])")]; for (const e of shut) e.open = true; });
  addEventListener("afterprint", () => { for (const e of shut) e.open = false; });

  look();
  const first = document.querySelector(".worst a[data-at]");
  go(first ? +first.dataset.at : 0);
  document.documentElement.dataset.ready = "yes";
})();
