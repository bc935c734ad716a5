"""What `cover` prints, checked by solving each reading as a resistive network in ngspice.

Source: Kirchhoff's and Ohm's laws, solved by ngspice's operating point. Each closed contact, core and permanent join and
each fitted bridge that conducts for sure is 1 mOhm; every node leaks 1 TOhm to a common reference; the instrument holds
one lead half the test voltage above the reference and the other half below. (The leakage is ngspice's own option `rshunt`,
a resistor from every node to the reference.) Copper is then at a lead's voltage, what floats is at the reference, and a
path between the leads shows as a current. What may conduct is open; where some is fitted, a second solve has it at 1 Ohm
and looks for the current alone.

Tolerances, all far from what can come up: a node within 1 V of +-250 V is on that lead and one within 1 V of the
reference floats (drops over copper are below a microvolt); more than 1 A is a path (the longest possible carries
more than 2 A) and less than 1 mA is none (leakage comes to less than a microampere). Anything between is an error.
"""

import subprocess

import numpy

import passes

HALF_VOLTS = 250.0
COPPER, MAYBE, LEAKAGE = "1m", "1", "1e12"


class Deck:
    """Readings, each in a setting of its own, as separate circuits of one ngspice run."""

    def __init__(self, network, devices, folder):
        self.network = network
        self.devices = devices
        self.folder = folder
        self.asked = {}
        self.core_end = {(core["length"], core["core"]): next(filter(None, core["ends"]), None)
                         for core in network["cores"]}
        self.maybe = {row["id"] for row in network["bridges"] if row["conducts"] == "maybe"}

    def ask(self, key, fitted, leads):
        request = key, fitted, tuple(map(tuple, leads))
        if request not in self.asked:
            self.asked[request] = None

    def resistors(self, key, fitted, leads, with_maybe):
        """What joins which two nodes, and how well."""
        for group in self.network["joins"]:
            for pair in zip(group, group[1:]):
                yield *pair, COPPER
        for core in self.network["cores"]:
            ends = [end for end in core["ends"] if end]
            if ends:
                yield ends[0], ends[-1], COPPER
        for a, b in passes.conducting(self.network, self.devices, key):
            yield a, b, COPPER
        for row in self.network["bridges"]:
            conducts = passes.conduct(row, fitted)
            if conducts == "sure":
                yield *row["between"], COPPER
            elif conducts and with_maybe:
                yield *row["between"], MAYBE
        for number, lead in enumerate(leads):
            for terminal in lead:
                yield ("lead", number), terminal, COPPER

    def run(self):
        """Solves everything asked, in one process."""
        lines, solves = ["readings of a test set", f".options rshunt={LEAKAGE}"], []
        for request in self.asked:
            key, fitted, leads = request
            for with_maybe in [False, True] if fitted & self.maybe else [False]:
                prefix = f"n{len(solves)}_"
                numbers = {}
                for a, b, ohms in self.resistors(key, fitted, leads, with_maybe):
                    if a != b:
                        nodes = [numbers.setdefault(name, len(numbers)) for name in (a, b)]
                        lines.append(f"r{len(lines)} {prefix}{nodes[0]} {prefix}{nodes[1]} {ohms}")
                for side, volts in enumerate((HALF_VOLTS, -HALF_VOLTS)):
                    lines.append(f"v{len(solves)}_{side} {prefix}{numbers['lead', side]} 0 {volts}")
                solves.append((request, with_maybe, numbers))
        if not solves:
            return
        lines += [".op", ".end", ""]
        deck, raw = self.folder / "readings.cir", self.folder / "readings.raw"
        deck.write_text("\n".join(lines))
        run = subprocess.run(["ngspice", "-n", "-b", "-r", str(raw), str(deck)], capture_output=True, text=True, timeout=300)
        said = (run.stdout + run.stderr).lower()
        if run.returncode or "singular" in said or "error" in said or "stepping" in said:
            raise RuntimeError(f"ngspice did not solve the readings: {run.stdout[-800:]} {run.stderr[-800:]}")
        values = raw_values(raw.read_bytes())
        for number, (request, with_maybe, numbers) in enumerate(solves):
            currents = [abs(values[f"i(v{number}_{side})"]) for side in (0, 1)]
            if any(1e-3 <= current <= 1.0 for current in currents):
                raise RuntimeError(f"a source current of {currents} A is neither a path nor none")
            path = max(currents) > 1.0
            if with_maybe:
                if path and self.asked[request][0] is None:
                    self.asked[request] = "doubtful", self.asked[request][1]
                continue
            volts = {name: values[f"v(n{number}_{node})"] for name, node in numbers.items()}
            self.asked[request] = ("bridged" if path else None), volts

    def reading(self, key, fitted, leads):
        """The void of a reading, and which lead each node stands at by its solved voltage."""
        void, volts = self.asked[key, fitted, tuple(map(tuple, leads))]

        def lead_of(node):
            # A core is where its first connected end is; what nothing touches floats.
            value = volts.get(self.core_end.get(node, node), 0.0)
            for lead, side in enumerate((HALF_VOLTS, -HALF_VOLTS)):
                if abs(value - side) < 1.0:
                    return lead
            if abs(value) < 1.0:
                return None
            raise RuntimeError(f"{node} at {value} V is on neither lead, nor does it float")

        return void, lead_of


def raw_values(raw):
    """Every value of a one-point binary raw file by its name."""
    header, _, data = raw.partition(b"Binary:\n")
    fields, _, names = header.decode().partition("Variables:\n")
    count = int(fields.split("No. Variables:")[1].split()[0])
    found = [line.split("\t")[2] for line in names.splitlines() if line.startswith("\t")]
    values = numpy.frombuffer(data, dtype=numpy.float64, count=count)
    if len(found) != count:
        raise RuntimeError("the raw file names another number of values than it holds")
    return dict(zip(found, values.tolist()))


def solved(network, taken, folder):
    """A deck with every reading of a test set solved, in every combination of unknown starting positions."""
    deck = Deck(network, taken.devices, folder)
    for reading in taken.readings:
        for combination in range(taken.combination_count):
            deck.ask(taken.key(reading["standing"], combination), reading["fitted"], reading["leads"])
    deck.run()
    return deck
