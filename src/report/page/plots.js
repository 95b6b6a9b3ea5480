// plots.js - series against time, with what was asked for and the phases of the duty. Lines differ
// by dashes and by the names at their ends, not by colour alone.
const pens = ["#000000", "#b34700", "#00639c", "#00694d", "#8d2f78", "#6b5200", "#444b9f", "#9c1c3a"];
const dashes = [[], [9, 4], [3, 3], [12, 3, 3, 3], [6, 2], [2, 5], [15, 5], [4, 2, 1, 2]];
const timeSteps = [1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1200, 1800, 3600, 7200, 10800, 14400, 21600, 43200,
  86400, 172800, 604800, 2592000];
const plotsMade = [];

function some(c, keys) {
  return keys.filter(([key]) => series(c, key) && series(c, key).v.some((v) => v !== null && v !== 0));
}

// The charts of one case; charts of two cases with one id share their axes.
function chartList(c) {
  const of = (kinds, what) => c.places.filter((p) => kinds.includes(p.kind)).map((p) => [p.name + "." + what, p.name]);
  const wanted = c.verdicts.filter((v) => v.kelvin).map((v) => ({ value: v.value, label: short(v.name, 30) }));
  const soot = c.verdicts.filter((v) => v.what.startsWith("soot")).map((v) => ({ value: v.value, label: short(v.name, 30) }));
  return [
    { id: "bricks", unit: "K", title: "Bricks and filters (mean of the solid), exhaust into the line", lines: wanted,
      keys: [["exhaust.temperature", "exhaust"], ...of(bricks, "mean_temperature")] },
    { id: "sensors", unit: "K", title: "Sensors, and the gas at the tailpipe", lines: [],
      keys: [...of(["sensor"], "reading"), ["tailpipe.temperature", "tailpipe"]] },
    { id: "dosing", unit: "kg/s", title: "Fuel and DEF dosed into the line", lines: [],
      keys: [["dosing.fuel", "fuel"], ["dosing.def", "DEF"]] },
    { id: "engine", unit: "kg/s", title: "Fuel through the engine", lines: [], keys: [["engine.fuel", "engine fuel"]] },
    { id: "soot", unit: "%", title: "Soot in the filters, of full load", lines: soot, keys: of(["filter"], "soot_share") },
    { id: "nox", unit: "kg/s", title: "NOx as NO2", lines: [], keys: [["exhaust.nox", "engine out"], ["tailpipe.nox", "tailpipe"]] },
    { id: "nh3", unit: "ppm", title: "NH3 at the tailpipe", lines: [], keys: [["tailpipe.nh3", "NH3"]] },
    { id: "raw", unit: "ppm", title: "Unburnt hydrocarbon (as C) and CO at the tailpipe", lines: [],
      keys: [["tailpipe.hc", "HC"], ["tailpipe.co", "CO"]] },
    { id: "drop", unit: "Pa", title: "Pressure drop of the filters", lines: [], keys: of(["filter"], "pressure_drop") },
    { id: "speed", unit: "rad/s", title: "Engine speed", lines: [], keys: [["engine.speed", "engine"]] },
  ].map((chart) => ({ ...chart, c, keys: some(c, chart.keys) })).filter((chart) => chart.keys.length > 0);
}

function sharedRange(charts, u) {
  let lo = Infinity, hi = -Infinity;
  for (const chart of charts) {
    for (const [key] of chart.keys) {
      for (const v of series(chart.c, key).v) {
        if (v !== null) { lo = Math.min(lo, u.f(v)); hi = Math.max(hi, u.f(v)); }
      }
    }
    for (const l of chart.lines) { lo = Math.min(lo, u.f(l.value)); hi = Math.max(hi, u.f(l.value)); }
  }
  if (charts[0].unit !== "K") { lo = Math.min(lo, 0); }
  if (!(lo < hi)) { hi = lo + 1; }
  return [lo - (lo === 0 ? 0 : 0.04 * (hi - lo)), hi + 0.08 * (hi - lo)];
}

