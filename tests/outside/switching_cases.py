"""Seeded random circuits of 4 to 14 switches that bear on one another: all invented.

Switches stand one behind another: strapper chains with intermediate switches, selectors with something on each way,
isolators ahead, two-way switches that feed one thing or another. What lies behind a switch is reached only through it,
so the switches of one circuit are one cluster or a few.
"""

import math
import random

import cases

FEWEST, MOST = 4, 14
MOST_SETTINGS = 1 << 14


class Growing:
    """A circuit that grows from its way, feed by feed."""

    def __init__(self, w, circuit, feed, count):
        self.w, self.circuit = w, circuit
        self.feeds = [feed]
        self.left = count
        self.settings = 1
        # Each further position of a selector is a walk, and as many walks come in as many orders.
        self.further_ways = 3

    def grow(self):
        rng = self.w.rng
        while self.left:
            # Mostly on from the last, so that switches stand one behind another; now and then a branch.
            place = -1 if rng.random() < 0.75 else rng.randrange(len(self.feeds))
            feed = self.feeds[place] if rng.random() < 0.15 else self.feeds.pop(place)
            sorts = [self.isolator, self.one_way, self.chain, self.chain, self.selector, self.change_over, self.either]
            rng.choice(sorts)(feed)
        for feed in self.feeds:
            self.load(feed)

    def takes(self, *options):
        """Whether there is room for devices with so many positions; then they are counted."""
        settings = self.settings * math.prod(options)
        # One setting more for each that nobody knows is left standing, at the most.
        further_ways = sum(options) - 2 * len(options)
        if (len(options) > self.left or settings << (self.left - len(options)) > MOST_SETTINGS
                or further_ways > self.further_ways):
            return False
        self.further_ways -= further_ways
        self.left -= len(options)
        self.settings = settings
        return True

    def isolator(self, feed):
        if not self.takes(2):
            return self.one_way(feed)
        switch = self.w.point("Q", self.w.rng.choice(["double-pole", "fused-connection"]), self.circuit)
        self.run(feed, switch, "Lin", "Nin")
        self.feeds.append((switch, "Lout", "Nout"))

    def one_way(self, feed):
        self.takes(2)
        switch = self.w.point("S", "one-way", self.circuit, extra=["N"])
        self.run(feed, switch, "COM", "N")
        self.feeds.append((switch, "L1", "N"))

    def either(self, feed):
        """A two-way switch that feeds one thing or another."""
        if not self.further_ways:
            return self.one_way(feed)
        self.further_ways -= 1
        self.takes(2)
        switch = self.w.point("S", "two-way", self.circuit, extra=["N"])
        self.run(feed, switch, "COM", "N")
        self.feeds += [(switch, "L1", "N"), (switch, "L2", "N")]

    def selector(self, feed):
        ways = self.w.rng.choice([3, 3, 4, 5])
        if not self.takes(ways):
            return self.either(feed)
        switch = self.w.point("S", f"selector-{ways}", self.circuit, extra=["N"])
        self.run(feed, switch, "COM", "N")
        self.feeds += [(switch, f"P{way}", "N") for way in range(1, ways + 1)]

    def change_over(self, feed):
        if not self.takes(4):
            return self.one_way(feed)
        switch = self.w.point("S", "change-over", self.circuit, extra=["N"])
        self.run(feed, switch, "A", "N")
        self.feeds += [(switch, terminal, "N") for terminal in "BD"]

    def chain(self, feed):
        """Two two-way switches, intermediate ones between."""
        if self.left < 2:
            return self.one_way(feed)
        between = self.w.rng.randint(0, min(6, self.left - 2))
        self.takes(*[2] * (between + 2))
        first = self.w.point("S", "two-way", self.circuit, extra=["N"])
        self.run(feed, first, "COM", "N")
        at, strappers = first, ("L1", "L2")
        for _ in range(between):
            switch = self.w.point("S", "intermediate", self.circuit, extra=["N"])
            self.w.run(self.circuit, at, switch, [(strappers[0], "A1"), (strappers[1], "A2"), ("N", "N")])
            at, strappers = switch, ("B1", "B2")
        last = self.w.point("S", "two-way", self.circuit, extra=["N"])
        self.w.run(self.circuit, at, last, [(strappers[0], "L1"), (strappers[1], "L2"), ("N", "N")])
        self.feeds.append((last, "COM", "N"))

    def load(self, feed):
        load = self.w.point("E", self.w.rng.choice(["luminaire", "luminaire", "appliance"]), self.circuit)
        self.run(feed, load, "L", "N")

    def run(self, feed, thing, line, neutral):
        at, from_line, from_neutral = feed
        self.w.run(self.circuit, at, thing, [(from_line, line), (from_neutral, neutral)])


def case(seed):
    """One circuit, no test set, and a need."""
    rng = random.Random(f"switching {seed}")
    w = cases.Wiring(rng, 1)
    board = w.board(origin=True)
    way, poles, _ = w.way(board)
    circuit = w.circuit(way)
    Growing(w, circuit, (way, poles[0], "N"), rng.randint(FEWEST, MOST)).grow()
    cases.miswire(w, rng.choice([0.0, 0.0, 0.0, 0.02]))
    switches = [point for point in w.file["point"] if point["kind"] not in ("luminaire", "appliance")]
    rng.shuffle(switches)
    # A few stand where nobody knows: those of two positions, for each of more adds a setting.
    unknown = [row for row in switches if not row["kind"].startswith(("selector", "change"))][:rng.choice([0, 0, 1, 2])]
    for point in switches:
        if point in unknown:
            point["stands"] = "unknown"
        elif point["kind"] in ("two-way", "intermediate"):
            point["stands"] = "L1" if point["kind"] == "two-way" else "straight"
    return {"seed": seed, "installation": w.finished(), "test_set": None,
            "need": rng.choice(["earth", "standard", "standard", "every-pair"])}
