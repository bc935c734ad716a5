"""Switches that bear on one another, up to 16,384 settings: the fewest walks and operations by OR-Tools CP-SAT.

What each setting tests is worked out for all settings at once: a number with one bit for each setting says in which of
them a piece of copper is joined to a lead. CP-SAT then finds the fewest walks as a set cover, and the fewest operations
in as many walks from one variable for each device and round: a requirement's table is a decision diagram, and some
round's positions must lead through it to yes.
"""

import math

from ortools.sat.python import cp_model

from coverage import pair_nodes
from passes import conduct
from settings import AS_IT_IS, Settings, pair_name

MOST_SETTINGS = 1 << 14
MOST_FURTHER = 4
# As many walks come in as many orders as their factorial, which CP-SAT would go through.
MOST_ORDERED = 6
# In CP-SAT's own count of its work, about a second each, so that a busy machine gives the same outcome.
MOST_TIME = 10


class TooMany(Exception):
    """More kinds of setting than a cover model is made of: such a case is counted, and not compared."""


class Switching(Settings):
    """The settings of an installation's points, and in which of them each thing that is left is tested."""

    def __init__(self, *taken):
        super().__init__(*taken)
        self.counts = [len(choices) for choices in self.choices]
        self.setting_count = math.prod(self.counts)
        if self.setting_count > MOST_SETTINGS:
            raise ValueError("too many settings for a table")
        self.every = (1 << self.setting_count) - 1
        # A setting's number has the first device's choice as its most significant digit.
        self.weights = [math.prod(self.counts[i + 1:]) for i in range(len(self.counts))]
        self.chosen = [[self.settings_with(device, choice) for choice in range(count)]
                       for device, count in enumerate(self.counts)]
        self.tables = self.needed_tables()

    def settings_with(self, device, choice):
        """The settings in which a device stands as chosen, as bits."""
        weight, count = self.weights[device], self.counts[device]
        once = ((1 << weight) - 1) << (choice * weight)
        return once * (self.every // ((1 << weight * count) - 1))

    def position(self, device, choice, combination):
        """Where a device that is worked then stands."""
        begun = self.start[self.worked[device]]
        option = self.choices[device][choice]
        if option == AS_IT_IS:
            return begun[combination]
        return (begun[combination] + option) % self.position_counts[device] if self.turned[device] else option

    def closed_in(self, contact, combination):
        """The settings in which a contact is closed."""
        number, closed_in, _, _ = contact
        if number not in self.worked:
            return self.every if self.start[number][combination] in closed_in else 0
        device = self.worked.index(number)
        return sum(settings for choice, settings in enumerate(self.chosen[device])
                   if self.position(device, choice, combination) in closed_in)

    def joined(self, combination, conducts):
        """For each piece its neighbours, and the settings in which they are joined directly."""
        beside = [[] for _ in range(self.conductors.piece_count)]
        edges = [(a, b, self.closed_in(contact, combination)) for contact in self.conductors.contacts
                 for _, _, a, b in [contact]]
        edges += [(a, b, self.every) for row, (a, b) in self.conductors.bridges if conduct(row, self.fitted) in conducts]
        for a, b, settings in edges:
            if settings and a != b:
                beside[a].append((b, settings))
                beside[b].append((a, settings))
        return beside

    def reached(self, beside, lead):
        """For each piece the settings in which it is joined to a lead."""
        reached = [0] * self.conductors.piece_count
        waiting = [self.conductors.piece[terminal] for terminal in lead]
        for piece in waiting:
            reached[piece] = self.every
        while waiting:
            here = waiting.pop()
            for there, settings in beside[here]:
                more = reached[here] & settings & ~reached[there]
                if more:
                    reached[there] |= more
                    waiting.append(there)
        return reached

    def all_tables(self):
        """In which settings each thing that is left (a pair, in a combination of unknown starts) is tested."""
        piece = self.conductors.piece
        nodes = {pair_name(row): [piece[node] for node in pair_nodes(row)] for row in self.pairs}
        sure = [self.joined(combination, {"sure"}) for combination in self.combinations]
        may = [self.joined(combination, {"sure", "maybe"}) for combination in self.combinations]
        tables = dict.fromkeys(self.left, 0)
        for number, (_, _, leads) in enumerate(self.readings):
            void = 0
            for beside in may:
                reached = self.reached(beside, leads[0])
                for terminal in leads[1]:
                    void |= reached[piece[terminal]]
            if void == self.every:
                continue
            for combination in self.combinations:
                plus, minus = (self.reached(sure[combination], lead) for lead in leads)
                for name, of in self.left:
                    if of == combination and self.counts_for(number, name):
                        a, b = nodes[name]
                        tables[name, of] |= (plus[a] & minus[b] | minus[a] & plus[b]) & ~void
        return tables

    def needed_tables(self):
        """The tables of what some setting tests and the first does not, without those that others imply."""
        self.found = self.all_tables()
        # A pair that nothing tests for some start is untestable, and asked for from no other start either.
        never = {name for (name, _), table in self.found.items() if not table}
        wanted = sorted({table for (name, _), table in self.found.items() if name not in never and not table & 1},
                        key=lambda table: (table.bit_count(), table))
        kept = []
        for table in wanted:
            if not any(other & table == other for other in kept):
                kept.append(table)
        return kept

    def depends_on(self, table):
        """The devices that a table depends on."""
        return [device for device, chosen in enumerate(self.chosen)
                if any((table & settings) >> (choice * self.weights[device]) != table & chosen[0]
                       for choice, settings in enumerate(chosen))]

    def largest_cluster(self):
        """The most devices that bear on one another, by way of tables that share devices."""
        clusters = []
        for table in self.tables:
            joined = set(self.depends_on(table))
            apart = [cluster for cluster in clusters if not cluster & joined]
            clusters = [*apart, joined.union(*(cluster for cluster in clusters if cluster & joined))]
        return max(map(len, clusters), default=0)

    def covers(self):
        """The sets of tables that hold together in some setting, none of them within another."""
        kinds = [(self.every, 0)]
        for number, table in enumerate(self.tables):
            kinds = [(part, covers | bit << number) for settings, covers in kinds
                     for part, bit in ((settings & table, 1), (settings & ~table, 0)) if part]
            if len(kinds) > 1 << 13:
                raise TooMany("too many kinds of setting")
        largest = []
        for covers in sorted({covers for _, covers in kinds}, key=int.bit_count, reverse=True):
            if not any(covers | other == other for other in largest):
                largest.append(covers)
        return largest

    def fewest_walks(self):
        """The fewest settings in which every table holds once: set cover."""
        if not self.tables:
            return 0
        model = cp_model.CpModel()
        columns = {covers: model.new_bool_var("") for covers in self.covers()}
        for number in range(len(self.tables)):
            model.add(sum(column for covers, column in columns.items() if covers >> number & 1) >= 1)
        model.minimize(sum(columns.values()))
        low, high = solved(model)
        if low != high:
            raise RuntimeError(f"CP-SAT has not proven the fewest walks: between {low} and {high}")
        return high

    def fewest_operations(self, walks):
        """What CP-SAT proves of the fewest operations in so many walks: at least, at most; none where no order does."""
        if not walks:
            return 0, 0
        model, rounds = cp_model.CpModel(), Rounds(self.counts)
        for walk in range(walks):
            rounds.add(model, [self.choices[device][0] == AS_IT_IS and not self.turned[device]
                               for device in range(len(self.counts))])
        for table in self.tables:
            met = [rounds.holds(model, walk, self.diagram(table)) for walk in range(walks)]
            model.add_bool_or(met)
        model.minimize(sum(rounds.changes))
        return solved(model)

    def diagram(self, table):
        """A table as a decision diagram: true, false, or a device with what follows from each of its choices."""
        known = {}

        def part(device, table):
            size = self.weights[device - 1] if device else self.setting_count
            if table in (0, (1 << size) - 1):
                return table != 0
            if (device, table) not in known:
                weight = self.weights[device]
                parts = [part(device + 1, table >> choice * weight & (1 << weight) - 1)
                         for choice in range(self.counts[device])]
                known[device, table] = parts[0] if all(other == parts[0] for other in parts) else Node(device, parts)
            return known[device, table]

        return part(0, table)


class Node:
    """A device, and what follows from each of its choices; one object for one part of a table."""

    def __init__(self, device, parts):
        self.device, self.parts = device, parts


class Rounds:
    """Literals for how every device stands in each round, and for what is operated before it."""

    def __init__(self, counts):
        self.counts = counts
        self.stands = [[[choice == 0 for choice in range(count)] for count in counts]]
        self.changes = []

    def add(self, model, never_back):
        """One round more; where `never_back`, a device that has left its first choice does not return to it."""
        before, now = self.stands[-1], []
        for count, earlier, stays_away in zip(self.counts, before, never_back):
            if count == 2:
                turned = model.new_bool_var("")
                literals = [~turned, turned]
            else:
                literals = [model.new_bool_var("") for _ in range(count)]
                model.add_exactly_one(literals)
            changed = model.new_bool_var("")
            self.changes.append(changed)
            for was, stands in zip(earlier, literals):
                model.add_bool_or([~stands if not isinstance(stands, bool) else not stands, was, changed])
            if stays_away:
                model.add_implication(literals[0], earlier[0])
            now.append(literals)
        self.stands.append(now)
        # A round in which nothing is operated is read already.
        model.add_bool_or(self.changes[-len(self.counts):])

    def holds(self, model, walk, diagram):
        """A literal that can be true only where a round's positions lead through a diagram to yes."""
        known = {}

        def literal(part):
            if isinstance(part, bool):
                return part
            if id(part) not in known:
                known[id(part)] = here = model.new_bool_var("")
                for stands, following in zip(self.stands[walk + 1][part.device], part.parts):
                    then = literal(following)
                    if then is not True:
                        model.add_bool_or([~here, ~stands, *([] if then is False else [then])])
            return known[id(part)]

        return literal(diagram)


def solved(model):
    """What is proven of the least of a model: at least, at most; none where nothing satisfies it."""
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    # The linear relaxation of a set cover is what proves it; without it CP-SAT goes through settings that are alike.
    solver.parameters.linearization_level = 2
    solver.parameters.max_deterministic_time = MOST_TIME
    status = solver.solve(model)
    if status == cp_model.INFEASIBLE:
        return None
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        raise RuntimeError(f"CP-SAT ended with {solver.status_name(status)}")
    return math.ceil(solver.best_objective_bound - 1e-6), round(solver.objective_value)


def least(switching):
    """The fewest walks; and what is proven of the fewest operations in as many: at least, at most.

    Nothing of operations where there are too many orders of walks to go through.
    """
    fewest = switching.fewest_walks()
    if fewest > MOST_ORDERED:
        return fewest, None
    for walks in range(fewest, fewest + MOST_FURTHER):
        # Only switches that can't be put back as found can make every order of the fewest settings impossible.
        operations = switching.fewest_operations(walks)
        if operations is not None:
            return walks, operations
    raise RuntimeError(f"nothing does in {fewest} walks, nor in a few more")


def compare_solver(found, plan):
    """Disagreements about the fewest walks and operations, as `least` has them: CP-SAT."""
    walks, operations = found
    wrong = []
    for name, known in (("walks", (walks, walks)), ("operations", operations)):
        if known is None:
            continue
        at_least, at_most = known
        if plan["totals"][name] < at_least:
            wrong.append(f"totals: {name} is {plan['totals'][name]}, CP-SAT proves that {at_least} are needed")
        if plan["bounds"][name] > at_most:
            wrong.append(f"bounds: {name} is {plan['bounds'][name]}, CP-SAT finds {at_most}")
        if plan["optimal"][name] is not True:
            wrong.append(f"optimal: {name} is {plan['optimal'][name]} on a small cluster")
        elif plan["totals"][name] > at_most:
            wrong.append(f"totals: {name} is {plan['totals'][name]} and called the least, CP-SAT finds {at_most}")
    return wrong


def compare_tables(switching, conductors, rng, most=4):
    """The tables for all settings at once against networkx components, on some settings."""
    wrong = []
    piece_of = {pair_name(row): pair_nodes(row) for row in switching.pairs}
    for number in rng.sample(range(switching.setting_count), min(most, switching.setting_count)):
        tested = set()
        outcomes = {}
        for combination in switching.combinations:
            key = [positions[combination] for positions in switching.start]
            for device, i in enumerate(switching.worked):
                choice = number // switching.weights[device] % switching.counts[device]
                key[i] = switching.position(device, choice, combination)
            outcomes[combination] = [conductors.reading(tuple(key), switching.fitted, leads)
                                     for _, _, leads in switching.readings]
        for place in range(len(switching.readings)):
            if any(rows[place][0] for rows in outcomes.values()):
                continue
            for name, combination in switching.left:
                lead_of = outcomes[combination][place][1]
                a, b = piece_of[name]
                if {lead_of(a), lead_of(b)} == {0, 1} and switching.counts_for(place, name):
                    tested.add((name, combination))
        said = {element for element, table in switching.found.items() if table >> number & 1}
        wrong += [f"tables and networkx differ in setting {number} at {name}" for name in sorted(said ^ tested)]
    return wrong
