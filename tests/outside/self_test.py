"""Shows that the checks can fail: right answers are made wrong on purpose, and each check must notice.

Every mutation below is tried on a row of cases wherever it applies. One that no case had room for, or that any
check responsible for it let pass, fails.
"""

import copy
import pathlib
import random
import tempfile

import cases
import draw_check
import judge_check
import locate_check
import plan_check
import switching
import switching_cases
import works_check
from asked import Case, Program, Refused, followed_outcome

INSTALLATIONS, CLUSTERS, SWITCHING, PLANTED, DRAWN = 40, 60, 30, 25, 10


def pick(rng, rows, wanted=lambda row: True):
    rows = [row for row in rows if wanted(row)]
    return rng.choice(rows) if rows else None


def drop(rng, rows, wanted=lambda row: True):
    row = pick(rng, rows, wanted)
    if row is not None:
        rows.remove(row)
    return row is not None


def alter(rng, rows, key, value, wanted=lambda row: True):
    """Gives one row another value under a key; `value` takes the old one."""
    row = pick(rng, rows, wanted)
    if row is None:
        return False
    old = row[key]
    row[key] = value(old)
    return row[key] != old


# Each takes a source of chance and a copy of an answer, alters it and says whether there was anything to alter.
NETWORK = {
    "a core's role lost": lambda rng, n: alter(rng, n["cores"], "roles", lambda old: old[1:], lambda row: row["roles"]),
    "a core's end let go": lambda rng, n: alter(rng, n["cores"], "ends", lambda old: [None, old[1]]),
    "a contact lost": lambda rng, n: drop(rng, n["contacts"]),
    "a join lost": lambda rng, n: drop(rng, n["joins"]),
    "a bridge lost": lambda rng, n: drop(rng, n["bridges"]),
    "a bridge made sure": lambda rng, n: alter(rng, n["bridges"], "conducts", lambda _: "sure"),
    "a bridge that passes": lambda rng, n: alter(rng, n["bridges"], "passes", lambda old: not old),
    "a bridge made fast": lambda rng, n: alter(rng, n["bridges"], "removable", lambda _: False),
    "a pair lost": lambda rng, n: drop(rng, n["pairs"]),
    "a pair's class changed": lambda rng, n: alter(rng, n["pairs"], "class", lambda _: "same-polarity"),
    "another stop": lambda rng, n: alter(rng, n["devices"], "stop", lambda _: "point:Q0", lambda row: row.get("stop")),
    "another ready position": lambda rng, n: alter(rng, n["devices"], "ready", lambda _: "on"),
    "a volt more": lambda rng, n: alter(rng, n["circuits"], "volts", lambda old: old + 1),
    "a plan reading lost": lambda rng, n: alter(rng, n["circuits"], "plan_readings", lambda old: old[1:]),
}
COVER = {
    "tested, and is not": lambda rng, c: alter(rng, c["pairs"], "tested", lambda _: True),
    "not tested, and is": lambda rng, c: alter(rng, c["pairs"], "tested", lambda _: False),
    "a void lost": lambda rng, c: alter(rng, c["readings"], "void", lambda _: None),
    "a void made up": lambda rng, c: alter(rng, c["readings"], "void", lambda _: "bridged", lambda row: not row["void"]),
    "doubtful for bridged": lambda rng, c: alter(rng, c["readings"], "void", lambda _: "doubtful", lambda row: row["void"]),
    "a reading left out of `by`": lambda rng, c: alter(rng, c["pairs"], "by", lambda old: old[1:]),
    "no longer required": lambda rng, c: alter(rng, c["pairs"], "required", lambda _: False),
    "a pair left out": lambda rng, c: drop(rng, c["pairs"]),
    "a position under test, and is not": lambda rng, c: alter(rng, c["positions"], "tested", lambda _: True),
    "a position not under test, and is": lambda rng, c: alter(rng, c["positions"], "tested", lambda _: False),
    "one more required": lambda rng, c: bool(c["summary"].update(required=c["summary"]["required"] + 1)) or True,
    "a metre more tested": lambda rng, c: bool(c["summary"].update(metres_tested=c["summary"]["metres_tested"] + 1)) or True,
}
WORKS = {
    "always, and never does": lambda rng, w: alter(rng, w["loads"], "works", lambda _: "always", lambda row: row["works"] == "never"),
    "never, and always does": lambda rng, w: alter(rng, w["loads"], "works", lambda _: "never", lambda row: row["works"] == "always"),
    "a load left out": lambda rng, w: drop(rng, w["loads"]),
    "fed by no circuit": lambda rng, w: alter(
        rng, w["loads"], "circuits", lambda _: [], lambda row: not any("." in conductor for conductor in row["conductors"])),
    "between nothing": lambda rng, w: alter(rng, w["loads"], "conductors", lambda _: [], lambda row: row["works"] == "always"),
}


