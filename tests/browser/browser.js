// The module in a browser: from a file, without a network, under a strict policy, it says what the command prints.
//
//     node browser.js PROGRAM [BROWSER]
//
// PROGRAM is the command, BROWSER Debian's chromium-headless-shell where not given.

import assert from "node:assert/strict";
import { execFileSync, spawnSync } from "node:child_process";
import { createHash } from "node:crypto";
import { mkdtempSync, readFileSync, readdirSync, rmSync, statSync, writeFileSync } from "node:fs";
import { createServer } from "node:http";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { fileURLToPath, pathToFileURL } from "node:url";
import { chromium } from "playwright-core";

const root = fileURLToPath(new URL("../../", import.meta.url));
const [program = "", browserPath = "/usr/bin/chromium-headless-shell"] = process.argv.slice(2);
assert(program, "name the command");
const command = resolve(program);
const folder = mkdtempSync(join(tmpdir(), "browser-"));
const engine = readFileSync(join(root, "src/page/lengthwise.wasm.gz"));

/** What the command prints. @param {string[]} words */
function printed(words) {
  return execFileSync(command, words, { cwd: root, encoding: "utf8", maxBuffer: 1 << 28 });
}

/** @param {string} path @returns {{ toml?: string, json?: string }} */
function text(path) {
  return { [path.endsWith(".json") ? "json" : "toml"]: readFileSync(join(root, path), "utf8") };
}

/** Pairs of an installation and a test set of it. */
function pairs() {
  const demo = readdirSync(join(root, "demo")).filter((name) => name.endsWith(".toml") && name !== "skerry-light.toml");
  const found = demo.map((name) => ["demo/skerry-light.toml", `demo/${name}`]);
  for (const of of ["small", "locate", "judge"]) {
    const names = readdirSync(join(root, "tests/fixtures", of));
    for (const name of names) {
      const [, stem, ending] = name.match(/^(.*)\.(?:tests|record)\.(toml|json)$/) ?? [];
      if (stem && names.includes(`${stem}.${ending}`)) {
        found.push([`tests/fixtures/${of}/${stem}.${ending}`, `tests/fixtures/${of}/${name}`]);
      }
    }
  }
  return found;
}

/** A file that a browser opens: the module, the engine, and a policy under which nothing else runs. */
function pageFile() {
  const script = `${readFileSync(join(root, "src/page/lengthwise.js"), "utf8")}
const packed = document.getElementById("engine").textContent;
const begun = performance.now();
const engine = await Lengthwise.start({ engine: Uint8Array.from(atob(packed), (sign) => sign.charCodeAt(0)) });
Object.assign(globalThis, { engine, begun, Lengthwise });`;
  const hash = createHash("sha256").update(script).digest("base64");
  const policy = `default-src 'none'; script-src 'sha256-${hash}' 'wasm-unsafe-eval'; worker-src blob:`;
  const path = join(folder, "page.html");
  writeFileSync(
    path,
    `<!doctype html><meta charset="utf-8"><meta http-equiv="Content-Security-Policy" content="${policy}"><title>-</title>
<script type="text/plain" id="engine">${engine.toString("base64")}</script><script type="module">${script}</script>`,
  );
  return path;
}

