"""Checks the program against things that none of its authors wrote: see README.md beside this file.

    python3 tests/outside/check.py --program target/release/lengthwise

Prints a line for each check and at last `N passed, N failed`; ends with 1 where anything disagreed or a tool is
missing.
"""

import argparse
import collections
import concurrent.futures
import importlib
import importlib.metadata
import json
import pathlib
import random
import shutil
import subprocess
import sys
import tempfile
import tomllib

HERE = pathlib.Path(__file__).resolve().parent


def missing_tools():
    """What must be installed and is not, in words."""
    missing = []
    for line in (HERE / "requirements.txt").read_text().split():
        name, _, least = line.partition(">=")
        try:
            version = importlib.metadata.version(name)
        except importlib.metadata.PackageNotFoundError:
            missing.append(f"{name} is not installed: pip install -r tests/outside/requirements.txt")
            continue
        if [int(part) for part in version.split(".")[:2]] < [int(part) for part in least.split(".")[:2]]:
            missing.append(f"{name} is {version}, and {least} is the least: pip install -r tests/outside/requirements.txt")
    for tool, package in (("ngspice", "ngspice"), ("dot", "graphviz")):
        if not shutil.which(tool):
            missing.append(f"{tool} is not installed: install the Debian package {package}")
    return missing


def made(kind, seed):
    makers = {"installation": cases.installation_case, "cluster": cases.cluster_case, "switching": switching_cases.case,
              "plants": locate_check.plant_case}
    return makers[kind](seed)


def one_case(kind, seed, program_path, keep):
    """Runs every check on one case; returns (check, disagreements) rows and what the case was like."""
    case = made(kind, seed)
    with tempfile.TemporaryDirectory() as folder:
        try:
            program = Program(program_path, pathlib.Path(folder))
            if kind == "plants":
                outcomes, seen = locate_check.plant_outcomes(program, case)
            else:
                opened = Case(program, case)
                outcomes, seen = {"installation": lambda: installation_outcomes(opened, seed % 4 == 0),
                                  "cluster": lambda: cluster_outcomes(opened, seed),
                                  "switching": lambda: switching_outcomes(opened, seed)}[kind]()
        except switching.TooMany:
            outcomes, seen = [], ["switching: too many kinds of setting to compare"]
        except (Refused, RuntimeError, KeyError, ValueError, IndexError, TypeError, subprocess.TimeoutExpired) as error:
            outcomes, seen = [(f"{kind}: answered in the agreed form", [f"{type(error).__name__}: {error}"])], []
    if any(wrong for _, wrong in outcomes):
        keep_case(keep, f"{kind}-{seed}", case, outcomes)
    return kind, seed, outcomes, seen


def keep_case(keep, name, case, outcomes):
    """The files of a case that something disagreed on, and what did."""
    folder = pathlib.Path(keep) / name
    folder.mkdir(parents=True, exist_ok=True)
    for what in ("installation", "test_set"):
        if case[what] is not None:
            (folder / f"{what}.json").write_text(json.dumps(case[what], indent=1))
    lines = [f"need {case['need']}"]
    lines += [f"{check}: {wrong}" for check, found in outcomes for wrong in found]
    (folder / "disagreements.txt").write_text("\n".join(lines) + "\n")


def demo_cases(folder):
    """The installation of the demo, and every test set there that is of no session."""
    files = {path: tomllib.loads(path.read_text()) for path in sorted(folder.glob("*.toml"))}
    installations = [file for file in files.values() if "installation" in file]
    test_sets = [(path, file) for path, file in files.items() if "installation" not in file and "format" in file]
    # The records of a session are alike but for the last reading.
    test_sets = [row for row in test_sets if not row[0].stem.startswith("fault-")]
    if len(installations) != 1 or not test_sets:
        raise Refused(f"{folder} holds {len(installations)} installations and {len(test_sets)} test sets")
    return installations[0], [(path.name, test_set) for path, test_set in test_sets]


# How often the demo's rockers are drawn to stand somehow.
DRAWN_STARTS = 12
HIDDEN_KINDS = {"two-way": ("L1", "L2"), "intermediate": ("straight", "crossed")}


def standing(installation, test_set, seed, known=()):
    """The test set with a position, drawn by a seed, for every rocker that it does not name; `known` ones as they are."""
    draw = random.Random(seed)
    drawn = {row["id"]: draw.choice(HIDDEN_KINDS[row["kind"]]) for row in installation["point"]
             if row["kind"] in HIDDEN_KINDS and "stands" not in row}
    return {**test_set, "start": {**drawn, **dict(known), **test_set.get("start", {})}}


