// The page of --report as a browser shows it: node --test page.test.mjs, with PROGRAM, HOSTILE,
// CONFIGS, MODULES and CHROMIUM in the environment.
import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import { mkdtempSync, rmSync, statSync } from "node:fs";
import { createRequire } from "node:module";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { after, before, test } from "node:test";
import { pathToFileURL } from "node:url";

const { PROGRAM, HOSTILE, CONFIGS, MODULES, CHROMIUM } = process.env;
const { chromium } = createRequire(join(MODULES, "x.js"))("playwright-core");
const folder = mkdtempSync(join(tmpdir(), "emberpipe-page-"));
const file = (name) => join(folder, name + ".html");
const config = (name) => join(CONFIGS, name + ".yaml");
let browser;

// Opens a page and keeps what must not happen: errors, and requests for anything but the file itself.
async function open(name, options = {}) {
  const page = await browser.newPage({ viewport: { width: 1280, height: 800 }, ...options });
  page.bad = [];
  page.on("console", (m) => { if (m.type() !== "log") { page.bad.push(m.text()); } });
  page.on("pageerror", (e) => page.bad.push(e.message));
  page.on("request", (r) => {
    if (r.url() !== pathToFileURL(file(name)).href && !r.url().startsWith("data:")) { page.bad.push("asks for " + r.url()); }
  });
  await page.goto(pathToFileURL(file(name)).href);
  await page.evaluate(() => new Promise((done) => requestAnimationFrame(() => setTimeout(done, 50))));
  return page;
}

before(async () => {
  execFileSync(PROGRAM, ["run", config("parked-regeneration"), "--quiet", "--report", file("parked")]);
  execFileSync(PROGRAM, ["run", config("idle-all-day"), "--quiet", "--report", file("day")]);
  execFileSync(PROGRAM, ["compare", config("parked-regeneration"), config("dosing-far-downstream"), "--quiet", "--report", file("two")]);
  execFileSync(HOSTILE, [file("hostile")]);
  browser = await chromium.launch({ executablePath: CHROMIUM, args: ["--no-sandbox"] });
});

after(async () => {
  await browser?.close();
  rmSync(folder, { recursive: true });
});

test("every page opens without an error and without asking for anything", async () => {
  for (const name of ["parked", "day", "two"]) {
    const page = await open(name);
    assert.deepEqual(page.bad, []);
    assert.ok(await page.locator("canvas").count() > 5, "charts are drawn");
    await page.close();
  }
});

test("the page of an eight-hour day is small and quick", async () => {
  assert.ok(statSync(file("day")).size < 3e6);
  // Processor time of the page's own thread: what a machine with nothing else to do would need.
  const page = await browser.newPage({ viewport: { width: 1280, height: 800 } });
  const cdp = await page.context().newCDPSession(page);
  await cdp.send("Performance.enable");
  await page.goto(pathToFileURL(file("day")).href);
  await page.evaluate(() => new Promise((done) => requestAnimationFrame(() => setTimeout(done))));
  const { metrics } = await cdp.send("Performance.getMetrics");
  const seconds = metrics.find((m) => m.name === "ThreadTime").value;
  assert.ok(seconds > 0.01 && seconds < 2, seconds + " s");
  console.log("opened in " + seconds.toFixed(2) + " s of processor time");
  await page.close();
});

test("slider and play move the heat; the keyboard works", async () => {
  const page = await open("parked");
  const colours = () => page.locator("svg.line rect[fill]").evaluateAll((all) => all.map((r) => r.getAttribute("fill")).join());
  const slider = page.locator("#time");
  await slider.focus();
  await page.keyboard.press("Home");
  assert.equal(await page.locator("#clock").textContent(), "00:00");
  const cold = await colours();
  await page.keyboard.press("End");
  assert.equal(await page.locator("#clock").textContent(), "60:00");
  assert.notEqual(await colours(), cold);
  await page.keyboard.press("Home");
  await page.keyboard.press("ArrowRight");
  assert.notEqual(await page.locator("#clock").textContent(), "00:00");
  assert.match(await slider.getAttribute("aria-valuetext"), /hottest brick/);
  await page.keyboard.press(" ");
  await page.waitForFunction(() => Number(document.getElementById("time").value) > 60);
  await page.locator("#play").click();
  const stopped = await slider.inputValue();
  await page.waitForTimeout(200);
  assert.equal(await slider.inputValue(), stopped);
  assert.deepEqual(page.bad, []);
  await page.close();
});

