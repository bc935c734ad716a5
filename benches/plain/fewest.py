"""The fewest walks and operations of one cluster by OR-Tools CP-SAT, from the network that the program prints.

    python3 fewest.py NETWORK.json brute|solver

The models are those of the outside checks (tests/outside/switching.py): set cover over all settings for walks; for
operations a variable for each device and round, and each requirement's table as a decision diagram. The tables that both
models need are made beforehand and are not timed. With `brute`, every sequence of settings is gone through as well, by
tests/outside/settings.py, given every setting evaluated; that evaluation is not timed either.
"""

import json
import pathlib
import sys
import time

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[2] / "tests" / "outside"))

import ortools  # noqa: E402

import network_check  # noqa: E402
import passes  # noqa: E402
import settings  # noqa: E402
import switching  # noqa: E402


def main(path, how):
    with open(path, encoding="utf-8") as file:
        network = json.load(file)
    taken = passes.Taken(network, {}, {"format": 1, "pass": []})
    conductors = network_check.Conductors(network, taken.devices)
    nothing = [set() for _ in network["pairs"]]
    given = network, network["circuits"], taken, nothing, "standard", conductors
    found = switching.Switching(*given)
    solving = 0.0
    solved = switching.solved

    def timed(model):
        nonlocal solving
        begun = time.process_time()
        answer = solved(model)
        solving += time.process_time() - begun
        return answer

    switching.solved = timed
    begun = time.process_time()
    walks, operations = switching.least(found)
    whole = time.process_time() - begun
    if operations is None or operations[0] != operations[1]:
        sys.exit(f"CP-SAT has not proven the fewest operations: {operations}")
    operations = operations[1]
    answer = {"version": ortools.__version__, "walks": walks, "operations": operations, "solving": solving,
              "whole": whole, "brute_force": None}
    if how == "brute":
        cluster = settings.Cluster(*given)
        begun = time.process_time()
        least = cluster.least()
        answer["brute_force"] = time.process_time() - begun
        assert least[:2] == (walks, operations), (least, walks, operations)
    json.dump(answer, sys.stdout)


if __name__ == "__main__":
    main(*sys.argv[1:])
