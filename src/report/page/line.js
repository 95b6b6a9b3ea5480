// line.js - the exhaust line drawn to scale, element after element, coloured by the temperature of
// its solid. Bodies have their labels above, things that spray, read or leak below.
const PAPER = 1000, EDGE = 24, LABEL_ROW = 46, MARK_ROW = 34, CHAR = 7.2;
const MOST_SCALE = 300; // units of the paper to the metre: a lone brick need not fill the screen

// Rows of labels so that none covers another. Each label: {x, w}; gets row and x within the paper.
function stack(labels) {
  const ends = [];
  for (const l of labels) {
    l.x = Math.min(Math.max(l.x, l.w / 2 + 2), PAPER - l.w / 2 - 2);
    let row = ends.findIndex((e) => l.x - l.w / 2 > e + 6);
    if (row < 0) { row = ends.length; ends.push(0); }
    ends[row] = l.x + l.w / 2;
    l.row = row;
  }
  return ends.length;
}

function bodyShape(p, x, w, cy, h) {
  const g = makeSvg("g", {}), cells = [], n = Math.max(p.n, 1);
  for (let i = 0; i < n; i++) {
    const r = makeSvg("rect", { x: x + w * i / n, y: cy - h / 2, width: w / n + 0.4, height: h });
    cells.push(r);
    g.append(r);
  }
  g.append(...texture(p, x, w, cy, h));
  g.append(makeSvg("rect", { x, y: cy - h / 2, width: w, height: h, rx: bricks.includes(p.kind) ? 3 : 0,
    class: "outline", "stroke-dasharray": p.kind === "turbine" ? "5 3" : null }));
  return { g, cells };
}

// What tells the kinds apart without colour: open channels, crossed channels, plugged channels, a scroll.
function texture(p, x, w, cy, h) {
  const out = [], top = cy - h / 2, n = Math.max(4, Math.round(h / 7));
  if (p.kind === "turbine") {
    const r = h * 0.36, mid = x + w / 2;
    return [makeSvg("path", { class: "channel", "stroke-width": 2,
      d: "M" + (mid + r) + " " + cy + "a" + r + " " + r + " 0 1 0 " + -r + " " + r +
        "a" + r * 0.6 + " " + r * 0.6 + " 0 0 0 0 " + -r * 1.2 })];
  }
  if (!bricks.includes(p.kind)) { return out; }
  for (let i = 1; i < n; i++) {
    const y = top + h * i / n;
    out.push(makeSvg("path", { class: "channel", d: "M" + x + " " + y + "h" + w }));
    if (p.kind === "filter") {
      out.push(makeSvg("rect", { class: "plug", x: i % 2 ? x + w - 5 : x, y: y - h / n, width: 5, height: h / n }));
    }
  }
  if (p.kind === "reduction_catalyst") {
    for (let i = 1; i < w / 8; i++) {
      out.push(makeSvg("path", { class: "channel", d: "M" + (x + i * 8) + " " + top + "v" + h }));
    }
  }
  return out;
}

function markShape(p, x, y) {
  const g = makeSvg("g", { class: "mark" });
  if (p.kind === "fuel_doser" || p.kind === "def_doser") {
    g.append(makeSvg("path", { d: "M" + x + " " + y + "l7 15h-14z", class: p.kind === "fuel_doser" ? "full" : "hollow" }));
    const spray = makeSvg("path", { class: "spray",
      d: "M" + x + " " + (y - 2) + "l-8 -14M" + x + " " + (y - 2) + "v-17M" + x + " " + (y - 2) + "l8 -14" });
    g.append(spray);
    return { g, spray };
  }
  if (p.kind === "sensor") {
    g.append(makeSvg("path", { d: "M" + x + " " + (y - 6) + "v16", class: "stem" }),
      makeSvg("circle", { cx: x, cy: y + 12, r: 4.5, class: "hollow" }));
  } else {
    g.append(makeSvg("path", { d: "M" + x + " " + (y - 4) + "l-5 7h10l-6 9", class: "stem" }));
  }
  return { g };
}

function label(l, y, side) {
  const g = makeSvg("g", { "text-anchor": "middle" });
  const value = makeSvg("text", { x: l.x, y: y + (side > 0 ? 27 : 38), class: "reading" });
  g.append(makeSvg("text", { x: l.x, y: y + 13, class: "name" }, short(l.p.name, 18)));
  if (side < 0) { g.append(makeSvg("text", { x: l.x, y: y + 25, class: "kind" }, l.p.words)); }
  g.append(value);
  return { g, value };
}

