// places.js - the cases as the page uses them: series by name, rows by time, the line in metres.
const data = JSON.parse(byId("data").textContent);
const now = { t: 0, end: 0 };

const bodies = ["pipe", "turbine", "oxidation_catalyst", "reduction_catalyst", "filter"];
const bricks = ["oxidation_catalyst", "reduction_catalyst", "filter"];
const kindWords = { pipe: "pipe", turbine: "turbine", oxidation_catalyst: "oxidation catalyst",
  reduction_catalyst: "reduction catalyst", filter: "filter", fuel_doser: "fuel doser",
  def_doser: "DEF doser", sensor: "sensor", leak: "leak" };
const TURBINE_SIZE = 0.25; // [m] drawn size of the lump that has no size of its own

function prepare(c) {
  c.by = new Map(c.series.map((s) => [s.name, s]));
  c.time = c.series.length > 0 ? c.series[0].v : [];
  let x = 0;
  for (const p of c.places) {
    const drawn = p.kind === "turbine";
    p.size = drawn ? TURBINE_SIZE : p.length;
    p.across = drawn ? TURBINE_SIZE : p.diameter;
    p.x = x;
    x += p.size;
    p.words = kindWords[p.kind] || p.kind;
  }
  c.length = x;
  now.end = Math.max(now.end, c.t_end);
}

function series(c, key) { return c.by.get(key); }

// Row whose time is at or just before t.
function rowAt(c, t) {
  let lo = 0, hi = c.time.length - 1;
  while (hi - lo > 1) {
    const mid = (lo + hi) >> 1;
    if (c.time[mid] <= t) { lo = mid; } else { hi = mid; }
  }
  return hi >= 0 && c.time[hi] <= t ? hi : Math.max(lo, 0);
}

function valueAt(c, key, t) {
  const s = series(c, key);
  if (!s || c.time.length === 0) { return null; }
  const i = rowAt(c, t), j = Math.min(i + 1, c.time.length - 1);
  const d = c.time[j] - c.time[i], g = d > 0 ? Math.min(Math.max((t - c.time[i]) / d, 0), 1) : 0;
  const a = s.v[i], b = s.v[j];
  return a === null || b === null ? a : a + g * (b - a);
}

function phaseAt(c, t) {
  for (const s of c.spans) {
    if (t >= s.t0 && t <= s.t1) { return s.name; }
  }
  return "";
}

// What one element says at one moment: the number beside its picture.
function readingAt(c, p, t) {
  if (p.kind === "fuel_doser" || p.kind === "def_doser") {
    const rate = valueAt(c, p.name + ".rate", t);
    return rate > 0 ? (p.kind === "fuel_doser" ? "fuel " : "DEF ") + say(rate, "kg/s") : "off";
  }
  if (p.kind === "leak") { return say(valueAt(c, p.name + ".leak", t), "kg/s"); }
  return sayBoth(valueAt(c, p.name + (p.kind === "sensor" ? ".reading" : ".mean_temperature"), t));
}

function peakOf(values) {
  let best = null;
  values.forEach((v, i) => { if (v !== null && (best === null || v > values[best])) { best = i; } });
  return best;
}

// Temperatures that were asked for [K], each once.
function thresholds(c) {
  return c.verdicts.filter((v) => v.kelvin).map((v) => v.value);
}

// Where the slider starts: the moment at which the bricks are hottest together.
function tellingMoment(cases) {
  let best = { sum: -Infinity, t: 0 };
  for (const c of cases) {
    const keys = c.places.filter((p) => bricks.includes(p.kind)).map((p) => series(c, p.name + ".mean_temperature"));
    c.time.forEach((t, i) => {
      const sum = keys.reduce((a, s) => a + (s ? s.v[i] : 0), 0);
      if (sum > best.sum + 0.5) { best = { sum, t }; }
    });
  }
  return best.t;
}
