"""Makes the records of the demo's hidden faults: the readings that Ohm's law gives, and the session that finds each.

    python3 tests/outside/demo_faults.py --program target/release/lengthwise

Each fault is a leakage in one length that the program is not told of, among healthy leakage of every length. The first
record of a session is what a person would read; each further one has the reading that `locate` asked for, with what
ngspice says an instrument would show. `check.py` sees that the files in `demo` are just these.
"""

import argparse
import pathlib
import tempfile
import tomllib

import locate_check
import passes
import reference
from asked import Program

HERE = pathlib.Path(__file__).resolve().parent
DEMO = HERE.parent.parent / "demo"

# What healthy cable of the demo has, in megohm-kilometres: above what `locate` reckons with at least.
HEALTHY = 150.0

# What all records begin with: the dimmer is out, and a link in its place.
START = {"S603": "linked"}

FAULTS = {
    "fault-1": {
        "what": "Tower stair (C2): well as the switches stand, and low after the switch at the foot was operated.",
        "hidden": [("W204", "black", "cpc", 0.21)],
        "seen": {"S201": "L1", "S202": "straight", "S203": "straight", "S204": "straight", "S205": "straight", "S206": "L1"},
        "passes": [{"reading": [("C2", "L+N", "E"), ("C2", "L", "N")]},
                   {"operate": ["S201"], "reading": [("C2", "L+N", "E"), ("C2", "L", "N")]}],
    },
    "fault-2": {
        "what": "First floor lighting (C3): low to earth, well between line and neutral.",
        "hidden": [("W319", "brown", "cpc", 0.08)],
        "seen": {name: "L1" for name in ("S301", "S302", "S303", "S304", "S307", "S308")},
        "passes": [{"reading": [("C3", "L+N", "E"), ("C3", "L", "N")]}],
    },
    "fault-3": {
        "what": "Shower (C10): low to earth. Line to neutral is not read, for the neon in the switch can't be taken out.",
        "hidden": [("W1002", "blue", "cpc", 0.64)],
        "passes": [{"reading": [("C10", "L+N", "E")]}],
    },
}


class Hidden:
    """Leakage in every length, healthy but for the faults; what a plant of `locate_check` has."""

    combination = 0

    def __init__(self, copper, network, faults):
        piece = copper.piece
        # Electronics that stay in let nothing through, as it happens. The program does not count on that.
        self.maybe = {number: False for number, row in enumerate(network["bridges"]) if row["conducts"] == "maybe"}
        self.leaks = [(piece[a], piece[b], metres / 1000.0 / HEALTHY)
                      for what, metres, a, b in copper.beside if what == "length"]
        self.leaks += [(piece[length, a], piece[length, b], 1.0 / megohms) for length, a, b, megohms in faults]


def display(microsiemens):
    """What an instrument of three figures shows."""
    megohms = 1.0 / microsiemens
    if megohms > 999.0:
        return '">999"'
    return f"{megohms:.2f}" if megohms < 10 else f"{megohms:.1f}" if megohms < 100 else f"{megohms:.0f}.0"


def value_of(text):
    return text.strip('"') if text.startswith('"') else float(text)


