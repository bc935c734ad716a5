/**
 * The page: what comes next as one large card, what is prepared, how it is wired, what is written down.
 *
 * @module
 */

import { h, picture, save } from "./dom.js";
import { CancelledError, Lengthwise, RefusedError } from "./lengthwise.js";
import { indicationOf, passesOf, skippedIn } from "./record.js";
import { ElsewhereError, Store } from "./store.js";
import { TEXTS } from "./texts.js";

/** @typedef {import("./record.js").Entry} Entry */
/** @typedef {import("./record.js").PassDraft} PassDraft */
/** @typedef {import("./record.js").ReadingDraft} ReadingDraft */
/** @typedef {import("./texts.js").Files} Files */
/** @typedef {import("./answers.js").SourceText} SourceText */
/** @typedef {keyof typeof TEXTS.parts} Part */
/**
 * The plan that is followed, and what of it is done.
 * @typedef {object} Followed
 * @property {any} plan
 * @property {{ before: PassDraft | null, rounds: PassDraft[] }} passes
 */

const SECONDS = 5;
/** For so long after a card has come up its buttons do nothing, in milliseconds: a second tap was meant for the one before. */
const HOLD = 350;

export class App {
  /** @type {Lengthwise} */
  #engine;
  /** @type {Store} */
  #store;
  /** @type {HTMLElement} */
  #root;
  /** @type {Files} */
  #files;
  /** @type {Entry[]} */
  #entries = [];
  /** @type {Entry[]} */
  #undone = [];
  /** @type {Set<string>} */
  #ticked = new Set();
  /** How many entries there were when the plan that is followed was made. */
  #planAt = 0;
  /** @type {(Followed & { at: number, skipped: string }) | null} */
  #followed = null;
  /** @type {Part} */
  #part = "now";
  /** @type {string | null} */
  #circuit = null;
  /** What is said once, and stays until it is closed. @type {string | null} */
  #notice = null;
  /** What the last entry came to. @type {string} */
  #said = "";
  /** @type {any} */
  #names;
  /** @type {any} */
  #preparation;
  /** @type {any} */
  #judgement;
  /** @type {any} */
  #summary;
  /** @type {any} */
  #findings = null;
  /** Each change waits for the one before it. @type {Promise<void>} */
  #turn = Promise.resolve();
  /** How many wait or are being done. */
  #waiting = 0;
  /** Something was entered that is not shown yet; it is taken in. */
  #entering = { waits: false, taken: false };
  /** When what is shown may be answered. */
  #heldUntil = 0;

  /** @param {Lengthwise} engine @param {Store} store @param {HTMLElement} root @param {Files} files */
  constructor(engine, store, root, files) {
    this.#engine = engine;
    this.#store = store;
    this.#root = root;
    this.#files = files;
  }

  async start() {
    this.#take(this.#store.read());
    if (!this.#store.works) {
      this.#notice = TEXTS.storageNone;
    }
    window.addEventListener("storage", (event) => {
      if (this.#store.isOwn(event)) {
        this.#soon(() => this.#take(this.#store.read()));
      }
    });
    await this.#engine.open({ installation: this.#files.installation, rules: { standard: this.#files.rules } });
    [this.#names, this.#preparation] = await Promise.all([this.#ask("names"), this.#engine.prepare()]);
    document.title = `${this.#names.installation}: ${TEXTS.title}`;
    await this.#worked();
  }

  /** @param {import("./store.js").Kept | null} kept */
  #take(kept) {
    this.#entries = kept?.entries ?? [];
    this.#undone = kept?.undone ?? [];
    this.#ticked = new Set(kept?.ticked ?? []);
    this.#planAt = Math.min(kept?.planAt ?? 0, this.#entries.length);
  }

  /** @param {string} ask @param {Record<string, unknown>} [more] */
  async #ask(ask, more = {}) {
    return JSON.parse(await this.#engine.text({ ask, ...more }));
  }