test("a click on a chart and on the map sets the moment", async () => {
  const page = await open("parked");
  for (const target of [".u-over >> nth=0", ".map canvas"]) {
    await page.locator("#time").fill("0");
    const box = await page.locator(target).boundingBox();
    await page.locator(target).click({ position: { x: box.width * 0.7, y: box.height / 2 } });
    const t = Number(await page.locator("#time").inputValue());
    assert.ok(t > 2000 && t < 2800, target + " gave " + t);
  }
  await page.close();
});

test("the switches change every unit and nothing else", async () => {
  const page = await open("parked");
  const text = () => page.locator("main").innerText();
  const si = await text();
  await page.getByRole("button", { name: "°F" }).click();
  const f = await text();
  assert.match(f, /exhaust into the line \[°F\]/);
  assert.match(f, /1148 °F \(620 °C\)|114\d °F \(6\d\d °C\)/);
  await page.getByRole("button", { name: "US" }).click();
  assert.match(await text(), /\[lb\/h\]/);
  assert.match(await text(), /kBtu/);
  await page.getByRole("button", { name: "°C" }).click();
  await page.getByRole("button", { name: "SI" }).click();
  assert.equal(await text(), si);
  assert.deepEqual(page.bad, []);
  await page.close();
});

// 8.5 x 11 in and 210 x 297 mm, less the page margins of 12 mm, in px at 96 to the inch.
for (const [format, width] of [["A4", 702], ["Letter", 725]]) {
  test("printed on " + format + " nothing is cut", async () => {
    for (const name of ["parked", "two", "hostile"]) {
      const page = await open(name, { viewport: { width, height: 900 } });
      await page.emulateMedia({ media: "print" });
      await page.evaluate(() => window.dispatchEvent(new Event("beforeprint")));
      await page.waitForTimeout(100);
      const cut = await page.evaluate((w) => [...document.querySelectorAll("body *")].filter((e) =>
        e.getClientRects().length > 0 && e.getBoundingClientRect().right > w + 1).map((e) => e.tagName + "." + e.getAttribute("class") + " " +
          e.textContent.slice(0, 30) + " " + e.getBoundingClientRect().right), width);
      assert.deepEqual(cut, [], name);
      const pdf = await page.pdf({ format });
      assert.equal(pdf.subarray(0, 5).toString(), "%PDF-");
      await page.close();
    }
  });
}

test("on a phone nothing sticks out of the page", async () => {
  for (const name of ["parked", "two", "hostile"]) {
    const page = await open(name, { viewport: { width: 360, height: 740 } });
    assert.ok(await page.evaluate(() => document.documentElement.scrollWidth) <= 360, name);
    await page.close();
  }
});

test("no name can break the page or run script", async () => {
  const page = await open("hostile");
  assert.deepEqual(page.bad, []);
  assert.equal(await page.evaluate(() => window.broken), undefined);
  assert.equal(await page.locator("img").count(), 0);
  assert.equal(await page.locator("script").count(), 3);
  assert.match(await page.locator("#verdict").innerText(), /<\/script><script>window\.broken=1/);
  assert.ok((await page.locator("#differences").innerText()).includes("WWWW") || (await page.locator("#inputs").innerText()).includes("WWWW"));
  await page.close();
});

test("pictures have words, and no meaning is by colour alone", async () => {
  const page = await open("parked");
  for (const svg of await page.locator("svg[role=img], canvas[role=img], figure[aria-label], .chart").all()) {
    assert.ok(((await svg.getAttribute("aria-label")) || "").length > 20);
  }
  assert.match(await page.locator(".verdicts").innerText(), /reached at 15:/);
  assert.match(await page.locator(".verdicts").innerText(), /never reached/);
  assert.match(await page.locator("#cautions").innerText(), /carbon monoxide/);
  await page.close();
});
