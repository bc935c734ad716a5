"""A second reading of the installation file, sharing nothing with the program.

`network(installation)` turns the installation (as read from JSON or TOML) into the same rows that
`lengthwise network --json` prints: terminals, cores, permanent joins, devices and their contacts, bridges, sources,
pairs, circuits with their leads; and beside them the `roles` of every terminal, and of every core as (length, core). It is written from FORMAT.md part 1 alone, as plainly as that text, and knows no
graph library; only valid files are expected of it.
"""

import math

LINES = {1: ["L"], 3: ["L1", "L2", "L3"]}


class Sets:
    """Disjoint sets of names: which terminals are one conductor."""

    def __init__(self):
        self.parent = {}

    def find(self, name):
        self.parent.setdefault(name, name)
        root = name
        while self.parent[root] != root:
            root = self.parent[root]
        while self.parent[name] != root:
            self.parent[name], name = root, self.parent[name]
        return root

    def join(self, names):
        first = self.find(names[0])
        for name in names[1:]:
            self.parent[self.find(name)] = first


def built_in_kind(point):
    """The table of kinds: terminals, positions with what each joins, bridges (a fourth entry: it passes), whether bridges
    come out, whether it is worked by hand, and which terminals are a source."""
    kind = point["kind"]
    load = "sure" if point.get("load", "resistive") == "resistive" else "maybe"
    lamp = "sure" if point.get("lamp", "filament") == "filament" else "maybe"
    row = {"terminals": [], "positions": [], "bridges": [], "removable": True, "operable": True,
           "visible": True, "sources": []}

    def has(terminals, positions=(), bridges=(), **more):
        row.update(terminals=terminals.split(), positions=list(positions), bridges=list(bridges), **more)
        return row

    if kind == "one-way":
        return has("COM L1", [("on", [["COM", "L1"]]), ("off", [])])
    if kind == "two-way":
        return has("COM L1 L2", [("L1", [["COM", "L1"]]), ("L2", [["COM", "L2"]])], visible=False)
    if kind == "intermediate":
        return has("A1 A2 B1 B2", [("straight", [["A1", "B1"], ["A2", "B2"]]), ("crossed", [["A1", "B2"], ["A2", "B1"]])],
                   visible=False)
    if kind in ("double-pole", "fused-connection"):
        return has("Lin Lout Nin Nout", [("on", [["Lin", "Lout"], ["Nin", "Nout"]]), ("off", [])])
    if kind == "triple-pole":
        return has("L1in L1out L2in L2out L3in L3out",
                   [("on", [["L1in", "L1out"], ["L2in", "L2out"], ["L3in", "L3out"]]), ("off", [])])
    if kind.startswith("selector-"):
        ways = [f"P{i}" for i in range(1, int(kind.removeprefix("selector-")) + 1)]
        return has("COM " + " ".join(ways), [(way, [["COM", way]]) for way in ways])
    if kind == "socket":
        return has("L N")
    if kind == "switched-socket":
        return has("L N Lfront", [("on", [["L", "Lfront"]]), ("off", [])])
    if kind == "luminaire":
        return has("L N", bridges=[("L", "N", lamp)])
    if kind == "appliance":
        return has("L N", bridges=[("L", "N", load)])
    if kind == "appliance-3":
        return has("L1 L2 L3 N", bridges=[(a, b, load) for a, b in (("L1", "L2"), ("L2", "L3"), ("L1", "L3"), ("L1", "N"))])
    if kind == "detector":
        return has("L N IC", bridges=[("L", "N", "maybe"), ("IC", "N", "maybe")])
    if kind == "sensor":
        return has("L N SL", bridges=[("L", "N", "maybe"), ("L", "SL", "maybe", True)])
    if kind == "dimmer":
        return has("COM L1", bridges=[("COM", "L1", "maybe", True)])
    if kind == "contactor":
        return has("A1 A2 1 2 3 4", [("released", []), ("held-in", [["1", "2"], ["3", "4"]])], [("A1", "A2", "sure")],
                   operable=point.get("manual", False))
    if kind == "indicator":
        return has("L N", bridges=[("L", "N", "maybe")], removable=point.get("removable", False))
    if kind == "surge-protector":
        return has("L N", bridges=[("L", "N", "maybe"), ("L", "E", "maybe"), ("N", "E", "maybe")])
    if kind == "transformer":
        return has("L N V1 V2", bridges=[("L", "N", "sure"), ("V1", "V2", "sure")], sources=["V1", "V2"])
    if kind == "junction":
        return row
    raise ValueError(f"no kind {kind}")


