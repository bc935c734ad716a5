"""What `locate` prints, checked with leakage planted where we know it and readings computed by ngspice.

Sources: Kirchhoff's and Ohm's laws solved by ngspice's operating point, for the readings; scipy's `linprog` (HiGHS) on
the sums that the documentation of `locate` describes, rebuilt here from `network --json`'s reference, for the bounds.

A **plant** is an installation with leakage resistors: a fault in a random place (two cores of a length, two terminals
of an accessory), and healthy leakage of the lengths elsewhere, from none to all that the assumptions allow. Readings
are taken in random passes with operations, each off by no more than the accuracy given. Then, of every plant:

- the gap with the fault is never called cleared, where its leakage is above the limit that makes a fault;
- the bounds of every gap contain its planted leakage;
- no contradiction is found, since there is none;
- no more than one fault is needed, and where one is, the planted one is among those that explain all alone.

Tolerances: every node has 1e16 Ohm to one lead (`rshunt`), a thousandth of the least leakage planted. Bounds must
contain to a part in 1e5 and 1e-9 uS. HiGHS keeps to 1e-7 in units of 1 nS here; bounds must agree to a part in 1e5 and 1e-5 uS.
"""

import itertools
import random
import subprocess

import networkx
import numpy
import scipy.optimize
import scipy.sparse

import cases
import judge_check
import passes
import reference
import spice_check

VOLTS = 500.0
ACCURACY_PERCENT, HEALTHY, LIMIT = 2.0, 10.0, 2.0
PLANTS_PER_INSTALLATION = 10
OPTIONS = ["--accuracy-percent", str(ACCURACY_PERCENT), "--resolution", "0", "--healthy-megohm-kilometres", str(HEALTHY),
           "--investigate-below", str(LIMIT)]


class Copper:
    """Terminals and cores by the piece of copper that they are joined to for good, and what lies side by side."""

    def __init__(self, network, file, touched=()):
        graph = networkx.Graph()
        graph.add_nodes_from(network["terminals"])
        for group in network["joins"]:
            networkx.add_path(graph, group)
        roles = {}
        for core in network["cores"]:
            node = core["length"], core["core"]
            graph.add_node(node)
            graph.add_edges_from((node, end) for end in core["ends"] if end)
            roles.setdefault(core["length"], {})[core["core"]] = core["roles"]
        self.piece = {}
        for number, component in enumerate(networkx.connected_components(graph)):
            for node in component:
                self.piece[node] = number
        metres = cases.metres(file)
        self.beside = []
        for length, cores in roles.items():
            ends = [(length, core) for core in cores]
            pairs = list(itertools.combinations(ends, 2))
            if not any("E" in row for row in cores.values()):
                pairs += [(end, "MET") for end in ends]
            self.beside += [("length", metres[length], a, b) for a, b in pairs]
        self.volts = {}
        asked = TestVoltages(file, network)
        for _, _, a, b in self.beside:
            self.ask(a, b, asked.of_length[(a if b == "MET" else b)[0]])
        of_lengths = set(self.volts)
        for what, owner, terminals in accessories(network, file):
            # Each piece of copper by the first of its terminals.
            firsts = list({self.piece[terminal]: terminal for terminal in reversed(terminals)}.values())[::-1]
            rows = [(what, 0.0, a, b) for a, b in itertools.combinations(firsts, 2)]
            self.beside += rows
            for _, _, a, b in rows:
                # A way's supply side is named with the bars, where it lies between two of them.
                is_own = what != "way" or all(terminal.startswith(owner + ".") for terminal in (a, b))
                key = frozenset((self.piece[a], self.piece[b]))
                if key not in of_lengths and (is_own or key not in self.volts):
                    self.ask(a, b, asked.of(what, owner))
        self.beside = [row for row in self.beside if self.piece[row[2]] != self.piece[row[3]]]
        alone = self.alone(network) - {self.piece[terminal] for terminal in touched}
        self.gaps = {}
        for what, length, a, b in self.beside:
            if what != "point" or not {self.piece[a], self.piece[b]} & alone:
                key = frozenset((self.piece[a], self.piece[b]))
                self.gaps[key] = self.gaps.get(key, 0.0) + length

    def ask(self, a, b, volts):
        """Notes the greatest test voltage that is asked for between two pieces of copper."""
        key = frozenset((self.piece[a], self.piece[b]))
        self.volts[key] = max(self.volts.get(key, 0), volts)

    def alone(self, network):
        """The pieces that are one terminal which nothing is joined to."""
        joined = {self.piece[core["length"], core["core"]] for core in network["cores"]}
        for row in network["contacts"] + network["bridges"]:
            joined.update(self.piece[end] for end in row["between"])
        return {piece for node, piece in self.piece.items() if piece not in joined and node != "MET"} - {self.piece["MET"]}


