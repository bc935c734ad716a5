"""Every setting of a small cluster gone through, and the least that a plan can need, from FORMAT.md part 3.

Three searches that share no idea with the program: every setting evaluated by itself; a walk through (setting, what
is covered) layer by layer, which is brute force over all sequences of settings with nothing thrown away but what can
no longer be completed; and OR-Tools CP-SAT as a set cover for the fewest walks.
"""

import itertools
import math

import numpy
from ortools.sat.python import cp_model

import reference
from coverage import pair_nodes
from passes import conduct, touched

AS_IT_IS = -1
MOST_SETTINGS = 4096


class Settings:
    """What the points of an installation can be set to after a test set, and what is then left to be tested."""

    def __init__(self, network, circuits, taken, tested_in, need, conductors):
        self.taken = taken
        self.network = network
        self.conductors = conductors
        self.combinations = range(taken.combination_count)
        devices = list(taken.devices.values())
        self.names = [row["device"] for row in devices]
        # Board devices are off and stay so; whatever comes out is out, and linked where it passes.
        self.start = [[0] * taken.combination_count if row["worked_at"] == "board" else taken.standing[row["device"]]
                      for row in devices]
        self.fitted = taken.prepared
        self.worked = [i for i, row in enumerate(devices) if row["operable"] and row["worked_at"] == "point"]
        self.choices = choices = []
        for i in self.worked:
            count = len(devices[i]["positions"])
            if len(set(self.start[i])) == 1:
                first = self.start[i][0]
                choices.append([first, *[position for position in range(count) if position != first]])
            elif count == 2 or not devices[i]["visible"]:
                choices.append([AS_IT_IS, *range(1, count)])
            else:
                choices.append([AS_IT_IS, *range(count)])
        self.stops = [devices[i]["stop"] for i in self.worked]
        # Moved on by so many positions, where nobody knows how it stands.
        self.turned = [len(set(self.start[i])) > 1 and (len(devices[i]["positions"]) == 2 or not devices[i]["visible"])
                       for i in self.worked]
        self.position_counts = [len(devices[i]["positions"]) for i in self.worked]
        self.readings = [(row, between, [touched(lead, row["leads"]) for lead in between])
                         for row in circuits for between in row["plan_readings"]]
        self.volts_of = volts_of(circuits)
        self.pairs = [row for row in network["pairs"] if reference.required(row["class"], need)]
        self.left = {}
        for row, tested in zip(network["pairs"], tested_in):
            if reference.required(row["class"], need):
                name = pair_name(row)
                self.left.update({(name, combination): None for combination in self.combinations
                                  if combination not in tested})


    def counts_for(self, number, name):
        """Whether a reading is at the voltage that the circuit of a pair asks for."""
        return self.readings[number][0]["volts"] == self.volts_of[name[0]]


def volts_of(circuits):
    """By length the test voltage of its circuit."""
    return {length: row["volts"] for row in circuits for length in row["lengths"]}


