"""What `judge` prints, worked out again from the raw files: fractions for the values, networkx for what is joined to what.

Sources: BS 7671:2018 Table 64 and reg. 643.3.3 for what is asked (written out here, not taken from the program's data);
Ohm's law for resistances in parallel; FORMAT.md parts 2 to 4 for what the words mean. Values are compared as exact
fractions; what is printed of resistances in parallel within one part in 10^11.
"""

import copy
import csv
import io
import json
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


class Asked:
    """A ruleset asked about circuits."""

    def __init__(self, ruleset, installation):
        self.ruleset = ruleset
        self.head = installation["installation"]
        self.circuits = {row["id"]: row for row in installation["circuit"]}

    def row(self, system, nominal):
        [row] = [row for row in self.ruleset["row"] if system in row["system"]
                 and row.get("above", 0) < nominal <= row.get("up_to", float("inf"))]
        return row

    def of(self, circuit):
        """What is asked of a circuit (none: of boards), what will do too, and why nothing is asked."""
        if circuit is None:
            row, relief = self.row("lv", self.head["nominal_voltage"]), None
        else:
            file = self.circuits[circuit]
            row = self.row(file.get("system", "lv"), file.get("nominal_voltage", self.head["nominal_voltage"]))
            relief = self.ruleset.get("relief") if "relief" in file else None
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
            if row and row["volts"] == volts:
                return row, None
        asked = demand["asked"]["volts"]
        if volts > asked:
            return None, {"reason": "volts-too-high", "taken": volts, "asked": asked}
        is_relief = self.ruleset.get("relief", {}).get("volts") == volts
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

    @staticmethod
    def parallel(rows):
        lows = [row.lower for row in rows]
        if any(value == 0 for value, _ in lows):
            lower = Fraction(0), False
        else:
            lower = 1 / sum(1 / value for value, _ in lows), any(left_out for _, left_out in lows)
        known = [row.upper for row in rows if row.upper]
        if not known:
            return Bounds(lower, None)
        left_out = len(known) < len(rows) or any(left_out for _, left_out in known)
        return Bounds(lower, (1 / sum(1 / value for value, _ in known), left_out))

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


NOT_KNOWN = Bounds((Fraction(0), False), None)


