"""Seeded random installations and test sets, as files of the formats in FORMAT.md parts 1 and 2.

`installation_case(seed)` is an installation of one to about forty lengths with a test set; `cluster_case(seed)` is a
few devices that bear on one another, small enough that every setting can be gone through. The wiring is plausible,
with a wrong terminal now and then so that readings come out void. The same seed gives the same files. All data is
invented.
"""

import random

import reference

KINDS_OF_OUR_OWN = [
    {"id": "key-switch", "terminals": ["IN", "OUT", "N"],
     "positions": [{"name": "in", "joins": [["IN", "OUT"]]}, {"name": "away", "joins": []}],
     "bridges": [{"between": ["IN", "N"], "conducts": "maybe"}]},
    {"id": "change-over", "terminals": ["A", "B", "C", "D"],
     "positions": [{"name": "main", "joins": [["A", "B"]]}, {"name": "both", "joins": [["A", "B", "C"]]},
                   {"name": "aside", "joins": [["A", "D"], ["B", "C"]]}, {"name": "none", "joins": []}],
     "bridges": []},
    {"id": "heater-pack", "terminals": ["L", "N", "S"],
     "bridges": [{"between": ["L", "N"], "conducts": "sure"}, {"between": ["S", "N"], "conducts": "maybe"}],
     "removable": False},
    {"id": "float-switch", "terminals": ["COM", "HIGH", "LOW"],
     "positions": [{"name": "low", "joins": [["COM", "LOW"]]}, {"name": "middle", "joins": []},
                   {"name": "high", "joins": [["COM", "HIGH"]]}],
     "bridges": [{"between": ["COM", "E"], "conducts": "maybe"}], "removable": True},
    {"id": "soft-switch", "terminals": ["L", "N", "SL", "AUX"],
     "bridges": [{"between": ["L", "SL"], "conducts": "sure", "passes": True},
                 {"between": ["AUX", "N"], "conducts": "maybe"}]},
]
LIVE_COLOURS = ["brown", "blue", "black", "grey", "white", "red", "yellow", "orange", "violet", "pink", "slate", "tan",
                "navy", "olive"]
PLACES = ["hall", "stair", "store", "loft", "yard"]


