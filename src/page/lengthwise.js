/**
 * The engine of Lengthwise in a browser: texts in, answers out. One module without dependencies; the engine works in a
 * worker of its own, so that a page stays quick, and a long question can be given up.
 *
 * Answers are what the command prints with `--json`, as FORMAT.md says; part 5 there says what can be asked.
 *
 * @module
 */

/** @typedef {import("./answers.js").SourceText} SourceText */
/** @typedef {import("./answers.js").RulesText} RulesText */
/** @typedef {import("./answers.js").Need} Need */
/** @typedef {import("./answers.js").PlanOptions} PlanOptions */
/** @typedef {import("./answers.js").Progress} Progress */
/** @typedef {import("./answers.js").Refusal} Refusal */
/** @typedef {{ installation: SourceText, test_set?: SourceText | null, rules?: RulesText, need?: Need }} Files */
/**
 * How a question is asked.
 * @typedef {object} Asking
 * @property {number} [seconds] After so many the search is stopped, with the best answer so far, which says `stopped`. Else
 *   it is searched to the end.
 * @property {(progress: Progress) => void} [progress] Told now and then how it comes along.
 */
/**
 * @typedef {object} Waiting
 * @property {string} question
 * @property {Asking} asking
 * @property {(text: string) => void} resolve
 * @property {(error: Error) => void} reject
 */

/** What was asked is wrong. Nothing of what is held has changed. */
export class RefusedError extends Error {
  /** @param {Refusal} refusal */
  constructor(refusal) {
    const { installation, test_set: testSet, ruleset = [], options = [] } = refusal;
    const errors = [...installation, ...(testSet ?? []), ...ruleset, ...options].map(({ error }) => error);
    super(errors.join("\n"));
    this.name = "RefusedError";
    /** Everything that is wrong, each with what to do next. */
    this.refusal = refusal;
  }
}

/** The question was given up, or the engine was closed. */
export class CancelledError extends Error {
  constructor() {
    super("the question was given up");
    this.name = "CancelledError";
  }
}

/** The engine broke down at a question; it has been started anew, with what it held. */
export class EngineError extends Error {
  /** @param {string} message */
  constructor(message) {
    super(`the engine broke down: ${message}`);
    this.name = "EngineError";
  }
}

/**
 * Holds an installation and a test set of it, and answers questions of them, one after another in the order asked.
 *
 * @example
 * const engine = await Lengthwise.start({ engine: new URL("lengthwise.wasm.gz", import.meta.url) });
 * await engine.open({ installation: { toml: text } });
 * const plan = await engine.plan({ people: "two" }, { seconds: 10 });
 */
export class Lengthwise {
  /** @type {WebAssembly.Module} */
  #module;
  /** @type {Worker | null} */
  #worker = null;
  /** What the worker works on, and what waits behind it. @type {Waiting[]} */
  #queue = [];
  /** What was opened last. @type {Files | null} */
  #files = null;

  /** @param {WebAssembly.Module} module */
  constructor(module) {
    this.#module = module;
  }

  /**
   * Starts an engine.
   *
   * @param {object} options
   * @param {BufferSource | URL | string} options.engine The bytes of `lengthwise.wasm.gz`, or where they are to be
   *   fetched from. What is not compressed by gzip is taken as it is.
   * @returns {Promise<Lengthwise>}
   */
  static async start({ engine }) {
    const bytes =
      engine instanceof URL || typeof engine === "string" ? await fetched(engine) : new Uint8Array(asBytes(engine));
    return new Lengthwise(await WebAssembly.compile(await unpacked(bytes)));
  }

  /**
   * Holds an installation and a test set of it from now on.
   * @param {Files} files
   * @returns {Promise<import("./answers.js").CheckReport>}
   */
  async open(files) {
    const report = await this.#ask({ ask: "open", ...files });
    this.#files = files;
    return report;
  }

  /**
   * Holds another test set of the installation from now on, or none. Only what differs is looked at.
   * @param {SourceText | null} testSet
   * @returns {Promise<import("./answers.js").Entered>}
   */
  async enter(testSet) {
    const entered = await this.#ask({ ask: "enter", test_set: testSet });
    if (this.#files) {
      this.#files = { ...this.#files, test_set: testSet };
    }
    return entered;
  }