def unread_rockers(program, installation, test_set):
    """What the program claims while nobody knows how the rockers stand, against networkx for single ways to stand.

    What is tested is so for every start that is drawn; of a pair that is not, the start that the program shows leaves
    it untested.
    """
    wrong = []
    got = program.ask("cover", installation, test_set, "every-pair")
    names = [(row["length"], tuple(row["cores"])) for row in got["pairs"]]

    def tested(start):
        case = {"seed": 0, "installation": installation, "test_set": start, "need": "every-pair"}
        found = Case(program, case).coverage_by_networkx()
        return {name for name, combinations in zip(names, found.tested_in) if combinations}

    claimed = {name for name, row in zip(names, got["pairs"]) if row["tested"]}
    for seed in range(DRAWN_STARTS):
        extra = claimed - tested(standing(installation, test_set, seed))
        wrong += [f"{name} is called tested, and is not for start {seed}" for name in sorted(extra)]
    shown = {}
    for name, row in zip(names, got["pairs"]):
        missed = row.get("missed", {})
        if missed.get("reason") == "depends-on-start":
            shown.setdefault(tuple(map(tuple, missed["example"])), []).append(name)
    for example, pairs in shown.items():
        reached = tested(standing(installation, test_set, 0, example))
        wrong += [f"{name} is tested for {example}, and is said not to be" for name in pairs if name in reached]
    return wrong


class Tally:
    """How often each check passed and failed."""

    def __init__(self, keep):
        self.passed, self.failed = collections.Counter(), collections.Counter()
        self.seen = collections.Counter()
        self.keep = keep
        self.shown = collections.Counter()

    def add(self, name, check, wrong):
        if not wrong:
            self.passed[check] += 1
            return
        self.failed[check] += 1
        self.shown[check] += 1
        if self.shown[check] <= 5:
            print(f"DISAGREES {check}: {name}: {len(wrong)} found, first: {wrong[0]}", flush=True)

    def lines(self):
        for check in sorted(self.passed.keys() | self.failed.keys()):
            yield f"{check}: {self.passed[check]} agreed, {self.failed[check]} disagreed"