class Session:
    """One fault, from the first record to the end."""

    def __init__(self, program, installation, fault, folder):
        self.program, self.installation, self.folder = program, installation, folder
        self.network = reference.network(installation)
        self.volts = {row["circuit"]: row["volts"] for row in self.network["circuits"]}
        self.board_leads = reference.board_leads(installation)
        self.copper = locate_check.Copper(self.network, installation)
        self.hidden = Hidden(self.copper, self.network, fault["hidden"])
        self.seen = fault.get("seen", {})
        self.start = {**START, **self.seen}
        # How the rockers stand that nobody looked at; the records don't say.
        first = {"two-way": "L1", "intermediate": "straight"}
        self.stands = {row["id"]: first[row["kind"]] for row in installation["point"] if row["kind"] in first}
        self.passes = [{**{key: value for key, value in step.items() if key != "reading"},
                        "reading": [self.reading("circuit", *row) for row in step["reading"]]} for step in fault["passes"]]

    def reading(self, what, where, one, other):
        row = {what: where, "between": [one, other]}
        if what == "circuit":
            row["volts"] = self.volts[where]
        return row

    def read(self):
        """Puts a value to every reading."""
        test_set = {"format": 1, "start": {**self.stands, **self.start}, "pass": self.passes}
        taken = passes.Taken(self.network, self.board_leads, test_set)
        found = locate_check.conductances(self.network, taken.devices, self.copper, taken, [self.hidden], self.folder)[0]
        rows = [row for step in self.passes for row in step["reading"]]
        for row, conductance in zip(rows, found):
            row["megohms"] = display(conductance)

    def test_set(self):
        return {"format": 1, "start": self.start, "pass": [{**step, "reading": [{**row, "megohms": value_of(row["megohms"])} for row in step["reading"]]}
                                      for step in self.passes]}

    def records(self):
        """The record after each reading that `locate` asks for, as TOML."""
        while True:
            self.read()
            answer = self.program.ask("locate", self.installation, self.test_set())
            yield self.written()
            step = answer["next"]
            if step["do"] != "read":
                return
            what = "circuit" if "circuit" in step else "board"
            self.passes.append({"set": {row["device"]: row["to"] for row in step["set"]},
                                "reading": [self.reading(what, step[what], *step["between"])]})
            if len(self.passes) > 30:
                raise RuntimeError("the session does not come to an end")

    def written(self):
        """The record as TOML."""
        lines = ["", "# The dimmer is out for the test, and a link in its place.", "[start]"]
        lines += [f'{name} = "{state}"' for name, state in START.items()]
        if self.seen:
            lines.append("# The boxes of this circuit were opened for the search, and so its switches stood.")
            lines += [f'{name} = "{position}"' for name, position in self.seen.items()]
        for step in self.passes:
            lines += ["", "[[pass]]"]
            if step.get("operate"):
                lines.append("operate = [" + ", ".join(f'"{name}"' for name in step["operate"]) + "]")
            if step.get("set"):
                lines.append("set = { " + ", ".join(f'{name} = "{position}"' for name, position in step["set"].items()) + " }")
            for row in step["reading"]:
                lines += ["", "[[pass.reading]]"]
                for key, value in row.items():
                    if key == "between":
                        value = "[" + ", ".join(f'"{lead}"' for lead in value) + "]"
                    elif key in ("circuit", "board"):
                        value = f'"{value}"'
                    lines.append(f"{key} = {value}")
        return "\n".join(lines) + "\n"


def sessions(program, folder):
    """Each file of every session with its text."""
    installation = tomllib.loads((DEMO / "skerry-light.toml").read_text())
    for name, fault in FAULTS.items():
        for number, record in enumerate(Session(program, installation, fault, folder).records()):
            suffix = "" if number == 0 else f"-{number + 1}"
            head = f"# {fault['what']}\n" + ("# The first record." if number == 0 else f"# The record with {number} more, asked for by `locate`.")
            yield f"{name}{suffix}.toml", f"{head} The readings are computed from a fault that is not told here.\nformat = 1\n{record}"


def differences(program_path):
    """What in the demo is not as the sessions make it."""
    wrong, made = [], set()
    with tempfile.TemporaryDirectory() as folder:
        for name, text in sessions(Program(program_path, pathlib.Path(folder)), pathlib.Path(folder)):
            made.add(name)
            if not (DEMO / name).is_file() or (DEMO / name).read_text() != text:
                wrong.append(f"{name} is not what the session makes")
    wrong += [f"{path.name} is of no session" for path in sorted(DEMO.glob("fault-*.toml")) if path.name not in made]
    return wrong


def main():
    parser = argparse.ArgumentParser(description="Make the records of the demo's hidden faults.")
    parser.add_argument("--program", required=True, help="the lengthwise program")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        made = dict(sessions(Program(options.program, pathlib.Path(folder)), pathlib.Path(folder)))
    for path in DEMO.glob("fault-*.toml"):
        path.unlink()
    for name, text in made.items():
        (DEMO / name).write_text(text)
        print(name)


if __name__ == "__main__":
    main()