def other_verdict(old):
    return "pass" if old != "pass" else "fail"


def in_figure(key, value):
    return lambda rng, j: alter(rng, [row["live_to_earth"] for row in j["circuits"] if row["live_to_earth"]], key, value)


def in_board(key, value, wanted=lambda row: True):
    return lambda rng, j: alter(rng, [row["live_to_earth"] for row in j["boards"] if row["live_to_earth"]], key, value, wanted)


def made_up(rng, figures):
    figure = pick(rng, [row for row in figures if row and "at_most" not in row and "less_than" not in row])
    if figure is None:
        return False
    figure["at_most"] = 1e6
    return True


JUDGE = {
    "another verdict on all": lambda rng, j: bool(j.update(verdict=other_verdict(j["verdict"]))) or True,
    "another verdict on a reading": lambda rng, j: alter(rng, j["readings"], "verdict", other_verdict),
    "another verdict on a circuit": lambda rng, j: alter(rng, j["circuits"], "verdict", other_verdict),
    "another verdict on a board": lambda rng, j: alter(rng, j["boards"], "verdict", other_verdict),
    "another reason": lambda rng, j: alter(rng, j["readings"], "why", lambda _: {"reason": "no reason"},
                                           lambda row: row.get("why")),
    "another column": lambda rng, j: alter(rng, j["readings"], "column", lambda _: "live-to-live"),
    "a value written otherwise": lambda rng, j: alter(rng, j["readings"], "megohms", lambda old: old + "0",
                                                      lambda row: row["megohms"]),
    "a reading lost": lambda rng, j: drop(rng, j["readings"]),
    "a bound above made up": lambda rng, j: made_up(rng, [row["live_to_earth"] for row in j["circuits"]]),
    "another record": in_figure("record", lambda _: "123.4"),
    "a reading left out of a figure": in_figure("readings", lambda old: old[1:]),
    "one more tested": lambda rng, j: alter(rng, j["circuits"], "tested", lambda old: old + 1),
    "a missed pair lost": lambda rng, j: drop(rng, j["missed"]),
    "a missed pair for no reason": lambda rng, j: alter(rng, j["missed"], "why", lambda _: {"reason": "no-rule"}),
    "a circuit left out of a board": in_board("circuits", lambda old: old[1:]),
    "a figure forgotten in a board": in_board("without", lambda old: old[1:], lambda row: row["without"]),
    "an unknown share forgotten": in_board("incomplete", lambda old: old[1:], lambda row: row.get("incomplete")),
    "a board known better from above": in_board("at_most", lambda old: old * 0.99, lambda row: "at_most" in row),
    "a reading elsewhere forgotten": lambda rng, j: alter(rng, j["circuits"], "elsewhere", lambda old: old[1:],
                                                          lambda row: row.get("elsewhere")),
    "a board compared otherwise": in_board("against", lambda old: "at-least" if old != "at-least" else "below"),
    "a hundredth more in parallel": in_board("at_least", lambda old: old * 1.01, lambda row: "at_least" in row),
}


def one_walk_less(rng, plan):
    """The last round with operations left out, and the totals brought into line."""
    worked = [row for row in plan["rounds"] if row["operations"]]
    if not worked:
        return False
    plan["rounds"].remove(worked[-1])
    plan["totals"]["walks"] -= 1
    plan["totals"]["operations"] -= len(worked[-1]["operations"])
    plan["totals"]["readings"] -= len(worked[-1]["readings"])
    for bound in ("walks", "operations"):
        plan["bounds"][bound] = min(plan["bounds"][bound], plan["totals"][bound])
    return True


