/**
 * The engine of Lengthwise in a browser: texts in, answers out. One module without dependencies; the engine works in a
 * worker of its own, so that a page stays quick, and a long question can be given up.
 *
 * Answers are what the command prints with `--json`, as FORMAT.md says; part 5 there says what can be asked.
 *
 * @module
 */
export type SourceText = import("./answers.js").SourceText;
export type RulesText = import("./answers.js").RulesText;
export type Need = import("./answers.js").Need;
export type PlanOptions = import("./answers.js").PlanOptions;
export type Progress = import("./answers.js").Progress;
export type Refusal = import("./answers.js").Refusal;
export type Files = {
    installation: SourceText;
    test_set?: SourceText | null;
    rules?: RulesText;
    need?: Need;
};
export type Asking = {
    /**
     * After so many the search is stopped, with the best answer so far, which says `stopped`. Else
     * it is searched to the end.
     */
    seconds?: number;
    /**
     * Told now and then how it comes along.
     */
    progress?: (progress: Progress) => void;
};
export type Waiting = {
    question: string;
    asking: Asking;
    resolve: (text: string) => void;
    reject: (error: Error) => void;
};
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
export declare class RefusedError extends Error {
    /** Everything that is wrong, each with what to do next. */
    refusal: import("./answers.js").Refusal;
    /** @param {Refusal} refusal */
    constructor(refusal: Refusal);
}
/** The question was given up, or the engine was closed. */
export declare class CancelledError extends Error {
    constructor();
}
/** The engine broke down at a question; it has been started anew, with what it held. */
export declare class EngineError extends Error {
    /** @param {string} message */
    constructor(message: string);
}
/**
 * Holds an installation and a test set of it, and answers questions of them, one after another in the order asked.
 *
 * @example
 * const engine = await Lengthwise.start({ engine: new URL("lengthwise.wasm.gz", import.meta.url) });
 * await engine.open({ installation: { toml: text } });
 * const plan = await engine.plan({ people: "two" }, { seconds: 10 });
 */
export declare class Lengthwise {
    #private;
    /** @param {WebAssembly.Module} module */
    constructor(module: WebAssembly.Module);
    /**
     * Starts an engine.
     *
     * @param {object} options
     * @param {BufferSource | URL | string} options.engine The bytes of `lengthwise.wasm.gz`, or where they are to be
     *   fetched from. What is not compressed by gzip is taken as it is.
     * @returns {Promise<Lengthwise>}
     */
    static start({ engine }: {
        engine: BufferSource | URL | string;
    }): Promise<Lengthwise>;
    /**
     * Holds an installation and a test set of it from now on.
     * @param {Files} files
     * @returns {Promise<import("./answers.js").CheckReport>}
     */
    open(files: Files): Promise<import("./answers.js").CheckReport>;
    /**
     * Holds another test set of the installation from now on, or none. Only what differs is looked at.
     * @param {SourceText | null} testSet
     * @returns {Promise<import("./answers.js").Entered>}
     */
    enter(testSet: SourceText | null): Promise<import("./answers.js").Entered>;
    /** @returns {Promise<import("./answers.js").CheckReport>} */
    check(): Promise<import("./answers.js").CheckReport>;
    /**
     * @param {{ need?: Need }} [options]
     * @param {Asking} [asking]
     * @returns {Promise<import("./answers.js").Coverage>}
     */
    cover(options?: {
        need?: Need;
    }, asking?: Asking): Promise<import("./answers.js").Coverage>;
    /**
     * @param {{ need?: Need }} [options]
     * @param {Asking} [asking]
     * @returns {Promise<import("./answers.js").Judgement>}
     */
    judge(options?: {
        need?: Need;
    }, asking?: Asking): Promise<import("./answers.js").Judgement>;
    /**
     * What is still to be done.
     * @param {PlanOptions} [options]
     * @param {Asking} [asking]
     * @returns {Promise<import("./answers.js").Plan>}
     */
    plan(options?: PlanOptions, asking?: Asking): Promise<import("./answers.js").Plan>;
    /**
     * The test set with what is still to be done, as a text to fill in.
     * @param {PlanOptions} [options]
     * @param {Asking} [asking]
     * @returns {Promise<string>}
     */
    planRecord(options?: PlanOptions, asking?: Asking): Promise<string>;
    /**
     * Where it leaks, and the next reading.
     * @param {{ assumptions?: import("./answers.js").Assumptions }} [options]
     * @param {Asking} [asking]
     * @returns {Promise<import("./answers.js").Findings>}
     */
    locate(options?: {
        assumptions?: import("./answers.js").Assumptions;
    }, asking?: Asking): Promise<import("./answers.js").Findings>;
    /**
     * The test set with the next reading, as a text to fill in.
     * @param {{ assumptions?: import("./answers.js").Assumptions }} [options]
     * @param {Asking} [asking]
     * @returns {Promise<string>}
     */
    locateRecord(options?: {
        assumptions?: import("./answers.js").Assumptions;
    }, asking?: Asking): Promise<string>;
    /**
     * The test set with values, as a text; all else in it stays to the letter.
     * @param {[[number, number], string][]} values Each with pass and number of a reading that waits for one.
     * @returns {Promise<string>}
     */
    fill(values: [[number, number], string][]): Promise<string>;
    /**
     * @param {Asking} [asking]
     * @returns {Promise<import("./answers.js").Preparation>}
     */
    prepare(asking?: Asking): Promise<import("./answers.js").Preparation>;
    /**
     * @param {string[]} [boxes] Points or boards; all where none is given.
     * @returns {Promise<import("./answers.js").Works>}
     */
    works(boxes?: string[]): Promise<import("./answers.js").Works>;
    /**
     * @param {string[]} [boxes] Points or boards; all where none is given.
     * @returns {Promise<import("./answers.js").Terminations>}
     */
    terminations(boxes?: string[]): Promise<import("./answers.js").Terminations>;
    /** @returns {Promise<import("./answers.js").RulesReport>} */
    rules(): Promise<import("./answers.js").RulesReport>;
    /**
     * The installation with its runs expanded, as a text.
     * @returns {Promise<string>}
     */
    expand(): Promise<string>;
    /**
     * Asks any question of part 5 of FORMAT.md, and gives the reply to the letter.
     * @param {{ ask: string } & Record<string, unknown>} question
     * @param {Asking} [asking]
     * @returns {Promise<string>}
     */
    text(question: {
        ask: string;
    } & Record<string, unknown>, asking?: Asking): Promise<string>;
    /** Gives up what is being asked, and all that waits: each is rejected with a {@link CancelledError}. What is held stays. */
    cancel(): void;
    /** Ends the worker, and gives up what was asked. What is asked later starts another one, which holds nothing. */
    close(): void;
}
