"""What `plan` prints, checked by going through every setting, by OR-Tools CP-SAT and by following the plan.

Sources: brute force over all settings (the definitions of FORMAT.md part 3); CP-SAT set cover for the fewest walks;
networkx components for what each step of the plan adds. Exact: there is no tolerance.
"""

import copy
import itertools

import networkx

import settings
from coverage import Coverage, compare_rows, pair_nodes
from passes import Taken, touched


class Followed:
    """A plan followed round by round, and every claim that it makes on the way compared."""

    def __init__(self, network, circuits, taken, tested_in, need, conductors, plan, fixed=()):
        self.wrong = []
        self.network, self.taken, self.conductors, self.fixed = network, taken, conductors, fixed
        self.circuits = {row["circuit"]: row for row in circuits}
        self.volts_of = settings.volts_of(circuits)
        self.devices = taken.devices
        combinations = range(taken.combination_count)
        standing = {name: [0] * taken.combination_count if row["worked_at"] == "board" else taken.standing[name]
                    for name, row in self.devices.items()}
        fitted = taken.prepared
        required = [settings.reference.required(row["class"], need) for row in network["pairs"]]
        tested = [set(known) for known in tested_in]
        self.totals = {"walks": 0, "operations": 0, "stops": 0, "readings": 0}
        self.passes = []
        for number, row in enumerate(plan["rounds"], 1):
            step = self.operate(number, row["operations"], standing)
            standing = step.pop("standing")
            step["reading"] = []
            stops = step.pop("stops")
            for place, reading in enumerate(row["readings"], 1):
                what = f"round {number} reading {place}"
                self.totals["readings"] += 1
                leads = self.allowed(what, reading)
                if leads is None:
                    continue
                if reading.get("at") is not None:
                    stops.add(reading["stop"])
                step["reading"].append({"circuit": reading["circuit"], "between": reading["between"]})
                outcome = [conductors.reading(taken.key(standing, combination), fitted, leads)
                           for combination in combinations]
                if any(void for void, _ in outcome):
                    self.wrong.append(f"{what} is void: {[void for void, _ in outcome]}")
                    continue
                adds = set()
                for index, pair in enumerate(network["pairs"]):
                    is_other = reading["volts"] != self.volts_of[pair["length"]]
                    if is_other or len(tested[index]) == len(combinations):
                        continue
                    a, b = pair_nodes(pair)
                    tested[index].update(combination for combination, (_, lead_of) in enumerate(outcome)
                                         if {lead_of(a), lead_of(b)} == {0, 1})
                    if len(tested[index]) == len(combinations):
                        adds.add((settings.pair_name(pair), required[index]))
                said = [tuple(name) for name in reading["adds"]]
                if len(said) != len(set(said)):
                    self.wrong.append(f"{what} adds a pair twice: {said}")
                for name in set(said) - {name for name, _ in adds}:
                    self.wrong.append(f"{what} says that it adds {name}, and does not")
                for name in {name for name, needed in adds if needed} - set(said):
                    self.wrong.append(f"{what} adds {name}, and does not say so")
            self.totals["stops"] += len(stops)
            self.passes.append(step)
        self.missing = {settings.pair_name(row) for row, needed, known in zip(network["pairs"], required, tested)
                        if needed and len(known) < len(combinations)}
        untestable = {tuple([row["length"], *row["cores"]]) for row in plan["untestable"]}
        for name in self.missing - untestable:
            self.wrong.append(f"pair {name} is not tested by the plan, nor untestable")
        for name in untestable - self.missing:
            self.wrong.append(f"pair {name} is called untestable, and is tested or not required")
        for name, value in self.totals.items():
            if plan["totals"][name] != value:
                self.wrong.append(f"totals: {name} is {plan['totals'][name]}, the rounds come to {value}")
        for name in ("walks", "operations"):
            if plan["bounds"][name] > value_of(plan, name):
                self.wrong.append(f"bounds: {name} {plan['bounds'][name]} is above the plan's own {value_of(plan, name)}")
        self.follow_extras(plan, standing, tested, required)

    def follow_extras(self, plan, standing, tested, required):
        """The extras done one after the other behind the plan; what they leave is what is said to be left."""
        extras = plan["extras"]
        every = list(range(self.taken.combination_count))
        known = len(self.wrong)
        self.totals = {"walks": 0, "operations": 0, "stops": 0, "readings": 0}
        rounds = 0
        for used in extras["used"]:
            steps = used.get("together") or [used]
            what = " and ".join(f"{step['do']} at {step.get('point') or step.get('bridge')}" for step in steps)
            changed, fitted, there = self.with_extras(what, steps)
            standing = self.carry_out(what, used.get("rounds", []), standing, tested, every, changed, fitted, there)
            rounds += len(used.get("rounds", []))
            cases = used.get("found", [])
            seen = []
            for case in cases:
                device = self.devices[steps[0]["point"]]
                position = device["positions"].index(case["position"])
                here = [combination for combination in every if standing[device["device"]][combination] == position]
                found = {name: [positions[combination] for combination in here] for name, positions in standing.items()}
                if self.carry_out(what, case["rounds"], found, tested, here, changed, fitted, there) != found:
                    self.wrong.append(f"{what}: what is found out leaves switches otherwise than another finding would")
                seen += here
            if steps[0]["do"] == "find-out" and sorted(seen) != every:
                self.wrong.append(f"{what}: it may be found otherwise than in {[case['position'] for case in cases]}")
            for row in used["for"]:
                name = (row["length"], *row["cores"])
                if any(settings.pair_name(pair) == name and len(known) < len(every)
                       for pair, known in zip(self.network["pairs"], tested)):
                    self.wrong.append(f"{what} is for {name}, and does not complete it")
        missing = {settings.pair_name(row) for row, needed, known in zip(self.network["pairs"], required, tested)
                   if needed and len(known) < len(every)}
        left = {tuple(name) for name in extras["left"]}
        if len(self.wrong) == known and left != missing:
            self.wrong.append(f"extras: {sorted(left ^ missing)} are left and not said to be, or the other way round")
        # Where there is something to find out, what is done afterwards hangs on what is found.
        if not any(used.get("found") for used in extras["used"]):
            for name, value in (("rounds", rounds), ("readings", self.totals["readings"])):
                if extras["totals"][name] != value:
                    self.wrong.append(f"extras: {name} is {extras['totals'][name]}, they come to {value}")

    def with_extras(self, what, steps):
        """The copper with these steps done, what is in, and the terminals within reach of an instrument taken there."""
        changed, fitted, there = copy.copy(self.conductors), set(self.taken.prepared), {"MET"}
        changed.known = {}
        numbers = {name: number for number, name in enumerate(self.devices)}
        for step in steps:
            name = step.get("point") or step.get("bridge")
            own = {terminal for terminal in self.network["terminals"] if terminal.split(".")[0] == name}
            match step["do"]:
                case "leave-fitted":
                    if not self.taken.removable.get(name):
                        self.wrong.append(f"{what}: {name} is in anyhow")
                    fitted = (fitted | {name}) - {f"link of {name}"}
                case "take-instrument-to":
                    there |= own
                case "take-link-out":
                    fitted -= {f"link of {name}"}
                case "link":
                    ends = [changed.piece[terminal] for terminal in step["terminals"]]
                    row = {"id": "a link of an extra", "conducts": "sure", "passes": False}
                    changed.bridges = [*changed.bridges, (row, ends)]
                    fitted |= {row["id"]}
                case "take-off":
                    if name in self.fixed:
                        self.wrong.append(f"{what}: nobody takes {name} off")
                    there |= own
                    changed.contacts = [row for row in changed.contacts if row[0] != numbers.get(name)]
                    changed.bridges = [row for row in changed.bridges if row[0]["id"] != name]
                case "find-out":
                    if len(set(self.taken.begun[name])) == 1:
                        self.wrong.append(f"{what}: it is known how {name} stands")
                case other:
                    self.wrong.append(f"{what}: there is no step {other}")
        return changed, frozenset(fitted), there

    def carry_out(self, what, rounds, standing, tested, here, changed, fitted, there):
        """Rounds of an extra in these combinations, from how the switches stand in each; and how after the last."""
        for row in rounds:
            standing = self.operate(what, row["operations"], standing)["standing"]
            for reading in row["readings"]:
                self.totals["readings"] += 1
                leads, is_usable = self.leads_of(what, reading, self.circuits[reading["circuit"]])
                if not is_usable and not there.issuperset(itertools.chain(*leads)):
                    self.wrong.append(f"{what}: {reading['between']} is neither a reading of a plan nor taken there")
                outcome = {combination: changed.reading(self.taken.key(standing, at), fitted, leads)
                           for at, combination in enumerate(here)}
                if any(void for void, _ in outcome.values()):
                    self.wrong.append(f"{what}: {reading['between']} is void")
                    continue
                for pair, known in zip(self.network["pairs"], tested):
                    if reading["volts"] != self.volts_of[pair["length"]]:
                        continue
                    a, b = pair_nodes(pair)
                    known.update(combination for combination, (_, lead_of) in outcome.items()
                                 if {lead_of(a), lead_of(b)} == {0, 1})
                completed = {settings.pair_name(pair) for pair, known in zip(self.network["pairs"], tested)
                             if known.issuperset(here)}
                for name in {tuple(name) for name in reading["adds"]} - completed:
                    self.wrong.append(f"{what}: {reading['between']} does not complete {name}")
        return standing

    def operate(self, number, operations, standing):
        """One round's operations, as the steps of a pass; each must start from how the device stands."""
        step = {"operate": [], "set": {}}
        standing = dict(standing)
        stops, moved = set(), set()
        for operation in operations:
            name = operation["device"]
            row = self.devices.get(name)
            what = f"round {number} operation on {name}"
            if row is None or not row["operable"] or row["worked_at"] != "point" or name in moved:
                self.wrong.append(f"{what}: it is not a point's device that can be operated, or it is operated twice")
                continue
            moved.add(name)
            stops.add(row["stop"])
            count, stands = len(row["positions"]), standing[name]
            stands_at = row["positions"][stands[0]] if len(set(stands)) == 1 else "unknown"
            if operation["from"] != stands_at:
                self.wrong.append(f"{what}: from {operation['from']}, but it stands at {stands_at}")
            turned = stands_at == "unknown" and (count == 2 or not row["visible"])
            on = {1: "other"} if count == 2 else {1: "next", **{by: f"next-{by}" for by in range(2, count)}}
            steps = next((by for by, word in on.items() if turned and word == operation["to"]), 0)
            if steps:
                standing[name] = [(position + steps) % count for position in stands]
                step["operate"] += [name] * steps
            elif operation["to"] in row["positions"] and operation["to"] != stands_at and not turned:
                standing[name] = [row["positions"].index(operation["to"])] * len(stands)
                step["set"][name] = operation["to"]
            else:
                self.wrong.append(f"{what}: it cannot be taken from {stands_at} to {operation['to']}")
        self.totals["walks"] += bool(operations)
        self.totals["operations"] += len(operations)
        step["standing"], step["stops"] = standing, stops
        return step

    def allowed(self, what, reading):
        """The terminals on each lead of a reading that a plan may use; none where it may not."""
        circuit = self.circuits.get(reading["circuit"])
        if circuit is None:
            self.wrong.append(f"{what}: there is no circuit {reading['circuit']}")
            return None
        leads, is_usable = self.leads_of(what, reading, circuit)
        if not is_usable:
            self.wrong.append(f"{what}: {reading['between']} is not a reading that a plan may use")
            return None
        # Of a circuit without a way: the source whose live terminals the first lead touches.
        sources = circuit.get("stops", {})
        at = next((source for source in sources if all(name.split(".")[0] == source for name in leads[0])), None)
        if (reading.get("at"), reading.get("stop")) != (at, sources.get(at)):
            self.wrong.append(f"{what}: at {reading.get('at')}, {reading.get('stop')}, expected {at}, {sources.get(at)}")
        return leads

    def leads_of(self, what, reading, circuit):
        """The terminals on each lead of a reading at its circuit's voltage, and whether any plan may use it."""
        if reading["volts"] != circuit["volts"]:
            self.wrong.append(f"{what}: {reading['volts']} V, expected {circuit['volts']} V")
        leads = [touched(lead, circuit["leads"]) for lead in reading["between"]]
        usable = [{frozenset(touched(lead, circuit["leads"])) for lead in between} for between in circuit["plan_readings"]]
        return leads, {frozenset(lead) for lead in leads} in usable


