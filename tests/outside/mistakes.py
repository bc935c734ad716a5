"""Makes mistakes that an electrician makes, or that come in with typing, and tells how many of them are seen.

    python3 tests/outside/mistakes.py --program target/release/lengthwise [--times 60] [--installations 40] [--seed 0]

Of each kind so many are made in the demo and in random installations without another mistake. Seen is what `check` calls
an error or names as a core without use, and what changes what `works` says. It passes no judgement: the figures are for
those who mean to see more. What is made and its names are invented.
"""

import argparse
import collections
import copy
import json
import pathlib
import random
import subprocess
import tempfile
import tomllib

import cases

HERE = pathlib.Path(__file__).resolve().parent
CABLE_ENDS = ("from", "to")


def is_live(ends, end):
    return ends[end] not in ("E", "-")


def cores_swapped(rng, file):
    """Two live cores of a length, at one end."""
    length, end = rng.choice(file["length"]), rng.randrange(2)
    cores = [name for name, ends in length["cores"].items() if is_live(ends, end)]
    if len(cores) < 2:
        return None
    a, b = rng.sample(cores, 2)
    one, other = length["cores"][a], length["cores"][b]
    one[end], other[end] = other[end], one[end]
    return f"{length['id']}: {a} and {b} swapped at {length[CABLE_ENDS[end]]}"


def at_a_point(file, point):
    """The live ends of cores at a point: (core's ends, which end)."""
    return [(length, ends, end) for length in file["length"] for end in range(2) if length[CABLE_ENDS[end]] == point
            for ends in length["cores"].values() if is_live(ends, end)]


def swapped_at(rng, file, kinds, pair):
    """What is under two terminals of a point of some kinds, swapped."""
    points = [point["id"] for point in file["point"] if point["kind"] in kinds]
    if not points:
        return None
    point, found = rng.choice(points), 0
    for _, ends, end in at_a_point(file, point):
        if ends[end] in pair:
            ends[end] = pair[1 - pair.index(ends[end])]
            found += 1
    return f"{point}: {' and '.join(pair)} swapped" if found else None


def line_for_neutral(rng, file):
    return swapped_at(rng, file, ("luminaire", "appliance", "socket", "switched-socket", "detector"), ("L", "N"))


def strapper_on_the_common(rng, file):
    return swapped_at(rng, file, ("two-way",), ("COM", rng.choice(["L1", "L2"])))


def intermediate_crossed(rng, file):
    """The strappers of an intermediate switch not in and out, but mixed."""
    return swapped_at(rng, file, ("intermediate",), ("A2", "B1"))


def core_left_out(rng, file):
    length, end = rng.choice(file["length"]), rng.randrange(2)
    name = rng.choice(sorted(length["cores"]))
    if length["cores"][name][end] == "-":
        return None
    length["cores"][name][end] = "-"
    return f"{length['id']}: {name} left out at {length[CABLE_ENDS[end]]}"


def to_another_box(rng, file):
    """A length that ends at another point of the same kind."""
    length = rng.choice(file["length"])
    kinds = {point["id"]: point["kind"] for point in file["point"]}
    here = length["to"]
    others = [point for point, kind in kinds.items() if here in kinds and kind == kinds[here] and point not in (here, length["from"])]
    if not others:
        return None
    length["to"] = rng.choice(sorted(others))
    return f"{length['id']} to {length['to']}, not {here}"


def on_another_way(rng, file):
    ways = [f"{board['id']}/{way['id']}" for board in file["board"] for way in board.get("way", [])]
    fed = [length for length in file["length"] if length["from"] in ways]
    if len(ways) < 2 or not fed:
        return None
    length = rng.choice(fed)
    length["from"], here = rng.choice([way for way in ways if way != length["from"]]), length["from"]
    return f"{length['id']} from {length['from']}, not {here}"


def under_another_circuit(rng, file):
    circuits = [circuit["id"] for circuit in file["circuit"]]
    row = rng.choice([row for row in file["length"] + file["point"] if "circuit" in row] or [None])
    if row is None or len(circuits) < 2:
        return None
    row["circuit"], here = rng.choice([circuit for circuit in circuits if circuit != row["circuit"]]), row["circuit"]
    return f"{row['id']} under {row['circuit']}, not {here}"


KINDS = {"two cores swapped at a box": cores_swapped, "line for neutral": line_for_neutral,
         "a strapper on the common": strapper_on_the_common, "in and out of an intermediate mixed": intermediate_crossed,
         "a core left out": core_left_out, "a length to another box": to_another_box,
         "a length on another way": on_another_way, "put down under another circuit": under_another_circuit}


def said(program, folder, file):
    """What is said of a file: that it is wrong, or what `check` and `works` say."""
    path = pathlib.Path(folder) / "file.json"
    path.write_text(json.dumps(file))
    answers = []
    for command in ("check", "works"):
        run = subprocess.run([program, command, str(path), "--json"], capture_output=True, text=True, timeout=120)
        if run.returncode:
            return "an error"
        answers.append(json.loads(run.stdout))
    return answers


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n", maxsplit=1)[0])
    parser.add_argument("--program", required=True)
    parser.add_argument("--times", type=int, default=60)
    parser.add_argument("--installations", type=int, default=40)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--show", action="store_true", help="name each mistake that is not seen")
    options = parser.parse_args()
    program = str(pathlib.Path(options.program).resolve())
    files = {"demo": tomllib.loads((HERE.parent.parent / "demo" / "skerry-light.toml").read_text())}
    for seed in range(options.seed, options.seed + options.installations):
        files[f"random {seed}"] = cases.sound_installation(seed)
    made, seen = collections.Counter(), collections.Counter()
    with tempfile.TemporaryDirectory() as folder:
        for name, file in files.items():
            before = said(program, folder, file)
            for kind, mistake in KINDS.items():
                rng = random.Random(f"{name} {kind}")
                for _ in range(options.times if name == "demo" else max(1, options.times // 20)):
                    wrong = copy.deepcopy(file)
                    what = mistake(rng, wrong)
                    if what is None or wrong == file:
                        continue
                    where = "demo" if name == "demo" else "random"
                    made[kind, where] += 1
                    if said(program, folder, wrong) != before:
                        seen[kind, where] += 1
                    elif options.show:
                        print(f"not seen in {name}: {what}")
    for kind, where in made:
        print(f"{kind}, {where}: {seen[kind, where]} of {made[kind, where]} seen")
    print(f"{sum(seen.values())} of {sum(made.values())} seen")


if __name__ == "__main__":
    main()