def run_cases(options, tally):
    jobs = [("installation", seed) for seed in range(options.seed, options.seed + options.installations)]
    jobs += [("cluster", seed) for seed in range(options.seed, options.seed + options.clusters)]
    jobs += [("switching", seed) for seed in range(options.seed, options.seed + options.switching)]
    planted = -(-options.plants // locate_check.PLANTS_PER_INSTALLATION)
    jobs += [("plants", seed) for seed in range(options.seed, options.seed + planted)]
    with concurrent.futures.ProcessPoolExecutor(options.workers) as pool:
        waiting = {pool.submit(one_case, kind, seed, options.program, options.keep) for kind, seed in jobs}
        for done in concurrent.futures.as_completed(waiting):
            kind, seed, outcomes, seen = done.result()
            for check, wrong in outcomes:
                tally.add(f"{kind} seed {seed}", check, wrong)
            tally.seen.update(seen)
    for count, having, what in ((options.installations, EVERY_RUN_HAS, "installations"),
                                (options.clusters, EVERY_PLAN_RUN_HAS, "clusters"),
                                (options.switching, EVERY_SWITCHING_RUN_HAS, "switches"),
                                (options.plants, locate_check.EVERY_PLANT_RUN_HAS, "plants")):
        if count >= ENOUGH_FOR_VARIETY:
            for feature in having:
                wrong = [] if tally.seen[feature] else ["no case had it"]
                tally.add(" ".join(map(str, feature)), f"the random {what} are various", wrong)


def run_demo(options, tally):
    try:
        installation, test_sets = demo_cases(pathlib.Path(options.demo))
    except (Refused, OSError) as error:
        tally.add("demo", "demo: read", [str(error)])
        return
    found = [(name, {"seed": name, "installation": installation, "need": need,
                     "test_set": standing(installation, test_set, f"{name} {need}")})
             for name, test_set in test_sets for need in ("earth", "standard", "every-pair")]
    for name, case in found:
        with tempfile.TemporaryDirectory() as folder:
            try:
                opened = Case(Program(options.program, pathlib.Path(folder)), case)
                outcomes, _ = installation_outcomes(opened, True)
            except (Refused, RuntimeError, KeyError, ValueError) as error:
                outcomes = [("answered in the agreed form", [f"{type(error).__name__}: {error}"])]
        if any(wrong for _, wrong in outcomes):
            keep_case(options.keep, f"demo-{name}-{case['need']}", case, outcomes)
        for check, wrong in outcomes:
            tally.add(f"demo with {name}, need {case['need']}", f"demo: {check}", wrong)
    for name, test_set in test_sets:
        with tempfile.TemporaryDirectory() as folder:
            try:
                wrong = unread_rockers(Program(options.program, pathlib.Path(folder)), installation, test_set)
            except (Refused, RuntimeError, KeyError, ValueError) as error:
                wrong = [f"{type(error).__name__}: {error}"]
        tally.add(f"demo with {name}", "demo: rockers unread, by networkx for single starts", wrong)
    try:
        wrong = demo_faults.differences(options.program)
    except (Refused, RuntimeError, KeyError, ValueError, OSError) as error:
        wrong = [f"{type(error).__name__}: {error}"]
    tally.add("demo", "demo: records of the hidden faults, by ngspice", wrong)


def run_drawings(options, tally):
    """The demo and as many circuits of random installations, held against Graphviz."""
    files = [("demo", demo_cases(pathlib.Path(options.demo))[0])] if options.demo != "none" else []
    files += [(f"installation seed {seed}", cases.installation_case(seed)["installation"])
              for seed in range(options.seed, options.seed + options.drawings)]
    drawn = draw_check.Drawn()
    with tempfile.TemporaryDirectory() as folder:
        program = Program(options.program, pathlib.Path(folder))
        for name, file in files:
            for circuit in dict.fromkeys(row["circuit"] for row in file.get("length", [])):
                try:
                    wrong = drawn.add(program, file, circuit)
                except (Refused, RuntimeError, KeyError, ValueError, subprocess.TimeoutExpired) as error:
                    wrong = [f"{type(error).__name__}: {error}"]
                tally.add(f"{name}, {circuit}", "draw: the graph, by Graphviz", wrong)
    if files:
        tally.add("all drawn", "draw: crossings and lengths, against dot", drawn.too_much())


def main():
    parser = argparse.ArgumentParser(
        description="Check the program against ngspice, networkx, scipy, OR-Tools and brute force.")
    parser.add_argument("--program", required=True, help="the lengthwise program")
    parser.add_argument("--installations", type=int, default=2000, help="random installations for network and cover")
    parser.add_argument("--clusters", type=int, default=500, help="random small clusters for plan")
    parser.add_argument("--switching", type=int, default=2000, help="random clusters of 4 to 14 switches for plan")
    parser.add_argument("--plants", type=int, default=1000, help="leakages planted for locate, ten to an installation")
    parser.add_argument("--drawings", type=int, default=200, help="random installations whose circuits are drawn")
    parser.add_argument("--seed", type=int, default=0, help="the first seed")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--demo", default=str(HERE.parent.parent / "demo"), help="folder of the demo installation; `none` leaves it out")
    parser.add_argument("--keep", default=None, help="where to leave the files of cases that disagree")
    parser.add_argument("--self-test", action="store_true", help="only show that the checks notice answers made wrong on purpose")
    options = parser.parse_args()
    options.keep = options.keep or tempfile.mkdtemp(prefix="outside-")
    options.program = str(pathlib.Path(options.program).resolve())
    if not pathlib.Path(options.program).is_file():
        sys.exit(f"there is no program at {options.program}: build it first (cargo build --release)\n0 passed, 1 failed")
    tally = Tally(options.keep)
    self_test.run(options.program, tally)
    if not options.self_test:
        for row in schema_check.outcomes(options.program):
            tally.add(*row)
        if options.demo != "none":
            run_demo(options, tally)
        run_cases(options, tally)
        run_drawings(options, tally)
    for line in tally.lines():
        print(line)
    failed = tally.failed.total()
    if failed:
        print(f"the files of cases that disagreed are in {options.keep}")
    print(f"{tally.passed.total()} passed, {failed} failed")
    sys.exit(1 if failed else 0)


if __name__ == "__main__":
    if missing := missing_tools():
        print("\n".join(missing))
        print(f"0 passed, {len(missing)} failed")
        sys.exit(1)
    import cases
    import demo_faults
    import draw_check
    import locate_check
    import schema_check
    import self_test
    import switching
    import switching_cases
    from asked import (ENOUGH_FOR_VARIETY, EVERY_PLAN_RUN_HAS, EVERY_RUN_HAS, EVERY_SWITCHING_RUN_HAS, Case, Program,
                       Refused, cluster_outcomes, installation_outcomes, switching_outcomes)
    main()