def record(rng, case):
    """The case's files with a record of values in them, and a ruleset."""
    installation, tests = copy.deepcopy(case["installation"]), copy.deepcopy(case["test_set"])
    ruleset = TABLE_64 if rng.random() < 0.5 else random_ruleset(rng)
    installation["installation"]["work"] = rng.choice(["new", "existing"])
    for row in installation["circuit"]:
        if rng.random() < 0.15:
            row["relief"] = "can't be disconnected"
    asked = Asked(flat(ruleset), installation)
    good = rng.choice([0.5, 0.9, 0.98, 1.0])
    for step in tests.get("pass", []):
        for reading in step.get("reading", []):
            demand = asked.of(reading.get("circuit"))
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
        self.readings = self.judged_readings()
        self.prove()
        self.circuits = [self.circuit(row) for row in self.file["circuit"]]
        self.boards = [board for row in self.file["board"] if (board := self.board(row["id"]))]
        verdicts = [row["verdict"] for row in [*self.circuits, *self.boards]]
        self.verdict = max(verdicts, key=ORDER.index, default="not-complete")

    def roles_in_service(self):
        """For each terminal the supply conductors joined to it with every contact closed and every bridge out."""
        graph = networkx.Graph()
        graph.add_nodes_from(self.network["terminals"])
        for group in self.network["joins"]:
            networkx.add_path(graph, group)
        graph.add_edges_from(row["between"] for row in self.network["contacts"])
        for core in self.network["cores"]:
            node = (core["length"], core["core"])
            graph.add_edges_from((node, end) for end in core["ends"] if end)
        at = {}
        for source in self.network["sources"]:
            at.setdefault(source["terminal"], set()).add(source["role"])
        roles = {}
        for component in networkx.connected_components(graph):
            found = set().union(*(at.get(node, set()) for node in component))
            roles |= {node: found for node in component}
        boards = {row["id"] for row in self.file["board"]}
        for terminal in self.network["terminals"]:
            owner, last = terminal.split(".")[0].split("/")[0], terminal.split(".")[-1]
            if not roles[terminal] and owner in boards:
                roles[terminal] = {last}
        return roles

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
            asked, why = self.asked.at(self.asked.of(reading.get("circuit")), reading.get("volts"))
            shown, verdict = reading.get("megohms"), "not-judgeable"
            if seen["void"]:
                why = {"reason": "void", "void": seen["void"]}
            elif shown is None:
                why = {"reason": "no-value"}
            elif asked:
                verdict, why = self.asked.value(asked, shown)
            usable = not seen["void"] and shown is not None and asked is not None
            rows.append({"pass": number, "reading": place, "circuit": reading.get("circuit"), "board": reading.get("board"),
                         "between": reading["between"], "volts": reading.get("volts"),
                         "megohms": None if shown is None else shown if isinstance(shown, str) else json.dumps(shown),
                         "column": column, "neither": neither, "asked": asked, "verdict": verdict, "why": why,
                         "usable": usable, "shown": shown, "is_void": bool(seen["void"]), "leads": taken["leads"]})
        return rows

    def elsewhere(self, file, demand):
        """The readings put down under something else with a lead on live copper of a circuit, judged as its own."""
        own = {length["id"] for length in self.file.get("length", []) if length["circuit"] == file["id"]}
        live = {end for core in self.network["cores"] if core["length"] in own for end in core["ends"] if end}
        live |= {terminal for terminal in self.network["terminals"] if terminal.rpartition(".")[0] == file.get("way")}
        live = {terminal for terminal in live if self.roles[terminal] != {"E"}}
        for row in self.readings:
            touched = {terminal for lead in row["leads"] for terminal in lead}
            if row["circuit"] == file["id"] or row["is_void"] or row["shown"] is None or not touched & live:
                continue
            asked, _ = self.asked.at(demand, row["volts"])
            if asked:
                yield row | {"verdict": self.asked.value(asked, row["shown"])[0], "usable": True}
            elif demand["asked"] and not Bounds.of(row["shown"]).is_at_least(Fraction(str(demand["asked"]["megohms"]))):
                yield row | {"verdict": "not-judgeable", "usable": False}

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
                               "proven": proven, "why": why})

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
        verdict = ("fail" if "fail" in verdicts else
                   "not-complete" if not own or not pairs or "not-judgeable" in verdicts or missed else
                   "investigate" if "investigate" in verdicts else "pass")
        return {"circuit": name, "verdict": verdict, "asked": demand["asked"], "relief": demand["relief"],
                "metres": sum(Fraction(str(row["metres"])) for row in self.file.get("length", []) if row["circuit"] == name),
                "live-to-live": self.figure(own + elsewhere, "live-to-live"),
                "live-to-earth": self.figure(own + elsewhere, "live-to-earth"),
                "elsewhere": [[row["pass"], row["reading"], row["verdict"]] for row in elsewhere],
                "required": len(pairs), "tested": len(pairs) - len(missed),
                "readings": [[row["pass"], row["reading"]] for row in own],
                "needs live-to-live": any(row["class"] != "to-earth" for row in pairs)}

    def behind(self, board):
        """The circuits of a board and of all boards behind it, by reachability in networkx."""
        graph = networkx.DiGraph()
        graph.add_node(("board", board))
        for circuit in self.file["circuit"]:
            if "way" in circuit:
                graph.add_edge(("board", circuit["way"].split("/")[0]), ("circuit", circuit["id"]))
        for length in self.file.get("length", []):
            for end in (length["from"], length["to"]):
                if end.endswith(".in"):
                    graph.add_edge(("circuit", length["circuit"]), ("board", end[:-3]))
        reached = networkx.descendants(graph, ("board", board))
        return [row for row in self.circuits if ("circuit", row["circuit"]) in reached]

    def board(self, name):
        circuits = self.behind(name)
        direct = [row for row in self.readings if row["board"] == name]
        if not circuits and not direct:
            return None
        asked = self.asked.of(None)["asked"]
        verdicts = [{"not-judgeable": "not-complete"}.get(row["verdict"], row["verdict"]) for row in direct]
        board = {"board": name, "asked": asked, "readings": [[row["pass"], row["reading"]] for row in direct],
                 "not_passed": [row["circuit"] for row in circuits if row["verdict"] in ("fail", "not-complete")]}
        for column in ("live-to-live", "live-to-earth"):
            figures = [row for row in circuits if row[column]]
            without = [row for row in circuits if not row[column]
                       and (column == "live-to-earth" or row["needs live-to-live"])]
            board[column] = None
            if figures or without:
                bounds = Bounds.parallel([row[column]["least"] for row in figures] + [NOT_KNOWN] * len(without))
                against = None
                if asked:
                    least = Fraction(str(asked["megohms"]))
                    against = ("at-least" if bounds.is_at_least(least) else "below" if bounds.is_below(least)
                               else "not-decided")
                verdicts.append({"at-least": "pass", "below": "fail"}.get(against, "not-complete"))
                board[column] = {"bounds": bounds, "circuits": [row["circuit"] for row in figures],
                                 "without": [row["circuit"] for row in without], "against": against}
        if board["not_passed"] or not verdicts:
            verdicts.append("not-complete")
        board["verdict"] = max(verdicts, key=ORDER.index)
        return board

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
            elsewhere = [[read["pass"], read["reading"], read["verdict"]] for read in printed.get("elsewhere", [])]
            differs(row["elsewhere"], elsewhere, f"circuit {row['circuit']}: elsewhere", wrong)
            if abs(Fraction(printed["metres"]) - row["metres"]) > CLOSE * (1 + row["metres"]):
                wrong.append(f"circuit {row['circuit']}: {printed['metres']} m, expected {float(row['metres'])}")
            for column in ("live-to-live", "live-to-earth"):
                self.compare_figure(row, column, printed[column.replace("-", "_")], wrong)
        for row, printed in zip(self.boards, got["boards"]):
            for key in ("verdict", "asked", "readings", "not_passed"):
                differs(row[key], printed.get(key), f"board {row['board']}: {key}", wrong)
            for column in ("live-to-live", "live-to-earth"):
                expected, found, what = row[column], printed[column.replace("-", "_")], f"board {row['board']}: {column}"
                if (expected is None) != (found is None):
                    wrong.append(f"{what} is {found}")
                elif expected:
                    for key in ("circuits", "without", "against"):
                        differs(expected[key], found[key], f"{what}: {key}", wrong)
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
