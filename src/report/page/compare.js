// compare.js - several cases: which inputs differ, and what that changed.
function caseHeading(c) {
  return data.cases.length > 1 ? make("h3", { dir: "auto" }, make("span", { class: "number" }, String(data.cases.indexOf(c) + 1)), " ", name(short(c.title || c.label, 120))) : "";
}

function caseHeads() {
  return data.cases.map((c, i) => make("span", {}, make("span", { class: "number" }, String(i + 1)), " ", name(short(c.label, 40))));
}

// All names of one list over all cases, in order of appearance.
function namesOf(list) {
  return [...new Set(data.cases.flatMap((c) => c[list].map((x) => x.name)))];
}

function targetCell(c, key) {
  const v = c.verdicts.find((x) => x.name === key);
  if (!v) { return "not asked"; }
  return v.reached ? make("span", { class: "yes" }, "✓ at " + clock(v.t)) : make("span", { class: "no" }, "✗ never, best " + v.best_text);
}

function targetTable() {
  return table("Targets", ["target", ...caseHeads()], namesOf("verdicts").map((key) => [key, ...data.cases.map((c) => targetCell(c, key))]));
}

function orderTable() {
  return table("The line, in its order", ["case", "elements from the engine"], data.cases.map((c, i) =>
    [String(i + 1), c.places.map((p) => p.name).join(" › ")]), "inputs");
}

function buildDifferences(node) {
  if (data.cases.length < 2) { return; }
  node.hidden = false;
  node.append(orderTable(), data.differences.length > 0
    ? table("Inputs that differ", ["key", ...caseHeads()], data.differences.map((d) =>
      [d.path, ...d.text.map((t) => (t === null ? make("span", { class: "quiet" }, "not there") : name(short(t, 300))))]), "inputs")
    : make("p", {}, "No other input differs."));
  const totals = namesOf("totals").filter((key) => data.cases.some((c) => c.totals.some((t) => t.name === key && t.value !== 0)));
  const any = (key) => data.cases.map((c) => c.totals.find((t) => t.name === key)).find(Boolean);
  node.append(make("div", { class: "columns" },
    table("Totals", ["", ...caseHeads()], totals.map((key) => [totalName(any(key)), ...data.cases.map((c) => {
      const t = c.totals.find((x) => x.name === key);
      return t ? totalText(t) : "–";
    })])),
    table("Hottest", ["", ...caseHeads()], namesOf("elements").map((key) => [key, ...data.cases.map((c) => {
      const e = c.elements.find((x) => x.name === key);
      return e ? sayBoth(e.peak) : "–";
    })]))));
}
