"""One case put to the program: what it answers, and what each check makes of the answers."""

import json
import random
import subprocess

import cases
import coverage
import judge_check
import network_check
import passes
import plan_check
import reference
import settings
import switching
import spice_check
import works_check


class Program:
    """The program under check, run once for each question."""

    def __init__(self, path, folder):
        self.path = path
        self.folder = folder

    def ask(self, question, installation, test_set, need=None, more=()):
        """The JSON that the program prints for these files."""
        return spelled_out(json.loads(self.text(question, installation, test_set, need, [*more, "--json"])))

    def text(self, question, installation, test_set, need=None, more=()):
        """What the program prints for these files."""
        files = []
        for name, content in (("installation", installation), ("test_set", test_set)):
            if content is not None:
                file = self.folder / f"{name}.json"
                file.write_text(json.dumps(content, indent=1))
                files.append(str(file))
        command = [self.path, question, *files, *(["--need", need] if need else []), *more]
        run = subprocess.run(command, capture_output=True, text=True, timeout=120)
        if run.returncode:
            raise Refused(f"`{question}` ended with {run.returncode}: {run.stderr.strip()[-1500:]}")
        return run.stdout


class Refused(Exception):
    """The program did not answer."""


def spelled_out(answer):
    """An answer of `cover` or `judge` with what it refers to by numbers, or through boards behind, in its place."""
    lists = answer.get("reading_lists", [])
    for row in answer.get("pairs", []) if "reading_lists" in answer else []:
        row["by"] = [] if row["by"] is None else lists[row["by"]]
    for row in answer.get("missed", []):
        if row["why"]["reason"] == "no-good-reading":
            row["why"]["readings"] = lists[row["why"]["readings"]]
    boards = {row["board"]: row for row in answer.get("boards", []) if "not_passed" in row}
    if not boards:
        return answer
    order = [row["circuit"] for row in answer["circuits"]]
    own = json.loads(json.dumps(boards))
    for name, row in boards.items():
        behind, waiting = [], [name]
        while waiting:
            board = waiting.pop()
            if board in own and board not in behind:
                behind.append(board)
                waiting += own[board].get("behind", [])

        def listed(pick):
            found = {circuit for board in behind for circuit in pick(own[board])}
            return [circuit for circuit in order if circuit in found]

        row["not_passed"] = listed(lambda board: board["not_passed"])
        for column in ("live_to_live", "live_to_earth"):
            if row[column]:
                for key in ("circuits", "without", "incomplete"):
                    row[column][key] = listed(lambda board: (board[column] or {}).get(key, []))
    return answer


class Case:
    """One installation with a test set, what the program answers on it, and what the checks make of that."""

    def __init__(self, program, case):
        self.program = program
        self.case, self.seed = case, case["seed"]
        self.file = case["installation"]
        self.test_set = case["test_set"]
        self.need = case["need"]
        self.reference = reference.network(self.file)
        self.board_leads = reference.board_leads(self.file)
        self.network = program.ask("network", self.file, None)
        self.metres = cases.metres(self.file)

    def outlook(self):
        """The program's own network with the test set followed on it, and networkx to say what is joined."""
        taken = passes.Taken({**self.network, "circuits": self.reference["circuits"]}, self.board_leads,
                             self.test_set or {"format": 1})
        return taken, network_check.Conductors(self.network, taken.devices)

    def check_network(self, got):
        return network_check.compare_network(self.reference, got)

    def coverage_by_networkx(self):
        taken, conductors = self.outlook()
        return coverage.Coverage(self.network, taken, conductors.reading)

    def coverage_by_spice(self):
        taken = passes.Taken(self.reference, self.board_leads, self.test_set)
        deck = spice_check.solved(self.reference, taken, self.program.folder)
        return coverage.Coverage(self.reference, taken, deck.reading)

    def compare_cover(self, found, got):
        return coverage.compare_cover(found.cover(self.need, self.metres), got)

    def follow(self, plan):
        """What is wrong with a plan, following it; and the test set with the plan behind it."""
        taken, conductors = self.outlook()
        known = coverage.Coverage(self.network, taken, conductors.reading)
        fixed = {point["id"] for point in self.file.get("point", []) if point.get("fixed")}
        followed = plan_check.Followed(self.network, self.reference["circuits"], taken, known.tested_in, self.need,
                                       conductors, plan, fixed)
        return followed.wrong, plan_check.joined_up(taken, self.test_set, followed.passes)

    def cluster(self):
        """Every setting gone through by itself."""
        return settings.Cluster(*self.to_be_tested())

    def switching(self):
        """All settings at once, as tables."""
        return switching.Switching(*self.to_be_tested())

    def to_be_tested(self):
        taken, conductors = self.outlook()
        known = coverage.Coverage(self.network, taken, conductors.reading)
        return self.network, self.reference["circuits"], taken, known.tested_in, self.need, conductors


