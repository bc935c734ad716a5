// The page that `page` writes, in a browser, from a file and without a network: the job from nothing to a finished record,
// with a reload in the middle, two tabs, a switch skipped, a low reading, hostile names, at three widths.
//
//     node page.js PROGRAM [BROWSER] [PICTURES]
//
// PROGRAM is the command, BROWSER Debian's chromium-headless-shell where not given, PICTURES a folder for screenshots.

import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import { existsSync, mkdtempSync, readFileSync, rmSync, statSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { fileURLToPath, pathToFileURL } from "node:url";
import { chromium } from "playwright-core";

const root = fileURLToPath(new URL("../../", import.meta.url));
const [program = "", browserPath = "/usr/bin/chromium-headless-shell", pictures = ""] = process.argv.slice(2);
assert(program, "name the command");
const command = resolve(program);
const folder = mkdtempSync(join(tmpdir(), "page-"));

/** What the command prints. @param {string[]} words */
function printed(words) {
  return execFileSync(command, words, { cwd: root, encoding: "utf8", maxBuffer: 1 << 28 });
}

/** A page of these files. @param {string} name @param {string[]} files */
function pageOf(name, files) {
  const path = join(folder, `${name}.html`);
  printed(["page", ...files, "-o", path]);
  return path;
}

const browser = await chromium.launch({ executablePath: browserPath, args: ["--no-sandbox"] });
/** @type {string[]} */
const wrong = [];
/** @type {string[]} */
const none = [];

/** A tab in which anything that goes wrong, or asks for a network, is noticed. @param {import("playwright-core").BrowserContext} context @param {string} path */
async function tabOf(context, path) {
  const tab = await context.newPage();
  tab.setDefaultTimeout(60_000);
  tab.on("pageerror", (error) => wrong.push(String(error)));
  tab.on("console", (message) => wrong.push(message.text()));
  tab.on("request", (request) => {
    if (!/^(file|blob):/.test(request.url())) {
      wrong.push(`it asks for ${request.url()}`);
    }
  });
  await tab.goto(pathToFileURL(path).href);
  await tab.waitForSelector("nav button");
  return tab;
}

/** @param {import("playwright-core").Page} tab @param {string} name */
async function show(tab, name) {
  if (pictures) {
    await tab.screenshot({ path: join(pictures, `${name}.png`), fullPage: true });
  }
}

/** @param {import("playwright-core").Page} tab @param {string} name */
async function part(tab, name) {
  await tab.click(`nav button:text-is("${name}")`);
  await tab.waitForSelector(`nav button[aria-current=page]:text-is("${name}")`);
}

/** Nothing is being worked out. @param {import("playwright-core").Page} tab */
async function settled(tab) {
  await tab.waitForSelector("#page[aria-busy=false]");
}

/** Ticks off the preparation. @param {import("playwright-core").Page} tab */
async function prepare(tab) {
  await part(tab, "Prepare");
  await tab.click("label.tick:last-of-type >> text=All is prepared");
  await settled(tab);
  await part(tab, "Now");
}

/** The test set as the page saves it. @param {import("playwright-core").Page} tab */
async function saved(tab) {
  await part(tab, "Record");
  const [download] = await Promise.all([tab.waitForEvent("download"), tab.click("text=Save the test set")]);
  const path = join(folder, download.suggestedFilename());
  await download.saveAs(path);
  await part(tab, "Now");
  return path;
}

/**
 * Does what the page asks for until nothing is left; returns how many operations and readings that took.
 * @param {import("playwright-core").Page} tab
 * @param {(count: number) => string} value
 */
async function work(tab, value) {
  let [operated, read] = [0, 0];
  for (let step = 0; step < 400; step += 1) {
    const card = tab.locator("main .card").first();
    const over = tab.locator(".card.now .big:has-text('is over')").first();
    if (await over.count()) {
      await over.dblclick();
      operated += 1;
    } else if (await tab.locator("form .megohms").count()) {
      await tab.fill("form .megohms", value(read));
      await tab.dblclick("form .big");
      read += 1;
    } else {
      assert.match(await card.innerText(), /Nothing is left to read/);
      return { operated, read };
    }
    await settled(tab);
    await tab.waitForTimeout(400);
  }
  throw new Error("it comes to no end");
}

try {
  const context = await browser.newContext({ offline: true, viewport: { width: 390, height: 844 }, acceptDownloads: true });

  // The landing from nothing: what the page writes is what the command takes for a finished record.
  const landing = await tabOf(context, pageOf("landing", ["examples/landing.toml"]));
  await show(landing, "landing-first");
  await prepare(landing);
  const halves = await landing.locator(".card.now").count();
  assert.equal(halves, 1);
  await landing.fill("form .megohms", "0,4");
  await landing.waitForSelector(".judged.fail");
  await show(landing, "landing-low");
  await landing.fill("form .megohms", "");
  const done = await work(landing, (count) => (count % 2 ? ">999" : "412,5"));
  const path = await saved(landing);
  const judged = JSON.parse(printed(["judge", "examples/landing.toml", path, "--json"]));
  assert.equal(judged.verdict, "pass", JSON.stringify(judged.missed));
  const plan = JSON.parse(printed(["plan", "examples/landing.toml", "--json"]));
  assert.deepEqual([done.operated, done.read], [plan.totals.operations, plan.totals.readings]);
  await part(landing, "Record");
  await show(landing, "landing-record");

  // Nothing entered is lost: a reload shows the same, and so does a tab that is opened anew.
  const text = await landing.innerText("header");
  await landing.reload();
  await landing.waitForSelector("nav button");
  assert.equal(await landing.innerText("header"), text);
  await landing.click("text=Undo");
  await landing.waitForFunction((text) => document.querySelector("header")?.innerText !== text, text);
  await landing.click("text=Redo");
  await landing.waitForFunction((text) => document.querySelector("header")?.innerText === text, text);

  // Two tabs: what one enters the other shows.
  const other = await tabOf(context, join(folder, "landing.html"));
  await other.click("text=Undo");
  await landing.waitForFunction((text) => document.querySelector("header")?.innerText !== text, text);
  assert.equal(await landing.innerText("header"), await other.innerText("header"));
  await other.close();

  // The demo, as usual done before: the first round, a room skipped and planned anew, a low reading that opens the search.
  const files = ["demo/skerry-light.toml", "demo/as-usual.toml"];
  const path2 = pageOf("demo", files);
  const begun = Date.now();
  const demo = await tabOf(context, path2);
  console.log(`demo: usable after ${Date.now() - begun} ms; ${statSync(path2).size.toLocaleString("en")} bytes`);
  assert(statSync(path2).size < 1_400_000);
  await part(demo, "Prepare");
  assert.doesNotMatch(await demo.innerText("main"), /\[object|undefined|null/);
  await show(demo, "demo-prepare");
  await prepare(demo);
  await show(demo, "demo-now");
  for (let round = 0; round < 30 && !(await demo.locator("text=I can't get in here").count()); round += 1) {
    await demo.fill("form .megohms", ">999");
    await demo.click("form .big");
    await settled(demo);
    await demo.waitForTimeout(400);
  }
  const place = await demo.innerText(".card.now h2");
  await show(demo, "demo-stop");
  await demo.click("text=I can't get in here");
  await demo.waitForFunction((place) => document.querySelector(".card.now h2")?.textContent !== place, place);
  await demo.waitForSelector("text=Left for another day");
  await part(demo, "Wiring");
  await demo.selectOption("#circuit", "C3");
  await demo.waitForSelector(".drawing svg");
  await show(demo, "demo-wiring-phone");
  const name = await saved(demo);
  assert(readFileSync(name, "utf8").startsWith(readFileSync(join(root, "demo/as-usual.toml"), "utf8")));
  assert.equal(JSON.parse(printed(["check", files[0] ?? "", name, "--json"])).test_set.length, 0);
  await demo.setViewportSize({ width: 1280, height: 900 });
  await part(demo, "Wiring");
  await demo.waitForSelector(".drawing svg");
  await show(demo, "demo-wiring-desk");
  await demo.setViewportSize({ width: 320, height: 640 });
  await part(demo, "Now");
  const wide = await demo.evaluate(() => document.documentElement.scrollWidth);
  assert(wide <= 320, `${wide} px wide at 320`);
  await show(demo, "demo-320");

  // A fault: what the search asks for is read until it is found or nothing tells more.
  const fault = await tabOf(context, pageOf("fault", ["demo/skerry-light.toml", "demo/fault-1.toml"]));
  await prepare(fault);
  await fault.waitForSelector(".card.fault");
  await show(fault, "demo-fault");
  const left = await fault.innerText(".card.fault p");
  await fault.fill(".card.fault .megohms", ">999");
  await fault.click(".card.fault form .big");
  await fault.waitForFunction((left) => document.querySelector(".card.fault p")?.textContent !== left, left);

  // Names that would be something else in a page.
  const names = ['<img src=x onerror="alert(1)">', "</script><script>alert(1)</script>", "\\u202Etxt.exe", "𐍈é".repeat(250)];
  for (const [number, name] of names.entries()) {
    const landing = readFileSync(join(root, "examples/landing.toml"), "utf8");
    const file = join(folder, `hostile-${number}.toml`);
    writeFileSync(file, landing.replace(/^name = ".*"$/m, `name = "${name.replaceAll('"', '\\"')}"`));
    const hostile = await tabOf(context, pageOf(`hostile-${number}`, [file]));
    assert.equal(await hostile.locator("img").count(), 0);
    await part(hostile, "Wiring");
    await hostile.waitForSelector(".drawing svg");
    await hostile.close();
  }
  if (existsSync(join(folder, "landing.html"))) {
    await landing.pdf({ path: join(folder, "landing.pdf"), format: "A4" });
    assert(statSync(join(folder, "landing.pdf")).size > 1000);
  }
  assert.deepEqual(wrong, none);
  console.log(`landing: ${done.operated} operations and ${done.read} readings, from nothing to a pass`);
} finally {
  await browser.close();
  rmSync(folder, { recursive: true });
}
