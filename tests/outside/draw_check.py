"""Drawings, held against Graphviz `dot` laying out the same graph with locations kept together.

`draw --format dot` gives the graph: Graphviz must open it, and find in it each core of each length between the boxes that
the file says. Then crossings of cores and their length in our SVG are compared with those of `dot` (cores only, from the
edges of boxes; lengths that close a ring are left out of `dot`'s, and drawn to a second box in ours). Both keep locations together as rectangles, with the same gap
between columns. All of a run's circuits are summed up: a layout may be worse now and then, not as a whole.

Source: Graphviz, <https://graphviz.org/docs/layouts/dot/>, with `splines=polyline`; JSON as of
<https://graphviz.org/docs/outputs/json/>.
"""

import html
import itertools
import json
import re
import subprocess
import xml.etree.ElementTree

import networkx

# Between the columns of boxes, in pixels (72 to the inch of Graphviz), as ours have it at least for a core's name.
GAP = 86
# What is asked of our drawings, summed over a run.
MOST_CROSSINGS, MOST_LENGTH = 0.25, 1.3
SVG = "{http://www.w3.org/2000/svg}"


def graphviz(graph):
    done = subprocess.run(["dot", "-Tjson", f"-Granksep={GAP / 72}", "-Gsplines=polyline"], input=graph,
                          capture_output=True, text=True, timeout=300)
    if done.returncode != 0:
        raise ValueError(f"Graphviz does not open the graph: {done.stderr.strip()[:300]}")
    return json.loads(done.stdout)


def tree_of(file, circuit):
    """The lengths of a circuit that close no ring, in the order of the file."""
    graph, tree = networkx.Graph(), set()
    for length in file.get("length", []):
        if length["circuit"] == circuit:
            ends = length["from"], length["to"]
            graph.add_nodes_from(ends)
            if not networkx.has_path(graph, *ends):
                tree.add(length["id"])
            graph.add_edge(*ends)
    return tree


def without(graph, is_kept):
    """The graph without the edges of some lengths."""
    edge = re.compile(r'^  \S+ -- \S+ \[id="([^":]+):')
    return "\n".join(line for line in graph.split("\n") if not (found := edge.match(line)) or is_kept(found[1]))


def splines(layout):
    """The lines of the edges: of each its corners."""
    lines = []
    for edge in layout.get("edges", []):
        for step in edge["_draw_"]:
            if step["op"] in "bB":
                # With polylines, every third point of the curve is a corner.
                lines.append([tuple(point) for point in step["points"]][::3])
    return lines


def ours(svg):
    lines = []
    for element in xml.etree.ElementTree.fromstring(svg).iter(f"{SVG}polyline"):
        if element.get("class", "").startswith("lw-line lw-case"):
            lines.append([tuple(map(float, place.split(","))) for place in element.get("points").split()])
    return lines


def length_of(lines):
    pairs = itertools.chain.from_iterable(itertools.pairwise(line) for line in lines)
    return sum(((ax - bx) ** 2 + (ay - by) ** 2) ** 0.5 for (ax, ay), (bx, by) in pairs)


def crossings(lines):
    """How often two lines cross, each pair of straight parts once; where they only touch is no crossing."""
    parts = [(number, a, b) for number, line in enumerate(lines) for a, b in itertools.pairwise(line) if a != b]

    def side(a, b, at):
        value = (b[0] - a[0]) * (at[1] - a[1]) - (b[1] - a[1]) * (at[0] - a[0])
        return (value > 1e-6) - (value < -1e-6)

    found = 0
    for (one, a, b), (other, c, d) in itertools.combinations(parts, 2):
        if one != other and side(a, b, c) * side(a, b, d) < 0 and side(c, d, a) * side(c, d, b) < 0:
            found += 1
    return found


def cores_differ(file, circuit, layout):
    """What of the graph that Graphviz read is not what the file says."""
    asked = {(f"{row['id']}:{core}", frozenset((row["from"], row["to"])))
             for row in file.get("length", []) if row["circuit"] == circuit for core in row["cores"]}
    names = {row["_gvid"]: html.unescape(re.search(r"<b>(.*?)</b>", row["label"])[1]) for row in layout["objects"] if "label" in row
             and "<b>" in row["label"]}
    found = {(edge["id"], frozenset((names[edge["tail"]], names[edge["head"]]))) for edge in layout.get("edges", [])}
    return [f"{circuit}: {row}" for row in sorted(map(str, asked ^ found))]


def graph_of(program, file, circuit):
    return program.text("draw", file, None, more=["--circuit", circuit, "--format", "dot"])


class Drawn:
    """What the drawings of a run come to."""

    def __init__(self):
        self.circuits, self.crossings, self.length = 0, [0, 0], [0.0, 0.0]

    def add(self, program, file, circuit):
        """Adds the drawing of a circuit; returns what is wrong with it."""
        graph = graph_of(program, file, circuit)
        wrong = cores_differ(file, circuit, graphviz(graph))
        tree = tree_of(file, circuit)
        theirs = splines(graphviz(without(graph, tree.__contains__)))
        lines = ours(program.text("draw", file, None, more=["--circuit", circuit]))
        self.circuits += 1
        for side, both in enumerate((lines, theirs)):
            self.crossings[side] += crossings(both)
            self.length[side] += length_of(both)
        return wrong

    def too_much(self):
        """What is more than is asked."""
        of_crossings, of_length = (ours / max(theirs, 1) for ours, theirs in (self.crossings, self.length))
        print(f"{self.circuits} circuits drawn: crossings {self.crossings[0]} and {self.crossings[1]} of dot; "
              f"cores {of_length:.2f} times as long", flush=True)
        wrong = [f"{of_crossings:.2f} times the crossings of dot"] if of_crossings > MOST_CROSSINGS else []
        return wrong + ([f"cores {of_length:.2f} times as long as dot's"] if of_length > MOST_LENGTH else [])