NETWORK, COVER, SPICE = "network: second reading of the file", "cover: networkx components", "cover: ngspice voltages"
FOLLOWED, BRUTE, SOLVER = "plan: followed, step by step and in cover", "plan: brute force", "plan: CP-SAT set cover"
JUDGE, CSV = "judge: worked out again in fractions", "judge: the record as CSV"
SETS = "plan: the brute force itself against networkx"
MODEL = "plan: CP-SAT walks and operations"
WALKS_ALONE = "plan: CP-SAT walks, too many orders for operations"
BETWEEN = "plan: CP-SAT walks, and operations within its bounds"
WORKS = "works: supply conductors by ngspice, circuits by networkx"
PROOF = "plan: pairs that exclude one another, networkx"
TABLES = "plan: the tables for CP-SAT against networkx"


def installation_outcomes(case, with_plan):
    """Each check's name with the disagreements that it found on an installation; and what the case was like."""
    outcomes = [(NETWORK, case.check_network(case.network))]
    if outcomes[0][1]:
        return outcomes, []
    got = case.program.ask("cover", case.file, case.test_set, case.need)
    found = case.coverage_by_networkx()
    outcomes.append((COVER, case.compare_cover(found, got)))
    outcomes.append((SPICE, case.compare_cover(case.coverage_by_spice(), got)))
    _, judged, judgement, record, seen = judge_check.asked_of(case.program, case.seed, case.case)
    outcomes.append((JUDGE, judged.compare(judgement)))
    outcomes.append((CSV, judged.compare_csv(record, judgement)))
    works, fed = works_check.works_of(case.program, case.seed, case.file, case.reference)
    outcomes.append((WORKS, works))
    if with_plan:
        outcomes.append((FOLLOWED, followed_outcome(case)))
    return outcomes, features(case, found, got) + seen + fed


def followed_outcome(case, plan=None):
    plan = plan or case.program.ask("plan", case.file, case.test_set, case.need)
    wrong, joined = case.follow(plan)
    if not wrong:
        cover = case.program.ask("cover", case.file, joined, case.need)
        wrong = plan_check.follow_in_cover(cover, plan, settings.volts_of(case.reference["circuits"]))
    return wrong


def cluster_outcomes(case, seed):
    outcomes = [(NETWORK, case.check_network(case.network))]
    if outcomes[0][1]:
        return outcomes, []
    plan = case.program.ask("plan", case.file, case.test_set, case.need)
    outcomes.append((FOLLOWED, followed_outcome(case, plan)))
    cluster = case.cluster()
    outcomes.append((SETS, plan_check.compare_sets_with_networkx(cluster, cluster.conductors, random.Random(seed))))
    outcomes.append((BRUTE, plan_check.compare_least(cluster, plan)))
    outcomes.append((SOLVER, plan_check.compare_walks(cluster, plan)))
    if plan["why_no_fewer_walks"]["proof"] == "exclude-one-another":
        outcomes.append((PROOF, plan_check.compare_proof(cluster, plan)))
    outcomes.append(solver_outcome(case.switching(), plan))
    seen = [("plan", "walks", min(plan["totals"]["walks"], 3)), ("plan", "settings over 100", len(cluster.settings) > 100)]
    seen += [("plan", "untestable", row["why"]) for row in plan["untestable"]]
    seen += [("plan", "extra", used["do"]) for used in plan["extras"]["used"]]
    seen.append(("plan", "left by extras", bool(plan["extras"]["left"])))
    seen += [("plan", "operation", "other" if operation["to"] == "other" else operation["from"] == "unknown")
             for row in plan["rounds"] for operation in row["operations"]]
    seen.append(("plan", "stops below operations", plan["totals"]["stops"] < plan["totals"]["operations"]))
    return outcomes, seen