class Wiring:
    """An installation being drawn up."""

    def __init__(self, rng, phases):
        self.rng = rng
        self.phases = phases
        self.lines = reference.LINES[phases]
        self.file = {"format": 1, "installation": {"name": "Invented", "nominal_voltage": rng.choice([230, 230, 110, 600]),
                                                   "earthing": rng.choice(["TN-S", "TN-C-S", "TT", "IT"])},
                     "board": [], "circuit": [], "point": [], "length": []}
        if phases == 3 or rng.random() < 0.5:
            self.file["installation"]["phases"] = phases
        self.places = rng.sample(PLACES, rng.randint(0, len(PLACES)))
        if self.places:
            self.file["location"] = [{"id": place, "name": place.title()} for place in self.places]
        if len(self.places) > 1 and rng.random() < 0.5:
            self.file["passage"] = [{"between": list(pair), "metres": float(rng.randint(2, 30))}
                                    for pair in zip(self.places, self.places[1:])]
        self.counts = {}
        self.kinds = set()
        self.plates = 0
        self.plated = rng.choice([0.2, 0.5, 0.9])
        self.terminals = {}
        # How many lengths have no protective core: most installations have none, some have a few.
        self.unprotected = rng.choice([0.0, 0.0, 0.0, 0.02, 0.1])

    def number(self, letter):
        self.counts[letter] = self.counts.get(letter, 0) + 1
        return f"{letter}{self.counts[letter]}"

    def chance(self, probability):
        return self.rng.random() < probability

    def board(self, origin):
        rng = self.rng
        board = {"id": self.number("DB")}
        if self.chance(0.3):
            board["main_switch"] = rng.choice([True, False])
        if origin:
            board["origin"] = True
        if self.places and self.chance(0.5):
            board["location"] = rng.choice(self.places)
        board["group"] = []
        for group in "ABC"[:rng.choice([0, 0, 1, 2])]:
            row = {"id": group, "device": "rcd"}
            if self.chance(0.4):
                row["electronic"] = rng.choice([True, False])
            board["group"].append(row)
        board["way"] = []
        self.file["board"].append(board)
        self.terminals[f"{board['id']}.in"] = [*self.lines, "N", "E"]
        if not board["group"]:
            del board["group"]
        return board

    def way(self, board, poles=None, neutral=None):
        """A new way on a board; returns its full name, its poles and whether it has a neutral."""
        rng = self.rng
        way = {"id": str(len(board["way"]) + 1), "device": rng.choice(["mcb", "mcb", "fuse", "isolator", "rcbo"])}
        if self.chance(0.6):
            way["rating"] = rng.choice([6, 10, 16, 32])
        if poles is None and self.phases == 3 and self.chance(0.6):
            poles = [rng.choice(self.lines)]
        if poles is not None:
            way["poles"] = poles
        if "group" in board and self.chance(0.7):
            way["group"] = rng.choice(board["group"])["id"]
        if way["device"] == "rcbo":
            neutral = None
            if self.chance(0.4):
                way["switches_neutral"] = rng.choice([True, False])
            if self.chance(0.4):
                way["functional_earth"] = rng.choice([True, False])
        if neutral is not None:
            way["neutral"] = neutral
        board["way"].append(way)
        full = f"{board['id']}/{way['id']}"
        own = way.get("poles", [self.lines[0]])
        has_neutral = way.get("neutral", True)
        self.terminals[full] = [*own, *(["N"] if has_neutral else []), "E"]
        return full, own, has_neutral

    def circuit(self, way, **more):
        circuit = {"id": self.number("C")}
        if way:
            circuit["way"] = way
        if self.chance(0.5):
            circuit["name"] = f"Circuit {circuit['id']}"
        if way and self.chance(0.1):
            circuit["system"] = self.rng.choice(["lv", "selv", "pelv", "felv"])
        if self.chance(0.1):
            circuit["nominal_voltage"] = self.rng.choice([12, 230, 400, 690])
        circuit.update(more)
        self.file["circuit"].append(circuit)
        return circuit["id"]

    def point(self, letter, kind, circuit, extra=(), **more):
        rng = self.rng
        point = {"id": self.number(letter), "kind": kind, "circuit": circuit}
        if kind == "luminaire" and self.chance(0.4):
            point["lamp"] = rng.choice(["filament", "led", "discharge"])
        if kind in ("appliance", "appliance-3") and self.chance(0.4):
            point["load"] = rng.choice(["resistive", "electronic"])
        if kind == "contactor" and self.chance(0.6):
            point["manual"] = rng.choice([True, True, False])
        if kind == "indicator" and self.chance(0.4):
            point["removable"] = True
        point.update(more)
        if extra:
            point["terminals"] = list(extra)
        if self.places and self.chance(0.6):
            point["location"] = rng.choice(self.places)
        own = next((k for k in KINDS_OF_OUR_OWN if k["id"] == kind), None)
        if own:
            self.kinds.add(kind)
        row = reference.declared_kind(own) if own else reference.built_in_kind(point)
        if row["positions"] and self.chance(self.plated):
            if self.plates < 2 or self.chance(0.4):
                self.plates += 1
            point["plate"] = f"plate-{rng.randint(max(1, self.plates - 2), self.plates)}"
        self.terminals[point["id"]] = list(dict.fromkeys([*row["terminals"], *extra, "E"]))
        self.file["point"].append(point)
        return point["id"]

    def run(self, circuit, start, end, cores, protective=True):
        """A length with these cores (pairs of terminals), and mostly a protective one."""
        rng = self.rng
        length = {"id": self.number("W"), "circuit": circuit, "from": start, "to": end,
                  "metres": rng.choice([0.5, 3.0, 4.25, 7.5, 12.1, 20.0]), "cores": {}}
        if self.chance(0.3):
            length["cable"] = f"{len(cores)}c+e"
        colours = LIVE_COLOURS[:len(cores)] if self.chance(0.8) else rng.sample(LIVE_COLOURS, len(cores))
        for colour, ends in zip(colours, cores):
            length["cores"][colour] = list(ends)
        if protective and not self.chance(self.unprotected):
            length["cores"]["cpc"] = ["E", "E"]
        self.file["length"].append(length)
        return length["id"]

    def finished(self):
        if self.kinds:
            self.file["kind"] = [kind for kind in KINDS_OF_OUR_OWN if kind["id"] in self.kinds]
        return self.file