def one_walk_more(rng, plan):
    """The first round's operations undone in a round of their own, everything in line: sound, and not the fewest."""
    worked = [row for row in plan["rounds"] if row["operations"]]
    if not worked or any("unknown" in (row["from"], row["to"]) for row in worked[-1]["operations"]):
        return False
    moved = worked[-1]["operations"]
    plan["rounds"].append({"operations": [{"device": row["device"], "from": row["to"], "to": row["from"]} for row in moved],
                           "readings": []})
    plan["totals"]["walks"] += 1
    plan["totals"]["operations"] += len(moved)
    return True


PLAN = {
    "one walk less": one_walk_less,
    "an operation lost": lambda rng, p: bool(p["rounds"]) and drop(rng, pick(rng, p["rounds"])["operations"]),
    "a reading lost": lambda rng, p: bool(p["rounds"]) and drop(rng, pick(rng, p["rounds"])["readings"]),
    "an addition kept quiet": lambda rng, p: bool(p["rounds"]) and bool(p["rounds"][0]["readings"]) and alter(
        rng, p["rounds"][0]["readings"], "adds", lambda old: old[1:]),
    "an operation from elsewhere": lambda rng, p: bool(p["rounds"]) and alter(
        rng, p["rounds"][-1]["operations"], "from", lambda _: "elsewhere"),
    "an extra forgotten": lambda rng, p: drop(rng, p["extras"]["used"]),
    "a reading of an extra lost": lambda rng, p: any(
        drop(rng, row["readings"]) for used in p["extras"]["used"] for row in used.get("rounds", [])[-1:]),
    "a pair left that an extra tests": lambda rng, p: bool(p["extras"]["used"]) and p["extras"]["left"].append(
        [p["extras"]["used"][0]["for"][0]["length"], *p["extras"]["used"][0]["for"][0]["cores"]]) is None,
    "one untestable pair forgotten": lambda rng, p: drop(rng, p["untestable"]),
    "a stop less": lambda rng, p: bool(p["totals"].update(stops=p["totals"]["stops"] - 1)) or True,
    "a bound above the plan": lambda rng, p: bool(p["bounds"].update(walks=p["totals"]["walks"] + 1)) or True,
}
LEAST = {
    "one walk less": one_walk_less,
    "one walk more": one_walk_more,
    "an operation more": lambda rng, p: bool(p["totals"].update(operations=p["totals"]["operations"] + 1)) or True,
    "a stop more": lambda rng, p: bool(p["totals"].update(stops=p["totals"]["stops"] + 1)) or True,
    "not called optimal": lambda rng, p: bool(p["optimal"].update(walks=False)) or True,
    "another reason": lambda rng, p: alter(rng, p["untestable"], "why", lambda _: "no reason"),
    "a pair untestable, and is not": lambda rng, p: bool(p["untestable"].append(
        {"length": "W0", "cores": ["brown", "cpc"], "why": "same-lead"})) or True,
}
MODEL = {
    "one walk less": one_walk_less,
    "one walk more": one_walk_more,
    "an operation more": lambda rng, p: bool(p["totals"].update(operations=p["totals"]["operations"] + 1)) or True,
    "an operation less": lambda rng, p: bool(p["totals"].update(operations=p["totals"]["operations"] - 1)) or True,
    "a bound above the least": lambda rng, p: bool(p["bounds"].update(operations=p["totals"]["operations"] + 1)) or True,
    "operations not called optimal": lambda rng, p: bool(p["optimal"].update(operations=False)) or True,
}


def in_proof(with_proof):
    """Alters the proof that pairs exclude one another, where it is that."""
    def altered(rng, plan):
        proof = plan["why_no_fewer_walks"]
        return proof["proof"] == "exclude-one-another" and with_proof(rng, plan, proof)
    return altered


def a_pair_that_fits(rng, plan, proof):
    """The second pair made one that a reading tests together with the first."""
    if proof.get("starts"):
        return False
    first = proof["pairs"][0]
    added = [reading["adds"] for row in plan["rounds"] for reading in row["readings"]]
    fits = [pair for adds in added if first in adds for pair in adds if pair != first]
    proof["pairs"][1] = rng.choice(fits) if fits else first
    return True


def positions_swapped(rng, plan, proof):
    reason = pick(rng, proof["because"])
    if reason is None:
        return False
    reason["needs"][0], reason["needs"][1] = reason["needs"][1], reason["needs"][0]
    return True


