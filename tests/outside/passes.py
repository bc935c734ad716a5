"""How everything stands at each reading of a test set, from FORMAT.md part 2.

Positions are followed for every combination of the unknown starting positions side by side: a device's standing is a
list with one position number for each combination.
"""

import itertools
import math

MOST_COMBINATIONS = 1 << 10


class Taken:
    """A test set followed pass by pass on a network (the rows of `network --json`)."""

    def __init__(self, network, board_leads, test_set):
        self.devices = {row["device"]: row for row in network["devices"]}
        self.removable = {row["id"]: row["removable"] for row in network["bridges"]}
        passing = {row["id"] for row in network["bridges"] if row["passes"]}
        circuit_leads = {row["circuit"]: row["leads"] for row in network["circuits"]}
        found = {name: row["ready"] for name, row in self.devices.items()}
        fitted = {name for name, removable in self.removable.items() if not removable}
        for name, words in test_set.get("start", {}).items():
            for word in [words] if isinstance(words, str) else words:
                if word in ("fitted", "removed", "linked"):
                    fitted = moved(fitted, [name], word)
                else:
                    found[name] = word
        self.unknown = [name for name in self.devices if found[name] == "unknown"]
        ranges = [range(len(self.devices[name]["positions"])) for name in self.unknown]
        self.combination_count = math.prod(len(r) for r in ranges)
        if self.combination_count > MOST_COMBINATIONS:
            raise ValueError(f"{self.combination_count} combinations of unknown positions are too many to go through")
        combinations = list(itertools.product(*ranges))
        standing = {}
        for name, row in self.devices.items():
            if found[name] == "unknown":
                own = self.unknown.index(name)
                standing[name] = [combination[own] for combination in combinations]
            else:
                standing[name] = [row["positions"].index(found[name])] * len(combinations)
        # For each device and combination, the name of the position before the first pass.
        self.begun = {name: [self.devices[name]["positions"][at] for at in own] for name, own in standing.items()}
        self.readings = []
        for number, step in enumerate(test_set.get("pass", []), 1):
            standing = dict(standing)
            for name in step.get("operate", []):
                count = len(self.devices[name]["positions"])
                standing[name] = [(position + 1) % count for position in standing[name]]
            for name, position in step.get("set", {}).items():
                standing[name] = [self.devices[name]["positions"].index(position)] * len(combinations)
            for key, state in (("remove", "removed"), ("link", "linked"), ("refit", "fitted")):
                fitted = moved(fitted, step.get(key, []), state)
            for place, reading in enumerate(step.get("reading", []), 1):
                leads = circuit_leads[reading["circuit"]] if "circuit" in reading else board_leads[reading["board"]]
                self.readings.append({
                    "pass": number, "reading": place, "standing": standing, "fitted": frozenset(fitted),
                    "leads": [touched(lead, leads) for lead in reading["between"]]})
        self.standing = standing
        self.fitted = frozenset(fitted)
        # What a plan takes out, and links where it passes.
        self.prepared = frozenset(f"link of {name}" if removable and name in passing else name
                                  for name, removable in self.removable.items() if not removable or name in passing)

    def key(self, standing, combination):
        """How every device stands in one combination, as position numbers in the order of `devices`."""
        return tuple(positions[combination] for positions in standing.values())


def moved(fitted, names, state):
    """What is in, once the bridges of these holders are fitted, removed or linked."""
    fitted = fitted - set(names) - {f"link of {name}" for name in names}
    return fitted | {"fitted": set(names), "linked": {f"link of {name}" for name in names}, "removed": set()}[state]


def conduct(row, fitted):
    """Whether a bridge (a row of `network --json`) conducts, "sure" or "maybe", with this in; none where it does not."""
    if row["id"] in fitted:
        return row["conducts"]
    return "sure" if row["passes"] and f"link of {row['id']}" in fitted else None


def touched(lead, leads):
    """The terminals that one lead touches: its own names first, else full terminal names."""
    return [terminal for part in lead.split("+") for terminal in leads.get(part, [part])]


def conducting(network, devices, key):
    """The contacts that are closed with the devices standing so."""
    stands = {name: row["positions"][position] for (name, row), position in zip(devices.items(), key)}
    return [row["between"] for row in network["contacts"] if stands[row["device"]] in row["closed_in"]]