class Cluster(Settings):
    """All that the settings of an installation's points can test, each gone through by itself."""

    def __init__(self, *taken):
        super().__init__(*taken)
        if math.prod(map(len, self.choices)) > MOST_SETTINGS:
            raise ValueError("too many settings to go through")
        # The first setting is the one that the plan starts from.
        self.settings = list(itertools.product(*self.choices))
        self.evaluate()

    def stands(self, setting, combination):
        """How every device stands in a setting, in one combination of the unknown starting positions."""
        key = [positions[combination] for positions in self.start]
        for i, choice, turned, count in zip(self.worked, setting, self.turned, self.position_counts):
            if choice == AS_IT_IS:
                continue
            key[i] = (key[i] + choice) % count if turned else choice
        return tuple(key)

    def position_name(self, column, choice):
        """How a worked device stands by one of its choices, as a proof names it."""
        device = self.worked[column]
        if choice == AS_IT_IS:
            return "as-found"
        if self.turned[column]:
            return "other" if self.position_counts[column] == 2 else "next" if choice == 1 else f"next-{choice}"
        return self.taken.devices[self.names[device]]["positions"][choice]

    def solve(self, setting, combination):
        """For each plan reading its void and, for each lead, the pieces joined to it, and the same by copper alone; by
        small union-finds."""
        return solve_with_sets(self.conductors, self.stands(setting, combination), self.fitted,
                               [leads for _, _, leads in self.readings])

    def evaluate(self):
        piece = self.conductors.piece
        nodes = {pair_name(row): [piece[node] for node in pair_nodes(row)] for row in self.pairs}
        bits = {element: 1 << number for number, element in enumerate(self.left)}
        left = [(element, bits[element], *nodes[element[0]]) for element in self.left]
        left_in = {combination: [row for row in left if row[0][1] == combination] for combination in self.combinations}
        reached = {combination: set() for combination in self.combinations}
        opposed, sound = set(), set()
        known = {}
        self.covers = []
        self.outcomes = []
        for setting in self.settings:
            outcome = []
            for combination in self.combinations:
                key = self.stands(setting, combination)
                if key not in known:
                    known[key] = self.solve(setting, combination)
                outcome.append(known[key])
            covers = 0
            for number in range(len(self.readings)):
                void = any(solved[number][0] for solved in outcome)
                for combination, solved in enumerate(outcome):
                    bridged, plus, minus, copper = solved[number]
                    reached[combination] |= plus | minus
                    for element, bit, a, b in left_in[combination]:
                        if opposite(a, b, copper) or bridged != "bridged" and opposite(a, b, (plus, minus)):
                            opposed.add(element)
                            if not void:
                                sound.add(element)
                                covers |= bit * self.counts_for(number, element[0])
            self.covers.append(covers)
            self.outcomes.append(outcome)
        everything = 0
        for covers in self.covers:
            everything |= covers
        self.untestable = {}
        for name in dict.fromkeys(element[0] for element, bit in bits.items() if not everything & bit):
            a, b = nodes[name]
            missing = [combination for row, combination in self.left if row == name]
            why = {"length": name[0], "cores": list(name[1:])}
            if not any(a in reached[combination] and b in reached[combination] for combination in missing):
                why["why"] = "never-reached"
            elif devices := self.to_be_known(name, a, b, missing):
                why.update(why="unknown-position", devices=devices)
            else:
                is_opposed, is_sound = (any((name, combination) in found for combination in missing)
                                        for found in (opposed, sound))
                why["why"] = "other-voltage" if is_sound else "always-bridged" if is_opposed else "same-lead"
            self.untestable[name] = why
        self.need = sum(bit for element, bit in bits.items() if element[0] not in self.untestable)
        self.covers = [covers & self.need for covers in self.covers]

    def to_be_known(self, pair, a, b, missing):
        """The devices that must be known for a pair, the last left out first; none where that is of no use."""
        stands = {name: [(begun, self.start[i][combination]) for combination, begun in enumerate(self.taken.begun[name])]
                  for i, name in enumerate(self.names)}
        known = [name for name, ways in stands.items() if len(set(ways)) > 1]

        def helps(known):
            return any(self.tests_all(pair, a, b, missing, frozenset(
                other for other in self.combinations if all(stands[name][other] == stands[name][start] for name in known)))
                for start in missing)

        if not known or not helps(known):
            return None
        for name in reversed(known[:]):
            others = [other for other in known if other != name]
            if helps(others):
                known = others
        return known

    def tests_all(self, pair, a, b, missing, possible):
        """Whether settings test a pair in all that is missing of these combinations, where no other is possible."""
        missing = set(missing) & possible
        for outcome in self.outcomes:
            for number in range(len(self.readings)):
                if self.counts_for(number, pair) and all(outcome[other][number][0] is None for other in possible):
                    missing -= {other for other in missing if opposite(a, b, outcome[other][number][1:3])}
        return not missing

    def costs(self, scale):
        """From each setting to each other: operations, times the scale, and stops."""
        table = numpy.array(self.settings, dtype=numpy.int8).reshape(len(self.settings), len(self.worked))
        cost = numpy.zeros((len(table), len(table)), dtype=numpy.int32)
        for stop in set(self.stops):
            visited = numpy.zeros(cost.shape, dtype=bool)
            for column in (column for column, other in zip(table.T, self.stops) if other == stop):
                differs = column[:, None] != column[None, :]
                cost += numpy.int32(scale) * differs
                visited |= differs
            cost += visited
        return cost

    def least(self):
        """The fewest walks, then operations, then stops."""
        scale = 1 << 16
        cost = self.costs(scale)
        missing = hardest_only(self.covers, self.need & ~self.covers[0])
        every = [covers & missing for covers in self.covers]
        cover = SetCover(every)
        walks = 0
        while not cover.completable(missing, walks):
            walks += 1
        never = numpy.iinfo(numpy.int64).max // 4
        start = numpy.full(len(self.settings), never, dtype=numpy.int64)
        start[0] = 0
        layer = {missing: start}
        for walk in range(1, walks + 1):
            following = {}
            for missing, costs in layer.items():
                goals = {}
                for number, covers in enumerate(every):
                    after = missing & ~covers
                    if cover.completable(after, walks - walk):
                        goals.setdefault(after, []).append(number)
                at = numpy.flatnonzero(costs < never)
                for after, numbers in goals.items():
                    into = following.setdefault(after, numpy.full(len(self.settings), never, dtype=numpy.int64))
                    for some in numpy.array_split(at, len(at) // 256 + 1):
                        best = (costs[some, None] + cost[numpy.ix_(some, numbers)]).min(axis=0, initial=never)
                        into[numbers] = numpy.minimum(into[numbers], best)
            layer = following
        best = min(int(costs.min()) for missing, costs in layer.items() if not missing)
        return walks, best // scale, best % scale

    def least_by_listing(self, most_sequences=4000):
        """The same by listing every sequence of settings; none where there are more than so many."""
        for walks in itertools.count():
            if len(self.settings) ** walks > most_sequences:
                return None
            best = None
            for sequence in itertools.product(range(len(self.settings)), repeat=walks):
                covered = self.covers[0]
                for number in sequence:
                    covered |= self.covers[number]
                if covered != self.need:
                    continue
                operations = stops = 0
                for a, b in itertools.pairwise([0, *sequence]):
                    moved = [i for i, (x, y) in enumerate(zip(self.settings[a], self.settings[b])) if x != y]
                    operations += len(moved)
                    stops += len({self.stops[i] for i in moved})
                best = min(best or (operations, stops), (operations, stops))
            if best:
                return walks, *best

    def fewest_walks_by_solver(self):
        """The fewest walks as a set cover, by CP-SAT: each setting but the first is a column at the price of one."""
        model = cp_model.CpModel()
        missing = hardest_only(self.covers, self.need & ~self.covers[0])
        columns = {covers: model.new_bool_var(f"setting {number}")
                   for number, covers in enumerate(dict.fromkeys(covers & missing for covers in self.covers))}
        for number in range(missing.bit_length()):
            if missing >> number & 1:
                model.add_bool_or([column for covers, column in columns.items() if covers >> number & 1])
        model.minimize(sum(columns.values()))
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        status = solver.solve(model)
        if status != cp_model.OPTIMAL:
            raise RuntimeError(f"CP-SAT ended with {solver.status_name(status)}")
        return round(solver.objective_value)


def hardest_only(covers, missing):
    """What is missing without each thing that is covered by every setting that covers some other missing thing."""
    covered_in = {}
    for number in range(missing.bit_length()):
        if missing >> number & 1:
            settings = sum(1 << place for place, mask in enumerate(covers) if mask >> number & 1)
            covered_in.setdefault(settings, number)
    return sum(1 << number for settings, number in covered_in.items()
               if not any(other != settings and other & settings == other for other in covered_in))


class SetCover:
    """Whether what is missing can be had from so many more settings."""

    def __init__(self, covers):
        distinct = sorted(set(covers), key=int.bit_count, reverse=True)
        self.covers = []
        for mask in distinct:
            if mask and not any(mask | other == other for other in self.covers):
                self.covers.append(mask)
        self.known = {}

    def completable(self, missing, count):
        if not missing:
            return True
        if not count:
            return False
        if (missing, count) not in self.known:
            hardest = min((number for number in range(missing.bit_length()) if missing >> number & 1),
                          key=lambda number: sum(mask >> number & 1 for mask in self.covers)) if count > 1 else None
            self.known[missing, count] = any(
                self.completable(missing & ~mask, count - 1) for mask in self.covers
                if (mask >> hardest & 1 if count > 1 else missing & ~mask == 0))
        return self.known[missing, count]


def opposite(a, b, leads):
    """Whether one of two pieces is on one lead and the other on the other, these not joined to each other."""
    plus, minus = leads
    return plus.isdisjoint(minus) and (a in plus and b in minus or a in minus and b in plus)


def pair_name(row):
    return (row["length"], *row["cores"])


def solve_with_sets(conductors, key, fitted, readings):
    """The void of each reading and the pieces joined to each lead, by union-find over the pieces of copper."""
    parent = list(range(conductors.piece_count))

    def find(piece):
        while parent[piece] != piece:
            parent[piece] = parent[parent[piece]]
            piece = parent[piece]
        return piece

    for row in conductors.contacts:
        device, closed_in, a, b = row
        if key[device] in closed_in:
            parent[find(a)] = find(b)
    def joined(leads):
        """For each lead of each reading, the pieces joined to it by now."""
        roots = [find(piece) for piece in range(len(parent))]
        members = {}
        for piece, root in enumerate(roots):
            members.setdefault(root, set()).add(piece)
        on = [[{roots[conductors.piece[terminal]] for terminal in lead} for lead in between] for between in leads]
        return [tuple(set().union(*(members[root] for root in lead)) for lead in between) for between in on]

    for row, (a, b) in conductors.bridges:
        if conduct(row, fitted) == "sure" and row["id"] not in fitted:
            parent[find(a)] = find(b)
    copper = joined(readings)
    for row, (a, b) in conductors.bridges:
        if conduct(row, fitted) == "sure":
            parent[find(a)] = find(b)
    sure = joined(readings)
    for row, (a, b) in conductors.bridges:
        if conduct(row, fitted) == "maybe":
            parent[find(a)] = find(b)
    answers = []
    for leads, (plus, minus), by_copper in zip(readings, sure, copper):
        may = [{find(conductors.piece[terminal]) for terminal in lead} for lead in leads]
        void = "bridged" if plus & minus else "doubtful" if may[0] & may[1] else None
        answers.append((void, plus, minus, by_copper))
    return answers