class TestVoltages:
    """What BS 7671:2018 Table 64 and reg. 643.3.3 ask for, circuit by circuit; of a board, the greatest behind it."""

    def __init__(self, file, network):
        asked = judge_check.Asked(judge_check.TABLE_64, file)

        def volts(circuit):
            demand = asked.of(circuit)
            return (demand["relief"] or demand["asked"])["volts"]

        of_circuit = {row["id"]: volts(row["id"]) for row in file["circuit"]}
        self.of_length = {row["id"]: of_circuit[row["circuit"]] for row in file.get("length", [])}
        self.of_point = {row["id"]: of_circuit[row["circuit"]] for row in file.get("point", [])}
        self.of_way = {row["way"]: of_circuit[row["id"]] for row in file["circuit"] if "way" in row}
        feeds = judge_check.fed_by_boards(file, network)
        self.of_board = {}
        for row in file["board"]:
            circuits = judge_check.behind(file, feeds, row["id"])[1]
            self.of_board[row["id"]] = asked.greatest(circuits) or asked.of_board([])["asked"]["volts"]

    def of(self, what, owner):
        """What is asked of a point, of a way by its circuit, or of a board."""
        known = {"point": self.of_point, "way": self.of_way}.get(what, {})
        return known[owner] if owner in known else self.of_board[owner.split("/")[0].split(".")[0]]


def accessories(network, file):
    """The terminals of each point, of each way on both sides, and of each board's bars, with which of these it is."""
    points = [point["id"] for point in file.get("point", [])]
    own = {}
    for terminal in network["terminals"]:
        own.setdefault(terminal.rpartition(".")[0], []).append(terminal)
    for point in points:
        yield "point", point, own.get(point, [])
    for board in file["board"]:
        name = board["id"]
        bars = [f"{name}.in", f"{name}.bus", *[f"{name}.{group['id']}" for group in board.get("group", [])]]
        yield "board", name, [t for bar in bars for t in own.get(bar, []) if not t.endswith(".E")] + [f"{name}.E"]
        for way in board.get("way", []):
            device = f"{name}/{way['id']}"
            supply = [row["between"][0] for row in network["contacts"] if row["device"] == device]
            yield "way", device, list(dict.fromkeys(own.get(device, []) + supply))


class Plant:
    """Leakage in an installation, and how what may be either way is in it."""

    def __init__(self, rng, copper, network, taken):
        self.combination = rng.randrange(taken.combination_count)
        self.maybe = {number: rng.random() < 0.5 for number, row in enumerate(network["bridges"]) if row["conducts"] == "maybe"}
        lengths = [row for row in copper.beside if row[0] == "length"]
        others = [row for row in copper.beside if row[0] != "length"]
        pool = lengths if lengths and (not others or rng.random() < 0.6) else others
        _, _, a, b = rng.choice(pool)
        self.fault = frozenset((copper.piece[a], copper.piece[b]))
        self.leaks = [(copper.piece[a], copper.piece[b], 1.0 / 10 ** rng.uniform(-1.8, 0.5))]
        share = rng.choice([0.0, 0.1, 1.0])
        for _, metres, a, b in lengths:
            leak = share * rng.uniform(0.0, 1.0) * metres / 1000.0 / HEALTHY
            if leak > 1e-7:
                self.leaks.append((copper.piece[a], copper.piece[b], leak))
        self.total = {}
        for a, b, leak in self.leaks:
            key = frozenset((a, b))
            self.total[key] = self.total.get(key, 0.0) + leak


