"""What `judge` prints, worked out again from the raw files: fractions for the values, networkx for what is joined to what.

Sources: BS 7671:2018 Table 64 and reg. 643.3.3 for what is asked (written out here, not taken from the program's data);
Ohm's law for resistances in parallel; FORMAT.md parts 2 to 4 for what the words mean. Values are compared as exact
fractions; what is printed of resistances in parallel within one part in 10^11.
"""

import copy
import csv
import io
import json
import math
import random
from fractions import Fraction

import networkx

import coverage
import network_check
import passes
import reference

TABLE_64 = {"id": "bs-7671",
            "row": [{"system": ["selv", "pelv"], "volts": 250, "megohms": 0.5},
                    {"system": ["lv", "felv"], "up_to": 500, "volts": 500, "megohms": 1.0},
                    {"system": ["lv", "felv"], "above": 500, "volts": 1000, "megohms": 1.0}],
            "relief": {"volts": 250, "megohms": 1.0}, "investigate": {"below": 2.0}, "expected_when_new": {"above": 20.0}}
VOLTS, VALUES = [100, 250, 500, 1000], [0.25, 0.5, 1, 1.5, 5.0]
SHOWN = [0.01, 0.49, 0.5, 0.75, 0.99, 1, 1.0, 1.5, 1.99, 2, 5.0, 19.9, 20, 20.5, 150.25, 250.0, 999, ">0.4", ">1", ">19.99",
         ">20", ">200", ">999", ">0.75", "<0.01", "<0.5", "<1", "<1.00", "<3", ">2000.5"]
GOOD = [25.5, 99.0, 150.25, 250.0, 310, ">200", ">999"]
ORDER = ["pass", "investigate", "not-complete", "fail"]
CLOSE = Fraction(1, 10**11)


def random_ruleset(rng):
    """A ruleset file in which every system and voltage has one row, and some rows no value."""
    source = {"source": "invented", "edition": "first", "from_memory": rng.random() < 0.5}
    systems = ["lv", "selv", "pelv", "felv"]
    rng.shuffle(systems)
    rows = []
    while systems:
        taken = systems[:rng.randint(1, len(systems))]
        systems = systems[len(taken):]
        cuts = sorted(rng.sample([12, 50, 110, 230, 400, 600], rng.randint(0, 3)))
        for above, up_to in zip([None, *cuts], [*cuts, None]):
            row = {"system": taken, **source}
            row |= {"above": above} if above else {}
            row |= {"up_to": up_to} if up_to else {}
            if rng.random() < 0.1:
                row["no_value"] = "invented"
            else:
                row |= {"volts": rng.choice(VOLTS), "megohms": rng.choice(VALUES)}
            rows.append(row)
    rng.shuffle(rows)
    file = {"format": 1, "ruleset": {"id": "made-up", "title": "Invented"}, "row": rows}
    if rng.random() < 0.7:
        file["relief"] = {"volts": rng.choice(VOLTS), "megohms": rng.choice(VALUES), **source}
    if rng.random() < 0.7:
        file["investigate"] = {"below": rng.choice([1.5, 2.0, 3]), **source}
    if rng.random() < 0.7:
        file["expected_when_new"] = {"above": rng.choice([5, 20.0]), **source}
    return file


def gives(setting, volts):
    """Whether an instrument may give these volts at a setting: IEC 61557-2 (from memory) has at least the nominal voltage
    and at most 1.25 times that with nothing connected."""
    return setting <= volts <= 1.25 * setting