def value_of(plan, name):
    return plan["totals"][name]


def joined_up(taken, test_set, passes):
    """The test set with the plan's rounds behind it, as one test set: boards off and bridges out or linked first."""
    test_set = test_set or {"format": 1}
    passes = [dict(step) for step in passes]
    if passes:
        off = {name: "off" for name, row in taken.devices.items()
               if row["worked_at"] == "board" and any(taken.standing[name])}
        passes[0]["set"] = {**passes[0]["set"], **off}
        linked = {name.removeprefix("link of ") for name in taken.prepared if name.startswith("link of ")}
        passes[0]["remove"] = sorted(name for name in taken.fitted if taken.removable.get(name) and name not in linked)
        passes[0]["link"] = sorted(linked)
    return {**test_set, "pass": [*test_set.get("pass", []), *passes]}


def compare_least(cluster, plan):
    """Disagreements about the least that a plan can need, and about what no plan can test: brute force."""
    wrong = []
    walks, operations, stops = cluster.least()
    listed = cluster.least_by_listing()
    if listed and listed != (walks, operations, stops):
        wrong.append(f"the two searches of this check differ: {(walks, operations, stops)} and {listed}")
    # Rounds are chosen without a thought for the sources that are read at: their stops come on top.
    worked = [{operation.get("stop") for operation in row["operations"]} for row in plan["rounds"]]
    read = [{reading["stop"] for reading in row["readings"] if reading.get("stop")} for row in plan["rounds"]]
    stops += sum(len(there - here) for here, there in zip(worked, read))
    for name, value in (("walks", walks), ("operations", operations), ("stops", stops)):
        if plan["totals"][name] != value:
            wrong.append(f"totals: {name} is {plan['totals'][name]}, brute force finds {value}")
    for name, value in (("walks", walks), ("operations", operations)):
        if plan["bounds"][name] > value:
            wrong.append(f"bounds: {name} is {plan['bounds'][name]}, but {value} will do")
        if plan["optimal"][name] is not True:
            wrong.append(f"optimal: {name} is {plan['optimal'][name]} on a small cluster")
    said = [{"devices": [], **row} for row in plan["untestable"]]
    expected = [{"devices": [], **row} for row in cluster.untestable.values()]
    compare_rows(expected, said, ["length", "cores"], ["why", "devices"], "untestable", wrong)
    return wrong


