// main.js - puts the page together.
function switchButtons(key, words) {
  const buttons = words.map(([value, text]) => {
    const b = make("button", { type: "button" }, text);
    b.addEventListener("click", () => { units[key] = value; tell("units"); tell("time"); });
    return [value, b];
  });
  const show = () => buttons.forEach(([value, b]) => b.setAttribute("aria-pressed", String(units[key] === value)));
  show();
  on("units", show);
  return make("div", { class: "pair" }, ...buttons.map(([, b]) => b));
}

function buildHead() {
  const many = data.cases.length > 1;
  const title = many ? data.cases.length + " cases side by side" : data.cases[0].title || data.cases[0].label;
  byId("title").textContent = short(title, 200);
  document.title = short(title, 80) + " – Emberpipe";
  byId("subtitle").append(...data.cases.flatMap((c, i) => [i > 0 ? ", " : "", name(short(c.label, 80))]),
    ", " + clock(now.end) + (now.end < 6000 ? " min simulated" : " h simulated"));
  byId("switches").append(switchButtons("degF", [[false, "°C"], [true, "°F"]]), switchButtons("us", [[false, "SI"], [true, "US"]]));
  byId("made").textContent = "Made by Emberpipe " + data.version + ". This file needs no network and no other file.";
}

function verdictItem(v) {
  const reached = v.reached ? "reached at " + clock(v.t)
    : "never " + (v.gap_text ? "reached: best " + v.best_text + " at " + clock(v.t_best) + ", " + v.gap_text + (v.below ? " too high" : " short")
      : "held: " + Math.round(v.longest) + " s at most of " + Math.round(v.hold) + " s");
  return make("li", { class: v.reached ? "yes" : "no" }, make("span", { class: "sign", "aria-hidden": "true" }, v.reached ? "✓" : "✗"),
    make("span", {}, make("strong", {}, name(v.name)), ": ", v.what + " of ‘" + v.at + "’ – ", make("b", {}, reached),
      ...(v.why ? [make("span", { class: "why" }, "Why: ", name(v.why))] : [])));
}

// Numbers and their units stay on one line.
function unbroken(text) {
  return text.replace(/(\d) (°[CF]|%|K\b|g\/s)/g, "$1\u00a0$2");
}

function sentence(text, sign) {
  return make("p", { class: "sentence " + (sign === "✓" ? "yes" : sign === "✗" ? "no" : "") },
    make("span", { class: "sign", "aria-hidden": "true" }, sign), name(unbroken(text)));
}

function signOf(c) {
  return c.verdicts.length === 0 && c.complete ? "" : c.complete && c.verdicts.every((v) => v.reached) ? "✓" : "✗";
}

function buildVerdict(node) {
  if (data.cases.length === 1) {
    const c = data.cases[0];
    node.append(sentence(c.sentence, signOf(c)), make("ul", { class: "verdicts" }, ...c.verdicts.map(verdictItem)));
    return;
  }
  node.append(sentence(data.compared, ""), targetTable());
  for (const c of data.cases) {
    node.append(caseHeading(c), make("p", {}, name(unbroken(c.sentence))), make("details", {}, make("summary", {}, "Targets of this case, and why"),
      make("ul", { class: "verdicts" }, ...c.verdicts.map(verdictItem))));
  }
}

function buildCautions(node) {
  node.hidden = !data.cases.some((c) => c.hot_work);
  node.append(make("ul", {}, ...data.cautions.map((text) => make("li", {}, text))));
}

// Pictures with a size in pixels are made anew when the room changes; paper has one column.
function pictures() {
  const draw = { line: null, plots: null, maps: null };
  section("travel", (node) => {
    draw.line = linePictures(node, data.cases);
    node.querySelector("h2").after(moment);
  });
  section("plots", (node) => { draw.plots = buildPlots(node); });
  section("map", (node) => { draw.maps = buildMaps(node); });
  on("time", () => { draw.line(); draw.plots(); draw.maps(); });
  const again = () => {
    for (const [id, build] of [["plots", buildPlots], ["map", buildMaps]]) {
      const node = byId(id);
      node.replaceChildren(node.querySelector("h2"));
      draw[id === "map" ? "maps" : "plots"] = build(node);
    }
    tell("time");
  };
  let wide = window.innerWidth, timer = 0;
  window.addEventListener("resize", () => {
    clearTimeout(timer);
    timer = setTimeout(() => { if (window.innerWidth !== wide) { wide = window.innerWidth; again(); } }, 150);
  });
  return again;
}

// On paper everything is open, and as wide as the narrower of A4 and Letter allows.
function paper(again) {
  const before = () => {
    document.body.classList.add("paper");
    document.querySelectorAll("details").forEach((d) => { d.dataset.was = d.open ? "1" : ""; d.open = true; });
    again();
  };
  const after = () => {
    document.body.classList.remove("paper");
    document.querySelectorAll("details").forEach((d) => { d.open = d.dataset.was === "1"; });
    again();
  };
  window.addEventListener("beforeprint", before);
  window.addEventListener("afterprint", after);
}

data.cases.forEach(prepare);
spanOver(data.cases);
buildHead();
section("verdict", buildVerdict);
section("differences", buildDifferences);
section("cautions", buildCautions);
const moment = make("div", { id: "moment" });
byId("travel").append(moment);
buildPlayer(moment);
const drawAgain = pictures();
section("flow", buildFlow);
section("readings", buildReadings);
section("totals", buildTotals);
section("warnings", buildWarnings);
section("standing", buildStanding);
section("inputs", buildInputs);
setTime(tellingMoment(data.cases));
paper(drawAgain);
