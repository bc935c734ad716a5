// The types of answers are those of what the command prints: its answers, as they are, are taken by the compiler.
//
//     node answers.js PROGRAM

import assert from "node:assert/strict";
import { execFileSync, spawnSync } from "node:child_process";
import { mkdirSync, writeFileSync } from "node:fs";
import { resolve } from "node:path";
import { fileURLToPath } from "node:url";

const root = fileURLToPath(new URL("../../", import.meta.url));
const [program = ""] = process.argv.slice(2);
assert(program, "name the command");
const command = resolve(program);
const small = ["two-way", "three-phase", "sub-board", "transformer", "low-side", "unknown-position"];
const pairs = [
  ["demo/skerry-light.toml", "demo/fault-2.toml"],
  ["tests/fixtures/judge/slip.toml", "tests/fixtures/judge/slip.record.toml"],
  ...small.map((name) => [`tests/fixtures/small/${name}.toml`, `tests/fixtures/small/${name}.tests.toml`]),
];
/** @type {string[]} */
const rows = [];

/** @param {string} type @param {string[]} words */
function take(type, words) {
  const { stdout } = spawnSync(command, [...words, "--json"], { cwd: root, encoding: "utf8", maxBuffer: 1 << 28 });
  if (stdout) {
    rows.push(`// ${words.join(" ")}\nexport const answer${rows.length}: answers.${type} = ${stdout}`);
  }
}

for (const [installation = "", tests = ""] of pairs) {
  take("CheckReport", ["check", installation, tests]);
  take("Coverage", ["cover", installation, tests]);
  take("Judgement", ["judge", installation, tests]);
  take("Plan", ["plan", installation, tests]);
  take("Plan", ["plan", installation, "--people", "2", "--restore", "--each-switch", "--without", "stair"]);
  take("Findings", ["locate", installation, tests]);
  take("Preparation", ["prepare", installation]);
  take("Works", ["works", installation]);
  take("Terminations", ["terminations", installation]);
}
take("CheckReport", ["check", "tests/fixtures/invalid/installation/contactor.toml"]);
take("RulesReport", ["rules"]);
assert(rows.length > 50, `${rows.length} answers`);

const folder = `${root}target/browser`;
mkdirSync(folder, { recursive: true });
const file = `${folder}/answers.ts`;
writeFileSync(file, `import type * as answers from "../../src/page/answers.js";\n\n${rows.join("\n")}`);
const tsc = fileURLToPath(new URL("node_modules/.bin/tsc", import.meta.url));
const options = ["--noEmit", "--strict", "--module", "nodenext", "--target", "es2024", "--ignoreConfig"];
execFileSync(tsc, [...options, file], { stdio: "inherit" });
console.log(`${rows.length} answers are of their types`);