def conductances(network, devices, copper, taken, plants, folder):
    """For each plant the conductance of each reading in uS, all solved in one ngspice run.

    What conducts in a setting is made one node beforehand, since a closed contact is a million million times as good as
    insulation; that the program sees what conducts as ngspice does is checked in `spice_check`.
    """
    lines, answers = ["readings with planted leakage", ".options rshunt=1e16"], []
    for number, plant in enumerate(plants):
        answers.append([])
        for place, reading in enumerate(taken.readings):
            joined = reference.Sets()
            for a, b in passes.conducting(network, devices, taken.key(reading["standing"], plant.combination)):
                joined.join([copper.piece[a], copper.piece[b]])
            for bridge, row in enumerate(network["bridges"]):
                conducts = passes.conduct(row, reading["fitted"])
                if conducts == "sure" or conducts and plant.maybe[bridge]:
                    joined.join([copper.piece[end] for end in row["between"]])
            plus, minus = ([copper.piece[terminal] for terminal in lead] for lead in reading["leads"])
            joined.join(plus)
            joined.join(minus)
            plus, minus = joined.find(plus[0]), joined.find(minus[0])
            if plus == minus:
                answers[-1].append(None)
                continue
            source = f"v{number}_{place}"
            answers[-1].append(f"i({source})")

            def node(piece):
                root = joined.find(piece)
                return "0" if root == minus else f"n{number}_{place}_{root}"

            for a, b, leak in plant.leaks:
                if node(a) != node(b):
                    lines.append(f"r{len(lines)} {node(a)} {node(b)} {1e6 / leak!r}")
            lines.append(f"{source} {node(plus)} 0 {VOLTS}")
    if not any(name for names in answers for name in names):
        return [[numpy.inf for _ in names] for names in answers]
    lines += [".op", ".end", ""]
    deck, raw = folder / "plants.cir", folder / "plants.raw"
    deck.write_text("\n".join(lines))
    run = subprocess.run(["ngspice", "-n", "-b", "-r", str(raw), str(deck)], capture_output=True, text=True, timeout=300)
    said = (run.stdout + run.stderr).lower()
    if run.returncode or "singular" in said or "error" in said or "stepping" in said:
        raise RuntimeError(f"ngspice did not solve the plants: {run.stdout[-800:]} {run.stderr[-800:]}")
    values = spice_check.raw_values(raw.read_bytes())
    return [[abs(values[name]) / VOLTS * 1e6 if name else numpy.inf for name in names] for names in answers]


def shown(rng, conductance):
    """What an instrument shows that is off by no more than its accuracy; none where nothing was written down."""
    if rng.random() < 0.08:
        return None
    megohms = 1.0 / max(conductance, 1e-9)
    if megohms < 0.005:
        return "<0.01"
    if megohms > 1000.0:
        return ">999" if rng.random() < 0.8 else ">200"
    # The resistance may be off from what is shown by so much of what is shown.
    return megohms / (1.0 + rng.uniform(-0.95, 0.95) * ACCURACY_PERCENT / 100.0)


def written(test_set, values):
    """The test set with these values in place of its own."""
    values = iter(values)
    filled = {key: value for key, value in test_set.items() if key != "pass"}
    filled["pass"] = []
    for step in test_set.get("pass", []):
        step = dict(step)
        if "reading" in step:
            step["reading"] = [{key: value for key, value in reading.items() if key != "megohms"} for reading in step["reading"]]
            for reading in step["reading"]:
                value = next(values)
                if value is not None:
                    reading["megohms"] = value
        filled["pass"].append(step)
    return filled


def member_pieces(copper, member):
    """The two pieces of copper of a member of a gap."""
    if "length" in member:
        return frozenset(copper.piece["MET" if core == "earth" else (member["length"], core)] for core in member["cores"])
    return frozenset(copper.piece[terminal] for terminal in member["terminals"])


