"""Hand-made road networks, drawn in feet, as OpenStreetMap files."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from pathlib import Path
from xml.sax.saxutils import quoteattr

from planner.roads.extract import ExtractRoads
from planner.roads.graph import build_graph
from planner.roads.network import Box
from planner.roads.reader import read_extract
from planner.roads.sphere import FT_PER_DEG
from planner.roads.travel import Place, VehicleLimits

LAT0, LON0 = 40.0, -83.0


def at(x_ft: float, y_ft: float) -> tuple[float, float]:
    """lat, lon of a point so many feet east and north of the origin."""
    lat = LAT0 + y_ft / FT_PER_DEG
    return lat, LON0 + x_ft / (FT_PER_DEG * math.cos(math.radians(LAT0)))


def place(name: str, x_ft: float, y_ft: float) -> Place:
    return Place(name, *at(x_ft, y_ft))


@dataclass
class Sketch:
    """Nodes by name, ways by name, turn rules; written as .osm."""

    nodes: dict[str, tuple[float, float, dict[str, str]]] = field(default_factory=dict)
    ways: dict[str, tuple[list[str], dict[str, str]]] = field(default_factory=dict)
    rules: list[tuple[dict[str, str], list[tuple[str, str, str]]]] = field(default_factory=list)

    def node(self, name: str, x_ft: float, y_ft: float, **tags: str) -> None:
        self.nodes[name] = (x_ft, y_ft, tags)

    def tag_node(self, name: str, **tags: str) -> None:
        self.nodes[name][2].update({key.replace("__", ":"): tags[key] for key in tags})

    def way(self, name: str, nodes: str, **tags: str) -> None:
        """Nodes are given as 'A B C'; the street's name is the way's."""
        base = {"highway": "residential", "name": name}
        self.ways[name] = (nodes.split(), base | tags)

    def tag(self, name: str, **tags: str) -> None:
        self.ways[name][1].update(tags)

    def rule(self, kind: str, start: str, via: str, end: str, **tags: str) -> None:
        """via: a node, or ways joined by spaces."""
        vias = (
            [("node", via, "via")]
            if via in self.nodes
            else [("way", way, "via") for way in via.split()]
        )
        members = [("way", start, "from"), *vias, ("way", end, "to")]
        self.rules.append(({"type": "restriction", "restriction": kind, **tags}, members))

    def write(self, path: Path, *, ways_first: bool = False) -> Path:
        node_id = {name: i + 1 for i, name in enumerate(self.nodes)}
        way_id = {name: i + 1 for i, name in enumerate(self.ways)}
        nodes, ways = [], []
        for name, (x, y, tags) in self.nodes.items():
            lat, lon = at(x, y)
            head = f'<node id="{node_id[name]}" version="1" lat="{lat:.7f}" lon="{lon:.7f}">'
            nodes.append(head + _tags(tags) + "</node>")
        for name, (members, tags) in self.ways.items():
            refs = "".join(f'<nd ref="{node_id[node]}"/>' for node in members)
            ways.append(f'<way id="{way_id[name]}" version="1">{refs}{_tags(tags)}</way>')
        parts = ways + nodes if ways_first else nodes + ways
        for number, (tags, members) in enumerate(self.rules, start=1):
            refs = "".join(
                f'<member type="{kind}" role="{role}" '
                f'ref="{node_id[name] if kind == "node" else way_id[name]}"/>'
                for kind, name, role in members
            )
            parts.append(f'<relation id="{number}" version="1">{refs}{_tags(tags)}</relation>')
        path.write_text('<osm version="0.6">\n' + "\n".join(parts) + "\n</osm>\n")
        return path

    def roads(self, folder: Path, clip: Box | None = None) -> ExtractRoads:
        raw = read_extract(self.write(folder / "sketch.osm"), clip)
        return ExtractRoads(build_graph(raw), "sketch")


def _tags(tags: dict[str, str]) -> str:
    return "".join(f"<tag k={quoteattr(k)} v={quoteattr(v)}/>" for k, v in tags.items())


def block() -> Sketch:
    """A block of 1,000 ft, a dead end of 500 ft outward from each corner.

    D --North-- C     stubs: a west of A, b east of B, c east of C, d west of D
    |           |
    West       East
    |           |
    A --South-- B
    """
    sketch = Sketch()
    for name, x, y in (
        ("A", 0, 0),
        ("B", 1000, 0),
        ("C", 1000, 1000),
        ("D", 0, 1000),
        ("a", -500, 0),
        ("b", 1500, 0),
        ("c", 1500, 1000),
        ("d", -500, 1000),
    ):
        sketch.node(name, x, y)
    for name, nodes in (
        ("South", "A B"),
        ("East", "B C"),
        ("North", "C D"),
        ("West", "D A"),
        ("Stub a", "a A"),
        ("Stub b", "b B"),
        ("Stub c", "c C"),
        ("Stub d", "d D"),
    ):
        sketch.way(name, nodes)
    return sketch


ENDS = {
    "a": place("a", -500, 0),
    "b": place("b", 1500, 0),
    "c": place("c", 1500, 1000),
    "d": place("d", -500, 1000),
}


def drive(
    roads: ExtractRoads, start: str | Place, end: str | Place, limits: VehicleLimits | None = None
) -> tuple[tuple[str, ...], float, float]:
    """Streets, minutes and feet of the way, after a look that the table of times says the same."""
    first = ENDS[start] if isinstance(start, str) else start
    last = ENDS[end] if isinstance(end, str) else end
    leg, minutes, miles = roads.leg_with_sums(first, last, limits)
    travel = roads.travel([first, last], limits)
    assert (travel.minutes[0, 1], travel.miles[0, 1]) == (minutes, miles)
    return leg.streets, minutes, miles * 5280
