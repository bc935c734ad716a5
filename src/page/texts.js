/**
 * Every word of the page, so that it can be said in another language in one place.
 *
 * @module
 */

/** @typedef {import("./answers.js").SourceText} SourceText */
/**
 * The files that a page holds.
 * @typedef {object} Files
 * @property {SourceText} installation
 * @property {SourceText | null} test_set What was done before the page.
 * @property {import("./answers.js").StandardId} rules
 */

/** @type {Record<string, string>} */
const DO = {
  "take-out": "Take out",
  "leave-in": "Can't come out: no reading puts the test voltage across it",
  "link": "Link",
  "take-link-out": "Take the link out",
  "switch-on": "Switch to",
  "stands": "Stands as found",
  "joined": "See that these are joined for good",
  "take-instrument-to": "Take the instrument there",
};

/** @type {Record<string, string>} */
const VERDICTS = { pass: "pass", investigate: "look into it", "not-complete": "not complete", fail: "too low",
  "not-judgeable": "can't be judged" };

export const TEXTS = {
  parts: { now: "Now", prepare: "Prepare", wiring: "Wiring", record: "Record" },
  title: "Insulation-resistance tests",
  tested: (/** @type {number} */ done, /** @type {number} */ of) => `${done} of ${of} m tested`,
  pairs: (/** @type {number} */ done, /** @type {number} */ of) => `${done} of ${of} pairs of cores`,
  byCircuit: "By circuit",
  goTo: (/** @type {string} */ where) => `Go to: ${where}`,
  round: (/** @type {number} */ left) => (left === 1 ? "the last round" : `${left} rounds left`),
  operate: (/** @type {string} */ device) => `Operate ${device} once`,
  operateTo: (/** @type {string} */ device, /** @type {string} */ to) => `Put ${device} to ${to}`,
  armature: "Work its armature by its own latch or a wedge. Nobody's hand stays in it.",
  isOver: (/** @type {string} */ device) => `${device} is over`,
  cantGetThere: "I can't get in here",
  cantOperate: (/** @type {string} */ device) => `${device} can't be operated`,
  takenUpAgain: (/** @type {string} */ name) => `${name}: it can be done now`,
  left: "Left for another day",
  leads: (/** @type {string[]} */ [one, other]) => `${one?.replaceAll("+", " and ")} to ${other?.replaceAll("+", " and ")}`,
  volts: (/** @type {number} */ volts) => `${volts} V d.c.`,
  confirmDead: "Still dead and locked off? Nobody touching conductors?",
  discharge: "Release the button, let it discharge, then move the lead.",
  megohms: "MΩ, as the instrument shows it",
  keep: "Write down",
  notAValue: "A number, with < or > before it where the instrument shows so",
  adds: (/** @type {number} */ pairs) => (pairs === 1 ? "It tests 1 more pair." : `It tests ${pairs} more pairs.`),
  judged: (/** @type {string} */ verdict) => VERDICTS[verdict] ?? verdict,
  limit: (/** @type {number} */ megohms, /** @type {number} */ volts) => `at least ${megohms} MΩ at ${volts} V`,
  nothingLeft: "Nothing is left to read.",
  untestable: (/** @type {number} */ pairs) => `${pairs} pairs can't be tested like this. See the record.`,
  prepareFirst: "Prepare first",
  prepareWhy: "Isolate, prove dead, take lamps and loads out. Then tick it off here.",
  prepared: "All is prepared",
  startHere: "Before the first reading",
  isolate: (/** @type {string} */ board) => `Isolate ${board} by its main switch, lock off and prove dead. Switch off every way and RCD.`,
  doing: (/** @type {string} */ what) => DO[what] ?? what,
  elsewhere: "Where it is not said",
  undo: "Undo",
  redo: "Redo",
  readings: "Readings",
  noReadings: "Nothing is read yet.",
  save: "Save the test set",
  saveInstallation: "Save the installation",
  print: "Print",
  missed: "Not tested",
  circuit: "Circuit",
  least: "Between live",
  toEarth: "To earth",
  verdict: "Verdict",
  fault: "Too low: where it may be",
  faultNext: "The next reading",
  faultPlaces: (/** @type {number} */ places) => (places === 1 ? "1 place is left" : `${places} places are left`),
  faultFound: "Found: repair it, then read again.",
  notSolved: "No further reading tells more.",
  storageNone: "This browser keeps nothing for this page: save the test set before you close it.",
  storageFull: "The browser has no more room: save the test set now. What you enter is kept only while this page is open.",
  otherTab: "This was changed in another tab, and is shown as it is there. What you entered last was not kept: enter it once more.",
  broken: (/** @type {string} */ what) => `The engine refuses this: ${what}`,
  starting: "The engine is starting…",
  working: "Working it out…",
  drawingOf: (/** @type {string} */ circuit) => `The wiring of ${circuit}, with what is tested`,
  startOver: "Clear all entries",
  reallyClear: "All entries of this page go. Go on?",
  dismiss: "Close",
};