class Asked:
    """A ruleset asked about circuits."""

    def __init__(self, ruleset, installation):
        self.ruleset = ruleset
        self.head = installation["installation"]
        self.circuits = {row["id"]: row for row in installation["circuit"]}
        cores = reference.network(installation)["cores"]
        self.nominal = reference.nominal_voltages(installation, reference.roles_by_length(cores))

    def row(self, system, nominal):
        nominal = 500 if system == "felv" else nominal
        [row] = [row for row in self.ruleset["row"] if system in row["system"]
                 and row.get("above", 0) < nominal <= row.get("up_to", float("inf"))]
        return row

    def row_of(self, circuit):
        return self.row(self.circuits[circuit].get("system", "lv"), self.nominal[circuit])

    def of_board(self, circuits):
        """What is asked of a board with these circuits behind it: the least of their voltages, the greatest of their values."""
        rows = [self.row_of(circuit) for circuit in circuits]
        if not rows:
            lines = 1 if self.head.get("phases", 1) == 1 else math.sqrt(3) * 0.995
            rows = [self.row("lv", self.head["nominal_voltage"] * lines)]
        given = [row for row in rows if "no_value" not in row]
        if not given:
            return self.demand(rows[0], None)
        return self.demand({"volts": min(row["volts"] for row in given), "megohms": max(row["megohms"] for row in given)}, None)

    def greatest(self, circuits):
        """The greatest test voltage that a circuit behind a board asks for."""
        return max((row["volts"] for row in map(self.row_of, circuits) if "no_value" not in row), default=None)

    def of(self, circuit):
        """What is asked of a circuit, what will do too, and why nothing is asked."""
        relief = self.ruleset.get("relief") if "relief" in self.circuits[circuit] else None
        return self.demand(self.row_of(circuit), relief)

    def demand(self, row, relief):
        if "no_value" in row:
            return {"asked": None, "relief": None, "no_value": row["no_value"]}
        asked = {"volts": row["volts"], "megohms": row["megohms"]}
        if relief and relief["volts"] < asked["volts"]:
            return {"asked": asked, "relief": {"volts": relief["volts"], "megohms": relief["megohms"]}}
        return {"asked": asked, "relief": None}

    def at(self, demand, volts):
        """What is asked at the voltage of a reading; or why that won't do."""
        if demand["asked"] is None:
            return None, {"reason": "no-rule", "no_value": demand["no_value"]}
        if volts is None:
            return None, {"reason": "no-volts"}
        for row in (demand["asked"], demand["relief"]):
            if row and gives(row["volts"], volts):
                return row, None
        asked = demand["asked"]["volts"]
        if volts > asked:
            return None, {"reason": "volts-too-high", "taken": volts, "asked": asked}
        relief = self.ruleset.get("relief")
        is_relief = relief is not None and gives(relief["volts"], volts)
        return None, {"reason": "volts-too-low", "taken": volts, "asked": asked, "is_relief": is_relief}

    def value(self, asked, shown):
        """The verdict on a value, and why."""
        bounds, least = Bounds.of(shown), Fraction(str(asked["megohms"]))
        if bounds.is_below(least):
            return "fail", None
        if not bounds.is_at_least(least):
            reason = "range-ends-below-limit" if str(shown)[0] == ">" else "range-begins-above-limit"
            return "not-judgeable", {"reason": reason, "megohms": asked["megohms"]}
        below = self.ruleset.get("investigate", {}).get("below")
        if below is not None and not bounds.is_at_least(Fraction(str(below))):
            return "investigate", {"reason": "below", "megohms": below}
        above = self.ruleset.get("expected_when_new", {}).get("above")
        if above is not None and self.head.get("work", "new") == "new" and not bounds.is_above(Fraction(str(above))):
            return "investigate", {"reason": "not-expected-when-new", "megohms": above}
        return "pass", None


class Bounds:
    """A resistance between two bounds; `none` above is no bound. Each bound is (value, whether just that is left out)."""

    def __init__(self, lower, upper):
        self.lower, self.upper = lower, upper

    @staticmethod
    def of(shown):
        text = str(shown)
        if text[0] == ">":
            return Bounds((Fraction(text[1:]), True), None)
        if text[0] == "<":
            return Bounds((Fraction(0), False), (Fraction(text[1:]), True))
        return Bounds((Fraction(text), False), (Fraction(text), False))

    def is_at_least(self, limit):
        return self.lower[0] >= limit

    def is_above(self, limit):
        return self.lower[0] > limit or self.lower == (limit, True)

    def is_below(self, limit):
        return self.upper is not None and (self.upper[0] < limit or self.upper == (limit, True))

    @staticmethod
    def least(rows):
        # A value that is allowed is below one that is left out; above, a bound that is left out is the lower one.
        lower = min((row.lower for row in rows))
        uppers = [row.upper for row in rows if row.upper]
        upper = min(uppers, key=lambda bound: (bound[0], not bound[1])) if uppers else None
        return Bounds(lower, upper)

    def compare(self, got, what, wrong):
        """Whether what was printed of these bounds is that."""
        expected = {}
        if self.lower != (0, False):
            expected["more_than" if self.lower[1] else "at_least"] = self.lower[0]
        if self.upper:
            expected["less_than" if self.upper[1] else "at_most"] = self.upper[0]
        printed = {key: got[key] for key in ("at_least", "more_than", "at_most", "less_than") if key in got}
        if printed.keys() != expected.keys() or any(abs(Fraction(printed[key]) - value) > CLOSE * value
                                                    for key, value in expected.items()):
            wrong.append(f"{what}: bounds are {printed}, expected {({key: float(v) for key, v in expected.items()})}")