def solver_outcome(found, plan):
    walks, operations = switching.least(found)
    check = WALKS_ALONE if operations is None else MODEL if operations[0] == operations[1] else BETWEEN
    return check, switching.compare_solver((walks, operations), plan)


def switching_outcomes(case, seed):
    """The same for switches that bear on one another, too many settings to go through one by one."""
    outcomes = [(NETWORK, case.check_network(case.network))]
    if outcomes[0][1]:
        return outcomes, []
    plan = case.program.ask("plan", case.file, case.test_set, case.need)
    outcomes.append((FOLLOWED, followed_outcome(case, plan)))
    found = case.switching()
    outcomes.append((TABLES, switching.compare_tables(found, found.conductors, random.Random(seed))))
    outcomes.append(solver_outcome(found, plan))
    seen = [("switching", "walks", min(plan["totals"]["walks"], 5)),
            ("switching", "operations over 6", plan["totals"]["operations"] > 6),
            ("switching", "devices in one cluster", found.largest_cluster()),
            ("switching", "operation", "other" if "other" in str(plan["rounds"]) else "known")]
    return outcomes, seen


def features(case, found, got):
    """What a case was like: the checks are worth nothing on cases that are all alike."""
    seen = [("reading", row["void"]) for row in got["readings"]]
    seen += [("pair", row["class"], row["tested"]) for row in got["pairs"]]
    seen += [("position", row["tested"]) for row in got["positions"]]
    seen += [("kind", point["kind"]) for point in case.file["point"]]
    seen += [("way", way["device"]) for board in case.file["board"] for way in board["way"]]
    seen += [("earth pair", "earth" in row["cores"]) for row in got["pairs"]]
    seen.append(("phases", case.reference["installation"]["phases"]))
    seen.append(("boards", len(case.file["board"])))
    seen.append(("unknown", min(2, len(found.taken.unknown))))
    seen.append(("over 30 lengths", len(case.file["length"]) > 30))
    seen += [("by some combinations only", True) for tested in found.tested_in
             if 0 < len(tested) < found.taken.combination_count]
    return seen


EVERY_RUN_HAS = [
    *[("reading", void) for void in (None, "bridged", "doubtful")],
    *[("pair", name, tested) for name in ("spare", "to-earth", "between-live", "same-polarity") for tested in (True, False)],
    *[("position", tested) for tested in (True, False)],
    *[("kind", name) for name in (
        "one-way", "two-way", "intermediate", "double-pole", "triple-pole", "selector-3", "selector-4", "selector-5",
        "fused-connection", "socket", "switched-socket", "luminaire", "appliance", "appliance-3", "detector", "sensor",
        "dimmer", "contactor", "indicator", "surge-protector", "transformer", "junction", "key-switch", "change-over",
        "heater-pack", "float-switch")],
    *[("way", name) for name in ("mcb", "fuse", "isolator", "rcbo")],
    ("earth pair", True), ("phases", 1), ("phases", 3), ("boards", 1), ("boards", 2), ("boards", 3), ("unknown", 0),
    ("unknown", 1), ("unknown", 2), ("over 30 lengths", True), ("by some combinations only", True),
    *judge_check.EVERY_RUN_HAS, *works_check.EVERY_RUN_HAS]
EVERY_PLAN_RUN_HAS = [
    *[("plan", "walks", walks) for walks in (0, 1, 2, 3)], ("plan", "settings over 100", True),
    *[("plan", "untestable", why) for why in ("never-reached", "unknown-position", "same-lead", "always-bridged")],
    *[("plan", "extra", what) for what in ("leave-fitted", "take-instrument-to", "take-off", "find-out", "together")],
    ("plan", "left by extras", True), ("plan", "left by extras", False),
    *[("plan", "operation", how) for how in ("other", True, False)], ("plan", "stops below operations", True)]
EVERY_SWITCHING_RUN_HAS = [
    *[("switching", "walks", walks) for walks in (1, 2, 3, 4, 5)], ("switching", "operations over 6", True),
    *[("switching", "devices in one cluster", count) for count in range(4, 15)],
    *[("switching", "operation", how) for how in ("other", "known")]]
ENOUGH_FOR_VARIETY = 200
