// heatmap.js - every cell of every element (down the page, as the gas flows) at every moment.
const MAP_LEFT = 116, MAP_TOP = 20, MAP_FOOT = 26;

function bandsOf(c) {
  let y = MAP_TOP;
  const cells = c.places.filter((p) => p.n > 0);
  const room = 400 / Math.max(cells.reduce((a, p) => a + p.n, 0), 1);
  return cells.map((p) => {
    const h = Math.max(16, Math.min(p.n * room, 60)), band = { p, y, h };
    y += h;
    return band;
  });
}

// One column of pixels per moment, one pixel per cell; stretched when drawn.
function mapImage(c, width) {
  const canvas = make("canvas", { width, height: Math.max(c.cells, 1) }), ctx = canvas.getContext("2d");
  const image = ctx.createImageData(width, Math.max(c.cells, 1));
  for (let x = 0; x < width; x++) {
    const t = now.end * (x + 0.5) / width, row = rowAt(c, t) * c.cells;
    for (let k = 0; k < c.cells; k++) {
      const rgb = colourOf(c.profile[row + k]);
      image.data.set(t <= c.t_end ? [rgb[0], rgb[1], rgb[2], 255] : [255, 255, 255, 0], 4 * (k * width + x));
    }
  }
  ctx.putImageData(image, 0, 0);
  return canvas;
}

function mapText(ctx, text, x, y, align) {
  ctx.fillStyle = "#222";
  ctx.font = "12px system-ui, sans-serif";
  ctx.textAlign = align;
  ctx.textBaseline = "middle";
  ctx.fillText(text, x, y);
}

function mapAxis(ctx, width, bottom) {
  const step = timeSteps.find((s) => now.end / s <= width / 70) || now.end;
  for (let t = 0; t <= now.end + 1e-6; t += step) {
    const x = MAP_LEFT + t / now.end * width;
    ctx.fillStyle = "#333";
    ctx.fillRect(x, bottom, 1, 5);
    mapText(ctx, clock(t), Math.min(x, MAP_LEFT + width - 16), bottom + 14, "center");
  }
}

function mapPhases(ctx, c, width, bottom) {
  for (const s of c.spans.length > 60 ? [] : c.spans) {
    const x0 = MAP_LEFT + s.t0 / now.end * width, x1 = MAP_LEFT + s.t1 / now.end * width;
    ctx.fillStyle = "#fff";
    if (s.t0 > 0) { ctx.fillRect(x0 - 0.5, MAP_TOP, 1.5, bottom - MAP_TOP); }
    const room = Math.floor((x1 - x0) / 7);
    if (room >= 5) { mapText(ctx, short(s.name, room), (x0 + x1) / 2, MAP_TOP - 10, "center"); }
  }
}

function symbolOf(p) {
  return p.kind === "fuel_doser" ? "▲ " : p.kind === "def_doser" ? "△ " : p.kind === "sensor" ? "○ " : "";
}

function drawMap(c, width) {
  const bands = bandsOf(c), last = bands[bands.length - 1], bottom = last ? last.y + last.h : MAP_TOP;
  const dpr = Math.max(window.devicePixelRatio || 1, 2), plot = width - MAP_LEFT - 6, height = bottom + MAP_FOOT;
  const canvas = make("canvas", { width: width * dpr, height: height * dpr, role: "img",
    style: "width:" + width + "px;height:" + height + "px",
    "aria-label": "Temperature of every part over time. " + bands.map(({ p }) => {
      const e = c.elements.find((x) => x.name === p.name);
      return e ? p.name + ": at most " + sayBoth(e.peak) + " at " + clock(e.t_peak) : p.name;
    }).join("; ") });
  const ctx = canvas.getContext("2d"), image = mapImage(c, Math.max(Math.floor(plot), 10));
  ctx.scale(dpr, dpr);
  ctx.imageSmoothingEnabled = false;
  for (const { p, y, h } of bands) {
    ctx.drawImage(image, 0, p.first, image.width, p.n, MAP_LEFT, y, plot, h);
    mapText(ctx, symbolOf(p) + short(p.name, 14), MAP_LEFT - 8, y + h / 2, "right");
    ctx.fillStyle = "#fff";
    ctx.fillRect(MAP_LEFT, y, plot, 1);
  }
  mapPhases(ctx, c, plot, bottom);
  mapAxis(ctx, plot, bottom);
  return { canvas, plot, bottom };
}

function buildMaps(node) {
  const cases = data.cases, columns = cases.length > 1 && (node.clientWidth > 780 || document.body.classList.contains("paper")) ? 2 : 1;
  const grid = make("div", { class: "grid", style: "grid-template-columns: repeat(" + columns + ", minmax(0, 1fr))" });
  const moves = [];
  node.append(grid);
  for (const c of cases) {
    const m = drawMap(c, plotWidth(node, columns)), bar = make("div", { class: "now", style: "height:" + m.bottom + "px" });
    const box = make("div", { class: "map" }, m.canvas, bar);
    grid.append(make("div", {}, caseHeading(c), box));
    moves.push(() => { bar.style.transform = "translateX(" + (MAP_LEFT + now.t / now.end * m.plot) + "px)"; });
    m.canvas.addEventListener("click", (e) => setTime((e.offsetX - MAP_LEFT) / m.plot * now.end));
  }
  node.append(make("div", { class: "barbox" }, colourBar([...new Set(cases.flatMap(thresholds))])),
    make("p", { class: "quiet" }, "Gas flows down the page, time runs to the right. Each element gets room for its name, so the " +
      "map is not to scale along the line. ▲ fuel doser, △ DEF doser, ○ sensor."));
  return () => moves.forEach((f) => f());
}
