// dom.js - making elements. Text is only ever set as text, never as markup.
function make(tag, attributes, ...children) {
  return fill(document.createElement(tag), attributes, children);
}

function makeSvg(tag, attributes, ...children) {
  return fill(document.createElementNS("http://www.w3.org/2000/svg", tag), attributes, children);
}

function fill(node, attributes, children) {
  for (const [key, value] of Object.entries(attributes || {})) {
    if (value !== null && value !== undefined && value !== false) { node.setAttribute(key, value); }
  }
  for (const child of children) {
    node.append(child instanceof Node ? child : document.createTextNode(String(child)));
  }
  return node;
}

// Names come from people: each stands in its own direction and cannot turn what is around it.
function name(text) {
  return make("bdi", {}, text);
}

function short(text, n) {
  const all = Array.from(text);
  return all.length > n ? all.slice(0, n - 1).join("") + "…" : text;
}

function byId(id) { return document.getElementById(id); }

function table(caption, head, rows, kind) {
  const body = rows.map((row) => make("tr", {}, ...row.map((cell, i) =>
    fill(document.createElement(i === 0 ? "th" : "td"), i === 0 ? { scope: "row" } : {}, [cell]))));
  return make("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": caption },
    make("table", { class: kind || "" }, make("caption", {}, caption),
      make("thead", {}, make("tr", {}, ...head.map((h) => make("th", { scope: "col" }, h)))),
      make("tbody", {}, ...body)));
}

// Parts of the page that must be told anew when units, time or paper change.
const listeners = { units: [], time: [], size: [] };
function on(what, f) { listeners[what].push(f); }
function tell(what) { for (const f of listeners[what]) { f(); } }

// Clears the section below its heading and fills it again, now and whenever the units change.
function section(id, build) {
  const node = byId(id), heading = node.querySelector("h2");
  const again = () => { node.replaceChildren(heading); build(node); };
  again();
  on("units", again);
}