function canvasText(u, text, x, y, colour, align) {
  u.ctx.font = 12 * uPlot.pxRatio + "px system-ui, sans-serif";
  u.ctx.fillStyle = colour;
  u.ctx.textAlign = align;
  u.ctx.textBaseline = "middle";
  u.ctx.fillText(text, x, y);
}

function drawPhases(u, spans) {
  const b = u.bbox, ctx = u.ctx;
  ctx.save();
  spans.forEach((s, i) => {
    const x0 = Math.max(u.valToPos(s.t0, "x", true), b.left), x1 = Math.min(u.valToPos(s.t1, "x", true), b.left + b.width);
    if (x1 <= x0) { return; }
    if (i % 2 === 0) { ctx.fillStyle = "#f1efe8"; ctx.fillRect(x0, b.top, x1 - x0, b.height); }
    const room = Math.floor((x1 - x0) / (6.6 * uPlot.pxRatio));
    if (room >= 5) { canvasText(u, short(s.name, room), (x0 + x1) / 2, b.top - 9 * uPlot.pxRatio, "#444", "center"); }
  });
  ctx.restore();
}

// The higher one is named above its line, the next below its own, so that two close ones stay apart.
function drawThresholds(u, lines, unit) {
  const b = u.bbox, ctx = u.ctx, px = uPlot.pxRatio;
  ctx.save();
  [...lines].sort((p, q) => q.value - p.value).forEach((l, i) => {
    const y = u.valToPos(unit.f(l.value), "y", true);
    ctx.strokeStyle = "#666";
    ctx.lineWidth = px;
    ctx.setLineDash([2 * px, 3 * px]);
    ctx.beginPath();
    ctx.moveTo(b.left, y);
    ctx.lineTo(b.left + b.width, y);
    ctx.stroke();
    canvasText(u, l.label + ": " + Math.round(unit.f(l.value)) + " " + unit.label, b.left + 6 * px, y + (i % 2 ? 9 : -8) * px, "#333", "left");
  });
  ctx.restore();
}

// Names at the ends of the lines, moved apart where they would cover each other.
function drawEnds(u) {
  const b = u.bbox, gap = 14 * uPlot.pxRatio, ends = [];
  for (let i = 1; i < u.series.length; i++) {
    let k = u.data[i].length - 1;
    while (k > 0 && (u.data[i][k] === null || u.data[0][k] > u.scales.x.max)) { k--; }
    if (u.data[i][k] !== null) { ends.push({ i, y: u.valToPos(u.data[i][k], "y", true) }); }
  }
  ends.sort((p, q) => p.y - q.y);
  for (let i = 1; i < ends.length; i++) { ends[i].y = Math.max(ends[i].y, ends[i - 1].y + gap); }
  for (let i = ends.length - 1, low = b.top + b.height; i >= 0; i--, low -= gap) { ends[i].y = Math.min(ends[i].y, low); }
  u.ctx.save();
  for (const e of ends) {
    canvasText(u, short(u.series[e.i].label, u.width < 480 ? 10 : 15), b.left + b.width + 6 * uPlot.pxRatio, e.y, pens[(e.i - 1) % pens.length], "left");
  }
  u.ctx.restore();
}

function nowLine(u) {
  const bar = make("div", { class: "now" });
  u.over.append(bar);
  const move = () => {
    if (!u.status) { return; } // not laid out yet, or gone
    const x = u.valToPos(now.t, "x");
    bar.style.transform = "translateX(" + x + "px)";
    bar.hidden = x < 0 || x > u.over.clientWidth;
    u.setLegend({ idx: rowAt(u.emberCase, now.t) });
  };
  let from = 0;
  u.over.addEventListener("mousedown", (e) => { from = e.clientX; });
  u.over.addEventListener("mouseleave", () => setTimeout(move)); // the chart empties its legend there
  u.over.addEventListener("click", (e) => {
    if (Math.abs(e.clientX - from) < 4) { setTime(u.posToVal(e.offsetX, "x")); }
  });
  return move;
}

