// colour.js - temperature to colour: "inferno" by N. J. Smith and S. van der Walt (CC0), every
// eighth of its 256 steps; even to the eye, and even without colour, since it grows lighter.
const inferno = ["000004","040312","0b0724","150b37","210c4a","2f0a5b","3d0965","4a0c6b","57106e",
  "64156e","71196e","7d1e6d","8a226a","972766","a32c61","b0315b","bc3754","c63d4d","d04545",
  "da4e3c","e35933","eb6429","f1711f","f67e14","f98c0a","fb9b06","fcaa0f","fbba1f","f9c932",
  "f5d949","f2e865","f3f586","fcffa4"].map((h) =>
  [0, 2, 4].map((i) => parseInt(h.slice(i, i + 2), 16)));

// [K] One scale for every run, so that an idling line looks cold and two pages can be held side by
// side; stretched only by what lies outside.
const span = { lo: 253.15, hi: 923.15 };

// The darkest tenth is left out: a cold line must not look like a hole in the paper.
function colourOf(K) {
  const g = Math.min(Math.max((K - span.lo) / (span.hi - span.lo), 0), 1), x = (0.1 + 0.9 * g) * 32;
  const i = Math.min(Math.floor(x), 31), f = x - i;
  return inferno[i].map((a, k) => Math.round(a + f * (inferno[i + 1][k] - a)));
}

function cssOf(K) {
  const c = colourOf(K);
  return "rgb(" + c[0] + "," + c[1] + "," + c[2] + ")";
}

function spanOver(cases) {
  for (const c of cases) {
    for (const v of c.profile) { span.lo = Math.min(span.lo, v); span.hi = Math.max(span.hi, v); }
  }
}

function niceStep(range, most) {
  const raw = range / Math.max(most, 1), p = Math.pow(10, Math.floor(Math.log10(raw)));
  const m = raw / p;
  return (m <= 1 ? 1 : m <= 2 ? 2 : m <= 5 ? 5 : 10) * p;
}

// A bar with the scale in the reader's unit; temperatures that were asked for are marked on it.
function colourBar(marks) {
  const W = 420, box = makeSvg("svg", { viewBox: "0 0 " + (W + 40) + " 46", class: "bar", role: "img",
    "aria-label": "Colour scale from " + sayBoth(span.lo) + ", dark, to " + sayBoth(span.hi) + ", light" });
  for (let i = 0; i < 105; i++) {
    box.append(makeSvg("rect", { x: 20 + i * 4, y: 14, width: 4.5, height: 12,
      fill: cssOf(span.lo + (i + 0.5) / 105 * (span.hi - span.lo)) }));
  }
  const u = unitOf("K"), a = u.f(span.lo), b = u.f(span.hi), step = niceStep(b - a, 7);
  for (let v = Math.ceil(a / step) * step; v <= b + 1e-9; v += step) {
    const x = 20 + (v - a) / (b - a) * W;
    box.append(makeSvg("path", { d: "M" + x + " 26v4", stroke: "#333" }),
      makeSvg("text", { x, y: 41, "text-anchor": "middle", class: "tick" }, Math.round(v) + " " + u.label));
  }
  for (const K of marks) {
    const x = 20 + (K - span.lo) / (span.hi - span.lo) * W;
    if (x >= 20 && x <= W + 20) {
      box.append(makeSvg("path", { d: "M" + (x - 5) + " 4h10l-5 9z", fill: "#111" }));
    }
  }
  return box;
}