# Kinds of wiring. Each takes the wiring, the circuit and a feed: (thing, its line terminal, its neutral terminal).

def lights_looped(w, c, feed, size):
    """Loop-in at the lights, a switch drop from each."""
    for _ in range(size):
        thing, line, neutral = feed
        light = w.point("E", "luminaire", c, extra=["LL"])
        w.run(c, thing, light, [(line, "LL"), (neutral, "N")])
        switch = w.point("S", "one-way", c)
        w.run(c, light, switch, [("LL", "COM"), ("L", "L1")])
        feed = light, "LL", "N"


def lights_at_switch(w, c, feed, size):
    """The feed to a switch box with the neutral parked, then a row of lights."""
    thing, line, neutral = feed
    switch = w.point("S", w.rng.choice(["one-way", "one-way", "dimmer"]), c, extra=["N"])
    w.run(c, thing, switch, [(line, "COM"), (neutral, "N")])
    feed = switch, "L1", "N"
    for _ in range(size):
        thing, line, neutral = feed
        light = w.point("E", "luminaire", c)
        w.run(c, thing, light, [(line, "L"), (neutral, "N")])
        feed = light, "L", "N"


def lights_two_way(w, c, feed, size):
    """Two two-way switches with any number of intermediate ones between, strappers in one length or apart."""
    thing, line, neutral = feed
    through = w.chance(0.5)
    extra = ["N"] if through else []
    first = w.point("S", "two-way", c, extra=extra)
    neutral_core = [(neutral, "N")] if through else []
    w.run(c, thing, first, [(line, "COM"), *neutral_core])
    at, a, b = first, "L1", "L2"
    for number in range(size):
        last = number == size - 1
        switch = w.point("S", "two-way" if last else "intermediate", c, extra=extra)
        to_a, to_b = ("L1", "L2") if last else ("A1", "A2")
        if w.chance(0.15):
            w.run(c, at, switch, [(a, to_a)])
            w.run(c, at, switch, [(b, to_b), *([("N", "N")] if through else [])])
        else:
            w.run(c, at, switch, [(a, to_a), (b, to_b), *([("N", "N")] if through else [])])
        at, a, b = switch, "B1", "B2"
    light = w.point("E", "luminaire", c)
    w.run(c, at, light, [("COM", "L"), *([("N", "N")] if through else [])])
    if not through:
        w.run(c, thing, light, [(neutral, "N")])
    if w.chance(0.3):
        more = w.point("E", "luminaire", c)
        w.run(c, light, more, [("L", "L"), ("N", "N")])


def sockets(w, c, feed, size):
    """A radial or a ring of sockets, with a spur now and then."""
    start = feed
    for _ in range(size):
        thing, line, neutral = feed
        socket = w.point("X", w.rng.choice(["socket", "switched-socket"]), c)
        w.run(c, thing, socket, [(line, "L"), (neutral, "N")])
        feed = socket, "L", "N"
    thing, line, neutral = feed
    if size > 1 and w.chance(0.4):
        w.run(c, thing, start[0], [(line, start[1]), (neutral, start[2])])
    if w.chance(0.3):
        fixed_load(w, c, feed, 1)


def fixed_load(w, c, feed, size):
    """A load behind its own switch or connection unit."""
    for _ in range(size):
        thing, line, neutral = feed
        switch = w.point("Q", w.rng.choice(["double-pole", "fused-connection"]), c)
        w.run(c, thing, switch, [(line, "Lin"), (neutral, "Nin")])
        load = w.point("H", w.rng.choice(["appliance", "appliance", "heater-pack", "surge-protector"]), c)
        w.run(c, switch, load, [("Lout", "L"), ("Nout", "N")])
        feed = switch, "Lin", "Nin"


def alarm_heads(w, c, feed, size):
    """Alarm heads with an interconnecting core."""
    for number in range(size):
        thing, line, neutral = feed
        head = w.point("D", "detector", c)
        w.run(c, thing, head, [(line, "L"), (neutral, "N"), *([("IC", "IC")] if number else [])])
        feed = head, "L", "N"


