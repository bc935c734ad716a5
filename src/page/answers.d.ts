/**
 * What is asked and what is answered, as FORMAT.md says; parts 3 and 5 there tell what each key means. Keys that only some
 * answers have are optional. Answers may get more keys; none changes its meaning.
 */

/** A text, and what it is written in. */
export type SourceText = { toml: string } | { json: string };

/** A ruleset of the package by its id, or one as a text. */
export type StandardId = "bs-7671" | "iec-60364-6" | "as-nzs-3000";
export type RulesText = { standard: StandardId } | SourceText;

/** Which pairs of cores need a test. */
export type Need = "earth" | "ruleset" | "standard" | "every-pair";

export type ExtraKind = "lamps" | "points" | "find-out" | "links" | "accessories";

export interface Pace {
  metres_a_minute: number;
  reading_seconds: number;
  operation_seconds: number;
  out_seconds: number;
}

/** What is asked of a plan: the options of the command `plan`. */
export interface PlanOptions {
  need?: Need;
  without?: string[];
  leave?: string[];
  restore?: boolean;
  each_switch?: boolean;
  fewest_readings?: boolean;
  prefer?: "operations" | "stops";
  people?: "one" | "two";
  extras?: ExtraKind[];
  pace?: Pace;
}

export interface Assumptions {
  accuracy_percent: number;
  resolution_megohms: number;
  healthy_megohm_kilometres: number;
  investigate_below_megohms: number;
}

/** How a question comes along: `done` of `of`, in what the stage counts. */
export interface Progress {
  stage: string;
  done: number;
  of: number;
}

/** Pass and number of a reading, from 1. */
export type ReadingNumber = [pass: number, reading: number];
/** A pair of cores of a length. */
export type PairName = [length: string, core: string, core: string];
export type CoreName = [length: string, core: string];

/** What is wrong in a text, and where; `line` and `column` from 1. */
export interface FileError {
  line: number | null;
  column: number | null;
  code: string;
  error: string;
  mend: string;
  from?: { circuit: string; step: number; part?: string; number?: number; point?: string; length?: string };
}

export interface Warning {
  code: string;
  at: string[];
  text: string;
}

export interface CheckReport {
  format: 1;
  installation: FileError[];
  test_set: FileError[] | null;
  without_role?: CoreName[];
  spare?: CoreName[];
  warnings?: Warning[];
}

/** Everything that is wrong with what was asked. */
export interface Refusal extends CheckReport {
  ruleset?: FileError[];
  options?: { option: string; error: string; mend: string }[];
}

export interface CoverageSummary {
  required: number;
  tested: number;
  not_tested: number;
  metres_required: number;
  metres_tested: number;
}

export type Void = "bridged" | "doubtful" | "not-ruled-out";
export type PairClass = "to-earth" | "between-live" | "same-polarity" | "spare";

export interface ReadingCoverage {
  pass: number;
  reading: number;
  void: Void | null;
  path?: object[];
  left_in?: unknown;
}

export interface PositionCoverage {
  device: string;
  position: string;
  tested: boolean;
  closes_nothing?: boolean;
}

export interface PairCoverage {
  length: string;
  cores: [string, string];
  class: PairClass;
  required: boolean;
  tested: boolean;
  by: number | null;
  missed?: { reason: string } & Record<string, unknown>;
  one_of?: [string, string][];
}

export interface Coverage {
  format: 1;
  summary: CoverageSummary;
  readings: ReadingCoverage[];
  pairs: PairCoverage[];
  reading_lists: ReadingNumber[][];
  positions: PositionCoverage[];
  open_contacts?: object[];
  without_role?: CoreName[];
  stopped?: boolean;
}

export interface ChangedPair {
  length: string;
  cores: [string, string];
  class: PairClass;
  required: boolean;
}

/** What a test set that was entered changed, and the totals with it. */
export interface Entered {
  format: 1;
  readings: ReadingCoverage[];
  tested: ChangedPair[];
  lost: ChangedPair[];
  positions: PositionCoverage[];
  summary: CoverageSummary;
  stopped?: boolean;
}

export interface Operation {
  device: string;
  from: string;
  to: string;
  stop?: string;
}

export interface PlannedReading {
  circuit: string;
  at?: string;
  stop?: string;
  between: [string, string];
  volts: number | null;
  adds: PairName[];
  for?: PairName[];
  positions?: [device: string, position: string][];
}

export interface Round {
  operations: Operation[];
  readings: PlannedReading[];
  walk?: { metres: number; shortest?: boolean; at_least?: number };
  fewest_readings?: boolean;
}

export interface Totals {
  walks: number;
  operations: number;
  stops: number;
  readings: number;
}

export interface Estimate {
  minutes: number;
  out_minutes: number;
  round_minutes: number[];
  extra_minutes: number;
  pace: Pace;
  walks_left_out?: boolean;
}

