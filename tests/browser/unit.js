// The module in node, whose workers are not those of a browser: these stand in for them here.

import assert from "node:assert/strict";
import { readFile } from "node:fs/promises";
import { test } from "node:test";
import { CancelledError, EngineError, Lengthwise, RefusedError } from "../../src/page/lengthwise.js";
import { indicationOf, passesOf, skippedIn } from "../../src/page/record.js";

const root = new URL("../../", import.meta.url);
const [packed, landing, tests] = await Promise.all([
  readFile(new URL("src/page/lengthwise.wasm.gz", root)),
  readFile(new URL("examples/landing.toml", root), "utf8"),
  readFile(new URL("examples/landing-as-usual.toml", root), "utf8"),
]);

/** How often a worker was started, and what the next ones break at. */
let started = 0;
let breaksAt = "";

/** A worker on this very thread: it answers in a later turn. */
class Inline {
  constructor(/** @type {string} */ address) {
    started += 1;
    this.ended = false;
    const host = {
      /** @type {(event: { data: unknown }) => void} */
      onmessage: () => {},
      postMessage: (/** @type {unknown} */ data) => setImmediate(() => this.ended || this.onmessage({ data })),
    };
    const source = sources.get(address) ?? "";
    new Function("self", source)(host);
    this.host = host;
  }

  /** @type {(event: { data: any }) => void} */
  onmessage = () => {};

  /** @param {any} data */
  postMessage(data) {
    if (breaksAt && data.question?.includes(breaksAt)) {
      setImmediate(() => this.ended || this.onmessage({ data: { broken: "unreachable" } }));
    } else {
      setImmediate(() => this.ended || this.host.onmessage({ data }));
    }
  }

  terminate() {
    this.ended = true;
  }
}

/** @type {Map<string, string>} */
const sources = new Map();
const GivenBlob = globalThis.Blob;
Object.assign(globalThis, {
  Worker: Inline,
  Blob: class extends GivenBlob {
    constructor(/** @type {any[]} */ parts, /** @type {any} */ options) {
      super(parts, options);
      this.parts = parts;
    }
  },
});
URL.createObjectURL = (/** @type {any} */ blob) => {
  const address = `blob:${sources.size}`;
  sources.set(address, blob.parts.join(""));
  return address;
};
URL.revokeObjectURL = () => {};

async function opened() {
  const engine = await Lengthwise.start({ engine: packed });
  await engine.open({ installation: { toml: landing }, test_set: { toml: tests } });
  return engine;
}

test("it answers questions, and texts are texts", async () => {
  const engine = await opened();
  const [coverage, plan] = await Promise.all([engine.cover(), engine.plan({ people: "two" })]);
  assert.deepEqual([coverage.summary.tested, coverage.summary.required], [9, 11]);
  assert.equal(plan.people, "two");
  assert.match(await engine.planRecord({ people: "two" }), /^# |format = 1/);
  const none = await engine.enter(null);
  assert.equal(none.summary.tested, 0);
  assert.equal((await engine.works(["E1"])).loads[0]?.point, "E1");
});

test("what is wrong is told, and changes nothing", async () => {
  const engine = await opened();
  await assert.rejects(engine.enter({ toml: "format = 1\n[[pass]]\noperate = ['S9']" }), (error) => {
    assert(error instanceof RefusedError);
    assert.deepEqual(error.refusal.test_set?.map(({ line, code }) => [line, code])[0]?.[0], 3);
    assert.match(error.message, /there is no device `S9`/);
    return true;
  });
  await assert.rejects(engine.plan({ without: ["attic"] }), /there is no location `attic`/);
  assert.equal((await engine.cover()).summary.tested, 9);
});

test("a question that takes too long is stopped, and says so", async () => {
  const engine = await opened();
  /** @type {string[]} */
  const stages = [];
  const plan = await engine.plan({}, { seconds: 0, progress: ({ stage }) => stages.push(stage) });
  assert.equal(plan.stopped, true);
  assert.equal((await engine.plan()).stopped, undefined);
});

test("what is given up is rejected, and what is held stays", async () => {
  const engine = await opened();
  const before = started;
  const given = [engine.plan(), engine.cover()].map((asked) => assert.rejects(asked, CancelledError));
  engine.cancel();
  await Promise.all(given);
  assert.equal((await engine.cover()).summary.tested, 9);
  assert.equal(started, before + 1);
  engine.cancel();
  assert.equal(started, before + 1, "there is nothing to give up");
  engine.close();
  await assert.rejects(engine.cover(), /no installation is open/);
});

test("an engine that breaks down is started anew with what it held, and what waits is asked", async () => {
  const engine = await opened();
  breaksAt = "locate";
  const asked = [assert.rejects(engine.locate(), EngineError), engine.cover()];
  await asked[0];
  breaksAt = "";
  assert.equal((await engine.cover()).summary.tested, 9);
  await asked[1];
});

test("a module that is not compressed is taken too, and what is none is refused", async () => {
  const raw = new Response(new GivenBlob([packed]).stream().pipeThrough(new DecompressionStream("gzip")));
  await Lengthwise.start({ engine: await raw.arrayBuffer() });
  await assert.rejects(Lengthwise.start({ engine: new TextEncoder().encode("format = 1") }));
});

test("entries come to passes, and stay as they are", () => {
  /** @type {import("../../src/page/record.js").Entry[]} */
  const entries = [
    { kind: "prepare", pass: { remove: ["E1"] } },
    { kind: "read", reading: { circuit: "C1", between: ["L+N", "E"], megohms: ">999" } },
    { kind: "operate", device: "S1", to: null },
    { kind: "operate", device: "K1", to: "held-in" },
    { kind: "operate", device: "S1", to: null },
    { kind: "read", reading: { circuit: "C1", between: ["L", "N"], megohms: "0.4" } },
    { kind: "skip", option: "without", id: "loft" },
    { kind: "skip", option: "leave", id: "S9" },
    { kind: "again", option: "leave", id: "S9" },
  ];
  const before = structuredClone(entries);
  const passes = [
    { remove: ["E1"], reading: [{ circuit: "C1", between: ["L+N", "E"], megohms: ">999" }] },
    { operate: ["S1"], set: { K1: "held-in" } },
    { operate: ["S1"], reading: [{ circuit: "C1", between: ["L", "N"], megohms: "0.4" }] },
  ];
  assert.deepEqual(passesOf(entries), passes);
  assert.deepEqual(passesOf(entries), passes);
  assert.deepEqual(entries, before);
  assert.deepEqual(skippedIn(entries), { without: ["loft"], leave: [] });
});

test("a value is taken as instruments show it, and nothing else is", () => {
  const taken = { "0,45": "0.45", " > 999 ": ">999", "≥999": ">999", "<0.01": "<0.01", ".5": ".5", 412: "412" };
  for (const [typed, value] of Object.entries(taken)) {
    assert.equal(indicationOf(typed), value);
  }
  for (const typed of ["", ">", "1,5,2", "1e9", "-4", "0x10", "wet", "1.2.3", "OL"]) {
    assert.equal(indicationOf(typed), null, typed);
  }
});
