"""The same question asked of networkx: which pairs does each reading test?

Reads a graph and readings as JSON from a file, writes times and answers as JSON to standard output. For each setting
there is one graph of what conducts for sure and one with what may conduct; for each reading the leads' own joins are put
in, the leads' components are found by search from the leads, and all pairs are looked up in them. The times are those of the processor.
"""

import json
import sys
import time

import networkx


def main(path):
    with open(path, encoding="utf-8") as file:
        case = json.load(file)
    graph, tests = case["graph"], case["tests"]
    building = answering = 0.0
    tested = []
    graphs = {}
    for number, reading in enumerate(tests["readings"]):
        setting = reading["setting"]
        if setting not in graphs:
            begun = time.process_time()
            graphs = {setting: build(graph, tests["settings"][setting])}
            building += time.process_time() - begun
        sure, may = graphs[setting]
        begun = time.process_time()
        tested += [[pair, number] for pair in read(sure, may, graph["pairs"], reading["leads"])]
        answering += time.process_time() - begun
    json.dump({"version": networkx.__version__, "building": building, "answering": answering, "tested": tested}, sys.stdout)


def build(graph, stands):
    sure = networkx.Graph()
    sure.add_nodes_from(range(graph["nodes"]))
    sure.add_edges_from(graph["copper"])
    sure.add_edges_from(ends for device, ends, closed_in in graph["contacts"] if closed_in >> stands[device] & 1)
    sure.add_edges_from(ends for ends, is_sure in graph["bridges"] if is_sure)
    may = sure.copy()
    may.add_edges_from(ends for ends, _ in graph["bridges"])
    return sure, may


def read(sure, may, pairs, leads):
    joins = [pair for lead in leads for pair in zip(lead, lead[1:])]
    added = [(graph, pair) for graph in (sure, may) for pair in joins if not graph.has_edge(*pair)]
    for graph, pair in added:
        graph.add_edge(*pair)
    try:
        a, b = leads[0][0], leads[1][0]
        if b in networkx.node_connected_component(may, a):
            return []
        on_a = networkx.node_connected_component(sure, a)
        on_b = networkx.node_connected_component(sure, b)
        return [
            number
            for number, (x, y) in enumerate(pairs)
            if (x in on_a and y in on_b) or (x in on_b and y in on_a)
        ]
    finally:
        for graph, pair in added:
            graph.remove_edge(*pair)


if __name__ == "__main__":
    main(sys.argv[1])