def declared_kind(kind):
    """A kind that the file declares."""
    return {"terminals": list(kind.get("terminals", [])),
            "positions": [(position["name"], position.get("joins", [])) for position in kind.get("positions", [])],
            "bridges": [(*bridge["between"], bridge["conducts"], bridge.get("passes", False))
                        for bridge in kind.get("bridges", [])],
            "removable": kind.get("removable", True), "operable": True,
            "visible": kind.get("visible", True), "sources": []}


def end_name(end, terminal):
    """The full name of a terminal at the end of a length; none for an end that is connected to nothing."""
    return None if terminal == "-" else f"{end}.{terminal}"


def contact_rows(device, positions):
    """One row for each pair of terminals that some position joins, with the positions that do."""
    closed_in = {}
    for position, joins in positions:
        for group in joins:
            for pair in zip(group, group[1:]):
                names = closed_in.setdefault(tuple(sorted(pair)), [])
                if position not in names:
                    names.append(position)
    return [{"device": device, "between": list(pair), "closed_in": names} for pair, names in closed_in.items()]


def role_order(role):
    fixed = ["L", "L1", "L2", "L3", "N", "E"]
    return (fixed.index(role), "") if role in fixed else (len(fixed), role)


def pair_class(roles, other):
    """The class of a pair from the roles of its two cores; none where nothing is to be tested between them."""
    if not roles or not other:
        return "spare"
    if "E" in roles or "E" in other:
        return None if roles == other == {"E"} else "to-earth"
    if roles != other or len(roles) > 1:
        return "between-live"
    return "same-polarity"


def pass_on(roles_of, passing):
    """Gives pieces without a role that passing bridges join the only role that lies around all of them, if one does."""
    apart = Sets()
    for ends in passing:
        if not any(end in roles_of for end in ends):
            apart.join(ends)
    around = {}
    for ends in passing:
        for end, other in (ends, ends[::-1]):
            if end not in roles_of and other in roles_of:
                around.setdefault(apart.find(end), set()).update(roles_of[other])
    for end in {end for ends in passing for end in ends if end not in roles_of}:
        roles = around.get(apart.find(end), set())
        if len(roles) == 1:
            roles_of[end] = set(roles)


def serve(roles_of, bridges):
    """Gives pieces that have no role, and that bridges join to one that has, each a role of its own."""
    apart = Sets()
    for (a, _), (b, _) in bridges:
        if a not in roles_of and b not in roles_of:
            apart.join([a, b])
    served = {apart.find(end) for (a, _), (b, _) in bridges for end, other in ((a, b), (b, a))
              if end not in roles_of and other in roles_of}
    for piece, terminal in [end for ends in bridges for end in ends]:
        if piece not in roles_of and apart.find(piece) in served:
            roles_of[piece] = {terminal}


def required(pair_class_name, need):
    """Whether pairs of this class must be tested at this need."""
    classes = {"earth": ["to-earth"], "standard": ["to-earth", "between-live"],
               "every-pair": ["to-earth", "between-live", "same-polarity"]}
    return pair_class_name in classes[need]