def record(rng, case):
    """The case's files with a record of values in them, and a ruleset."""
    installation, tests = copy.deepcopy(case["installation"]), copy.deepcopy(case["test_set"])
    ruleset = TABLE_64 if rng.random() < 0.5 else random_ruleset(rng)
    installation["installation"]["work"] = rng.choice(["new", "existing"])
    for row in installation["circuit"]:
        if rng.random() < 0.15:
            row["relief"] = "can't be disconnected"
    if rng.random() < 0.1:
        system = rng.choice(["selv", "pelv"])
        for row in installation["circuit"]:
            row["system"] = system
    asked = Asked(flat(ruleset), installation)
    good = rng.choice([0.5, 0.9, 0.98, 1.0])
    for step in tests.get("pass", []):
        for reading in step.get("reading", []):
            demand = asked.of(reading["circuit"]) if "circuit" in reading else asked.of_board(list(asked.circuits))
            right = [row["volts"] for row in (demand["asked"], demand["relief"]) if row]
            reading["volts"] = rng.choice(right) if right and rng.random() < max(good, 0.85) else rng.choice(VOLTS)
            reading["megohms"] = rng.choice(GOOD if rng.random() < good else SHOWN)
            if rng.random() > max(good, 0.95):
                del reading["megohms"]
                if rng.random() < 0.5:
                    del reading["volts"]
    return {"installation": installation, "test_set": tests, "ruleset": ruleset, "need": case["need"]}


def flat(ruleset):
    return ruleset if "ruleset" not in ruleset else {**ruleset, "id": ruleset["ruleset"]["id"]}


def fed_by_boards(file, network):
    """What boards feed, from ways onwards: cores, what is joined for good, contacts of points in any position."""
    boards = {row["id"] for row in file["board"]}
    graph = networkx.Graph()
    graph.add_nodes_from(network["terminals"])
    for group in network["joins"]:
        networkx.add_path(graph, group)
    for row in network["contacts"]:
        if row["device"].split("/")[0].split(".")[0] not in boards and row["closed_in"]:
            graph.add_edge(*row["between"])
    for core in network["cores"]:
        graph.add_node((core["length"], core["core"]))
        graph.add_edges_from(((core["length"], core["core"]), end) for end in core["ends"] if end)
    owner = {row["id"]: row["circuit"] for row in file.get("length", [])}
    feeds = networkx.DiGraph()
    feeds.add_nodes_from(("board", board) for board in boards)
    for row in file["circuit"]:
        if "way" in row:
            feeds.add_edge(("board", row["way"].split("/")[0]), ("circuit", row["id"]))
    lines = reference.LINES[file["installation"].get("phases", 1)]
    for board in boards:
        for terminal in network["terminals"]:
            thing, _, last = terminal.rpartition(".")
            if not thing.startswith(f"{board}/") or last not in lines:
                continue
            for node in networkx.node_connected_component(graph, terminal):
                if isinstance(node, tuple):
                    feeds.add_edge(("board", board), ("circuit", owner[node[0]]))
                elif node.split(".")[0] in boards and node.split(".")[1] == "in" and node.split(".")[2] != "E":
                    feeds.add_edge(("board", board), ("board", node.split(".")[0]))
    return feeds


def behind(file, feeds, board):
    """A board with all boards behind it, and the circuits of these in the file's order."""
    reached = networkx.descendants(feeds, ("board", board)) | {("board", board)}
    circuits = [row["id"] for row in file["circuit"] if ("circuit", row["id"]) in reached]
    return {name for kind, name in reached if kind == "board"}, circuits