def compare_walks(cluster, plan):
    """Disagreements about the fewest walks: CP-SAT."""
    fewest = cluster.fewest_walks_by_solver()
    return [] if plan["totals"]["walks"] == fewest else [f"totals: walks is {plan['totals']['walks']}, CP-SAT finds {fewest}"]


def compare_proof(cluster, plan):
    """Disagreements with the proof that pairs exclude one another: networkx components in every setting.

    networkx also makes the graph of which pairs share a setting: it must have no edge.
    """
    proof = plan["why_no_fewer_walks"]
    if proof["proof"] != "exclude-one-another":
        return []
    wrong = []
    if len(proof["pairs"]) < plan["totals"]["walks"]:
        wrong.append(f"proof: {len(proof['pairs'])} pairs for {plan['totals']['walks']} walks")
    rows = {settings.pair_name(row): pair_nodes(row) for row in cluster.pairs}
    starts = proof.get("starts") or [{}] * len(proof["pairs"])
    elements = []
    for pair, start in zip(proof["pairs"], starts, strict=True):
        name = tuple(pair)
        fits = [combination for combination in cluster.combinations if (name, combination) in cluster.left
                and all(cluster.taken.begun[device][combination] == position for device, position in start.items())]
        if not fits:
            return [*wrong, f"proof: {name} is not to be tested from {start}"]
        elements.append((name, fits[0]))
    tested_in = []
    for setting in cluster.settings:
        outcome = [[cluster.conductors.reading(cluster.stands(setting, combination), cluster.fitted, leads)
                    for combination in cluster.combinations] for _, _, leads in cluster.readings]
        sound = [number for number, row in enumerate(outcome) if not any(void for void, _ in row)]
        tested_in.append([any({outcome[number][combination][1](node) for node in rows[name]} == {0, 1}
                              for number in sound if cluster.counts_for(number, name)) for name, combination in elements])
    shared = networkx.Graph()
    shared.add_nodes_from(range(len(elements)))
    for tested in tested_in:
        shared.add_edges_from(itertools.combinations([at for at, is_tested in enumerate(tested) if is_tested], 2))
    wrong += [f"proof: {proof['pairs'][a]} and {proof['pairs'][b]} share a setting" for a, b in shared.edges]
    if any(tested_in[0]):
        wrong.append("proof: a pair is tested as things stand")
    for reason in proof["because"]:
        columns = [[cluster.names[at] for at in cluster.worked].index(device) for device in reason["devices"]]
        for number, (at, ways) in enumerate(zip(reason["of"], reason["needs"], strict=True)):
            stood = {tuple(cluster.position_name(column, setting[column]) for column in columns)
                     for setting, tested in zip(cluster.settings, tested_in) if tested[at]}
            if not stood <= {tuple(way) for way in ways}:
                wrong.append(f"proof: {proof['pairs'][at]} is tested in ways of {reason['devices']} that are not named")
            if any(way in other for other in reason["needs"][:number] for way in ways):
                wrong.append(f"proof: a way of {reason['devices']} is named for two pairs")
    return wrong