def nominal_voltages(installation, roles):
    """For each circuit the greatest nominal voltage between two of its live conductors: with two lines or more √3 times
    that of line to neutral less 0.5 %. `roles` are those of the cores of each length."""
    lines = {circuit["id"]: set() for circuit in installation.get("circuit", [])}
    for length in installation.get("length", []):
        lines[length["circuit"]] |= set().union(*roles.get(length["id"], [])) & {"L", "L1", "L2", "L3"}
    ways = {f"{board['id']}/{way['id']}": way for board in installation["board"] for way in board.get("way", [])}
    first = LINES[installation["installation"].get("phases", 1)][0]
    nominal = {}
    for circuit in installation.get("circuit", []):
        volts = circuit.get("nominal_voltage", installation["installation"]["nominal_voltage"])
        if "way" in circuit:
            carried = lines[circuit["id"]] | set(ways[circuit["way"]].get("poles", [first]))
            volts = volts * math.sqrt(3) * 0.995 if len(carried) > 1 else volts
        nominal[circuit["id"]] = volts
    return nominal


def roles_by_length(cores):
    """The roles of the cores of each length."""
    roles = {}
    for core in cores:
        roles.setdefault(core["length"], []).append(core["roles"])
    return roles


def test_volts(circuit, nominal):
    """The test voltage of a circuit (BS 7671:2018 Table 64; IEC 60364-6:2016 Table 6.1). FELV is looked up at 500 V."""
    system = circuit.get("system", "lv")
    if system in ("selv", "pelv"):
        return 250
    return 500 if system == "felv" or nominal <= 500 else 1000


