"""What `network` and `cover` print, checked by reachability in networkx and by a second reading of the file.

Sources: networkx `connected_components` for what is joined to what; FORMAT.md parts 1 to 3 for what the words mean.
Exact: there is no tolerance.
"""

from collections import Counter

import networkx

import passes
import reference
from coverage import compare_rows


class Conductors:
    """What is joined to what, for any setting, as connected components found by networkx.

    The cores and permanent joins, which always conduct, are found once; a setting is then a graph over those pieces.
    """

    def __init__(self, network, devices):
        graph = networkx.Graph()
        graph.add_nodes_from(network["terminals"])
        for group in network["joins"]:
            networkx.add_path(graph, group)
        for core in network["cores"]:
            node = (core["length"], core["core"])
            graph.add_node(node)
            graph.add_edges_from((node, end) for end in core["ends"] if end)
        self.piece = {}
        for number, component in enumerate(networkx.connected_components(graph)):
            for node in component:
                self.piece[node] = number
        self.piece_count = number + 1
        self.bridges = [(row, [self.piece[end] for end in row["between"]]) for row in network["bridges"]]
        number_of = {name: number for number, name in enumerate(devices)}
        self.contacts = []
        for row in network["contacts"]:
            positions = devices[row["device"]]["positions"]
            self.contacts.append((number_of[row["device"]], {positions.index(name) for name in row["closed_in"]},
                                  *[self.piece[end] for end in row["between"]]))
        self.known = {}

    def components(self, key, fitted):
        """For each piece the number of its component, in SURE and in MAY."""
        if (key, fitted) not in self.known:
            graph = networkx.Graph()
            graph.add_nodes_from(range(self.piece_count))
            graph.add_edges_from((a, b) for device, closed_in, a, b in self.contacts if key[device] in closed_in)
            graph.add_edges_from(ends for row, ends in self.bridges if passes.conduct(row, fitted) == "sure")
            sure = numbered(graph)
            graph.add_edges_from(ends for row, ends in self.bridges if passes.conduct(row, fitted) == "maybe")
            self.known[key, fitted] = sure, numbered(graph)
        return self.known[key, fitted]

    def reading(self, key, fitted, leads):
        """Whether a reading is void in this setting, and which lead (0, 1 or none) each node is joined to in SURE.

        Where both leads are joined, every node on them counts as on lead 0.
        """
        sure, may = self.components(key, fitted)
        touched = [[self.piece[terminal] for terminal in lead] for lead in leads]
        reached = [{sure[piece] for piece in lead} for lead in touched]
        if reached[0] & reached[1]:
            void, reached = "bridged", [reached[0] | reached[1], set()]
        elif {may[piece] for piece in touched[0]} & {may[piece] for piece in touched[1]}:
            void = "doubtful"
        else:
            void = None

        def lead_of(node):
            component = sure[self.piece[node]]
            return 0 if component in reached[0] else 1 if component in reached[1] else None

        return void, lead_of


def numbered(graph):
    number_of = {}
    for number, component in enumerate(networkx.connected_components(graph)):
        for node in component:
            number_of[node] = number
    return number_of


def partition(terminals, groups):
    """Which terminals the groups make one, as a set of sets."""
    sets = reference.Sets()
    for terminal in terminals:
        sets.find(terminal)
    for group in groups:
        sets.join(group)
    members = {}
    for terminal in terminals:
        members.setdefault(sets.find(terminal), set()).add(terminal)
    return {frozenset(group) for group in members.values() if len(group) > 1}


def compare_network(expected, got):
    """The disagreements between the second reading of the file and what `network` printed."""
    wrong = []
    if expected["installation"] != got["installation"]:
        wrong.append(f"installation is {got['installation']}, expected {expected['installation']}")
    terminals = Counter(got["terminals"])
    for terminal in terminals.keys() ^ set(expected["terminals"]):
        wrong.append(f"terminal {terminal} is {'unexpected' if terminal in terminals else 'missing'}")
    wrong += [f"terminal {terminal} is listed {count} times" for terminal, count in terminals.items() if count > 1]
    if wrong:
        return wrong
    compare_rows(expected["cores"], got["cores"], ["length", "core"], ["ends", "roles"], "core", wrong)
    compare_rows(expected["devices"], got["devices"], ["device"], ["positions", "ready", "operable", "worked_at"],
                 "device", wrong)
    stops = {row["device"]: row.get("stop") for row in got["devices"]}
    for row in expected["devices"]:
        if row["stop"] and stops.get(row["device"]) != row["stop"]:
            wrong.append(f"device {row['device']}: stop is {stops.get(row['device'])}, expected {row['stop']}")
    if partition(expected["terminals"], expected["joins"]) != partition(expected["terminals"], got["joins"]):
        wrong.append("the permanent joins make other groups of terminals")
    for row in expected["devices"]:
        for position in row["positions"]:
            closed = [[contact["between"] for contact in side["contacts"]
                       if contact["device"] == row["device"] and position in contact["closed_in"]]
                      for side in (expected, got)]
            if partition(expected["terminals"], closed[0]) != partition(expected["terminals"], closed[1]):
                wrong.append(f"device {row['device']} in {position} joins {closed[1]}, expected {closed[0]}")

    def bridges(rows):
        return Counter((row["id"], row["removable"], row["conducts"], row["passes"], tuple(sorted(row["between"]))) for row in rows)

    if bridges(expected["bridges"]) != bridges(got["bridges"]):
        odd = set((bridges(expected["bridges"]) - bridges(got["bridges"])) + (bridges(got["bridges"]) - bridges(expected["bridges"])))
        wrong.append(f"bridges differ: {sorted(odd)}")
    compare_rows(expected["sources"], got["sources"], ["role"], ["terminal"], "source", wrong)
    compare_rows(expected["pairs"], got["pairs"], ["length", "cores"], ["class"], "pair", wrong)
    compare_rows(expected["circuits"], got["circuits"], ["circuit"], ["volts"], "circuit", wrong)
    printed = {row["circuit"]: row for row in got["circuits"]}
    for row in expected["circuits"]:
        name = row["circuit"]
        if name not in printed:
            continue
        leads, readings = printed[name]["leads"], printed[name]["plan_readings"]
        for lead in leads.keys() | (row["leads"].keys() & {"L", "N", "E"}):
            if sorted(leads.get(lead, [])) != sorted(row["leads"].get(lead, [])):
                wrong.append(f"circuit {name}: lead {lead} touches {leads.get(lead)}, expected {row['leads'].get(lead)}")
        expected_touch = [[sorted(passes.touched(lead, row["leads"])) for lead in reading] for reading in row["plan_readings"]]
        got_touch = [[sorted(passes.touched(lead, row["leads"])) for lead in reading] for reading in readings]
        if sorted(expected_touch) != sorted(got_touch):
            wrong.append(f"circuit {name}: plan readings are {readings}, expected {row['plan_readings']}")
    return wrong