def light_on_sensor(w, c, feed, size):
    """A sensor switching lights, perhaps with a switch beside it."""
    thing, line, neutral = feed
    sensor = w.point("B", w.rng.choice(["sensor", "sensor", "soft-switch"]), c)
    w.run(c, thing, sensor, [(line, "L"), (neutral, "N")])
    feed = sensor, "SL", "N"
    for _ in range(size):
        light = w.point("E", "luminaire", c)
        w.run(c, feed[0], light, [(feed[1], "L"), (feed[2], "N")])
        feed = light, "L", "N"
    if w.chance(0.5):
        switch = w.point("S", "one-way", c)
        w.run(c, sensor, switch, [("L", "COM"), ("SL", "L1")])


def load_on_contactor(w, c, feed, size):
    """A coil behind a switch, and loads on the contacts."""
    thing, line, neutral = feed
    contactor = w.point("K", "contactor", c, extra=["N"])
    w.run(c, thing, contactor, [(line, "1"), (neutral, "3")])
    switch = w.point("S", w.rng.choice(["one-way", "key-switch"]), c)
    ends = ("COM", "L1") if w.file["point"][-1]["kind"] == "one-way" else ("IN", "OUT")
    w.run(c, contactor, switch, [("1", ends[0]), ("A1", ends[1]), ("3", "N" if ends[0] == "IN" else "-")])
    w.file["point"][-2].setdefault("links", []).append(["3", "A2"])
    feed = contactor, "2", "4"
    for _ in range(size):
        load = w.point("H", w.rng.choice(["appliance", "indicator", "luminaire"]), c)
        w.run(c, feed[0], load, [(feed[1], "L"), (feed[2], "N")])
        feed = load, "L", "N"


def extra_low_voltage(w, c, feed, size):
    """A transformer and what it feeds: a circuit with no way."""
    thing, line, neutral = feed
    transformer = w.point("T", "transformer", c)
    w.run(c, thing, transformer, [(line, "L"), (neutral, "N")])
    second = w.circuit(None, system=w.rng.choice(["selv", "pelv", "felv"]))
    feed = transformer, "V1", "V2"
    if w.chance(0.5):
        switch = w.point("S", "one-way", second, extra=["N"])
        w.run(second, feed[0], switch, [("V1", "COM"), ("V2", "N")], protective=w.chance(0.3))
        feed = switch, "L1", "N"
    for _ in range(size):
        light = w.point("E", "luminaire", second)
        w.run(second, feed[0], light, [(feed[1], "L"), (feed[2], "N")], protective=w.chance(0.3))
        feed = light, "L", "N"


def selected_loads(w, c, feed, size):
    """A selector with a load on each of its ways, through a box."""
    thing, line, neutral = feed
    ways = w.rng.choice([3, 3, 4, 5]) if size > 1 else 3
    selector = w.point("S", f"selector-{ways}", c, extra=["N"])
    w.run(c, thing, selector, [(line, "COM"), (neutral, "N")])
    box = w.point("J", "junction", c)
    used = [f"P{i}" for i in range(1, ways + 1)]
    w.run(c, selector, box, [*[(way, way) for way in used], ("N", "N")])
    for way in w.rng.sample(used, min(size, ways)):
        load = w.point("H", w.rng.choice(["appliance", "luminaire"]), c)
        w.run(c, box, load, [(way, "L"), ("N", "N")])


def fan(w, c, feed, size):
    """A fan with a permanent line, a switched line and a three-pole isolator."""
    thing, line, neutral = feed
    light = w.point("E", "luminaire", c, extra=["LL"])
    w.run(c, thing, light, [(line, "LL"), (neutral, "N")])
    switch = w.point("S", "one-way", c)
    w.run(c, light, switch, [("LL", "COM"), ("L", "L1")])
    isolator = w.point("Q", "triple-pole", c)
    w.run(c, light, isolator, [("LL", "L1in"), ("L", "L2in"), ("N", "L3in")])
    unit = w.point("M", "heater-pack", c)
    w.run(c, isolator, unit, [("L1out", "L"), ("L2out", "S"), ("L3out", "N")])