def compare_plant(copper, plant, got):
    """What is wrong with the findings of a plant."""
    wrong = []
    if got["conflicts"]:
        wrong.append(f"a contradiction where there is none: {got['conflicts']}")
    fault_leak = plant.total[plant.fault]
    fault = None
    for row in got["gaps"]:
        keys = {member_pieces(copper, member) for member in row["members"]}
        if len(keys) != 1:
            wrong.append(f"gap {row['gap']} joins places between different copper")
            continue
        key = keys.pop()
        leak = plant.total.get(key, 0.0)
        greatest = row["greatest_microsiemens"]
        if leak < row["least_microsiemens"] * (1 - 1e-5) - 1e-9:
            wrong.append(f"gap {row['gap']} leaks {leak} uS, below the least, {row['least_microsiemens']}")
        if greatest is not None and leak > greatest * (1 + 1e-5) + 1e-9:
            wrong.append(f"gap {row['gap']} leaks {leak} uS, above the greatest, {greatest}")
        is_fault = leak > row["healthy_microsiemens"] + 1.0 / LIMIT + 1e-6
        if is_fault and row["state"] == "cleared":
            wrong.append(f"gap {row['gap']} is called cleared and leaks {leak} uS")
        if leak < row["healthy_microsiemens"] + 1.0 / LIMIT - 1e-6 and row["state"] == "certain":
            wrong.append(f"gap {row['gap']} is called faulty for certain and leaks {leak} uS")
        if key == plant.fault:
            fault = row
    faults = got["faults"]
    if faults["at_least"] > 1:
        wrong.append(f"at least {faults['at_least']} faults, and one was planted, of {fault_leak} uS")
    if faults["at_least"] == 1 and not (fault and fault["explains_alone"]):
        wrong.append(f"one fault, and the planted one of {fault_leak} uS is not among those that explain it")
    is_looked_for = fault and any(fault["gap"] in group for group in faults["suspects"])
    if faults["at_least"] == 1 and fault and fault["state"] != "cleared" and not is_looked_for:
        wrong.append("the planted fault is not among the suspects")
    return wrong


def interval(value):
    """The conductances that a shown value stands for, in uS."""
    part = ACCURACY_PERCENT / 100.0
    if isinstance(value, str):
        number = float(value[1:])
        return (0.0, 1 / (number * (1 - part))) if value[0] == ">" else (1 / (number * (1 + part)), numpy.inf)
    return 1 / (value * (1 + part)), 1 / (value * (1 - part))


class Sums:
    """The inequalities of a test set over the gaps, from the reference's rows and networkx alone: such as hold whichever
    way unknown devices stood, and such as hold for one combination of their starts."""

    def __init__(self, network, taken, copper, values, void, volts):
        self.gaps = list(copper.gaps)
        self.copper = copper
        self.rows = []
        self.each_start = [[] for _ in range(taken.combination_count)] if taken.combination_count > 1 else []
        self.leaky = networkx.Graph()
        self.leaky.add_nodes_from(copper.piece.values())
        self.leaky.add_edges_from(tuple(gap) for gap in self.gaps)
        for reading, value, is_void, at in zip(taken.readings, values, void, volts, strict=True):
            if is_void or value is None:
                continue
            touched = [[copper.piece[terminal] for terminal in lead] for lead in reading["leads"]]
            for number, rows in [(None, self.rows), *enumerate(self.each_start)]:
                sure, may = networkx.Graph(), networkx.Graph()
                for graph in (sure, may):
                    graph.add_nodes_from(copper.piece.values())
                for row in network["contacts"]:
                    names = taken.devices[row["device"]]["positions"]
                    standing = reading["standing"][row["device"]]
                    standing = set(standing) if number is None else {standing[number]}
                    closed = [names[position] in row["closed_in"] for position in standing]
                    ends = [copper.piece[end] for end in row["between"]]
                    if all(closed):
                        sure.add_edge(*ends)
                    if any(closed):
                        may.add_edge(*ends)
                for row in network["bridges"]:
                    conducts = passes.conduct(row, reading["fitted"])
                    if conducts:
                        ends = [copper.piece[end] for end in row["between"]]
                        may.add_edge(*ends)
                        if conducts == "sure":
                            sure.add_edge(*ends)
                self.add(rows, sure, may, touched, interval(value), at)

    def add(self, rows, sure, may, touched, shown, at):
        """The rows of one reading, where this conducts for sure and that may."""

        def on(graph, lead):
            return set().union(*(networkx.node_connected_component(graph, piece) for piece in touched[lead]))

        sure_a, sure_b, may_a, may_b = on(sure, 0), on(sure, 1), on(may, 0), on(may, 1)
        least, greatest = shown
        if numpy.isfinite(greatest):
            across = [gap for gap in self.gaps if len(gap & sure_a) == len(gap & sure_b) == 1]
            rows.append(("most", greatest, [gap for gap in across if at is None or self.copper.volts[gap] <= at]))
        if least > 0 and not may_a & may_b:
            everything = networkx.compose(self.leaky, may)
            for near, far in ((may_a, may_b), (may_b, may_a)):
                beyond = everything.subgraph(set(everything) - near)
                side = set().union(*(networkx.node_connected_component(beyond, piece) for piece in far))
                rows.append(("least", least, [gap for gap in self.gaps if len(gap & near) == len(gap & side) == 1]))

    def bounds(self, gap):
        """The least and the greatest that a gap can leak by the rows that hold in any case; in uS."""
        return self.solve(self.rows, gap)

    def bounds_of_starts(self, gap):
        """The same start by start; a start for which the readings can't all be says nothing."""
        found = [bounds for rows in self.each_start if (bounds := self.solve(rows, gap))]
        least, greatest = self.bounds(gap)
        if found:
            least = max(least, min(row[0] for row in found))
            greatest = min(greatest, max(row[1] for row in found))
        return least, greatest

    def solve(self, rows, gap):
        """By HiGHS; none where no leakage keeps all rows."""
        number = {gap: number for number, gap in enumerate(self.gaps)}
        matrix = scipy.sparse.lil_matrix((max(1, len(rows)), len(self.gaps)))
        right = numpy.zeros(max(1, len(rows)))
        for place, (what, bound, gaps) in enumerate(rows):
            sign = 1.0 if what == "most" else -1.0
            for one in gaps:
                matrix[place, number[one]] = sign
            right[place] = sign * bound * 1e3
        found = []
        for sign in (1.0, -1.0):
            cost = numpy.zeros(len(self.gaps))
            cost[number[gap]] = sign
            answer = scipy.optimize.linprog(cost, A_ub=matrix.tocsr(), b_ub=right, bounds=(0, None), method="highs")
            if answer.status == 3:
                found.append(numpy.inf)
            elif answer.status == 0:
                found.append(sign * answer.fun / 1e3)
            elif answer.status == 2 and rows is not self.rows:
                return None
            else:
                raise RuntimeError(f"HiGHS ended with {answer.status}: {answer.message}")
        return found