class Judged:
    """The judgement of a record, worked out here."""

    def __init__(self, files):
        self.file, self.tests, self.need = files["installation"], files["test_set"], files["need"]
        self.ruleset = flat(files["ruleset"])
        self.asked = Asked(self.ruleset, self.file)
        self.network = reference.network(self.file)
        self.taken = passes.Taken(self.network, reference.board_leads(self.file), self.tests)
        self.conductors = network_check.Conductors(self.network, self.taken.devices)
        self.plain = coverage.Coverage(self.network, self.taken, self.conductors.reading)
        self.roles = self.roles_in_service()
        self.feeds = fed_by_boards(self.file, self.network)
        self.find_neighbours()
        self.readings = self.judged_readings()
        self.prove()
        self.circuits = [self.circuit(row) for row in self.file["circuit"]]
        self.row_of = {row["circuit"]: row for row in self.circuits}
        self.boards = [board for row in self.file["board"] if (board := self.board(row["id"]))]
        verdicts = [row["verdict"] for row in [*self.circuits, *self.boards]]
        self.verdict = max(verdicts, key=ORDER.index, default="not-complete")

    def roles_in_service(self):
        """What each terminal and core is in service; earth alone where it is joined to the earthing terminal for good."""
        roles = dict(self.network["roles"])
        boards = {row["id"] for row in self.file["board"]}
        for terminal in self.network["terminals"]:
            owner, last = terminal.split(".")[0].split("/")[0], terminal.split(".")[-1]
            if not roles[terminal] and owner in boards:
                roles[terminal] = {last}
        for node in roles:
            if self.conductors.piece[node] == self.conductors.piece["MET"]:
                roles[node] = {"E"}
        return roles

    def asked_where(self, reading):
        """What is asked where a reading was put down."""
        if "circuit" in reading:
            return self.asked.of(reading["circuit"])
        return self.asked.of_board(behind(self.file, self.feeds, reading["board"])[1])

    def find_neighbours(self):
        """Copper that is not earth, joined for good or side by side in a length or at a point; pieces are those of
        `Conductors`."""
        self.earth = {self.conductors.piece[terminal] for terminal in self.network["terminals"]
                      if self.roles[terminal] == {"E"}}
        boards = {row["id"] for row in self.file["board"]}
        places = {}
        self.of_circuits, self.of_boards = {}, {}
        owner = {row["id"]: row["circuit"] for row in self.file.get("length", [])}
        for core in self.network["cores"]:
            piece = self.conductors.piece[core["length"], core["core"]]
            if self.roles.get((core["length"], core["core"])) == {"E"}:
                self.earth.add(piece)
            places.setdefault(("length", core["length"]), set()).add(piece)
            self.of_circuits.setdefault(piece, set()).add(owner[core["length"]])
        for terminal in self.network["terminals"]:
            thing = terminal.split(".")[0].split("/")[0]
            piece = self.conductors.piece[terminal]
            if thing in boards:
                self.of_boards.setdefault(piece, set()).add(thing)
            elif terminal != "MET":
                places.setdefault(("point", thing), set()).add(piece)
        self.near = networkx.Graph()
        self.near.add_nodes_from(set(self.conductors.piece.values()) - self.earth)
        for pieces in places.values():
            networkx.add_path(self.near, sorted(pieces - self.earth))
        self.reaches = [self.reach(taken) for taken in self.taken.readings]

    def reach(self, taken):
        """The pieces that a reading may hold leakage of."""
        graph = self.near.copy()
        for number, closed_in, *ends in self.conductors.contacts:
            stands = set(list(taken["standing"].values())[number])
            if stands & closed_in and not set(ends) & self.earth:
                graph.add_edge(*ends)
        graph.add_edges_from(ends for row, ends in self.conductors.bridges
                             if passes.conduct(row, taken["fitted"]) and not set(ends) & self.earth)
        touched = {self.conductors.piece[terminal] for lead in taken["leads"] for terminal in lead} - self.earth
        return frozenset().union(*(networkx.node_connected_component(graph, piece) for piece in touched))

    def column(self, leads):
        sides = []
        for lead in leads:
            if not all(self.roles[terminal] for terminal in lead):
                return None, "no-role"
            roles = set().union(*(self.roles[terminal] for terminal in lead))
            sides.append("earth" if roles == {"E"} else "both" if "E" in roles else "live")
        if "both" in sides:
            return None, "live-with-earth"
        if sides == ["earth", "earth"]:
            return None, "earth-to-earth"
        return ("live-to-live" if sides == ["live", "live"] else "live-to-earth"), None

    def judged_readings(self):
        raw = [(number, place, reading) for number, step in enumerate(self.tests.get("pass", []), 1)
               for place, reading in enumerate(step.get("reading", []), 1)]
        rows = []
        for (number, place, reading), taken, seen in zip(raw, self.taken.readings, self.plain.readings, strict=True):
            column, neither = self.column(taken["leads"])
            asked, why = self.asked.at(self.asked_where(reading), reading.get("volts"))
            shown, verdict = reading.get("megohms"), "not-judgeable"
            if seen["void"]:
                why = {"reason": "void", "void": seen["void"]}
            elif shown is None:
                why = {"reason": "no-value"}
            elif asked:
                verdict, why = self.asked.value(asked, shown)
            elif why["reason"] == "volts-too-low":
                least = self.asked_where(reading)["asked"]["megohms"]
                if Bounds.of(shown).is_below(Fraction(str(least))):
                    why = why | {"is_low": True}
            usable = not seen["void"] and shown is not None and asked is not None
            rows.append({"pass": number, "reading": place, "circuit": reading.get("circuit"), "board": reading.get("board"),
                         "between": reading["between"], "volts": reading.get("volts"),
                         "megohms": None if shown is None else shown if isinstance(shown, str) else json.dumps(shown),
                         "column": column, "neither": neither, "asked": asked, "verdict": verdict, "why": why,
                         "usable": usable, "shown": shown, "is_void": bool(seen["void"]), "leads": taken["leads"]})
        return rows

    def elsewhere(self, file, demand):
        """The readings put down under something else that count for a circuit, judged as its own: those with a lead on its
        live copper; and, where good readings test all its pairs of a column, those that test one that these leave."""
        own = {length["id"] for length in self.file.get("length", []) if length["circuit"] == file["id"]}
        live = {end for core in self.network["cores"] if core["length"] in own for end in core["ends"] if end}
        live |= {terminal for terminal in self.network["terminals"] if terminal.rpartition(".")[0] == file.get("way")}
        live = {terminal for terminal in live if self.roles[terminal] != {"E"}}
        touching = [row for row in self.readings if {terminal for lead in row["leads"] for terminal in lead} & live]
        own = {(row["pass"], row["reading"]) for row in self.readings
               if row["circuit"] == file["id"] or row in touching and self.counts(row, demand)}
        pairs, rest = [row for row in self.pairs if row["circuit"] == file["id"]], set()
        for to_earth in (True, False):
            column = [row for row in pairs if (row["class"] == "to-earth") == to_earth]
            if all(row["proven"] for row in column):
                for row in column:
                    if not self.is_tested_by([at for at in row["good"] if at in own], row["number"]):
                        rest |= {tuple(at) for at in self.plain.tested_by[row["number"]]}
        for row in self.readings:
            if row["circuit"] == file["id"] or not self.counts(row, demand):
                continue
            if row not in touching and (row["pass"], row["reading"]) not in rest:
                continue
            asked, _ = self.asked.at(demand, row["volts"])
            if asked:
                yield row | {"verdict": self.asked.value(asked, row["shown"])[0], "usable": True}
            elif demand["asked"] and not Bounds.of(row["shown"]).is_at_least(Fraction(str(demand["asked"]["megohms"]))):
                yield row | {"verdict": "not-judgeable", "usable": False}

    def counts(self, row, demand):
        """Whether a reading put down under something else says anything here."""
        if row["is_void"] or row["shown"] is None or not demand["asked"]:
            return False
        return (self.asked.at(demand, row["volts"])[0] is not None
                or not Bounds.of(row["shown"]).is_at_least(Fraction(str(demand["asked"]["megohms"]))))

    def is_tested_by(self, readings, number):
        """Whether some readings, by pass and number, test a pair between them in every combination."""
        every = set(range(self.taken.combination_count))
        return every <= set().union(*(self.tests_in[at, number] for at in readings))

    def is_good_for(self, row, demand):
        if row["verdict"] not in ("pass", "investigate"):
            return False
        asked, _ = self.asked.at(demand, row["volts"])
        return asked is not None and self.asked.value(asked, row["shown"])[0] in ("pass", "investigate")

    def prove(self):
        """Which pairs are tested by readings that are good for the circuit of the pair's length."""
        circuit_of = {row["id"]: row["circuit"] for row in self.file.get("length", [])}
        every = self.taken.combination_count
        self.pairs, known = [], {}
        # In which combinations each reading tests each pair: coverage of that reading alone.
        self.tests_in = {}
        for taken in self.taken.readings:
            alone = copy.copy(self.taken)
            alone.readings = [taken]
            for number, found in enumerate(coverage.Coverage(self.network, alone, self.conductors.reading).tested_in):
                self.tests_in[(taken["pass"], taken["reading"]), number] = found
        for number, pair in enumerate(self.network["pairs"]):
            circuit = circuit_of[pair["length"]]
            if not reference.required(pair["class"], self.need):
                continue
            demand = self.asked.of(circuit)
            key = json.dumps(demand, sort_keys=True)
            if key not in known:
                good = copy.copy(self.taken)
                good.readings = [taken for taken, row in zip(self.taken.readings, self.readings)
                                 if self.is_good_for(row, demand)]
                known[key] = coverage.Coverage(self.network, good, self.conductors.reading)
            proven = demand["asked"] is not None and len(known[key].tested_in[number]) == every
            plainly = len(self.plain.tested_in[number]) == every
            why = None
            if demand["asked"] is None:
                why = {"reason": "no-rule"}
            elif plainly:
                why = {"reason": "no-good-reading", "readings": self.plain.tested_by[number]}
            self.pairs.append({"circuit": circuit, "length": pair["length"], "cores": pair["cores"], "class": pair["class"],
                               "proven": proven, "why": why, "number": number,
                               "good": [tuple(at) for at in known[key].tested_by[number]]})

    def figure(self, own, column):
        rows = [row for row in own if row["column"] == column and row["usable"]]
        if not rows:
            return None
        least = Bounds.least([Bounds.of(row["shown"]) for row in rows])
        return {"least": least, "rows": rows}

    def circuit(self, file):
        name = file["id"]
        own = [row for row in self.readings if row["circuit"] == name]
        pairs = [row for row in self.pairs if row["circuit"] == name]
        missed = [row for row in pairs if not row["proven"]]
        demand = self.asked.of(name)
        elsewhere = list(self.elsewhere(file, demand))
        verdicts = {row["verdict"] for row in own + elsewhere}
        lengths = {row["id"] for row in self.file.get("length", []) if row["circuit"] == name}
        without_role = [[row["length"], row["core"]] for row in self.network["cores"]
                        if row["length"] in lengths and all(row["ends"]) and not row["roles"]]
        verdict = ("fail" if "fail" in verdicts else
                   "not-complete" if not pairs or "not-judgeable" in verdicts or missed else
                   "investigate" if "investigate" in verdicts or without_role else "pass")
        return {"circuit": name, "without_role": without_role, "verdict": verdict, "asked": demand["asked"], "relief": demand["relief"],
                "metres": sum(Fraction(str(row["metres"])) for row in self.file.get("length", []) if row["circuit"] == name),
                "live-to-live": self.figure(own + elsewhere, "live-to-live"),
                "live-to-earth": self.figure(own + elsewhere, "live-to-earth"),
                "elsewhere": [[row["pass"], row["reading"], row["verdict"]] for row in elsewhere],
                "required": len(pairs), "tested": len(pairs) - len(missed),
                "readings": [[row["pass"], row["reading"]] for row in own],
                "shares": {column: self.share([row for row in pairs if (row["class"] == "to-earth") == to_earth],
                                              self.is_too_low(own + elsewhere, column, demand))
                           for column, to_earth in (("live-to-live", False), ("live-to-earth", True))}}

    @staticmethod
    def is_too_low(rows, column, demand):
        """Whether a reading in the column, or in none, is below what is asked at whatever voltage."""
        return any(row["verdict"] == "fail" or row["verdict"] == "not-judgeable" and not row["is_void"] and demand["asked"]
                   and row["shown"] is not None and Bounds.of(row["shown"]).is_below(Fraction(str(demand["asked"]["megohms"])))
                   for row in rows if row["column"] in (column, None))

    def share(self, pairs, too_low):
        """The readings that vouch for pairs; none where a pair is missed or a reading is too low."""
        if not pairs:
            return "not needed"
        if too_low or not all(row["proven"] for row in pairs):
            return None
        vouching, whole, every = set(), None, self.taken.combination_count
        column = "live-to-earth" if pairs[0]["class"] == "to-earth" else "live-to-live"
        shown = {(row["pass"], row["reading"]): (row["column"] != column, Bounds.of(row["shown"]).lower)
                 for row in self.readings if row["shown"] is not None}
        for row in pairs:
            alone = [at for at in row["good"] if len(self.tests_in[at, row["number"]]) == every]
            vouching |= {min(alone, key=lambda at: (shown[at], at))} if alone else set(row["good"])
            whole = set(alone) if whole is None else whole & set(alone)
        return vouching, whole

    def board(self, name):
        boards, circuits = behind(self.file, self.feeds, name)
        circuits = [self.row_of[circuit] for circuit in circuits]
        direct = [row for row in self.readings if row["board"] == name]
        if not circuits and not direct:
            return None
        asked = self.asked.of_board([row["circuit"] for row in circuits])["asked"]
        at_boards = [row for row in self.readings if row["board"] in boards]
        verdicts = [{"not-judgeable": "not-complete"}.get(row["verdict"], row["verdict"]) for row in at_boards]
        greatest = self.asked.greatest([row["circuit"] for row in circuits])
        greatest = greatest if asked and greatest and greatest > asked["volts"] else None
        board = {"board": name, "asked": asked, "greatest_volts": greatest,
                 "readings": [[row["pass"], row["reading"]] for row in direct],
                 "not_passed": [row["circuit"] for row in circuits if row["verdict"] in ("fail", "not-complete")]}
        for column in ("live-to-live", "live-to-earth"):
            counting = [row for row in circuits if column == "live-to-earth" or row["shares"][column] != "not needed"]
            figures = [row for row in circuits if row[column]]
            without = [row for row in counting if not row[column]]
            incomplete = [row for row in counting if row["shares"][column] in (None, "not needed")]
            board[column] = None
            if figures or without:
                in_column = [row for row in at_boards if row["column"] == column and row["usable"]]
                too_low = asked and any(
                    row["column"] in (column, None) and row["shown"] is not None and not row["is_void"]
                    and Bounds.of(row["shown"]).is_below(Fraction(str(asked["megohms"]))) for row in at_boards)
                upper = self.at_most([*in_column, *(read for row in figures for read in row[column]["rows"])], boards,
                                     [row["circuit"] for row in circuits])
                lower = (Fraction(0), False)
                if counting and not incomplete and not too_low:
                    shares = [row["shares"][column] for row in counting]
                    lower = self.at_least(set().union(*(vouching for vouching, _ in shares)))
                    whole = set.intersection(*(whole for _, whole in shares))
                    if whole:
                        by_one = min(Bounds.of(row["shown"]).lower for row in self.readings
                                     if (row["pass"], row["reading"]) in whole)
                        if not upper or by_one[0] <= upper[0]:
                            lower = max(lower, by_one)
                        # IEC 61557-2 (from memory): an instrument may be off by 30 %.
                        elif by_one[0] <= upper[0] * Fraction(13, 10):
                            lower = max(lower, (upper[0], False))
                if upper and (lower[0] > upper[0] or lower[0] == upper[0] and (lower[1] or upper[1])):
                    lower = (Fraction(0), False)
                bounds, against = Bounds(lower, upper), None
                if asked:
                    least = Fraction(str(asked["megohms"]))
                    against = ("at-least" if bounds.is_at_least(least) else "below" if bounds.is_below(least)
                               else "not-decided")
                ok = "pass" if against == "not-decided" and not counting else "not-complete"
                verdicts.append({"at-least": "pass", "below": "fail"}.get(against, ok))
                board[column] = {"bounds": bounds, "circuits": [row["circuit"] for row in figures],
                                 "without": [row["circuit"] for row in without],
                                 "incomplete": [row["circuit"] for row in incomplete], "against": against}
        if board["not_passed"] or not verdicts:
            verdicts.append("not-complete")
        board["verdict"] = max(verdicts, key=ORDER.index)
        return board

    def at_least(self, readings):
        """The bound below of readings in parallel, given by pass and number."""
        lows = [Bounds.of(row["shown"]).lower for row in self.readings if (row["pass"], row["reading"]) in readings]
        return 1 / sum(1 / value for value, _ in lows), any(left_out for _, left_out in lows)

    def at_most(self, rows, boards, circuits):
        """The bound above of readings, of which those that reach common copper make one set; none where there is none."""
        wanted = {(row["pass"], row["reading"]) for row in rows}
        sets = networkx.Graph()
        for row, reach in zip(self.readings, self.reaches):
            at = row["pass"], row["reading"]
            upper = Bounds.of(row["shown"]).upper if row["shown"] is not None else None
            if at not in wanted or upper is None:
                continue
            if any(self.of_circuits.get(piece, set()) - set(circuits) or self.of_boards.get(piece, set()) - boards
                   for piece in reach):
                continue
            sets.add_node(("reading", at), upper=upper)
            sets.add_edges_from((("reading", at), ("piece", piece)) for piece in reach)
        lowest = []
        for together in networkx.connected_components(sets):
            uppers = [sets.nodes[node]["upper"] for node in together if node[0] == "reading"]
            lowest.append(min(uppers, key=lambda bound: (bound[0], not bound[1])))
        if not lowest:
            return None
        return 1 / sum(1 / value for value, _ in lowest), any(left_out for _, left_out in lowest)

    def compare(self, got):
        """The disagreements with what `judge --json` printed."""
        wrong = []
        differs(self.ruleset["id"], got["ruleset"], "ruleset", wrong)
        differs(self.verdict, got["verdict"], "verdict", wrong)
        keys = ["pass", "reading", "circuit", "board", "between", "volts", "megohms", "column", "neither", "asked", "verdict",
                "why"]
        differs([{key: row[key] for key in keys} for row in self.readings],
                [{key: row.get(key) for key in keys} for row in got["readings"]], "readings", wrong)
        differs([row["circuit"] for row in self.circuits], [row["circuit"] for row in got["circuits"]], "circuits", wrong)
        differs([row["board"] for row in self.boards], [row["board"] for row in got["boards"]], "boards", wrong)
        if wrong:
            return wrong
        for row, printed in zip(self.circuits, got["circuits"]):
            for key in ("verdict", "asked", "relief", "required", "tested", "readings"):
                differs(row[key], printed.get(key), f"circuit {row['circuit']}: {key}", wrong)
            differs(row["without_role"], printed.get("without_role", []), f"circuit {row['circuit']}: without_role", wrong)
            elsewhere = [[read["pass"], read["reading"], read["verdict"]] for read in printed.get("elsewhere", [])]
            differs(row["elsewhere"], elsewhere, f"circuit {row['circuit']}: elsewhere", wrong)
            if abs(Fraction(printed["metres"]) - row["metres"]) > CLOSE * (1 + row["metres"]):
                wrong.append(f"circuit {row['circuit']}: {printed['metres']} m, expected {float(row['metres'])}")
            for column in ("live-to-live", "live-to-earth"):
                self.compare_figure(row, column, printed[column.replace("-", "_")], wrong)
        for row, printed in zip(self.boards, got["boards"]):
            for key in ("verdict", "asked", "greatest_volts", "readings", "not_passed"):
                differs(row[key], printed.get(key), f"board {row['board']}: {key}", wrong)
            for column in ("live-to-live", "live-to-earth"):
                expected, found, what = row[column], printed[column.replace("-", "_")], f"board {row['board']}: {column}"
                if (expected is None) != (found is None):
                    wrong.append(f"{what} is {found}")
                elif expected:
                    for key in ("circuits", "without", "against"):
                        differs(expected[key], found[key], f"{what}: {key}", wrong)
                    differs(expected["incomplete"], found.get("incomplete", []), f"{what}: incomplete", wrong)
                    expected["bounds"].compare(found, what, wrong)
        self.compare_missed(got["missed"], wrong)
        return wrong

    def compare_figure(self, row, column, found, wrong):
        expected, what = row[column], f"circuit {row['circuit']}: {column}"
        if (expected is None) != (found is None):
            wrong.append(f"{what} is {found}")
        elif expected:
            differs([[reading["pass"], reading["reading"]] for reading in expected["rows"]], found["readings"], what, wrong)
            expected["least"].compare(found, what, wrong)
            lowest = [reading["megohms"] for reading in expected["rows"]
                      if Bounds.of(reading["shown"]).lower == expected["least"].lower]
            if found["record"] not in lowest:
                wrong.append(f"{what}: the record is {found['record']}, expected one of {lowest}")

    def compare_missed(self, got, wrong):
        expected = [row for row in self.pairs if not row["proven"]]
        names = [[row[key] for key in ("circuit", "length", "cores", "class")] for row in expected]
        printed = [[row[key] for key in ("circuit", "length", "cores", "class")] for row in got]
        differs(sorted(names), sorted(printed), "missed", wrong)
        reasons = {(row["length"], *row["cores"]): row["why"] for row in got}
        for row in expected:
            found = reasons.get((row["length"], *row["cores"]))
            if row["why"] is None:
                if not found or found["reason"] in ("no-rule", "no-good-reading"):
                    wrong.append(f"{row['length']} {row['cores']} is missed for {found}, and no reading tests it")
            else:
                differs(row["why"], found, f"why {row['length']} {row['cores']} is missed", wrong)

    def compare_csv(self, text, got):
        """The record as CSV holds what the JSON does."""
        wrong = []
        rows = list(csv.DictReader(io.StringIO(text, newline="")))
        files = {row["id"]: row for row in self.file["circuit"]}
        differs([row["circuit"] for row in got["circuits"]], [row["circuit"] for row in rows], "rows", wrong)
        for row, printed in zip(got["circuits"], rows):
            def record(column):
                return row[column]["record"] if row[column] else ""
            expected = {"name": files[row["circuit"]].get("name", ""), "way": files[row["circuit"]].get("way", ""),
                        "live_to_live_megohms": record("live_to_live"), "live_to_earth_megohms": record("live_to_earth"),
                        "pairs_needed": str(row["required"]), "pairs_tested": str(row["tested"]),
                        "verdict": row["verdict"].replace("-", " ")}
            differs(expected, {key: printed[key] for key in expected}, f"row {row['circuit']}", wrong)
            for key in ("volts", "megohms"):
                asked = printed[f"asked_{key}"]
                differs(row["asked"][key] if row["asked"] else None, float(asked) if asked else None,
                        f"row {row['circuit']}: asked {key}", wrong)
        return wrong


