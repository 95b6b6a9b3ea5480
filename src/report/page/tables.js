// tables.js - what is read rather than looked at: readings by minute, totals, log, warnings, inputs.
const readingSteps = [60, 120, 300, 600, 900, 1800, 3600, 7200, 14400, 43200, 86400, 604800];

// Sensors first, as a scan tool would show them; then the gas behind each brick; soot and drop.
function readingColumns(c) {
  const sensors = c.places.filter((p) => p.kind === "sensor").map((p) => ({ head: p.name, key: p.name + ".reading", unit: "K" }));
  const behind = c.places.filter((p) => bricks.includes(p.kind)).map((p) => ({ head: "behind " + p.name, key: p.name + ".gas_temperature", unit: "K" }));
  const filters = c.places.filter((p) => p.kind === "filter").flatMap((p) => [
    { head: p.name + " soot", key: p.name + ".soot_share", unit: "%" },
    { head: p.name + " pressure drop", key: p.name + ".pressure_drop", unit: "Pa" }]);
  return [{ head: "engine speed", key: "engine.speed", unit: "rad/s" }, { head: "into the line", key: "exhaust.temperature", unit: "K" },
    ...sensors, ...behind, ...filters].filter((col) => series(c, col.key)).slice(0, 12);
}

function readingCell(c, col, t) {
  const v = valueAt(c, col.key, t);
  if (v === null || !isFinite(v)) { return "–"; }
  if (col.unit !== "K") { return fixed(unitOf(col.unit).f(v), unitOf(col.unit).digits); }
  const C = Math.round(v - 273.15), F = Math.round((v - 273.15) * 1.8 + 32);
  return units.degF ? F + " (" + C + ")" : C + " (" + F + ")";
}

function buildReadings(node) {
  const step = readingSteps.find((s) => now.end / s <= 61) || now.end / 60;
  const both = units.degF ? "°F (°C)" : "°C (°F)";
  for (const c of data.cases) {
    const columns = readingColumns(c), rows = [];
    for (let t = 0; t <= c.t_end + 1e-6; t += step) {
      rows.push([clock(t), ...columns.map((col) => readingCell(c, col, t))]);
    }
    node.append(caseHeading(c), table("Every " + (step % 3600 === 0 ? step / 3600 + " h" : Math.round(step / 60) + " min") + ". Sensors show what a scan tool would read there, lag and offset included; the rest is gas temperature.",
      ["time", ...columns.map((col) => col.head + " [" + (col.unit === "K" ? both : unitOf(col.unit).label) + "]")], rows, "numbers"));
  }
  node.append(make("p", { class: "quiet" }, "Readings of a model of the line as described. A difference on the vehicle is a reason to look, not a fault found."));
}

function totalText(t) {
  if (t.unit === "kg") {
    return sayMass(t.value) + (t.name.endsWith("fuel") ? " (" + sayFuel(t.value) + ")" : "");
  }
  return t.unit === "J" ? (t.value / 3.6e6).toFixed(2) + " kWh" : t.text;
}

function totalName(t) {
  const dot = t.name.lastIndexOf(".");
  return t.meaning + (dot > 0 ? ", " + t.name.slice(0, dot) : "");
}

function buildTotals(node) {
  for (const c of data.cases) {
    node.append(caseHeading(c), make("div", { class: "columns" },
      table("Totals of the run", ["", "amount"], c.totals.filter((t) => t.value !== 0).map((t) => [totalName(t), totalText(t)])),
      table("Hottest parts", ["", "hottest", "at"], c.elements.map((e) => [e.name, sayBoth(e.peak), clock(e.t_peak)]))),
    make("details", {}, make("summary", {}, "Log of the run"),
      table("What happened when", ["time", "event"], logOf(c))));
  }
  node.append(make("p", { class: "quiet" }, "Litres and gallons of fuel at 0.85 kg/L."));
}

function logOf(c) {
  const phases = c.spans.slice(0, 100).map((s) => ({ t: s.t0, text: "phase ‘" + s.name + "’ begins" }));
  return phases.concat(c.notes).sort((a, b) => a.t - b.t).map((e) => [clock(e.t), name(e.text)]);
}

function buildWarnings(node) {
  let any = false;
  for (const c of data.cases) {
    if (c.warnings.length > 0) {
      any = true;
      node.append(caseHeading(c), make("ul", {}, ...c.warnings.map((w) =>
        make("li", {}, name(w.text), make("br"), make("span", { class: "quiet" }, "Try: ", name(w.advice))))));
    }
  }
  node.hidden = !any;
}

function buildStanding(node) {
  node.append(table("Parts of the model", ["part", "standing"], data.standing),
    make("p", {}, "A model of a line as described, one-dimensional, with typical parts where none were given: use it to compare " +
      "and to explain, and let measurements on the vehicle decide."));
  for (const c of data.cases) {
    node.append(make("p", { class: "quiet" }, data.cases.length > 1 ? c.label + ": " : "", "books of this run (in − out − stored, relative to what passed): " +
      c.books.map((b) => b.name + " " + b.relative.toExponential(1)).join(", ") +
      (c.books.some((b) => Math.abs(b.relative) > c.book_limit) ? ". Not all of them close to " : ". All close to ") +
      c.book_limit.toExponential(0) + (c.by_rows ? ". Integrated row by row: some kelvin off what lies between the rows." : ".")));
  }
}

function buildInputs(node) {
  for (const c of data.cases) {
    const row = (v) => [make("span", { title: v.help, class: "path" }, v.path), name(v.text), name(v.help), v.source];
    const given = c.inputs.filter((v) => v.given), rest = c.inputs.filter((v) => !v.given);
    node.append(caseHeading(c),
      table("Given in the case or its parts", ["key", "value", "meaning"], given.map((v) => row(v).slice(0, 3)), "inputs"),
      make("details", {}, make("summary", {}, "Defaults that filled the gaps (" + rest.length + ")"),
        table("Defaults, and where they come from", ["key", "value", "meaning", "source"], rest.map(row), "inputs")));
  }
}