def odd_switching(w, c, feed, size):
    """Kinds of the file's own: a float switch and a change-over."""
    thing, line, neutral = feed
    kind = w.rng.choice(["float-switch", "change-over"])
    switch = w.point("S", kind, c, extra=["N"])
    w.run(c, thing, switch, [(line, "COM" if kind == "float-switch" else "A"), (neutral, "N")])
    for way in (["HIGH", "LOW"] if kind == "float-switch" else ["B", "C", "D"])[:max(1, size)]:
        load = w.point("H", w.rng.choice(["appliance", "indicator", "luminaire"]), c)
        w.run(c, switch, load, [(way, "L"), ("N", "N")])


def tangle(w, c, feed, size):
    """Points of any kind, joined terminal to terminal at random."""
    kinds = ["one-way", "two-way", "intermediate", "double-pole", "luminaire", "socket", "junction", "selector-3",
             "key-switch", "float-switch", "switched-socket", "detector", "change-over"]
    things = [feed[0]]
    for _ in range(size):
        point = w.point("Z", w.rng.choice(kinds), c)
        start = w.rng.choice(things)
        a = [t for t in w.terminals.get(start, []) if t != "E"] or ["X1", "X2"]
        b = [t for t in w.terminals[point] if t != "E"] or ["X1", "X2", "X3"]
        count = w.rng.randint(1, min(3, len(b)))
        w.run(c, start, point, [(w.rng.choice(a), t) for t in w.rng.sample(b, count)])
        things.append(point)
    if size > 2:
        a, b = w.rng.sample(things[1:], 2)
        w.run(c, a, b, [(w.rng.choice(w.terminals[a]), w.rng.choice(w.terminals[b]))], protective=w.chance(0.5))


SINGLE = [lights_looped, lights_at_switch, lights_two_way, lights_two_way, sockets, fixed_load, alarm_heads,
          light_on_sensor, load_on_contactor, extra_low_voltage, selected_loads, fan, odd_switching, tangle]
LIGHTING = [lights_looped, lights_at_switch, lights_two_way, lights_two_way, lights_two_way, selected_loads]
# Wiring in which nothing is left open, and every switch and load has its use.
SOUND = [lights_looped, lights_at_switch, lights_two_way, sockets, fixed_load, alarm_heads, selected_loads, fan]
SWITCHED = [lights_two_way, lights_two_way, selected_loads, odd_switching, fan, tangle, tangle]


def ahead(w, c, feed):
    """Perhaps a switch or a box ahead of everything on the circuit."""
    thing, line, neutral = feed
    what = w.rng.choice(["double-pole", "one-way", "junction", "fused-connection"])
    if what == "junction":
        box = w.point("J", what, c)
        w.run(c, thing, box, [(line, "LX"), (neutral, "NX")])
        w.terminals[box] = ["LX", "NX", "E"]
        return box, "LX", "NX"
    if what == "one-way":
        switch = w.point("S", what, c, extra=["N"])
        w.run(c, thing, switch, [(line, "COM"), (neutral, "N")])
        return switch, "L1", "N"
    switch = w.point("Q", what, c)
    w.run(c, thing, switch, [(line, "Lin"), (neutral, "Nin")])
    return switch, "Lout", "Nout"


def single_circuit(w, board, size, choice):
    way, poles, neutral = w.way(board, neutral=False if w.chance(0.04) else None)
    circuit = w.circuit(way)
    feed = way, poles[0], "N" if neutral else "-"
    if w.chance(0.2):
        feed = ahead(w, circuit, feed)
    w.rng.choice(choice)(w, circuit, feed, size)