  /** @returns {Promise<import("./answers.js").CheckReport>} */
  check() {
    return this.#ask({ ask: "check" });
  }

  /**
   * @param {{ need?: Need }} [options]
   * @param {Asking} [asking]
   * @returns {Promise<import("./answers.js").Coverage>}
   */
  cover(options, asking) {
    return this.#ask({ ask: "cover", ...options }, asking);
  }

  /**
   * @param {{ need?: Need }} [options]
   * @param {Asking} [asking]
   * @returns {Promise<import("./answers.js").Judgement>}
   */
  judge(options, asking) {
    return this.#ask({ ask: "judge", ...options }, asking);
  }

  /**
   * What is still to be done.
   * @param {PlanOptions} [options]
   * @param {Asking} [asking]
   * @returns {Promise<import("./answers.js").Plan>}
   */
  plan(options = {}, asking) {
    return this.#ask({ ask: "plan", options }, asking);
  }

  /**
   * The test set with what is still to be done, as a text to fill in.
   * @param {PlanOptions} [options]
   * @param {Asking} [asking]
   * @returns {Promise<string>}
   */
  planRecord(options = {}, asking) {
    return this.text({ ask: "plan", options, give: "record" }, asking);
  }

  /**
   * Where it leaks, and the next reading.
   * @param {{ assumptions?: import("./answers.js").Assumptions }} [options]
   * @param {Asking} [asking]
   * @returns {Promise<import("./answers.js").Findings>}
   */
  locate(options, asking) {
    return this.#ask({ ask: "locate", ...options }, asking);
  }

  /**
   * The test set with the next reading, as a text to fill in.
   * @param {{ assumptions?: import("./answers.js").Assumptions }} [options]
   * @param {Asking} [asking]
   * @returns {Promise<string>}
   */
  locateRecord(options, asking) {
    return this.text({ ask: "locate", ...options, give: "record" }, asking);
  }

  /**
   * The test set with values, as a text; all else in it stays to the letter.
   * @param {[[number, number], string][]} values Each with pass and number of a reading that waits for one.
   * @returns {Promise<string>}
   */
  fill(values) {
    return this.text({ ask: "fill", values });
  }

  /**
   * @param {Asking} [asking]
   * @returns {Promise<import("./answers.js").Preparation>}
   */
  prepare(asking) {
    return this.#ask({ ask: "prepare" }, asking);
  }

  /**
   * @param {string[]} [boxes] Points or boards; all where none is given.
   * @returns {Promise<import("./answers.js").Works>}
   */
  works(boxes = []) {
    return this.#ask({ ask: "works", boxes });
  }

  /**
   * @param {string[]} [boxes] Points or boards; all where none is given.
   * @returns {Promise<import("./answers.js").Terminations>}
   */
  terminations(boxes = []) {
    return this.#ask({ ask: "terminations", boxes });
  }

  /** @returns {Promise<import("./answers.js").RulesReport>} */
  rules() {
    return this.#ask({ ask: "rules" });
  }

  /**
   * The installation with its runs expanded, as a text.
   * @returns {Promise<string>}
   */
  expand() {
    return this.text({ ask: "expand" });
  }

  /**
   * Asks any question of part 5 of FORMAT.md, and gives the reply to the letter.
   * @param {{ ask: string } & Record<string, unknown>} question
   * @param {Asking} [asking]
   * @returns {Promise<string>}
   */
  text(question, asking = {}) {
    return new Promise((resolve, reject) => {
      this.#queue.push({ question: JSON.stringify(question), asking, resolve, reject });
      if (this.#queue.length === 1) {
        this.#next();
      }
    });
  }

  /** Gives up what is being asked, and all that waits: each is rejected with a {@link CancelledError}. What is held stays. */
  cancel() {
    if (this.#queue.length > 0) {
      this.#end();
      this.#reopen();
    }
  }

  /** Ends the worker, and gives up what was asked. What is asked later starts another one, which holds nothing. */
  close() {
    this.#files = null;
    this.#end();
  }