function buildChart(chart, range, width, height) {
  const unit = unitOf(chart.unit), c = chart.c;
  const digits = Math.max(unit.digits, range[1] - range[0] < 5 ? 2 : 0);
  const rows = [c.time, ...chart.keys.map(([key]) => series(c, key).v.map((v) => (v === null ? null : unit.f(v))))];
  const box = make("figure", { class: "chart" }, make("figcaption", {}, chart.title + " [" + unit.label + "]"));
  const u = new uPlot({
    width, height, padding: [18, width < 480 ? 64 : 110, 0, 4],
    cursor: { sync: { key: "time" }, drag: { x: true, y: false } },
    legend: { live: true },
    scales: { x: { time: false, range: (self, lo, hi) => [Math.max(lo, 0), hi] }, y: { range: () => range } },
    axes: [
      { incrs: timeSteps, values: (self, v) => v.map(clock), space: width < 480 ? 52 : 64, font: "12px system-ui, sans-serif", stroke: "#333", grid: { stroke: "#e3e0d8" } },
      { size: width < 480 ? 46 : 58, font: "12px system-ui, sans-serif", stroke: "#333", grid: { stroke: "#e3e0d8" } },
    ],
    series: [{ label: "at", value: (self, v) => (v === null ? "" : clock(v)) },
      ...chart.keys.map(([, label], i) => ({ label, stroke: pens[i % pens.length], width: 2, dash: dashes[i % dashes.length],
        points: { show: false }, value: (self, v) => (v === null ? "–" : fixed(v, digits)) }))],
    hooks: { ready: [(self) => setTimeout(() => self.emberMove())], drawClear: [(self) => drawPhases(self, c.spans)], draw: [(self) => { drawThresholds(self, chart.lines, unit); drawEnds(self); }] },
  }, rows, box);
  u.emberCase = c;
  u.setScale("x", { min: 0, max: now.end });
  box.setAttribute("role", "group");
  box.setAttribute("aria-label", chart.title + ": " + chart.keys.map(([key, label]) => {
    const v = series(c, key).v, k = peakOf(v);
    return label + " highest " + say(v[k], chart.unit) + " at " + clock(c.time[k]) + ", at the end " + say(v[v.length - 1], chart.unit);
  }).join("; "));
  u.emberMove = nowLine(u);
  return { box, u, move: u.emberMove };
}

function plotWidth(node, columns) {
  return Math.max(Math.floor(node.clientWidth / columns) - (columns > 1 ? 14 : 2), 220);
}

function buildPlots(node) {
  const cases = data.cases, lists = cases.map(chartList);
  const ids = [...new Set(lists.flat().map((chart) => chart.id))];
  const paper = document.body.classList.contains("paper"), columns = paper || node.clientWidth > 780 ? 2 : 1;
  const grid = make("div", { class: "grid", style: "grid-template-columns: repeat(" + columns + ", minmax(0, 1fr))" });
  plotsMade.forEach((p) => p.u.destroy());
  plotsMade.length = 0;
  node.append(grid);
  const width = plotWidth(node, columns === 2 ? Math.max(cases.length, 2) : 1);
  if (cases.length > 1) { cases.forEach((c) => grid.append(make("div", {}, caseHeading(c)))); }
  if (cases.length > 2) { grid.style.gridTemplateColumns = "repeat(" + (columns === 1 ? 1 : cases.length) + ", minmax(0, 1fr))"; }
  for (const id of ids) {
    const same = lists.map((list) => list.find((chart) => chart.id === id));
    const range = sharedRange(same.filter(Boolean), unitOf(same.find(Boolean).unit));
    for (const chart of same) {
      if (chart) {
        // the chart that matters most gets the whole width
        const lone = cases.length === 1 && columns === 2 && id === ids[0];
        const made = buildChart(chart, range, lone ? plotWidth(node, 1) : width, lone ? 320 : width < 480 ? 220 : 260);
        if (lone) { made.box.style.gridColumn = "1 / -1"; }
        plotsMade.push(made);
        grid.append(made.box);
      } else {
        grid.append(make("div", { class: "quiet" }));
      }
    }
  }
  return () => plotsMade.forEach((p) => p.move());
}