def differs(expected, found, what, wrong):
    if expected != found:
        if isinstance(expected, list) and isinstance(found, list) and len(expected) == len(found):
            [(expected, found), *_] = [pair for pair in zip(expected, found) if pair[0] != pair[1]]
        wrong.append(f"{what}: {found!r}, expected {expected!r}")


def asked_of(program, seed, case):
    """A record made of a case, judged here and by the program; what came of both, and what the case was like."""
    files = record(random.Random(f"judge {seed}"), case)
    rules = []
    if "ruleset" in files["ruleset"]:
        path = program.folder / "ruleset.json"
        path.write_text(json.dumps(files["ruleset"]))
        rules = ["--rules", str(path)]
    got = program.ask("judge", files["installation"], files["test_set"], files["need"], rules)
    judged = Judged(files)
    seen = [("judged", row["verdict"], (row["why"] or {}).get("reason")) for row in judged.readings]
    seen += [("column", row["column"] or row["neither"]) for row in judged.readings]
    seen += [("circuit", row["verdict"]) for row in judged.circuits]
    seen += [("elsewhere", read[2]) for row in judged.circuits for read in row["elsewhere"]]
    seen += [("board", row["verdict"]) for row in judged.boards]
    seen += [("together", row["live-to-earth"]["against"]) for row in judged.boards if row["live-to-earth"]]
    seen += [("missed", row["why"] and row["why"]["reason"]) for row in judged.pairs if not row["proven"]]
    seen.append(("relief used", any(row["relief"] for row in judged.circuits)))
    text = program.text("judge", files["installation"], files["test_set"], files["need"], [*rules, "--csv"])
    return files, judged, got, text, seen


EVERY_RUN_HAS = [
    *[("judged", verdict, reason) for verdict, reason in (
        ("pass", None), ("fail", None), ("investigate", "below"), ("investigate", "not-expected-when-new"),
        *[("not-judgeable", reason) for reason in ("void", "no-value", "no-rule", "volts-too-low", "volts-too-high",
                                                   "range-ends-below-limit", "range-begins-above-limit")])],
    *[("column", name) for name in ("live-to-live", "live-to-earth", "live-with-earth", "earth-to-earth", "no-role")],
    *[("circuit", verdict) for verdict in ORDER],
    # To be investigated a board needs circuits that are all complete and a low reading of its own: too rare to ask for.
    *[("board", verdict) for verdict in ("pass", "not-complete", "fail")],
    *[("together", name) for name in ("at-least", "below", "not-decided")],
    *[("missed", reason) for reason in (None, "no-good-reading", "no-rule")], ("relief used", True)]