def network(installation):
    """The rows of `network --json` for an installation."""
    head = installation["installation"]
    phases = head.get("phases", 1)
    lines = LINES[phases]
    terminals, joins, devices, contacts, bridges, sources = [], [], [], [], [], []
    ways = {}

    def board_device(name, between):
        devices.append({"device": name, "positions": ["off", "on"], "ready": "off", "operable": True, "visible": True,
                        "worked_at": "board", "stop": None})
        contacts.extend({"device": name, "between": list(pair), "closed_in": ["on"]} for pair in between)

    def bridge(owner, removable, conducts, a, b, passes=False):
        bridges.append({"id": owner, "removable": removable, "conducts": conducts, "passes": passes, "between": [a, b]})

    for board in installation["board"]:
        name = board["id"]
        live = [*lines, "N"]
        terminals += [f"{name}.in.{x}" for x in [*live, "E"]] + [f"{name}.bus.{x}" for x in live] + [f"{name}.E"]
        joins.append([f"{name}.in.E", f"{name}.E"])
        if board.get("origin", False):
            terminals.append("MET")
            joins.append([f"{name}.E", "MET"])
            sources += [{"role": x, "terminal": f"{name}.in.{x}"} for x in live] + [{"role": "E", "terminal": "MET"}]
        incoming = [(f"{name}.in.{x}", f"{name}.bus.{x}") for x in live]
        if board.get("main_switch", True):
            board_device(f"{name}.main", incoming)
        else:
            joins += [list(pair) for pair in incoming]
        for group in board.get("group", []):
            bars = f"{name}.{group['id']}"
            terminals += [f"{bars}.{x}" for x in live]
            board_device(bars, [(f"{name}.bus.{x}", f"{bars}.{x}") for x in live])
            if group.get("electronic", True):
                for line in lines:
                    bridge(bars, False, "maybe", f"{bars}.{line}", f"{bars}.N")
        for way in board.get("way", []):
            full = f"{name}/{way['id']}"
            poles = way.get("poles", [lines[0]])
            neutral = way.get("neutral", True)
            ways[full] = (poles, neutral)
            supply = f"{name}.{way['group']}" if "group" in way else f"{name}.bus"
            terminals += [f"{full}.{x}" for x in [*poles, *(["N"] if neutral else []), "E"]]
            between = [(f"{supply}.{pole}", f"{full}.{pole}") for pole in poles]
            rcbo = way["device"] == "rcbo"
            if neutral:
                if rcbo and way.get("switches_neutral", True):
                    between.append((f"{supply}.N", f"{full}.N"))
                else:
                    joins.append([f"{supply}.N", f"{full}.N"])
            board_device(full, between)
            joins.append([f"{full}.E", f"{name}.E"])
            if rcbo:
                for pole in poles:
                    if neutral:
                        bridge(full, True, "maybe", f"{full}.{pole}", f"{full}.N")
                    if way.get("functional_earth", False):
                        bridge(full, True, "maybe", f"{full}.{pole}", f"{full}.E")

    declared = {kind["id"]: kind for kind in installation.get("kind", [])}
    named_by_lengths = {}
    for length in installation.get("length", []):
        for ends in length["cores"].values():
            for end, terminal in zip((length["from"], length["to"]), ends):
                if terminal != "-":
                    named_by_lengths.setdefault(end, []).append(terminal)
    for point in installation.get("point", []):
        name = point["id"]
        kind = declared_kind(declared[point["kind"]]) if point["kind"] in declared else built_in_kind(point)
        own = [*kind["terminals"], *point.get("terminals", []), "E"]
        if point["kind"] == "junction":
            own += named_by_lengths.get(name, [])
        terminals += [f"{name}.{terminal}" for terminal in dict.fromkeys(own)]
        joins += [[f"{name}.{terminal}" for terminal in link] for link in point.get("links", [])]
        if kind["positions"]:
            visible = point.get("visible", kind["visible"])
            # A contactor that is not worked by hand is released, seen or not.
            ready = kind["positions"][0][0] if visible or not kind["operable"] else "unknown"
            devices.append({"device": name, "positions": [position for position, _ in kind["positions"]],
                            "ready": point.get("stands", ready), "visible": visible,
                            "operable": kind["operable"] and point.get("operable", True),
                            "worked_at": "point", "stop": stop_of(point)})
            contacts += contact_rows(name, [(position, [[f"{name}.{t}" for t in group] for group in groups])
                                            for position, groups in kind["positions"]])
        removable = kind["removable"] and point.get("removable", True)
        for a, b, conducts, *passes in kind["bridges"]:
            bridge(name, removable, conducts, f"{name}.{a}", f"{name}.{b}", *passes)
        sources += [{"role": f"{name}.{v}", "terminal": f"{name}.{v}"} for v in kind["sources"]]

    # Cores and permanent joins alone are copper; in service every contact is closed too.
    copper, in_service = Sets(), Sets()
    lengths = installation.get("length", [])
    joined = {}
    for length in lengths:
        for core, ends in length["cores"].items():
            joined[length["id"], core] = [end_name(length["from"], ends[0]), end_name(length["to"], ends[1])]
    for sets in (copper, in_service):
        for terminal in terminals:
            sets.find(terminal)
        for group in joins:
            sets.join(group)
        for (length, core), touched in joined.items():
            sets.join([("core", length, core), *(name for name in touched if name)])
    for contact in contacts:
        in_service.join(contact["between"])
    roles_of = {}
    for source in sources:
        roles_of.setdefault(in_service.find(source["terminal"]), set()).add(source["role"])
    pass_on(roles_of, [[in_service.find(end) for end in row["between"]] for row in bridges if row["passes"]])
    serve(roles_of, [[(in_service.find(end), end) for end in row["between"]] for row in bridges])

    def roles(node):
        return roles_of.get(in_service.find(node), set())

    cores, pairs = [], []
    for length in lengths:
        names = list(length["cores"])
        own = {core: roles(("core", length["id"], core)) for core in names}
        for core in names:
            cores.append({"length": length["id"], "core": core, "ends": joined[length["id"], core],
                          "roles": sorted(own[core], key=role_order)})
        listed = [(a, b, own[a], own[b]) for i, a in enumerate(names) for b in names[i + 1:]]
        if not any("E" in own[core] for core in names):
            listed += [(core, "earth", own[core], roles("MET")) for core in names]
        for a, b, roles_a, roles_b in listed:
            found = pair_class(roles_a, roles_b)
            nodes = ["MET" if core == "earth" else ("core", length["id"], core) for core in (a, b)]
            if found and copper.find(nodes[0]) != copper.find(nodes[1]):
                pairs.append({"length": length["id"], "cores": [a, b], "class": found})

    owner_of = {length["id"]: length.get("circuit") for length in lengths}
    points_by_id = {point["id"]: point for point in installation.get("point", [])}
    nominal = nominal_voltages(installation, roles_by_length(cores))
    circuits = []
    for circuit in installation.get("circuit", []):
        row = {"circuit": circuit["id"], "volts": test_volts(circuit, nominal[circuit["id"]]), "leads": {}, "plan_readings": [],
               "lengths": [length for length, owner in owner_of.items() if owner == circuit["id"]]}
        if "way" in circuit:
            way = circuit["way"]
            poles, neutral = ways[way]
            row["leads"] = {"L": [f"{way}.{pole}" for pole in poles], **{pole: [f"{way}.{pole}"] for pole in poles},
                            **({"N": [f"{way}.N"]} if neutral else {}), "E": [f"{way}.E"]}
            row["plan_readings"] = plan_readings(poles, neutral)
        else:
            own = [core for core in cores if owner_of[core["length"]] == circuit["id"]]
            on = {in_service.find(("core", core["length"], core["core"])) for core in own}
            own_sources = [source["terminal"] for source in sources if source["terminal"].split(".")[0] in points_by_id]
            points = list(dict.fromkeys(terminal.split(".")[0] for terminal in own_sources if in_service.find(terminal) in on))
            for point in points:
                earth = f"{point}.E" if copper.find(f"{point}.E") == copper.find("MET") else "MET"
                live = {name: f"{point}.{name}" for name in ("V1", "V2")}
                kept = [name for name, terminal in live.items() if copper.find(terminal) != copper.find("MET")]
                if len(points) == 1:
                    row["leads"] = {**{name: [terminal] for name, terminal in live.items()}, "E": [earth]}
                    names = {**{name: name for name in kept}, "E": "E"}
                else:
                    names = {**{name: live[name] for name in kept}, "E": earth}
                row.setdefault("stops", {})[point] = stop_of(points_by_id[point])
                if kept:
                    row["plan_readings"].append(["+".join(names[name] for name in kept), names["E"]])
                if len(kept) == 2:
                    row["plan_readings"].append([names[name] for name in kept])
        circuits.append(row)
    return {"format": 1,
            "installation": {"name": head["name"], "nominal_voltage": head["nominal_voltage"], "phases": phases},
            "terminals": terminals, "cores": cores, "joins": joins, "devices": devices, "contacts": contacts,
            "bridges": bridges, "sources": sources, "pairs": pairs, "circuits": circuits,
            "roles": {**{terminal: roles(terminal) for terminal in terminals},
                      **{core: roles(("core", *core)) for core in joined}}}


def stop_of(point):
    """Where a point is worked or read at."""
    return (f"plate:{point['plate']}" if "plate" in point
            else f"location:{point['location']}" if "location" in point else f"point:{point['id']}")


def plan_readings(poles, neutral):
    """The readings that a plan may use at a way."""
    names = ["L"] if len(poles) == 1 else poles
    live = "+".join([*names, *(["N"] if neutral else [])])
    readings = [[live, "E"]]
    readings += [[a, b] for i, a in enumerate(names) for b in names[i + 1:]]
    if neutral:
        readings.append(["+".join(names), "N"])
    return readings


def board_leads(installation):
    """What each lead name of a `board` reading touches, for every board."""
    lines = LINES[installation["installation"].get("phases", 1)]
    leads = {}
    for board in installation["board"]:
        bus = f"{board['id']}.bus"
        leads[board["id"]] = {"L": [f"{bus}.{line}" for line in lines], **{line: [f"{bus}.{line}"] for line in lines},
                              "N": [f"{bus}.N"], "E": [f"{board['id']}.E"]}
    return leads