def compare_sets_with_networkx(cluster, conductors, rng, most=6):
    """The small union-finds of the brute force against networkx components, on some settings."""
    wrong = []
    for setting in rng.sample(cluster.settings, min(most, len(cluster.settings))):
        for combination in cluster.combinations:
            key = cluster.stands(setting, combination)
            solved = cluster.solve(setting, combination)
            for (row, between, leads), (void, plus, minus, _) in zip(cluster.readings, solved):
                found, lead_of = conductors.reading(key, cluster.fitted, leads)
                reached = {node for node, piece in conductors.piece.items() if piece in plus or piece in minus}
                if found != void or reached != {node for node in conductors.piece if lead_of(node) is not None}:
                    wrong.append(f"union-find and networkx differ at {row['circuit']} {between} in {setting}")
    return wrong


def follow_in_cover(got_cover, plan, volts_of):
    """Disagreements between `cover` of the test set with the plan behind it and the plan's own `untestable`; for `cover`
    a reading counts at any voltage."""
    missed = {(row["length"], *row["cores"]) for row in got_cover["pairs"] if row["required"] and not row["tested"]}
    untestable = {(row["length"], *row["cores"]) for row in plan["untestable"]}
    taken_at = {reading["volts"] for row in plan["rounds"] for reading in row["readings"]}
    untestable -= {name for name in untestable - missed if taken_at - {volts_of[name[0]]}}
    return [f"pair {name}: `cover` of the followed plan and `untestable` disagree" for name in sorted(missed ^ untestable)]


def prepare(network, circuits, board_leads, test_set, conductors, taken=None):
    """A test set followed (an empty one where there is none), with what it covers by networkx."""
    taken = taken or Taken(network, board_leads, test_set or {"format": 1})
    return taken, Coverage(network, taken, conductors.reading)