  /** The test set with these entries, as a text. @param {Entry[]} entries @returns {Promise<SourceText>} */
  async #testSet(entries) {
    const language = this.#files.test_set && "json" in this.#files.test_set ? "json" : "toml";
    const text = await this.#engine.text({ ask: "append", test_set: this.#files.test_set, passes: passesOf(entries) });
    return /** @type {SourceText} */ ({ [language]: text });
  }

  /**
   * Changes what is entered, and works out what that comes to.
   * @param {() => void} change
   */
  #soon(change) {
    return this.#inTurn(async () => {
      change();
      this.#keep();
      await this.#worked();
    });
  }

  /** Does it after all that was asked before. @param {() => Promise<void>} what */
  #inTurn(what) {
    this.#waiting += 1;
    this.#root.setAttribute("aria-busy", "true");
    this.#turn = this.#turn.then(what).catch((error) => this.#failed(error)).then(() => {
      this.#waiting -= 1;
      this.#root.setAttribute("aria-busy", String(this.#waiting > 0));
    });
    return this.#turn;
  }

  #keep() {
    try {
      this.#store.write({
        entries: this.#entries, undone: this.#undone, ticked: [...this.#ticked], planAt: this.#planAt,
      });
    } catch (error) {
      if (error instanceof ElsewhereError) {
        this.#take(this.#store.read());
        this.#notice = TEXTS.otherTab;
      } else {
        this.#notice = TEXTS.storageFull;
      }
    }
  }

  /** @param {unknown} error */
  #failed(error) {
    if (!(error instanceof CancelledError)) {
      this.#notice = TEXTS.broken(error instanceof RefusedError ? error.message : String(error));
    }
    this.#render();
  }

  /** What all entries come to. */
  async #worked() {
    const skipped = skippedIn(this.#entries);
    const key = JSON.stringify(skipped);
    if (!this.#followed || this.#followed.at !== this.#planAt || this.#followed.skipped !== key) {
      await this.#engine.enter(await this.#testSet(this.#entries.slice(0, this.#planAt)));
      const plan = await this.#engine.plan(skipped, { seconds: SECONDS });
      const passes = await this.#ask("plan", { options: skipped, give: "passes" });
      this.#followed = { plan, passes, at: this.#planAt, skipped: key };
    }
    const entered = await this.#engine.enter(await this.#testSet(this.#entries));
    this.#summary = entered.summary;
    this.#judgement = await this.#engine.judge();
    const fails = this.#judgement.readings.some((/** @type {any} */ row) => row.verdict === "fail");
    this.#findings = fails
      ? { ...(await this.#engine.locate({}, { seconds: SECONDS })), passes: await this.#ask("locate", { give: "passes" }) }
      : null;
    if (this.#toDo().isDone && this.#planAt < this.#entries.length) {
      this.#planAt = this.#entries.length;
      this.#keep();
      await this.#worked();
      return;
    }
    this.#render();
  }

  /** Of the round that is followed: what is left of it. */
  #toDo() {
    const { plan, passes } = /** @type {Followed} */ (this.#followed);
    const done = this.#entries.slice(this.#planAt);
    const moved = new Set(done.flatMap((entry) => (entry.kind === "operate" ? [entry.device] : [])));
    const round = plan.rounds[0];
    const pass = passes.rounds[0] ?? {};
    const operations = (round?.operations ?? [])
      .filter((/** @type {any} */ row) => !moved.has(row.device))
      .map((/** @type {any} */ row) => ({ ...row, put: pass.set?.[row.device] ?? null }));
    const read = done.filter((entry) => entry.kind === "read").map((entry) => JSON.stringify(entry.reading.between) + placeOf(entry.reading));
    const readings = (pass.reading ?? [])
      .map((reading, number) => ({ reading, adds: round.readings[number].adds.length }))
      .filter(({ reading }) => !read.includes(JSON.stringify(reading.between) + placeOf(reading)));
    const has = round !== undefined && (round.operations.length > 0 || (pass.reading ?? []).length > 0);
    return { operations, readings, isDone: has && operations.length === 0 && readings.length === 0 };
  }

  /** @param {Entry | Entry[]} entry @param {{ anew?: boolean, said?: string }} [how] */
  #enter(entry, { anew = false, said = "" } = {}) {
    // Each card is answered once, however often it is tapped.
    if (this.#entering.waits || performance.now() < this.#heldUntil) {
      return;
    }
    this.#entering.waits = true;
    this.#soon(() => {
      this.#entering.taken = true;
      this.#entries = [...this.#entries, ...[entry].flat()];
      this.#undone = [];
      this.#said = said;
      if (anew) {
        this.#planAt = this.#entries.length;
      }
    });
  }

  #undo() {
    this.#soon(() => {
      const last = this.#entries.at(-1);
      if (last) {
        this.#entries = this.#entries.slice(0, -1);
        this.#undone = [last, ...this.#undone];
        this.#planAt = Math.min(this.#planAt, this.#entries.length);
        if (last.kind === "prepare" && !this.#entries.some((entry) => entry.kind === "prepare")) {
          this.#ticked.delete("prepared");
        }
        this.#said = "";
      }
    });
  }

  #redo() {
    this.#soon(() => {
      const [first, ...rest] = this.#undone;
      if (first) {
        this.#entries = [...this.#entries, first];
        this.#undone = rest;
        if (first.kind !== "operate" && first.kind !== "read") {
          this.#planAt = this.#entries.length;
        }
      }
    });
  }

  #render() {
    if (this.#entering.taken) {
      this.#entering = { waits: false, taken: false };
      this.#heldUntil = performance.now() + HOLD;
    }
    const parts = /** @type {Part[]} */ (Object.keys(TEXTS.parts));
    const shown = { now: () => this.#now(), prepare: () => this.#prepare(), wiring: () => this.#wiring(), record: () => this.#record() };
    this.#root.replaceChildren(
      this.#head(),
      this.#notice && h("div", { class: "notice", role: "alert" }, this.#notice, h("button", { onclick: () => { this.#notice = null; this.#render(); } }, TEXTS.dismiss)) || "",
      h("p", { class: "said", role: "status" }, this.#said),
      h("main", { id: "part" }, shown[this.#part]()),
      h("nav", {}, parts.map((part) => h("button", {
        "aria-current": part === this.#part ? "page" : "false",
        onclick: () => { this.#part = part; this.#said = ""; this.#render(); window.scrollTo(0, 0); },
      }, TEXTS.parts[part]))),
    );
  }

  #head() {
    const { metres_tested: tested, metres_required: required, tested: pairs, required: of } = this.#summary;
    return h("header", {},
      h("h1", {}, this.#names.installation),
      h("div", { class: "figures" },
        h("strong", {}, TEXTS.tested(tested, required)),
        h("progress", { max: required || 1, value: tested, "aria-label": TEXTS.tested(tested, required) }),
        h("span", {}, TEXTS.pairs(pairs, of))),
      h("div", { class: "back" },
        h("button", { onclick: () => this.#undo(), disabled: this.#entries.length === 0 }, TEXTS.undo),
        h("button", { onclick: () => this.#redo(), disabled: this.#undone.length === 0 }, TEXTS.redo)),
    );
  }

  #now() {
    return [this.#findings && this.#fault(), this.#next(), this.#left(), this.#byCircuit()];
  }

  #next() {
    const { plan } = /** @type {Followed} */ (this.#followed);
    if (!this.#ticked.has("prepared")) {
      return h("section", { class: "card now" }, h("h2", {}, TEXTS.prepareFirst), h("p", {}, TEXTS.prepareWhy),
        h("button", { class: "big", onclick: () => { this.#part = "prepare"; this.#render(); } }, TEXTS.parts.prepare));
    }
    const { operations, readings } = this.#toDo();
    if (operations.length > 0) {
      return this.#stop(operations, plan);
    }
    const [next] = readings;
    if (next) {
      return this.#reading(next.reading, TEXTS.adds(next.adds));
    }
    return h("section", { class: "card" }, h("h2", {}, TEXTS.nothingLeft),
      plan.untestable.length > 0 && h("p", {}, TEXTS.untestable(plan.untestable.length)));
  }

  /** @param {any[]} operations @param {any} plan */
  #stop(operations, plan) {
    const [first] = operations;
    const here = operations.filter((row) => row.stop === first.stop);
    const then = [...new Set(operations.map((row) => this.#placeOfPoint(row.device)))].slice(1);
    const location = this.#point(first.device)?.location;
    return h("section", { class: "card now" },
      h("p", { class: "small" }, TEXTS.round(plan.rounds.length)),
      h("h2", {}, TEXTS.goTo(this.#placeOfPoint(first.device))),
      here.map((row) => h("div", { class: "act" },
        h("p", { class: "do" }, row.put === null ? TEXTS.operate(row.device) : TEXTS.operateTo(row.device, row.put)),
        this.#point(row.device)?.kind === "contactor" && h("p", { class: "danger" }, TEXTS.armature),
        h("button", { class: "big", onclick: () => this.#enter({ kind: "operate", device: row.device, to: row.put }) }, TEXTS.isOver(row.device)),
        h("button", { class: "plain", onclick: () => this.#enter({ kind: "skip", option: "leave", id: row.device }, { anew: true }) }, TEXTS.cantOperate(row.device)))),
      location && h("button", { class: "plain", onclick: () => this.#enter({ kind: "skip", option: "without", id: location }, { anew: true }) }, TEXTS.cantGetThere),
      then.length > 0 && h("ol", { class: "then" }, then.map((place) => h("li", {}, place))));
  }

  /**
   * A reading to take.
   * @param {ReadingDraft} reading
   * @param {string} hint
   * @param {Entry[]} [before] What is entered with it, before it.
   */
  #reading(reading, hint, before = []) {
    const place = before.length > 0 ? "fault" : "next";
    const value = /** @type {HTMLInputElement} */ (h("input", {
      id: `value-${place}`, class: "megohms", inputMode: "decimal", autocomplete: "off", "aria-describedby": `judged-${place}`, oninput: () => this.#typed(reading, before, value, judged),
    }));
    const judged = h("p", { id: `judged-${place}`, class: "judged", role: "status" }, hint);
    const key = (/** @type {string} */ sign) => h("button", { type: "button", onclick: () => { value.value = sign + value.value.replace(/^[<>]/, ""); value.focus(); value.dispatchEvent(new Event("input")); } }, sign);
    const circuit = this.#names.circuits.find((/** @type {any} */ row) => row.id === reading.circuit);
    const where = circuit ? `${circuit.way ?? circuit.id}, ${circuit.name}` : reading.board ?? "";
    return h("form", { class: "card now", onsubmit: (/** @type {Event} */ event) => {
      event.preventDefault();
      const megohms = indicationOf(value.value);
      if (megohms === null) {
        judged.textContent = TEXTS.notAValue;
        value.focus();
        return;
      }
      this.#enter([...before, { kind: "read", reading: { ...reading, megohms } }], { said: TEXTS.discharge });
    } },
      h("p", { class: "small" }, where),
      h("h2", {}, TEXTS.leads(reading.between)),
      h("p", { class: "danger" }, `${reading.volts === undefined ? "" : `${TEXTS.volts(reading.volts)} `}${TEXTS.confirmDead}`),
      h("label", { for: `value-${place}` }, TEXTS.megohms),
      h("div", { class: "value" }, key("<"), key(">"), value, h("span", {}, "MΩ")),
      judged,
      h("button", { class: "big" }, TEXTS.keep));
  }

  /** Says what a value would come to. @param {ReadingDraft} reading @param {Entry[]} before @param {HTMLInputElement} value @param {HTMLElement} judged */
  #typed(reading, before, value, judged) {
    const typed = value.value;
    const megohms = indicationOf(typed);
    if (megohms === null) {
      judged.textContent = typed === "" ? "" : TEXTS.notAValue;
      return;
    }
    this.#inTurn(async () => {
      if (value.value !== typed) {
        return;
      }
      await this.#engine.enter(await this.#testSet([...this.#entries, ...before, { kind: "read", reading: { ...reading, megohms } }]));
      /** @type {any} */
      const row = (await this.#engine.judge()).readings.at(-1);
      await this.#engine.enter(await this.#testSet(this.#entries));
      const limit = row.asked ? TEXTS.limit(row.asked.megohms, row.asked.volts) : "";
      judged.textContent = [`${TEXTS.judged(row.verdict)}`, limit].filter(Boolean).join("; ");
      judged.className = `judged ${row.verdict}`;
    });
  }

  #fault() {
    const { next, gaps } = this.#findings;
    const places = this.#findings.faults.suspects.flat();
    const where = (/** @type {number} */ number) => {
      const gap = gaps.find((/** @type {any} */ row) => row.gap === number);
      return gap.members.map((/** @type {any} */ member) => (member.length ? `${member.length} ${member.cores.join("-")}` : member.terminals.join("-"))).join(", ");
    };
    const [pass] = this.#findings.passes.rounds;
    const [reading] = pass?.reading ?? [];
    const set = Object.entries({ ...pass?.set });
    return h("section", { class: "card fault" },
      h("h2", {}, TEXTS.fault),
      h("p", {}, TEXTS.faultPlaces(places.length)),
      h("ul", {}, places.slice(0, 12).map((/** @type {number} */ number) => h("li", {}, where(number)))),
      reading
        ? [h("h3", {}, TEXTS.faultNext),
            h("p", { class: "do" }, set.map(([device, to]) => TEXTS.operateTo(device, to)).join("; ")),
            this.#reading({ ...reading, megohms: undefined }, "", [{ kind: "prepare", pass: { ...pass, reading: undefined } }])]
        : h("p", { class: "do" }, next.do === "nothing" && next.why === "found" ? TEXTS.faultFound : TEXTS.notSolved));
  }

  #left() {
    const { without, leave } = skippedIn(this.#entries);
    const again = [
      ...without.map((id) => ({ option: /** @type {const} */ ("without"), id, name: this.#locationName(id) })),
      ...leave.map((id) => ({ option: /** @type {const} */ ("leave"), id, name: id })),
    ];
    return again.length > 0 && h("section", { class: "card" }, h("h2", {}, TEXTS.left),
      again.map(({ option, id, name }) => h("button", { class: "plain", onclick: () => this.#enter({ kind: "again", option, id }, { anew: true }) }, TEXTS.takenUpAgain(name))));
  }

  #byCircuit() {
    return h("section", { class: "card" }, h("h2", {}, TEXTS.byCircuit),
      h("ul", { class: "bars" }, this.#judgement.circuits.map((/** @type {any} */ row) => h("li", {},
        h("button", { class: "plain", onclick: () => { this.#circuit = row.circuit; this.#part = "wiring"; this.#render(); } }, this.#circuitName(row.circuit)),
        h("progress", { max: row.required || 1, value: row.tested, "aria-label": `${row.circuit}: ${TEXTS.pairs(row.tested, row.required)}` }),
        h("span", {}, `${row.tested}/${row.required}`)))));
  }

  #prepare() {
    const steps = this.#preparation.circuits.flatMap((/** @type {any} */ row) => row.steps);
    const boards = [...new Set(steps.filter((/** @type {any} */ step) => step.do === "isolate").map((/** @type {any} */ step) => step.board))];
    /** @type {Map<string, Map<string, string>>} */
    const rooms = new Map();
    for (const step of steps) {
      const what = step.what ?? step.point;
      if (what === undefined || step.do === "take-link-out" || !(step.do in { "take-out": 1, "leave-in": 1, link: 1, "switch-on": 1, stands: 1, joined: 1 })) {
        continue;
      }
      const room = step.location ?? TEXTS.elsewhere;
      const more = step.do === "switch-on" ? `: ${step.position}` : step.do === "link" || step.do === "joined" ? `: ${step.terminals.join(", ")}` : "";
      const kind = step.kind ? ` (${step.kind})` : "";
      const rows = rooms.get(room) ?? new Map();
      rows.set(`${step.do} ${what}`, `${TEXTS.doing(step.do)} ${what}${kind}${more}`);
      rooms.set(room, rows);
    }
    const tick = (/** @type {string} */ key, /** @type {string} */ text) => h("label", { class: "tick" },
      h("input", { type: "checkbox", checked: this.#ticked.has(key), onchange: (/** @type {any} */ event) => this.#soon(() => {
        if (event.target.checked) {
          this.#ticked.add(key);
        } else {
          this.#ticked.delete(key);
        }
        const before = this.#followed?.passes.before;
        if (key === "prepared" && event.target.checked && before) {
          this.#entries = [...this.#entries, { kind: "prepare", pass: before }];
          this.#planAt = this.#entries.length;
        }
      }) }), text);
    return [
      h("section", { class: "card danger" }, h("ul", {}, this.#preparation.cautions.map((/** @type {string} */ text) => h("li", {}, text)))),
      h("section", { class: "card" }, h("h2", {}, TEXTS.startHere), boards.map((board) => tick(`isolate ${board}`, TEXTS.isolate(/** @type {string} */ (board))))),
      [...rooms].map(([room, rows]) => h("section", { class: "card" }, h("h2", {}, room), [...rows].map(([key, text]) => tick(key, text)))),
      h("section", { class: "card" }, tick("prepared", TEXTS.prepared)),
    ];
  }

  #wiring() {
    const circuits = this.#names.circuits;
    const shown = this.#circuit ?? circuits[0]?.id;
    const place = h("div", { class: "drawing", tabIndex: 0, role: "group", "aria-label": TEXTS.drawingOf(shown) }, TEXTS.working);
    if (shown) {
      const down = window.matchMedia("(max-width: 700px)").matches;
      this.#inTurn(async () => {
        place.replaceChildren(picture(await this.#engine.text({ ask: "draw", circuits: [shown], down })));
      });
    }
    return [
      h("section", { class: "card" }, h("label", { for: "circuit" }, TEXTS.circuit),
        h("select", { id: "circuit", onchange: (/** @type {any} */ event) => { this.#circuit = event.target.value; this.#render(); } },
          circuits.map((/** @type {any} */ row) => h("option", { value: row.id, selected: row.id === shown }, this.#circuitName(row.id))))),
      place,
    ];
  }

  #record() {
    const { circuits, readings, missed, verdict } = this.#judgement;
    const figure = (/** @type {any} */ row) => row?.record ?? "";
    const name = `${this.#names.installation}`.replaceAll(/[^\p{L}\p{N}]+/gu, "-").toLowerCase().slice(0, 60) || "installation";
    return [
      h("section", { class: "card" }, h("h2", {}, `${TEXTS.verdict}: ${TEXTS.judged(verdict)}`),
        h("table", {}, h("thead", {}, h("tr", {}, [TEXTS.circuit, TEXTS.least, TEXTS.toEarth, TEXTS.verdict].map((text) => h("th", { scope: "col" }, text)))),
          h("tbody", {}, circuits.map((/** @type {any} */ row) => h("tr", {}, h("th", { scope: "row" }, this.#circuitName(row.circuit)),
            h("td", {}, figure(row.live_to_live)), h("td", {}, figure(row.live_to_earth)), h("td", {}, TEXTS.judged(row.verdict))))))),
      h("section", { class: "card" }, h("h2", {}, TEXTS.readings),
        readings.length === 0 ? h("p", {}, TEXTS.noReadings) : h("ol", {}, readings.map((/** @type {any} */ row) => h("li", {},
          `${row.circuit ?? row.board}, ${TEXTS.leads(row.between)}: ${row.megohms ?? "?"} MΩ, ${TEXTS.judged(row.verdict)}`)))),
      h("section", { class: "card" }, h("h2", {}, `${TEXTS.missed}: ${missed.length}`),
        h("ul", {}, missed.slice(0, 200).map((/** @type {any} */ row) => h("li", {}, `${row.length} ${row.cores.join("-")}`)))),
      h("section", { class: "card actions" },
        h("button", { onclick: async () => { const text = await this.#testSet(this.#entries); save(`${name}.tests.${"json" in text ? "json" : "toml"}`, Object.values(text)[0]); } }, TEXTS.save),
        h("button", { onclick: () => save(`${name}.${"json" in this.#files.installation ? "json" : "toml"}`, Object.values(this.#files.installation)[0]) }, TEXTS.saveInstallation),
        h("button", { onclick: () => window.print() }, TEXTS.print),
        h("button", { onclick: () => window.confirm(TEXTS.reallyClear) && this.#soon(() => { this.#entries = []; this.#undone = []; this.#ticked = new Set(); this.#planAt = 0; }) }, TEXTS.startOver)),
    ];
  }

  /** @param {string} id */
  #point(id) {
    return this.#names.points.find((/** @type {any} */ row) => row.id === id);
  }

  /** @param {string} id */
  #placeOfPoint(id) {
    const point = this.#point(id);
    const room = point?.location ? this.#locationName(point.location) : TEXTS.elsewhere;
    return point?.plate ? `${room}, ${point.plate}` : room;
  }

  /** @param {string} id */
  #locationName(id) {
    return this.#names.locations.find((/** @type {any} */ row) => row.id === id)?.name ?? id;
  }

  /** @param {string} id */
  #circuitName(id) {
    const name = this.#names.circuits.find((/** @type {any} */ row) => row.id === id)?.name;
    return name && name !== id ? `${id} ${name}` : id;
  }
}

/** @param {ReadingDraft} reading */
function placeOf(reading) {
  return reading.circuit ?? reading.board ?? "";
}

/** Starts the page with what is in it. */
export async function startPage() {
  const root = /** @type {HTMLElement} */ (document.getElementById("page"));
  const held = (/** @type {string} */ id) => document.getElementById(id)?.textContent ?? "";
  root.textContent = TEXTS.starting;
  try {
    /** @type {{ key: string, files: Files }} */
    const { key, files } = JSON.parse(held("files"));
    const bytes = Uint8Array.from(atob(held("engine").trim()), (letter) => letter.charCodeAt(0));
    const engine = await Lengthwise.start({ engine: bytes });
    let storage = null;
    try {
      storage = window.localStorage;
    } catch {
      // A browser may keep nothing for pages of files.
    }
    const app = new App(engine, new Store(`lengthwise ${key}`, storage), root, files);
    await app.start();
  } catch (error) {
    root.textContent = TEXTS.broken(String(error));
  }
}