def several_line_circuit(w, board, size):
    """A circuit of two or three lines, isolated by three poles, to a load across them."""
    poles = w.rng.choice([["L1", "L2", "L3"], ["L1", "L2", "L3"], ["L1", "L3"], ["L2", "L3"]])
    way, poles, neutral = w.way(board, poles=poles, neutral=w.rng.choice([True, False, None]))
    circuit = w.circuit(way)
    isolator = w.point("Q", "triple-pole", circuit, extra=["N"])
    w.run(circuit, way, isolator, [*[(pole, f"{pole}in") for pole in poles], *([("N", "N")] if neutral else [])])
    load = w.point("M", "appliance-3", circuit)
    w.run(circuit, isolator, load, [*[(f"{pole}out", pole) for pole in poles], *([("N", "N")] if neutral else [])])
    if size > 2:
        socket = w.point("X", "socket", circuit)
        w.run(circuit, isolator, socket, [(f"{poles[0]}out", "L"), ("N" if neutral else "-", "N")])


def sub_board(w, board):
    """Another board on a feeder from this one."""
    new = w.board(origin=False)
    poles = w.lines if w.phases == 3 and w.chance(0.7) else None
    way, poles, neutral = w.way(board, poles=poles, neutral=None)
    circuit = w.circuit(way)
    start, ends = way, [(pole, pole) for pole in poles] + [("N", "N")]
    if len(poles) == 1 and w.chance(0.3):
        switch = w.point("Q", "double-pole", circuit)
        w.run(circuit, way, switch, [(poles[0], "Lin"), ("N", "Nin")])
        start, ends = switch, [("Lout", poles[0]), ("Nout", "N")]
    w.run(circuit, start, f"{new['id']}.in", ends)
    return new


def miswire(w, per_core):
    """Wrong terminals, spare ends and missing protective cores, now and then."""
    rng = w.rng
    for length in w.file["length"]:
        for core, ends in length["cores"].items():
            for side, thing in enumerate((length["from"], length["to"])):
                if w.chance(per_core) and w.terminals.get(thing):
                    ends[side] = rng.choice([*w.terminals[thing], "-"])
                elif w.chance(per_core / 2):
                    ends[side] = "-"
        if w.chance(0.04):
            length["cores"]["spare"] = rng.choice([["-", "-"], ["E", "-"], ["-", "E"]])
    drop_double_terminals(w)


def drop_double_terminals(w):
    """A length never names a thing that it runs from and to with one terminal at both ends."""
    for length in w.file["length"]:
        if length["from"] == length["to"]:
            for ends in length["cores"].values():
                if ends[0] == ends[1]:
                    ends[1] = "-"


def override(w, unknown_combinations, rate=1.0):
    """Points that stay as they stand, that nobody knows, whose bridges stay, or that are linked inside."""
    rng = w.rng
    budget = unknown_combinations
    own = {kind["id"]: kind for kind in KINDS_OF_OUR_OWN}
    for point in w.file["point"]:
        kind = (reference.declared_kind(own[point["kind"]]) if point["kind"] in own else reference.built_in_kind(point))
        positions = [name for name, _ in kind["positions"]]
        worked = positions and kind["operable"]
        visible = kind["visible"]
        if worked and w.chance(0.1 * rate):
            point["visible"] = visible = w.chance(0.5)
        if worked and w.chance(0.05 * rate):
            point["operable"] = False
        if w.chance(0.15 * rate):
            point["fixed"] = True
        if worked and w.chance(0.12 * rate):
            if len(positions) <= budget and w.chance(0.5):
                point["stands"] = "unknown"
                budget //= len(positions)
            else:
                point["stands"] = rng.choice(positions)
        if worked and not visible and "stands" not in point:
            if len(positions) <= budget and w.chance(0.5):
                budget //= len(positions)
            else:
                point["stands"] = rng.choice(positions)
        if kind["bridges"] and kind["removable"] and w.chance(0.06 * rate):
            point["removable"] = False
        terminals = w.terminals[point["id"]]
        if len(terminals) > 2 and point["kind"] != "junction" and w.chance(0.02 * rate):
            point.setdefault("links", []).append(rng.sample(terminals, 3 if len(terminals) > 3 and w.chance(0.3) else 2))
    return budget