def a_pair_less(rng, plan, proof):
    proof["because"] = []
    for key in ("pairs", "starts"):
        if proof.get(key):
            proof[key].pop()
    return True


PROOF = {
    "a pair that fits another": in_proof(a_pair_that_fits),
    "the positions of a switch swapped": in_proof(positions_swapped),
    "a pair fewer than walks": in_proof(a_pair_less),
    "a way left out": in_proof(lambda rng, plan, proof: bool(proof["because"]) and bool(proof["because"][0]["needs"][0].pop())),
}
WALKS = {"one walk less": one_walk_less, "one walk more": one_walk_more}


def to_planted(rng, got, key, value):
    """Alters the gap that the fault was planted in; `value` takes the leakage planted there."""
    row, leak = got["planted"]
    if row is None:
        return False
    for gap in got["gaps"]:
        if gap["gap"] == row:
            gap[key] = value(leak)
            return True
    return False


LOCATE = {
    "the fault cleared": lambda rng, g: to_planted(rng, g, "state", lambda _: "cleared"),
    "a least bound above what leaks": lambda rng, g: to_planted(rng, g, "least_microsiemens", lambda leak: leak * 1.01),
    "a greatest bound below what leaks": lambda rng, g: to_planted(rng, g, "greatest_microsiemens", lambda leak: leak * 0.99),
    "one fault more": lambda rng, g: bool(g["faults"].update(at_least=2)) or True,
    "a contradiction made up": lambda rng, g: bool(g["conflicts"].append({"readings": [[1, 1]]})) or True,
    "sound called faulty for certain": lambda rng, g: alter(
        rng, g["gaps"], "state", lambda _: "certain", lambda row: row["state"] == "cleared"),
    "the fault no explanation": lambda rng, g: g["faults"]["at_least"] == 1 and to_planted(
        rng, g, "explains_alone", lambda _: False),
}
BOUNDS = {
    "a bound called tight, and is not": lambda rng, g: alter(
        rng, g["gaps"], "greatest_microsiemens", lambda old: old * 1.5 + 1e-3,
        lambda row: row["tight"] and row["greatest_microsiemens"] is not None),
    "a bound tighter than it is": lambda rng, g: alter(
        rng, g["gaps"], "greatest_microsiemens", lambda old: old * 0.5, lambda row: (row["greatest_microsiemens"] or 0) > 1e-3),
    "a least bound tighter than it is": lambda rng, g: alter(rng, g["gaps"], "least_microsiemens", lambda old: old + 1e-3),
}
DRAW = {
    "a core not drawn": lambda rng, layout: drop(rng, layout["edges"]),
    "a core to another box": lambda rng, layout: alter(rng, layout["edges"], "head", lambda old: layout["edges"][0]["tail"]),
    "another core": lambda rng, layout: alter(rng, layout["edges"], "id", lambda old: old + "s"),
}


class Noticing:
    """Mutations tried and noticed, by check and mutation."""

    def __init__(self):
        self.tried, self.missed = {}, {}

    def mutate(self, check, mutations, rng, answer, compare):
        for name, mutation in mutations.items():
            self.tried.setdefault((check, name), 0)
            altered = copy.deepcopy(answer)
            if not mutation(rng, altered) or altered == answer:
                continue
            self.tried[check, name] += 1
            if not compare(altered):
                self.missed[check, name] = self.missed.get((check, name), 0) + 1


def run(program_path, tally):
    """Tries every mutation and adds to the tally, for each, whether it was tried and always noticed."""
    noticing = Noticing()
    try:
        with tempfile.TemporaryDirectory() as folder:
            program = Program(program_path, pathlib.Path(folder))
            for seed in range(INSTALLATIONS):
                mutate_installation(program, seed, noticing)
            for seed in range(CLUSTERS):
                mutate_cluster(program, seed, noticing)
            for seed in range(SWITCHING):
                mutate_switching(program, seed, noticing)
            for seed in range(DRAWN):
                mutate_drawing(program, seed, noticing)
            for seed in range(PLANTED):
                mutate_plant(program, seed, noticing)
    except (Refused, RuntimeError, KeyError, ValueError) as error:
        tally.add("self-test", "the checks notice wrong answers", [f"{type(error).__name__}: {error}"])
        return
    for check, name in noticing.tried:
        tried, missed = noticing.tried[check, name], noticing.missed.get((check, name), 0)
        wrong = ["no case had room for it"] if not tried else [f"let pass {missed} of {tried} times"] if missed else []
        tally.add(f"{check}: {name}", "the checks notice wrong answers", wrong)


