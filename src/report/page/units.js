// units.js - SI inside, the reader's units outside. A unit is {label, f, digits} with value = f(SI).
const units = { degF: false, us: false };

const unitTable = {
  K: () => units.degF ? { label: "°F", f: (v) => (v - 273.15) * 1.8 + 32, digits: 0 }
    : { label: "°C", f: (v) => v - 273.15, digits: 0 },
  "kg/s": () => units.us ? { label: "lb/h", f: (v) => v * 7936.641, digits: 2 }
    : { label: "g/s", f: (v) => v * 1e3, digits: 2 },
  Pa: () => units.us ? { label: "inH₂O", f: (v) => v / 249.08891, digits: 1 }
    : { label: "kPa", f: (v) => v / 1e3, digits: 2 },
  "rad/s": () => ({ label: "rpm", f: (v) => v * 30 / Math.PI, digits: 0 }),
  "kg/m3": () => ({ label: "g/L", f: (v) => v, digits: 2 }),
  kg: () => units.us ? { label: "lb", f: (v) => v * 2.2046226, digits: 3 }
    : { label: "kg", f: (v) => v, digits: 3 },
  J: () => units.us ? { label: "kBtu", f: (v) => v / 1.05505585e6, digits: 2 }
    : { label: "MJ", f: (v) => v / 1e6, digits: 2 },
  m: () => units.us ? { label: "in", f: (v) => v / 0.0254, digits: 1 }
    : { label: "m", f: (v) => v, digits: 2 },
  "%": () => ({ label: "%", f: (v) => v * 100, digits: 1 }),
  ppm: () => ({ label: "ppm", f: (v) => v * 1e6, digits: 0 }),
};

function unitOf(name) {
  const make = unitTable[name];
  return make ? make() : { label: name === "-" ? "" : name, f: (v) => v, digits: 3 };
}

// toFixed without "-0"
function fixed(v, digits) {
  const text = v.toFixed(digits);
  return Number(text) === 0 ? (0).toFixed(digits) : text;
}

function say(value, unit, digits) {
  if (value === null || !isFinite(value)) { return "–"; }
  const u = unitOf(unit), d = digits === undefined ? u.digits : digits;
  return fixed(u.f(value), d) + (u.label ? " " + u.label : "");
}

// "355 °C (671 °F)", the reader's own unit first
function sayBoth(K) {
  if (K === null || !isFinite(K)) { return "–"; }
  const C = Math.round(K - 273.15) + " °C", F = Math.round((K - 273.15) * 1.8 + 32) + " °F";
  return units.degF ? F + " (" + C + ")" : C + " (" + F + ")";
}

function sayMass(kg) {
  if (units.us) {
    const oz = kg * 35.273962;
    return Math.abs(oz) >= 16 ? (oz / 16).toFixed(2) + " lb" : oz === 0 ? "0" : oz.toPrecision(3) + " oz";
  }
  const a = Math.abs(kg);
  return a >= 1 ? kg.toFixed(2) + " kg" : a >= 1e-3 ? Number((kg * 1e3).toPrecision(3)) + " g"
    : a >= 1e-6 ? Number((kg * 1e6).toPrecision(3)) + " mg" : a > 0 ? "< 1 mg" : "0 g";
}

const FUEL_DENSITY = 0.85; // [kg/L] diesel; common practice, no source
function sayFuel(kg) {
  const litre = kg / FUEL_DENSITY;
  return units.us ? (litre / 3.785411784).toFixed(2) + " gal" : litre.toFixed(2) + " L";
}

// One form throughout a page: mm:ss, or h:mm:ss where the run is long.
function clock(t) {
  if (t === null || !isFinite(t)) { return "never"; }
  const s = Math.round(t), two = (n) => String(n).padStart(2, "0");
  return s < 6000 && now.end < 6000 ? two(Math.floor(s / 60)) + ":" + two(s % 60)
    : Math.floor(s / 3600) + ":" + two(Math.floor(s / 60) % 60) + ":" + two(s % 60);
}