export interface UntestablePair {
  length: string;
  cores: [string, string];
  why: string;
  devices?: string[];
  opens_with?: string[];
  remedy?: { do: string } & Record<string, unknown>;
}

export interface Plan {
  format: 1;
  rounds: Round[];
  totals: Totals;
  bounds: Partial<Totals>;
  optimal: { walks: boolean; operations: boolean; stops?: boolean; metres?: boolean; readings?: boolean };
  untestable: UntestablePair[];
  not_planned?: PairName[];
  extras?: { allowed: ExtraKind[]; used: object[]; left?: PairName[] } & Record<string, unknown>;
  people?: "two";
  others?: { people: "one" | "two"; totals: Totals; metres?: number } & Record<string, unknown>;
  estimate?: Estimate;
  stopped?: boolean;
  [key: string]: unknown;
}

export type Verdict = "pass" | "investigate" | "not-complete" | "fail";
export type ReadingVerdict = "pass" | "investigate" | "fail" | "not-judgeable";
export interface Asked {
  volts: number;
  megohms: number;
}

export interface JudgedReading {
  pass: number;
  reading: number;
  circuit?: string;
  board?: string;
  between: [string, string];
  volts: number | null;
  megohms: string | null;
  column: "live-to-live" | "live-to-earth" | null;
  neither?: "live-with-earth" | "earth-to-earth" | "no-role";
  asked: Asked | null;
  verdict: ReadingVerdict;
  why?: { reason: string } & Record<string, unknown>;
}

export interface Figure {
  record: string;
  at_least?: number;
  more_than?: number;
  at_most?: number;
  less_than?: number;
  readings: ReadingNumber[];
}

export interface CircuitJudgement {
  circuit: string;
  verdict: Verdict;
  asked: Asked | null;
  metres: number;
  live_to_live: Figure | null;
  live_to_earth: Figure | null;
  required: number;
  tested: number;
  readings: ReadingNumber[];
  [key: string]: unknown;
}

export interface Judgement {
  format: 1;
  ruleset: string;
  need: Need;
  verdict: Verdict;
  readings: JudgedReading[];
  circuits: CircuitJudgement[];
  boards: ({ board: string; verdict: Verdict } & Record<string, unknown>)[];
  missed: ({ circuit: string; length: string; cores: [string, string]; class: PairClass } & Record<string, unknown>)[];
  reading_lists: ReadingNumber[][];
  stopped?: boolean;
  [key: string]: unknown;
}

export interface Gap {
  gap: number;
  state: "cleared" | "suspect" | "certain" | "not-read" | "contradicted";
  least_microsiemens: number;
  greatest_microsiemens: number | null;
  explains_alone: boolean;
  metres: number;
  members: ({ length: string; cores: [string, string]; metres: number } | { at: string; terminals: [string, string] })[];
  [key: string]: unknown;
}

export interface Findings {
  format: 1;
  assumed: Assumptions;
  summary: Record<"gaps" | "cleared" | "suspect" | "certain" | "not_read" | "contradicted", number>;
  readings: ({ pass: number; reading: number; left_out: string | null } & Record<string, unknown>)[];
  faults: { at_least: number; exact: boolean; one_explains_all: boolean; suspects: number[][] };
  conflicts: { readings: ReadingNumber[] }[];
  gaps: Gap[];
  next: { do: "read" | "part" | "nothing" } & Record<string, unknown>;
  stopped?: boolean;
}

export type Step = { do: string; caution?: string } & Record<string, unknown>;

export interface Preparation {
  format: 1;
  ruleset: string;
  cautions: string[];
  before: Step[];
  before_readings: Step[];
  after: Step[];
  circuits: { circuit: string; steps: Step[] }[];
  opened?: { opened: string; steps: Step[] }[];
  shared_neutrals?: string[][];
}

export interface LoadWorks {
  point: string;
  kind: string;
  between: [string, string];
  works: "always" | "never" | "depends" | "not-worked-out";
  devices: string[];
  each_turns: string[];
  through: string[];
  conductors: string[];
  circuits: string[];
  [key: string]: unknown;
}

export interface Works {
  format: 1;
  loads: LoadWorks[];
}

export interface CoreUnder {
  length: string;
  core: string;
  runs_to: string;
  to: string | null;
}

export interface Terminations {
  format: 1;
  boxes: {
    box: string;
    kind: string;
    location?: string;
    plate?: string;
    terminals: { terminal: string; cores: CoreUnder[]; linked_to?: string[] }[];
    loose: CoreUnder[];
  }[];
}

export interface RulesReport {
  format: 1;
  rulesets: ({ id: string; title: string; row: object[] } & Record<string, unknown>)[];
}