def sums_of(case, network, taken, copper, values, got):
    """The inequalities of a case with these values, without what the program left out as void."""
    void = [row["left_out"] in ("bridged", "doubtful") for row in got["readings"]]
    raw = [reading for step in case["test_set"]["pass"] for reading in step.get("reading", [])]
    return Sums(network, taken, copper, values, void, [reading.get("volts") for reading in raw])


def compare_bounds(rng, copper, sums, got, most=10):
    """Bounds that HiGHS does not agree with: never tighter than its, and the same where they are called tight."""
    wrong = []
    for row in rng.sample(got["gaps"], min(most, len(got["gaps"]))):
        gap = member_pieces(copper, row["members"][0])
        own = row["least_microsiemens"], numpy.inf if row["greatest_microsiemens"] is None else row["greatest_microsiemens"]

        def off(a, b):
            return a - b > 1e-5 * abs(b) + 1e-5

        least, greatest = sums.bounds_of_starts(gap)
        if off(own[0], least) or off(greatest, own[1]):
            wrong.append(f"gap {row['gap']} has bounds {own}, tighter than HiGHS has them: {least}, {greatest}")
            continue
        least, greatest = sums.bounds(gap)
        if row["tight"] and (off(least, own[0]) or off(own[1], greatest)):
            wrong.append(f"gap {row['gap']} has bounds {own} and is called tight; HiGHS has {least}, {greatest}")
    return wrong


def plant_case(seed):
    """An installation file and a test set whose readings are to be computed."""
    rng = random.Random(f"plants {seed}")
    file, budget = cases.installation(rng, rng.choice([1, 2, 3, 5, 8, 12, 16, 20]))
    test_set = cases.test_set(rng, file, budget, 16)
    # Without a voltage a reading is taken to be at the right one; one below it bounds less from above.
    for step in test_set["pass"]:
        for reading in step.get("reading", []):
            reading.pop("volts", None)
            if rng.random() < 0.15:
                reading["volts"] = rng.choice([250, 500, 1000])
    if rng.random() < 0.3:
        test_set["pass"].append(from_the_bars(file))
    if seed % 10 == 0:
        # So little, read so thoroughly, that one place alone can leak as much: else hardly any is certain.
        file = one_length(rng)
        test_set = {"format": 1, "pass": [way_by_way(file), from_the_bars(file)]}
    return {"seed": seed, "installation": file, "test_set": test_set, "need": "standard"}


