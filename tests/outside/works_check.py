"""What `works` prints, checked with the supply connected: by ngspice for what is joined to which supply conductor, and
by networkx for which circuits feed a load.

Sources: Kirchhoff's and Ohm's laws, solved by ngspice's operating point, on the network of `reference.py`. Each closed
contact, core and permanent join is 1 mOhm, every node leaks 1 TOhm; all bridges are open. Supply conductors are put to
1 V one after another, each in a circuit of its own: what it is joined to is at 1 V, all else at 0 V. What makes a load
work is then decided by the rule in FORMAT.md, "works".

Configurations are drawn: a few of all devices, and from each of them some devices turned one by one.

Tolerance: within 1 mV of 1 V is joined, within 1 mV of 0 V is not, between is an error.
"""

import itertools
import random
import subprocess

import networkx

import reference
import spice_check

DRAWN, TURNED = 3, 5
NOT_LOADS = {"detector": [("IC", "N")], "transformer": [("V1", "V2")], "surge-protector": [("L", "N")]}
OUTLETS = {"socket": ("L", "N"), "switched-socket": ("Lfront", "N")}


def loads(file, network):
    """The loads, as (point, two terminals), in the order of the file."""
    declared = {kind["id"]: kind for kind in file.get("kind", [])}
    graph = networkx.Graph()
    for group in network["joins"]:
        networkx.add_path(graph, group)
    wired = set()
    for core in network["cores"]:
        for end in filter(None, core["ends"]):
            wired |= networkx.node_connected_component(graph, end) if end in graph else {end}
    found = []
    for point in file.get("point", []):
        kind = point["kind"]
        own = declared.get(kind)
        rows = own.get("bridges", []) if own else [{"between": row[:2], "passes": len(row) > 3 and row[3]}
                                                   for row in reference.built_in_kind(point)["bridges"]]
        between = [tuple(row["between"]) for row in rows if row.get("load", True) and not row.get("passes", False)]
        between = [ends for ends in between if "E" not in ends and (own or ends not in NOT_LOADS.get(kind, []))]
        between += [OUTLETS[kind]] if kind in OUTLETS and not own else []
        full = [ends for ends in between if all(f"{point['id']}.{end}" in wired for end in ends)]
        found += [(point["id"], ends) for ends in (full or between)]
    return found


class Supplied:
    """Configurations with the supply connected, solved in one run of ngspice."""

    def __init__(self, rng, file, network, folder):
        self.network = network
        contactors = {point["id"] for point in file.get("point", []) if point["kind"] == "contactor"}
        self.free = {row["device"]: row["positions"] for row in network["devices"] if row["worked_at"] == "point"
                     and (row["operable"] or row["device"] in contactors or row["ready"] == "unknown")}
        self.stands = {row["device"]: "on" if row["worked_at"] == "board" else row["ready"] for row in network["devices"]}
        self.configurations, self.turns = [], []
        for _ in range(DRAWN if self.free else 1):
            base = {device: rng.choice(positions) for device, positions in self.free.items()}
            self.configurations.append(base)
            first = len(self.configurations) - 1
            for device in rng.sample(sorted(self.free), min(TURNED, len(self.free))):
                other = rng.choice([position for position in self.free[device] if position != base[device]] or [base[device]])
                self.turns.append((first, len(self.configurations), device))
                self.configurations.append({**base, device: other})
        self.passing = any(row["passes"] for row in network["bridges"])
        self.joined = {}
        self.solve(folder)

    def resistors(self, configuration, closed):
        for group in self.network["joins"]:
            yield from zip(group, group[1:])
        for core in self.network["cores"]:
            if all(core["ends"]):
                yield tuple(core["ends"])
        stands = {**self.stands, **configuration}
        for row in self.network["contacts"]:
            if stands[row["device"]] in row["closed_in"]:
                yield tuple(row["between"])
        if closed:
            yield from (tuple(row["between"]) for row in self.network["bridges"] if row["passes"])

    def solve(self, folder):
        lines, solves = ["supply conductors, one after another", f".options rshunt={spice_check.LEAKAGE}"], []
        for number, configuration in enumerate(self.configurations):
            for closed in [False, True] if self.passing else [False]:
                rows = [pair for pair in self.resistors(configuration, closed) if pair[0] != pair[1]]
                for source in self.network["sources"]:
                    prefix, nodes = f"n{len(solves)}_", {}
                    for a, b in rows:
                        ends = [nodes.setdefault(name, len(nodes)) for name in (a, b)]
                        lines.append(f"r{len(lines)} {prefix}{ends[0]} {prefix}{ends[1]} {spice_check.COPPER}")
                    nodes.setdefault(source["terminal"], len(nodes))
                    lines.append(f"v{len(solves)} {prefix}{nodes[source['terminal']]} 0 1")
                    solves.append((number, closed, source["role"], nodes))
        deck, raw = folder / "supply.cir", folder / "supply.raw"
        deck.write_text("\n".join([*lines, ".op", ".end", ""]))
        run = subprocess.run(["ngspice", "-n", "-b", "-r", str(raw), str(deck)], capture_output=True, text=True, timeout=300)
        said = (run.stdout + run.stderr).lower()
        if run.returncode or "singular" in said or "error" in said or "stepping" in said:
            raise RuntimeError(f"ngspice did not solve the supply: {run.stdout[-800:]} {run.stderr[-800:]}")
        values = spice_check.raw_values(raw.read_bytes())
        for solve, (number, closed, role, nodes) in enumerate(solves):
            at = self.joined.setdefault((number, closed), {})
            for name, node in nodes.items():
                volts = values[f"v(n{solve}_{node})"]
                if abs(volts - 1.0) < 1e-3:
                    at.setdefault(name, set()).add(role)
                elif abs(volts) > 1e-3:
                    raise RuntimeError(f"{name} at {volts} V is neither joined to {role} nor not")

    def fed(self, number, closed, ends):
        """What the ends are joined to, if what is between them works."""
        found = []
        for end in ends:
            roles = self.joined[number, closed].get(end, set())
            live = roles - {"E"}
            if len(live) != 1 or ("E" in roles and live <= {"L", "L1", "L2", "L3"}):
                return None
            found += live
        sources = [role.rpartition(".")[0] for role in found]
        works = found[0] != found[1] and (sources[0] == sources[1])
        return tuple(found) if works else None