// The labels of one side: where they go and how many rows they need.
function labelsOf(c, scale, above) {
  const seen = new Map();
  return c.places.filter((p) => bodies.includes(p.kind) === above).map((p) => {
    const shift = above ? 0 : (seen.get(p.x) || 0);
    seen.set(p.x, shift + 18);
    const at = EDGE + (p.x + (above ? p.size / 2 : 0)) * scale + shift;
    const chars = Math.max(Math.min(p.name.length, 18), above ? Math.min(p.words.length * 0.85, 18) : 0, 16);
    return { p, at, x: at, w: chars * CHAR };
  });
}

function leader(l, cy, h, y, above, height) {
  return makeSvg("path", { class: "leader", d: above
    ? "M" + l.x + " " + (y + 42) + "V" + (height - 6) + "L" + l.at + " " + (cy - h / 2)
    : "M" + l.at + " " + (cy + h / 2 + 16) + "L" + l.x + " " + Math.max(y - 1, cy + h / 2 + 18) });
}

function drawLine(c, longest) {
  const scale = Math.min((PAPER - 2 * EDGE) / longest, MOST_SCALE);
  const up = labelsOf(c, scale, true), down = labelsOf(c, scale, false);
  const above = stack(up) * LABEL_ROW + 12, below = stack(down) * MARK_ROW;
  const tall = Math.max(...c.places.map((p) => p.across * scale), 20), cy = above + tall / 2 + 4;
  const low = cy + tall / 2 + 22, height = low + below + 34;
  const box = makeSvg("svg", { viewBox: "0 0 " + PAPER + " " + height, class: "line", role: "img",
    "aria-label": "Exhaust line from the engine: " + c.places.map((p) => p.name + " (" + p.words + ")").join(", then ") });
  const updates = [];
  const hOf = (p) => Math.max((p.across || c.pipeAcross) * scale, 5);
  for (const l of up) {
    const y = above - 12 - (l.row + 1) * LABEL_ROW, w = Math.max(l.p.size * scale, 2), h = hOf(l.p);
    box.append(leader(l, cy, h, y, true, above));
    const shape = bodyShape(l.p, EDGE + l.p.x * scale, w, cy, h), text = label(l, y, -1);
    box.append(shape.g, text.g);
    updates.push((row, t) => {
      shape.cells.forEach((r, i) => r.setAttribute("fill", cssOf(c.profile[row * c.cells + l.p.first + i])));
      text.value.textContent = readingAt(c, l.p, t);
    });
  }
  for (const l of down) {
    const h = hOf(c.places.find((p) => bodies.includes(p.kind) && p.x + p.size >= l.p.x - 1e-9) || l.p);
    const y = low + l.row * MARK_ROW;
    box.append(leader(l, cy, h, y, false, height));
    const shape = markShape(l.p, l.at, cy + h / 2 + 1), text = label(l, y, 1);
    box.append(shape.g, text.g);
    updates.push((row, t) => {
      const reading = readingAt(c, l.p, t);
      text.value.textContent = reading;
      if (shape.spray) { shape.spray.setAttribute("visibility", reading === "off" ? "hidden" : "visible"); }
    });
  }
  box.append(ruler(scale, height - 22));
  return { box, updates };
}

function ruler(scale, y) {
  const metre = units.us ? 0.3048 : 0.5, words = units.us ? "1 ft" : "0.5 m";
  return makeSvg("g", { class: "ruler" },
    makeSvg("path", { d: "M" + EDGE + " " + (y - 5) + "v10m0 -5h" + metre * scale + "m0 -5v10" }),
    makeSvg("text", { x: EDGE + metre * scale + 8, y: y + 4 }, words + ", gas flows this way →"));
}

function linePictures(node, cases) {
  const longest = Math.max(...cases.map((c) => c.length));
  const pictures = cases.map((c) => {
    c.pipeAcross = (c.places.find((p) => p.kind === "pipe") || { across: 0.1 }).across;
    const d = drawLine(c, longest), phase = make("span", { class: "phase" });
    node.append(caseHeading(c), make("p", { class: "quiet phase-row" }, phase),
      make("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": "drawing of the line" }, d.box));
    return { c, d, phase };
  });
  const marks = [...new Set(cases.flatMap(thresholds))];
  node.append(make("div", { class: "barbox" }, colourBar(marks)),
    make("p", { class: "quiet" }, "To scale, along and across" +
      (cases.some((c) => c.places.some((p) => p.kind === "turbine")) ? "; only the dashed turbine has no size of its own" : "") +
      ". Colour and numbers are the metal, the brick or the filter wall, not the gas." +
      (marks.length > 0 ? " ▼ marks temperatures that were asked for." : "") +
      " Open lines: oxidation catalyst; crossed lines: reduction catalyst; dark plugs: filter. Black triangle: fuel doser; " +
      "white triangle: DEF doser; circle: sensor."));
  return () => pictures.forEach(({ c, d, phase }) => {
    const row = rowAt(c, now.t), words = phaseAt(c, now.t);
    phase.replaceChildren(words ? "phase: " : "", name(words));
    d.updates.forEach((f) => f(row, now.t));
  });
}