def one_length(rng):
    """An installation of a way, a length and a socket."""
    wiring = cases.Wiring(rng, 1)
    wiring.file["board"] = [{"id": "DB1", "origin": True, "main_switch": False, "way": [{"id": "1", "device": rng.choice(["mcb", "fuse"])}]}]
    circuit = wiring.circuit("DB1/1")
    socket = wiring.point("X", rng.choice(["socket", "switched-socket"]), circuit)
    wiring.run(circuit, "DB1/1", socket, [("L", "L"), ("N", "N")])
    return wiring.finished()


def way_by_way(file):
    """A pass with everything at the boards off and everything out, read at each circuit and at the bars in every way."""
    network = reference.network(file)
    out = from_the_bars(file)
    circuits = [{"circuit": row["circuit"], "between": list(pair)}
                for row in network["circuits"] for pair in itertools.combinations(row["leads"], 2)]
    return {**out, "set": dict.fromkeys(out["set"], "off"), "reading": out["reading"] + circuits}


def from_the_bars(file):
    """A pass with everything at the boards on and everything out, read from the bars in every way: little floats then."""
    network = reference.network(file)
    board = next(board["id"] for board in file["board"] if board.get("origin", False))
    live = ["L1", "L2", "L3", "N", "E"] if network["installation"]["phases"] == 3 else ["L", "N", "E"]
    return {"set": {row["device"]: "on" for row in network["devices"] if row["worked_at"] == "board"},
            "remove": sorted({row["id"] for row in network["bridges"] if row["removable"]}),
            "reading": [{"board": board, "between": [a, b]} for a, b in itertools.combinations(live, 2)]}


def planted(case, folder, count=PLANTS_PER_INSTALLATION):
    """The copper of a case, its test set followed, and for each plant the plant and the values of its readings."""
    rng = random.Random(f"planted {case['seed']}")
    network = reference.network(case["installation"])
    taken = passes.Taken(network, reference.board_leads(case["installation"]), case["test_set"])
    touched = [terminal for reading in taken.readings for lead in reading["leads"] for terminal in lead]
    copper = Copper(network, case["installation"], touched)
    if not copper.beside or not taken.readings:
        return network, taken, copper, []
    plants = [Plant(rng, copper, network, taken) for _ in range(count)]
    found = conductances(network, taken.devices, copper, taken, plants, folder)
    return network, taken, copper, [(plant, [shown(rng, value) for value in values]) for plant, values in zip(plants, found)]


PLANTED, HIGHS = "locate: planted leakage, readings by ngspice", "locate: bounds by scipy linprog (HiGHS)"


def plant_outcomes(program, case):
    """Each check's name with what it found wrong, plant by plant; and what the plants were like."""
    rng = random.Random(f"bounds {case['seed']}")
    network, taken, copper, plants = planted(case, program.folder)
    outcomes, seen = [], []
    for number, (plant, values) in enumerate(plants):
        filled = written(case["test_set"], values)
        got = program.ask("locate", case["installation"], filled, more=OPTIONS)
        outcomes.append((PLANTED, [f"plant {number}: {what}" for what in compare_plant(copper, plant, got)]))
        if number == 0:
            sums = sums_of(case, network, taken, copper, values, got)
            outcomes.append((HIGHS, compare_bounds(rng, copper, sums, got)))
        seen += [("gap", row["state"]) for row in got["gaps"]]
        seen += [("below", "taken_below_volts" in row) for row in got["readings"]]
        seen += [("faults", got["faults"]["at_least"]), ("next", got["next"]["do"])]
        seen += [("unknown", bool(taken.unknown))]
    return outcomes, seen


EVERY_PLANT_RUN_HAS = [*[("gap", state) for state in ("cleared", "suspect", "certain", "not-read")],
                       ("faults", 0), ("faults", 1), ("next", "read"), ("next", "nothing"), ("unknown", True), ("below", True)]