def circuits_of(file, network, ends):
    """The circuits whose ways or sources the ends reach without passing a bar."""
    boards = {board["id"] for board in file["board"]}

    def is_bar(name):
        return name == "MET" or name.split(".")[0] in boards

    at_points = {row["device"] for row in network["devices"] if row["worked_at"] == "point"}
    stuck = {row["device"]: row["ready"] for row in network["devices"] if not row["operable"] and row["ready"] != "unknown"}
    contactors = {point["id"] for point in file.get("point", []) if point["kind"] == "contactor"}
    graph = networkx.Graph()
    graph.add_nodes_from(ends)
    rows = [pair for group in network["joins"] for pair in itertools.combinations(group, 2)]
    rows += [tuple(core["ends"]) for core in network["cores"] if all(core["ends"])]
    rows += [row["between"] for row in network["contacts"] if row["device"] in at_points
             and (row["device"] in contactors or stuck.get(row["device"], row["closed_in"][0]) in row["closed_in"])]
    rows += [row["between"] for row in network["bridges"] if row["passes"]]
    graph.add_edges_from(pair for pair in rows if not any(map(is_bar, pair)))
    reached = set().union(*(networkx.node_connected_component(graph, end) for end in ends))
    ways = {name.rpartition(".")[0] for name in reached}
    found = [circuit["id"] for circuit in file.get("circuit", []) if circuit.get("way") in ways]
    return found, bool(reached & {row["terminal"] for row in network["sources"] if "." in row["role"]})


def holds(at, configuration, stands):
    return {**stands, **configuration}[at["device"]] in at["positions"]


def compare_works(rng, file, network, folder, got):
    """What is wrong with an answer of `works`; and what its loads were like."""
    expected = loads(file, network)
    said = [(row["point"], tuple(row["between"])) for row in got["loads"]]
    if said != expected:
        return [f"the loads are {expected}, said are {said}"], []
    supplied = Supplied(rng, file, network, folder)
    wrong, seen = [], []
    for row in got["loads"]:
        name = f"{row['point']} {'-'.join(row['between'])}"
        ends = [f"{row['point']}.{end}" for end in row["between"]]
        closed = bool(row["through"])
        fed = [supplied.fed(number, closed, ends) for number in range(len(supplied.configurations))]
        works = [one is not None for one in fed]
        seen.append(("load", row["works"], closed))
        seen += [("load", "told", what) for what in ("while", "turned_by", "cases") if row.get(what)]
        if row["works"] in ("always", "never") and any(one != (row["works"] == "always") for one in works):
            wrong.append(f"{name} is said to work {row['works']}, and does not so")
        if row["works"] == "never" and supplied.passing and any(
                supplied.fed(number, True, ends) for number in range(len(fed))):
            wrong.append(f"{name} works by electronics")
        conductors = {conductor for one in fed if one for conductor in one}
        if not conductors <= set(row["conductors"]):
            wrong.append(f"{name} is between {conductors}")
        for before, after, device in supplied.turns:
            if works[before] != works[after] and device not in row["devices"]:
                wrong.append(f"{device} turns {name}")
            if works[before] == works[after] and device in row["each_turns"]:
                wrong.append(f"{device} does not turn {name}")
        wrong += [f"{name}: {what}" for what in wrong_words(row, supplied, works)]
        if row["works"] != "never":
            fed_by, by_source = circuits_of(file, network, ends)
            if [circuit for circuit in row["circuits"] if circuit in fed_by] != fed_by or (
                    row["circuits"] != fed_by and not by_source):
                wrong.append(f"{name} is fed by {fed_by}, said is {row['circuits']}")
    return wrong, seen


def wrong_words(row, supplied, works):
    """Where `while`, `turned_by` and `cases` say otherwise than what was solved."""
    if row["works"] != "depends":
        return
    first = None
    for number, configuration in enumerate(supplied.configurations):
        if not all(holds(at, configuration, supplied.stands) for at in row.get("while", [])):
            if works[number]:
                yield f"works while not all of `while` holds: {configuration}"
            continue
        if row.get("turned_by"):
            first = number if first is None else first
            moved = sum(configuration[device] != supplied.configurations[first][device] for device in row["turned_by"])
            expected = works[first] != (moved % 2 == 1)
        elif row.get("cases"):
            expected = any(all(holds(at, configuration, supplied.stands) for at in case) for case in row["cases"])
        elif len(row.get("while", [])) == len(row["devices"]):
            expected = True
        else:
            continue
        if expected != works[number]:
            yield f"works is {works[number]} at {configuration}"


def works_of(program, seed, file, network):
    """The program's answer, checked; and what its loads were like."""
    rng = random.Random(f"works {seed}")
    return compare_works(rng, file, network, program.folder, program.ask("works", file, None))


EVERY_RUN_HAS = [("load", "always", False), ("load", "never", False), ("load", "depends", False), ("load", "depends", True),
                 *[("load", "told", what) for what in ("while", "turned_by", "cases")]]