def installation(rng, target):
    """An installation of about `target` lengths; returns it with the budget left for unknown starting positions."""
    w = Wiring(rng, rng.choice([1, 1, 3]))
    boards = [w.board(origin=True)]
    while len(w.file["length"]) < target:
        board = rng.choice(boards)
        room = target - len(w.file["length"])
        if len(boards) < 3 and room > 3 and w.chance(0.15):
            boards.append(sub_board(w, board))
        elif w.phases == 3 and room > 1 and w.chance(0.3):
            several_line_circuit(w, board, room)
        else:
            single_circuit(w, board, rng.randint(1, max(1, min(5, room // 2))), SINGLE)
    miswire(w, rng.choice([0.0, 0.0, 0.0, 0.01, 0.03, 0.06]))
    rng.shuffle(w.file["point"]) if w.chance(0.3) else None
    rng.shuffle(w.file["length"]) if w.chance(0.3) else None
    budget = rng.choice([1, 1, 2, 4, 8]) if target > 8 else rng.choice([1, 2, 8, 32, 64])
    if target <= 12 and w.chance(0.02):
        budget = 1024
    budget = override(w, budget, rate=3.0 if budget > 100 else 1.0)
    return w.finished(), budget


def sound_installation(seed):
    """An installation without a mistake."""
    rng = random.Random(f"sound {seed}")
    w = Wiring(rng, rng.choice([1, 1, 3]))
    w.unprotected = 0.0
    board = w.board(origin=True)
    while len(w.file["length"]) < 20:
        way, poles, _ = w.way(board, neutral=True)
        circuit = w.circuit(way)
        feed = way, poles[0], "N"
        rng.choice(SOUND)(w, circuit, ahead(w, circuit, feed) if w.chance(0.2) else feed, rng.randint(1, 5))
    return w.finished()


def lead_text(rng, leads, others):
    """What one lead touches: mostly names of the circuit's own, now and then a full terminal name."""
    parts = []
    for _ in range(rng.choice([1, 1, 1, 2, 2, 3])):
        if others and rng.random() < (0.15 if leads else 1.0):
            parts.append(rng.choice(others))
        elif leads:
            parts.append(rng.choice(list(leads)))
    return "+".join(dict.fromkeys(parts))


def usual_readings(rng, row):
    """The readings that are usually taken at a circuit, leads either way round."""
    return [{"circuit": row["circuit"], "between": between if rng.random() < 0.8 else between[::-1]}
            for between in row["plan_readings"]]


def test_set(rng, file, budget, most_readings):
    """A test set of a few passes for an installation."""
    network = reference.network(file)
    points = [row for row in network["devices"] if row["operable"] and row["worked_at"] == "point"]
    at_board = [row for row in network["devices"] if row["worked_at"] == "board"]
    bridges = sorted({row["id"] for row in network["bridges"] if row["removable"]})
    passing = sorted({row["id"] for row in network["bridges"] if row["removable"] and row["passes"]})
    board_leads = reference.board_leads(file)
    circuits = network["circuits"]
    terminals = network["terminals"]
    answer = {"format": 1, "start": {}, "pass": []}
    fitted = set()

    def chosen(rows, most):
        return rng.sample(rows, min(len(rows), rng.randint(0, most)))

    words = {}
    for row in chosen(points, 3) + (chosen(at_board, 1) if rng.random() < 0.3 else []):
        if len(row["positions"]) <= budget and row["ready"] != "unknown" and rng.random() < 0.5:
            words.setdefault(row["device"], []).append("unknown")
            budget //= len(row["positions"])
        else:
            words.setdefault(row["device"], []).append(rng.choice(row["positions"]))
    if rng.random() < 0.5:
        for bridge in chosen(bridges, 2):
            state = rng.choice(["fitted", "linked" if bridge in passing else "fitted", "removed"])
            words.setdefault(bridge, []).append(state)
            if state == "fitted":
                fitted.add(bridge)
    answer["start"] = {name: said[0] if len(said) == 1 and rng.random() < 0.8 else said for name, said in words.items()}
    if not answer["start"]:
        del answer["start"]
    left = most_readings
    for number in range(rng.choice([1, 2, 2, 3, 4])):
        step = {}
        if number or rng.random() < 0.3:
            step["operate"] = [row["device"] for row in chosen(points, 3) + (chosen(at_board, 1) if rng.random() < 0.2 else [])]
            step["set"] = {row["device"]: rng.choice(row["positions"])
                           for row in chosen(points, 2) + (chosen(at_board, 2) if rng.random() < 0.3 else [])}
            if rng.random() < 0.4:
                step["remove"] = [bridge for bridge in sorted(fitted) if rng.random() < 0.6]
                fitted -= set(step["remove"])
            if rng.random() < 0.4:
                step["link"] = chosen(passing, 3)
                fitted -= set(step["link"])
            if rng.random() < 0.3:
                step["refit"] = [bridge for bridge in chosen(bridges, 2) if bridge not in fitted]
                fitted |= set(step["refit"])
            step = {key: value for key, value in step.items() if value or rng.random() < 0.1}
        readings = []
        if number == 0 or rng.random() < 0.6:
            for row in circuits:
                readings += usual_readings(rng, row)
            rng.shuffle(readings)
            readings = readings[:max(1, left - 2)]
        for _ in range(rng.choice([0, 1, 2])):
            where = rng.choice([*[("circuit", row["circuit"], row["leads"]) for row in circuits],
                                *[("board", name, leads) for name, leads in board_leads.items()]])
            readings.append({where[0]: where[1],
                             "between": [lead_text(rng, where[2], terminals), lead_text(rng, where[2], terminals)]})
        readings = readings[:max(0, left)]
        left -= len(readings)
        for reading in readings:
            if rng.random() < 0.4:
                reading["volts"] = rng.choice([250, 500, 1000])
            if rng.random() < 0.4:
                reading["megohms"] = rng.choice([250.0, 1.2, ">999", "<0.01", 20])
        if readings or rng.random() < 0.7:
            step["reading"] = readings
        answer["pass"].append(step)
    return answer


def installation_case(seed):
    """An installation file, a test set file and a need."""
    rng = random.Random(f"installation {seed}")
    target = rng.choice([1, 2, 3, 5, 8, 12, 16, 20, 25, 30, 38])
    file, budget = installation(rng, target)
    return {"seed": seed, "installation": file, "test_set": test_set(rng, file, budget, 16),
            "need": rng.choice(["earth", "standard", "standard", "every-pair"])}


def cluster(rng, most_settings):
    """A few circuits whose points, all together, stand in at most so many settings."""
    w = Wiring(rng, 1 if rng.random() < 0.85 else 3)
    board = w.board(origin=True)
    choice = rng.choice([LIGHTING, SINGLE, SWITCHED])
    target = rng.choice([1, 2, 4, 6, 8, 11, 14, 18])
    while len(w.file["length"]) < target:
        if w.phases == 3 and w.chance(0.3):
            several_line_circuit(w, board, 3)
        else:
            single_circuit(w, board, rng.randint(1, 5), choice)
    miswire(w, rng.choice([0.0, 0.0, 0.0, 0.0, 0.02, 0.06]))
    budget = override(w, rng.choice([1, 2, 4, 8]), rate=rng.choice([0.3, 1.0, 2.0]))
    file = w.finished()
    worked = [row for row in reference.network(file)["devices"] if row["operable"] and row["worked_at"] == "point"]
    if w.chance(0.5):
        # Nobody has put the switches straight: they stand as they were left.
        for row in worked:
            point = next(point for point in file["point"] if point["id"] == row["device"])
            if w.chance(0.5):
                point.setdefault("stands", rng.choice(row["positions"]))
    rng.shuffle(worked)
    points = {point["id"]: point for point in file["point"]}
    settings = 1
    for row in worked:
        # One more for a selector that is left standing where nobody knows.
        count = len(row["positions"]) + (len(row["positions"]) > 2)
        if settings * count > most_settings:
            points[row["device"]]["operable"] = False
        else:
            settings *= count
    return file, budget


def cluster_case(seed):
    """A small cluster, a test set for about half of them, and a need."""
    rng = random.Random(f"cluster {seed}")
    file, budget = cluster(rng, 4096 if rng.random() < 0.03 else rng.choice([16, 64, 128, 256, 512, 1024]))
    case = {"seed": seed, "installation": file, "test_set": None,
            "need": rng.choice(["earth", "standard", "standard", "every-pair"])}
    if rng.random() < 0.5:
        case["test_set"] = test_set(rng, file, budget, 8)
    return case


def metres(file):
    """The metres of each length."""
    return {length["id"]: length["metres"] for length in file.get("length", [])}
