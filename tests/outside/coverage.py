"""From which lead each core is joined to at each reading, to what `cover` ought to print.

This is FORMAT.md part 2 (void, tests, tested, under test) and the JSON of part 3. Where the copper leads is asked of
a solver: networkx in one check, ngspice in another.
"""

import reference

METRES_TOLERANCE = 1e-6


class Coverage:
    """What a test set covers on a network.

    `solve(key, fitted, leads)` answers for one reading in one setting: its void ("bridged", "doubtful" or none), and
    a function from a terminal or a core to the lead (0 or 1) that it is joined to for sure, or none.
    """

    def __init__(self, network, taken, solve):
        self.taken = taken
        self.pairs = network["pairs"]
        self.nodes = [pair_nodes(row) for row in self.pairs]
        self.readings = []
        self.tested_in = [set() for _ in self.pairs]
        self.tested_by = [[] for _ in self.pairs]
        self.position_in = {(name, position): set() for name, row in taken.devices.items()
                            for position in row["positions"]}
        for reading in taken.readings:
            keys = [taken.key(reading["standing"], combination) for combination in range(taken.combination_count)]
            solved = {key: solve(key, reading["fitted"], reading["leads"]) for key in dict.fromkeys(keys)}
            voids = {void for void, _ in solved.values()}
            void = "bridged" if "bridged" in voids else "doubtful" if "doubtful" in voids else None
            self.readings.append({"pass": reading["pass"], "reading": reading["reading"], "void": void})
            if void:
                continue
            at = [reading["pass"], reading["reading"]]
            for key, (_, lead_of) in solved.items():
                combinations = [number for number, other in enumerate(keys) if other == key]
                for number, (a, b) in enumerate(self.nodes):
                    if {lead_of(a), lead_of(b)} == {0, 1}:
                        self.tested_in[number].update(combinations)
                        if at not in self.tested_by[number][-1:]:
                            self.tested_by[number].append(at)
                stands = dict(zip(taken.devices, key))
                for row in network["contacts"]:
                    position = taken.devices[row["device"]]["positions"][stands[row["device"]]]
                    if position in row["closed_in"] and lead_of(row["between"][0]) is not None:
                        self.position_in[row["device"], position].update(combinations)

    def cover(self, need, metres):
        """What `cover --json` ought to print."""
        every = self.taken.combination_count
        pairs = []
        for row, tested, by in zip(self.pairs, self.tested_in, self.tested_by):
            whole = len(tested) == every
            pairs.append({"length": row["length"], "cores": row["cores"], "class": row["class"],
                          "required": reference.required(row["class"], need), "tested": whole,
                          "by": by if whole else []})
        needed = [row for row in pairs if row["required"]]
        lengths = {row["length"] for row in needed}
        missed = {row["length"] for row in needed if not row["tested"]}
        summary = {"required": len(needed), "tested": sum(row["tested"] for row in needed),
                   "not_tested": sum(not row["tested"] for row in needed),
                   "metres_required": sum(metres[length] for length in lengths),
                   "metres_tested": sum(metres[length] for length in lengths - missed)}
        positions = [{"device": device, "position": position, "tested": len(found) == every}
                     for (device, position), found in self.position_in.items()]
        return {"format": 1, "summary": summary, "readings": self.readings, "pairs": pairs, "positions": positions}


def pair_nodes(pair):
    """The two nodes of a pair: a core is named by its length and name, `earth` is the main earthing terminal."""
    return ["MET" if core == "earth" else (pair["length"], core) for core in pair["cores"]]


def by_name(rows, keys, what, wrong):
    """Rows by their naming keys; a name that comes twice is a disagreement."""
    named = {}
    for row in rows:
        name = tuple(tuple(row[key]) if isinstance(row[key], list) else row[key] for key in keys)
        if name in named:
            wrong.append(f"{what} {name} is listed twice")
        named[name] = row
    return named


def compare_rows(expected, got, keys, facts, what, wrong):
    """Every row expected is there with the same facts, and no other row is."""
    expected, got = by_name(expected, keys, what, wrong), by_name(got, keys, what, wrong)
    for name in expected.keys() - got.keys():
        wrong.append(f"{what} {name} is missing")
    for name in got.keys() - expected.keys():
        wrong.append(f"{what} {name} ought not to be there")
    for name in expected.keys() & got.keys():
        for fact in facts:
            if expected[name][fact] != got[name][fact]:
                wrong.append(f"{what} {name}: {fact} is {got[name][fact]!r}, expected {expected[name][fact]!r}")


def compare_cover(expected, got):
    """The disagreements between what `cover` ought to print and what it printed."""
    wrong = []
    compare_rows(expected["readings"], got["readings"], ["pass", "reading"], ["void"], "reading", wrong)
    compare_rows(expected["pairs"], got["pairs"], ["length", "cores"], ["class", "required", "tested", "by"], "pair",
                 wrong)
    compare_rows(expected["positions"], got["positions"], ["device", "position"], ["tested"], "position", wrong)
    for key, value in expected["summary"].items():
        if abs(got["summary"][key] - value) > METRES_TOLERANCE:
            wrong.append(f"summary: {key} is {got['summary'][key]}, expected {value}")
    return wrong