const browser = await chromium.launch({ executablePath: browserPath, args: ["--no-sandbox"] });
try {
  const context = await browser.newContext({ offline: true });
  const page = await context.newPage();
  /** @type {string[]} */
  const wrong = [];
  /** @type {string[]} */
  const none = [];
  page.on("pageerror", (error) => wrong.push(String(error)));
  page.on("console", (message) => wrong.push(message.text()));
  page.on("request", (request) => {
    if (!/^(file|blob):/.test(request.url())) {
      wrong.push(`it asks for ${request.url()}`);
    }
  });
  const path = pageFile();
  await page.goto(pathToFileURL(path).href);
  await page.waitForFunction("globalThis.engine");

  /** What the module replies. @param {{ ask: string } & Record<string, unknown>} question @returns {Promise<string>} */
  const said = (question) =>
    page.evaluate(
      (question) =>
        /** @type {any} */ (globalThis).engine
          .text(question)
          .catch((/** @type {any} */ error) => JSON.stringify(error.refusal ?? `${error}`)),
      question,
    );

  const cases = pairs();
  assert(cases.length >= 50, `${cases.length} pairs`);
  let compared = 0;
  /** @param {string[]} words @param {{ ask: string } & Record<string, unknown>} question */
  const same = async (words, question) => {
    assert.equal(await said(question), printed(words), words.join(" "));
    compared += 1;
  };
  for (const [installation = "", tests = ""] of cases) {
    const open = { ask: "open", installation: text(installation), test_set: text(tests) };
    await same(["check", installation, tests, "--json"], open);
    for (const ask of ["cover", "plan", "locate"]) {
      await same([ask, installation, tests, "--json"], { ask });
    }
    const judged = spawnSync(command, ["judge", installation, tests, "--json"], { cwd: root, encoding: "utf8" });
    if (judged.status === 0) {
      assert.equal(await said({ ask: "judge" }), judged.stdout, `judge ${tests}`);
      compared += 1;
    } else {
      assert.match(await said({ ask: "judge" }), /no `volts`/);
    }
    for (const ask of ["prepare", "works", "terminations"]) {
      await same([ask, installation, "--json"], { ask });
    }
    await same(["expand", installation], { ask: "expand" });
  }
  console.log(`${cases.length} pairs of files: ${compared} answers are those of the command, byte for byte`);

  // Names that would be something else in a page, a terminal or a path.
  const names = ['<img src=x onerror="alert(1)">', "</script><script>", "\\u202Etxt.exe", "\\u0000\\u001B[2J", "𐍈é".repeat(250)];
  for (const name of names.map((name) => name.replaceAll('"', '\\"'))) {
    const landing = readFileSync(join(root, "examples/landing.toml"), "utf8");
    const hostile = landing.replace(/^name = ".*"$/m, `name = "${name}"`);
    assert.notEqual(hostile, landing);
    const file = join(folder, "hostile.toml");
    writeFileSync(file, hostile);
    await said({ ask: "open", installation: { toml: hostile } });
    await same(["check", file, "--json"], { ask: "check" });
    await same(["plan", file, "--json"], { ask: "plan" });
    await same(["expand", file], { ask: "expand" });
  }
  const wrongFile = "tests/fixtures/invalid/installation/contactor.toml";
  const refusal = JSON.parse(await said({ ask: "open", installation: text(wrongFile) }));
  const report = spawnSync(command, ["check", wrongFile, "--json"], { cwd: root, encoding: "utf8" });
  assert.deepEqual(refusal.installation, JSON.parse(report.stdout).installation);

  // A long plan is stopped by its time, and given up; what is held stays.
  const [terrace, terraceTests] = ["tests/fixtures/large/terrace.toml", "tests/fixtures/large/terrace.tests.toml"];
  await said({ ask: "open", installation: text("examples/landing.toml"), test_set: text("examples/landing-as-usual.toml") });
  const given = await page.evaluate(
    async ([installation, tests]) => {
      const { engine } = /** @type {any} */ (globalThis);
      await engine.open({ installation, test_set: tests });
      const stopped = await engine.plan({}, { seconds: 0 });
      const asked = engine.plan().catch((/** @type {Error} */ error) => error.name);
      setTimeout(() => engine.cancel(), 20);
      return [stopped.stopped, await asked, (await engine.cover()).summary];
    },
    [text(terrace), text(terraceTests)],
  );
  const covered = JSON.parse(printed(["cover", terrace, terraceTests, "--json"]));
  assert.deepEqual(given, [true, "CancelledError", covered.summary]);

  // How long it takes, beside the command in the same run.
  await page.goto(pathToFileURL(path).href);
  await page.waitForFunction("globalThis.engine");
  const [demo, usual] = ["demo/skerry-light.toml", "demo/as-usual.toml"];
  const times = await page.evaluate(
    async ([installation, tests]) => {
      const { engine, begun } = /** @type {any} */ (globalThis);
      const started = performance.now() - begun;
      const from = performance.now();
      await engine.open({ installation, test_set: tests });
      await engine.cover();
      const first = performance.now() - from;
      const least = async (/** @type {() => Promise<unknown>} */ asked) => {
        let least = Infinity;
        for (let round = 0; round < 20; round += 1) {
          const from = performance.now();
          await asked();
          least = Math.min(least, performance.now() - from);
        }
        return least;
      };
      let number = 0;
      const toml = tests?.toml ?? "";
      const entered = await least(() => {
        number += 1;
        const value = toml.replace(/megohms = .*/, `megohms = ${number}.5`);
        return engine.enter({ toml: value });
      });
      const plan = await least(async () => {
        await engine.enter({ toml });
        await engine.plan();
      });
      return { started, first, entered, plan };
    },
    [text(demo), text(usual)],
  );
  // A large installation: 1,000 circuits of a lamp and a switch, of which each was read twice.
  const numbers = Array.from({ length: 1000 }, (_, number) => `${number + 1}`);
  const many = {
    format: 1,
    installation: { name: "Rows", nominal_voltage: 230 },
    board: [{ id: "DB1", origin: true, way: numbers.map((id) => ({ id, device: "mcb" })) }],
    circuit: numbers.map((id) => ({ id: `A${id}`, way: `DB1/${id}`, mm2: 1.5, run: [{ rose: 8, switch: 4 }] })),
  };
  const reading = (/** @type {string} */ id) =>
    [["L+N", "E"], ["L", "N"]].map((between) => ({ circuit: `A${id}`, between, volts: 500, megohms: "250" }));
  const entry = await page.evaluate(
    async ([installation, record]) => {
      const { engine } = /** @type {any} */ (globalThis);
      await engine.open({ installation: { json: installation }, test_set: { json: record } });
      const asked = [];
      for (const value of [200, 210, 220, 230, 240]) {
        const from = performance.now();
        await engine.enter({ json: record?.replace("250", `${value}`) });
        asked.push(performance.now() - from);
      }
      return Math.min(...asked);
    },
    [JSON.stringify(many), JSON.stringify({ format: 1, pass: [{ reading: numbers.flatMap(reading) }] })],
  );
  let native = Infinity;
  for (let round = 0; round < 10; round += 1) {
    const from = performance.now();
    printed(["plan", demo, usual, "--json"]);
    native = Math.min(native, performance.now() - from);
  }
  const bytes = (/** @type {number} */ count) => count.toLocaleString("en");
  console.log(`engine: ${bytes(engine.length)} bytes compressed, ${bytes(engine.toString("base64").length)} as base64`);
  console.log(`page with it: ${bytes(statSync(path).size)} bytes`);
  const ms = (/** @type {number} */ time) => `${time.toFixed(1)} ms`;
  console.log(`demo: ${ms(times.started)} to start, ${ms(times.first)} to the first answer, ${ms(times.entered)} an entry`);
  console.log(`1,000 circuits, 2,000 readings: ${ms(entry)} an entry`);
  console.log(`demo: plan ${ms(times.plan)}; the command, started anew, ${ms(native)}: ${(times.plan / native).toFixed(2)} of that`);
  assert.deepEqual(wrong, none);
  await context.close();

  // The example page, from a server of files.
  const types = { html: "text/html", js: "text/javascript", toml: "text/plain", gz: "application/gzip" };
  const server = createServer((request, response) => {
    const name = decodeURIComponent(new URL(request.url ?? "/", "http://localhost").pathname);
    try {
      const content = readFileSync(join(root, name));
      response.setHeader("content-type", Object.entries(types).find(([end]) => name.endsWith(`.${end}`))?.[1] ?? "text/plain");
      response.end(content);
    } catch {
      response.writeHead(404).end();
    }
  });
  await new Promise((listening) => server.listen(0, "127.0.0.1", () => listening(undefined)));
  const { port } = /** @type {import("node:net").AddressInfo} */ (server.address());
  const example = await browser.newPage();
  example.on("pageerror", (error) => wrong.push(String(error)));
  await example.goto(`http://127.0.0.1:${port}/examples/in_a_browser.html`);
  await example.waitForSelector("#answer li");
  const answer = await example.innerText("#answer");
  assert.match(answer, /9 of 11 pairs/);
  await example.fill("#installation", "format = 1\n[instalation]");
  await example.waitForSelector("#answer li.wrong");
  assert.match(await example.innerText("#answer"), /write `installation` if that is meant/);
  assert.deepEqual(wrong, none);
  server.close();
  console.log("examples/in_a_browser.html answers");
} finally {
  await browser.close();
  rmSync(folder, { recursive: true });
}
