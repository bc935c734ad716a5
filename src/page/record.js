/**
 * What a person enters, as a list of entries, and the passes of a test set that they come to.
 *
 * Nothing is worked out here of what a reading tests: the engine is given the passes.
 *
 * @module
 */

/**
 * One thing entered.
 * @typedef {{ kind: "prepare", pass: PassDraft }
 *   | { kind: "operate", device: string, to: string | null }
 *   | { kind: "read", reading: ReadingDraft }
 *   | { kind: "skip", option: "without" | "leave", id: string }
 *   | { kind: "again", option: "without" | "leave", id: string }} Entry
 */
/**
 * A pass as FORMAT.md has it, part 2.
 * @typedef {{ operate?: string[], set?: Record<string, string>, remove?: string[], link?: string[], refit?: string[],
 *   reading?: ReadingDraft[] }} PassDraft
 */
/** @typedef {{ circuit?: string, board?: string, between: [string, string], volts?: number, megohms?: string }} ReadingDraft */

/**
 * The passes that entries come to: what is operated after a reading begins another pass, and so does a device that is
 * operated twice.
 * @param {Entry[]} entries
 * @returns {PassDraft[]}
 */
export function passesOf(entries) {
  /** @type {PassDraft[]} */
  const passes = [];
  let moved = new Set();
  /** @param {string} device */
  const pass = (device) => {
    const last = passes.at(-1);
    if (!last || last.reading || moved.has(device)) {
      passes.push({});
      moved = new Set();
    }
    moved.add(device);
    return /** @type {PassDraft} */ (passes.at(-1));
  };
  for (const entry of entries) {
    if (entry.kind === "prepare") {
      passes.push(structuredClone(entry.pass));
      moved = new Set([...(entry.pass.operate ?? []), ...Object.keys(entry.pass.set ?? {})]);
    } else if (entry.kind === "operate") {
      const into = pass(entry.device);
      if (entry.to === null) {
        (into.operate ??= []).push(entry.device);
      } else {
        (into.set ??= {})[entry.device] = entry.to;
      }
    } else if (entry.kind === "read") {
      if (passes.length === 0) {
        passes.push({});
      }
      const into = /** @type {PassDraft} */ (passes.at(-1));
      (into.reading ??= []).push(entry.reading);
    }
  }
  return passes;
}

/**
 * What a plan must leave alone, by what was skipped and not taken up again.
 * @param {Entry[]} entries
 * @returns {{ without: string[], leave: string[] }}
 */
export function skippedIn(entries) {
  const skipped = { without: new Set(), leave: new Set() };
  for (const entry of entries) {
    if (entry.kind === "skip") {
      skipped[entry.option].add(entry.id);
    } else if (entry.kind === "again") {
      skipped[entry.option].delete(entry.id);
    }
  }
  return { without: [...skipped.without], leave: [...skipped.leave] };
}

/**
 * What was typed as a value, as a test set has it: an unsigned number, with `<` or `>` before it where the instrument shows
 * so, and a point. Null where it is none yet.
 * @param {string} typed
 * @returns {string | null}
 */
export function indicationOf(typed) {
  const text = typed.replaceAll(/\s/g, "").replace(",", ".").replaceAll("≥", ">").replaceAll("≤", "<");
  return /^[<>]?([0-9]+\.?[0-9]*|\.[0-9]+)$/.test(text) ? text : null;
}
