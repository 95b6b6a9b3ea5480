// flow.js - the heat budget as streams: what gave heat on the left, where it went on the right.
const FLOW_TALL = 300, FLOW_LABEL = 17;

// Small streams are told together: a picture of hair-thin lines tells nothing.
function grouped(items, total) {
  const big = items.filter((h) => h.J >= 0.015 * total), small = items.filter((h) => h.J < 0.015 * total);
  if (small.length > 1) {
    big.push({ label: small.length + " smaller ones together", J: small.reduce((a, h) => a + h.J, 0) });
    return big;
  }
  return big.concat(small);
}

// The first item is what the gas brought less what it carried out: its sign decides how to say that.
function streamLabel(text, gives) {
  if (text.startsWith("engine heat")) { return gives ? "carried out by the gas, net" : "engine heat that stayed"; }
  return text.replace(/ \(.*\)$/, "");
}

function sides(c) {
  const gain = c.heat.filter((h) => h.J > 0).map((h) => ({ label: streamLabel(h.label, false), J: h.J }));
  const give = c.heat.filter((h) => h.J < 0).map((h) => ({ label: streamLabel(h.label, true), J: -h.J }));
  const total = Math.max(gain.reduce((a, h) => a + h.J, 0), give.reduce((a, h) => a + h.J, 0), 1e-9);
  return { gain: grouped(gain, total), give: grouped(give, total), total };
}

function spread(labels, low, high) {
  for (let i = 1; i < labels.length; i++) { labels[i].y = Math.max(labels[i].y, labels[i - 1].y + FLOW_LABEL); }
  for (let i = labels.length - 1, y = high; i >= 0; i--, y -= FLOW_LABEL) { labels[i].y = Math.min(labels[i].y, y); }
  for (let i = 0, y = low; i < labels.length; i++, y += FLOW_LABEL) { labels[i].y = Math.max(labels[i].y, y); }
}

function ribbon(x0, y0, x1, y1, h, cls) {
  const m = (x0 + x1) / 2;
  return makeSvg("path", { class: cls, d: "M" + x0 + " " + y0 + "C" + m + " " + y0 + " " + m + " " + y1 + " " + x1 + " " + y1 +
    "v" + h + "C" + m + " " + (y1 + h) + " " + m + " " + (y0 + h) + " " + x0 + " " + (y0 + h) + "z" });
}

function drawSide(box, items, perJ, left, tall, total) {
  const gap = items.length > 1 ? Math.min(10, 60 / items.length) : 0, labels = [];
  let outer = 12, inner = 12 + gap * (items.length - 1) / 2;
  for (const item of items) {
    const h = Math.max(item.J * perJ, 0.8);
    box.append(left ? ribbon(330, outer, 456, inner, h, "gain") : ribbon(484, inner, 620, outer, h, "give"),
      makeSvg("rect", { x: left ? 322 : 620, y: outer, width: 8, height: h, class: left ? "gain-end" : "give-end" }));
    labels.push({ y: outer + h / 2, item });
    outer += h + gap;
    inner += h;
  }
  spread(labels, 14, tall - 6);
  for (const l of labels) {
    box.append(makeSvg("text", { x: left ? 314 : 636, y: l.y + 4, "text-anchor": left ? "end" : "start", class: "flowtext" },
      short(l.item.label, 36) + "  ", makeSvg("tspan", { class: "amount" }, say(l.item.J, "J") + ", " + Math.round(100 * l.item.J / total) + " %")));
  }
  return inner;
}

function drawFlow(c, perJ) {
  const s = sides(c), most = Math.max(s.gain.length, s.give.length);
  const tall = Math.max(s.total * perJ + 12 + 70, most * FLOW_LABEL + 24);
  const words = (list) => list.map((h) => h.label + " " + say(h.J, "J")).join("; ");
  const box = makeSvg("svg", { viewBox: "0 0 1000 " + tall, class: "flow", role: "img",
    "aria-label": "Heat gained: " + words(s.gain) + ". Given away: " + words(s.give) });
  const a = drawSide(box, s.gain, perJ, true, tall, s.total), b = drawSide(box, s.give, perJ, false, tall, s.total);
  box.append(makeSvg("rect", { x: 456, y: 12, width: 28, height: Math.max(a, b) - 12, class: "core" }),
    makeSvg("text", { x: 470, y: Math.max(a, b) + 18, "text-anchor": "middle", class: "flowtext" }, "the line, " + say(s.total, "J")));
  return box;
}

function buildFlow(node) {
  const perJ = FLOW_TALL / Math.max(...data.cases.map((c) => sides(c).total));
  for (const c of data.cases) {
    const u = unitOf("J");
    node.append(caseHeading(c), make("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": "flow picture" }, drawFlow(c, perJ)),
      make("details", {}, make("summary", {}, "The same as numbers"),
        table("Heat budget: + gained, − given away", ["", u.label, "share of all gains"], c.heat.map((h) =>
          [h.label, fixed(u.f(h.J), u.digits), fixed(100 * h.J / sides(c).total, 1) + " %"]), "numbers")));
  }
  node.append(make("p", { class: "quiet" }, "Left: heat that stayed in the line and heat that chemistry set free. Right: where it went. " +
    "Heat that only passed through with the gas is not counted. " +
    (data.cases.length > 1 ? "All pictures share one scale." : "")));
}