  /**
   * @param {{ ask: string } & Record<string, unknown>} question
   * @param {Asking} [asking]
   */
  async #ask(question, asking) {
    return JSON.parse(await this.text(question, asking));
  }

  #end() {
    this.#worker?.terminate();
    this.#worker = null;
    for (const { reject } of this.#queue.splice(0)) {
      reject(new CancelledError());
    }
  }

  /** Hands the worker what is next. */
  #next() {
    const waiting = this.#queue[0];
    if (waiting) {
      this.#worker ??= this.#started();
      this.#worker.postMessage({ question: waiting.question, seconds: waiting.asking.seconds });
    }
  }

  /** A worker that replies to the head of the queue. */
  #started() {
    const source = URL.createObjectURL(new Blob([`(${work})();`], { type: "text/javascript" }));
    const worker = new Worker(source);
    URL.revokeObjectURL(source);
    worker.onmessage = ({ data }) => {
      if (data.progress) {
        this.#queue[0]?.asking.progress?.(data.progress);
      } else {
        this.#replied(data);
      }
    };
    worker.onerror = (event) => this.#replied({ broken: event.message ?? "it can't be started" });
    worker.postMessage({ module: this.#module });
    return worker;
  }

  /** @param {{ status?: number, text?: string, broken?: string }} reply */
  #replied({ status, text = "", broken }) {
    const waiting = this.#queue.shift();
    if (broken !== undefined) {
      // What waits is asked of a worker that holds the same.
      const waits = this.#queue.splice(0);
      this.#end();
      waiting?.reject(new EngineError(broken));
      this.#reopen(waits);
    } else {
      if (status === 0) {
        waiting?.resolve(text);
      } else {
        waiting?.reject(new RefusedError(JSON.parse(text)));
      }
      this.#next();
    }
  }

  /**
   * Has a new worker hold what the one before held, and asks it what waits.
   * @param {Waiting[]} waits
   */
  #reopen(waits = []) {
    const nothing = () => {};
    const question = JSON.stringify({ ask: "open", ...this.#files });
    const open = this.#files ? [{ question, asking: {}, resolve: nothing, reject: nothing }] : [];
    this.#queue.push(...open, ...waits);
    this.#next();
  }
}

/** @param {BufferSource} source */
function asBytes(source) {
  return ArrayBuffer.isView(source) ? new Uint8Array(source.buffer, source.byteOffset, source.byteLength) : source;
}

/** @param {URL | string} address */
async function fetched(address) {
  const response = await fetch(address);
  if (!response.ok) {
    throw new Error(`${address} can't be fetched: ${response.status}`);
  }
  return new Uint8Array(await response.arrayBuffer());
}

/**
 * The module in these bytes, which may be compressed by gzip (RFC 1952: it begins with 1f 8b).
 * @param {Uint8Array<ArrayBuffer>} bytes
 */
async function unpacked(bytes) {
  if (bytes[0] !== 0x1f || bytes[1] !== 0x8b) {
    return bytes;
  }
  const stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("gzip"));
  return new Response(stream).arrayBuffer();
}

/** What the worker does. It is sent there as a text, so that it uses nothing from around it. */
function work() {
  const TOLD_EACH = 100;
  /** The worker itself. @type {any} */
  const host = self;
  /** @type {any} */
  let engine = null;
  let [end, told] = [Infinity, 0];

  /** @param {number} at @param {number} length */
  const read = (at, length) => new TextDecoder().decode(new Uint8Array(engine.memory.buffer, at, length));

  /** @param {number} stage @param {number} length @param {number} done @param {number} of */
  const progress = (stage, length, done, of) => {
    const now = performance.now();
    if (now - told >= TOLD_EACH) {
      told = now;
      host.postMessage({ progress: { stage: read(stage, length), done: done >>> 0, of: of >>> 0 } });
    }
    return now >= end ? 1 : 0;
  };

  /** @param {string} question */
  const ask = (question) => {
    const bytes = new TextEncoder().encode(question);
    const at = engine.buffer(bytes.length);
    new Uint8Array(engine.memory.buffer, at, bytes.length).set(bytes);
    const status = engine.ask();
    return { status, text: read(engine.reply(), engine.reply_length()) };
  };

  host.onmessage = (/** @type {MessageEvent} */ { data }) => {
    try {
      if (data.module) {
        engine = new WebAssembly.Instance(data.module, { host: { progress } }).exports;
        return;
      }
      told = performance.now();
      end = data.seconds === undefined ? Infinity : told + data.seconds * 1000;
      host.postMessage(ask(data.question));
    } catch (error) {
      host.postMessage({ broken: String(error) });
    }
  };
}