def mutate_installation(program, seed, noticing):
    rng = random.Random(f"wrong on purpose {seed}")
    case = Case(program, cases.installation_case(seed))
    if case.check_network(case.network):
        return
    noticing.mutate("network", NETWORK, rng, case.network, case.check_network)
    cover = program.ask("cover", case.file, case.test_set, case.need)
    _, judged, judgement, _, _ = judge_check.asked_of(program, seed, case.case)
    noticing.mutate("judge", JUDGE, rng, judgement, judged.compare)
    works = program.ask("works", case.file, None)
    noticing.mutate("works", WORKS, rng, works, lambda altered: works_check.compare_works(
        random.Random(f"works {seed}"), case.file, case.reference, program.folder, altered)[0])
    for check, found in (("networkx", case.coverage_by_networkx()), ("ngspice", case.coverage_by_spice())):
        noticing.mutate(check, COVER, rng, cover, lambda altered: case.compare_cover(found, altered))


def mutate_cluster(program, seed, noticing):
    rng = random.Random(f"wrong on purpose {seed}")
    case = Case(program, cases.cluster_case(seed))
    if case.check_network(case.network):
        return
    plan = program.ask("plan", case.file, case.test_set, case.need)
    noticing.mutate("followed", PLAN, rng, plan, lambda altered: followed_outcome(case, altered))
    cluster = case.cluster()
    noticing.mutate("brute force", LEAST, rng, plan, lambda altered: plan_check.compare_least(cluster, altered))
    noticing.mutate("CP-SAT", WALKS, rng, plan, lambda altered: plan_check.compare_walks(cluster, altered))
    noticing.mutate("proof", PROOF, rng, plan, lambda altered: plan_check.compare_proof(cluster, altered))


def mutate_switching(program, seed, noticing):
    rng = random.Random(f"wrong on purpose {seed}")
    case = Case(program, switching_cases.case(seed))
    least = switching.least(case.switching())
    if least[1] and least[1][0] == least[1][1]:
        plan = program.ask("plan", case.file, case.test_set, case.need)
        noticing.mutate("CP-SAT operations", MODEL, rng, plan, lambda altered: switching.compare_solver(least, altered))


def mutate_drawing(program, seed, noticing):
    rng = random.Random(f"wrong on purpose {seed}")
    file = cases.installation_case(seed)["installation"]
    circuit = file["length"][0]["circuit"]
    layout = draw_check.graphviz(draw_check.graph_of(program, file, circuit))
    noticing.mutate("Graphviz", DRAW, rng, layout, lambda altered: draw_check.cores_differ(file, circuit, altered))


def mutate_plant(program, seed, noticing):
    rng = random.Random(f"wrong on purpose {seed}")
    case = locate_check.plant_case(seed)
    network, taken, copper, plants = locate_check.planted(case, program.folder, 4)
    for plant, values in plants:
        filled = locate_check.written(case["test_set"], values)
        got = program.ask("locate", case["installation"], filled, more=locate_check.OPTIONS)
        if locate_check.compare_plant(copper, plant, got):
            continue
        own = next((row["gap"] for row in got["gaps"]
                    if locate_check.member_pieces(copper, row["members"][0]) == plant.fault), None)
        leak = plant.total[plant.fault]
        # What is planted below the limit is no fault, and may be called cleared.
        limit = 1.0 / locate_check.LIMIT + copper.gaps.get(plant.fault, 0.0) / 1000.0 / locate_check.HEALTHY
        got["planted"] = own if leak > limit * 1.01 else None, leak
        noticing.mutate("planted", LOCATE, rng, got, lambda altered: locate_check.compare_plant(copper, plant, altered))
        sums = locate_check.sums_of(case, network, taken, copper, values, got)
        noticing.mutate("HiGHS", BOUNDS, rng, got, lambda altered: locate_check.compare_bounds(
            rng, copper, sums, altered, most=len(altered["gaps"])))
