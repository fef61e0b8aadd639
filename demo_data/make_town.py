"""Writes the demo town's road extract (OpenStreetMap PBF): python demo_data/make_town.py [out]

The town, its streets and its house numbers are invented; no real map was copied. The same seed
gives the same bytes (with the same osmium). The state is real, the county is not: the map lies
over farm country of central Ohio because a plan needs some latitude and longitude.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from random import Random

import osmium
from osmium.osm import mutable
from town_geometry import Point, SegmentIndex, distance_ft, inside, length_ft, nearest_on, walk
from town_layout import draw
from town_network import Network, Way, build
from town_sketch import CORE, VILLAGE, Drawing

SEED = 7
TOWN, VILLAGE_NAME, STATE = "Alder Mills", "Penrose Corners", "OH"
ZIP, VILLAGE_ZIP = "43998", "43997"
SOUTH_WEST_LAT, SOUTH_WEST_LON = 40.4800, -83.6200
FT_PER_DEGREE_LAT = 364_280.0
"""Feet per degree of latitude at 40.5 degrees (from memory of the ellipsoid's 111.03 km)."""
FT_PER_DEGREE_LON = 278_170.0
"""Feet per degree of longitude there (from memory of 84.79 km)."""
DEFAULT_OUT = Path(__file__).resolve().parent.parent / "maps" / "alder-mills.osm.pbf"

# zone: (lot front ft, set-back least ft, set-back most ft, share of lots that have a number)
LOTS = {
    "core": (58.0, 40.0, 56.0, 0.80),
    "suburb": (92.0, 48.0, 75.0, 0.93),
    "estate": (190.0, 65.0, 90.0, 0.92),
    "village": (84.0, 42.0, 66.0, 0.80),
    "rural": (640.0, 60.0, 90.0, 0.42),
}
RURAL_FT_PER_NUMBER = 5.28
"""A thousand house numbers to the mile in the country: common practice, no source."""


@dataclass(frozen=True)
class Address:
    """One house number. zone: of its street."""

    number: int
    street: str
    city: str
    zip_code: str
    lat: float
    lon: float
    zone: str
    at: Point


@dataclass(frozen=True)
class Town:
    """Everything that the extract holds."""

    drawing: Drawing
    network: Network
    addresses: tuple[Address, ...]


def to_lat_lon(p: Point) -> tuple[float, float]:
    """Degrees (to 1e-7) of a point of the drawing."""
    return (
        round(SOUTH_WEST_LAT + p[1] / FT_PER_DEGREE_LAT, 7),
        round(SOUTH_WEST_LON + p[0] / FT_PER_DEGREE_LON, 7),
    )


def make_town(seed: int = SEED) -> Town:
    """The town; the same seed gives the same town."""
    drawing = draw(seed)
    network = build(drawing.streets)
    return Town(drawing, network, tuple(_addresses(drawing, network, Random(seed + 1))))


# --------------------------------------------------------------------------- house numbers


def _addresses(drawing: Drawing, network: Network, random: Random) -> Iterator[Address]:
    segments = SegmentIndex()
    for k, way in enumerate(network.ways):
        for i, (a, b) in enumerate(zip(way.nodes, way.nodes[1:], strict=False)):
            segments.add(network.points[a], network.points[b], (k, i))
    taken: dict[tuple[int, int], list[Point]] = {}
    used: set[tuple[str, int]] = set()
    for way in network.ways:
        if way.street.zone in LOTS:
            for p, number in _lots(way, network, random):
                while (way.street.name, number) in used:
                    number += 2
                if _is_free(p, network, segments, taken, drawing):
                    used.add((way.street.name, number))
                    taken.setdefault((int(p[0] // 60), int(p[1] // 60)), []).append(p)
                    yield _address(p, number, way)


def _address(p: Point, number: int, way: Way) -> Address:
    lat, lon = to_lat_lon(p)
    in_village = p[0] > 44_500
    return Address(
        number,
        way.street.name,
        VILLAGE_NAME if in_village else TOWN,
        VILLAGE_ZIP if in_village else ZIP,
        lat,
        lon,
        way.street.zone,
        p,
    )


def _lots(way: Way, network: Network, random: Random) -> Iterator[tuple[Point, int]]:
    """Places and numbers of the lots along a way: odd on the left, even on the right."""
    front_ft, least_ft, most_ft, share = LOTS[way.street.zone]
    line = [network.points[n] for n in way.nodes]
    from_point = way.street.number_from
    if from_point is not None and distance_ft(line[-1], from_point) < distance_ft(
        line[0], from_point
    ):
        line = line[::-1]
    gone = (
        0
        if from_point is None
        else min(abs(line[0][0] - from_point[0]), abs(line[0][1] - from_point[1]))
    )
    if from_point is not None:
        gone = _along_axis(line, from_point)
    per_number = RURAL_FT_PER_NUMBER if way.street.zone == "rural" else 4.0
    for side in (1, -1):
        start = front_ft * random.uniform(0.4, 0.9)
        for k, (p, (dx, dy)) in enumerate(walk(line, start, front_ft)):
            if random.random() > share:
                continue
            back_ft = random.uniform(least_ft, most_ft) * side
            slide_ft = random.uniform(-0.12, 0.12) * front_ft
            number = 100 + int((gone + start + k * front_ft) / per_number)
            number += (number + (1 if side == 1 else 0)) % 2
            yield (p[0] - dy * back_ft + dx * slide_ft, p[1] + dx * back_ft + dy * slide_ft), number


def _along_axis(line: list[Point], center: Point) -> float:
    """Feet from the center of the town's numbering to where a street begins, along the street."""
    a, b = line[0], line[-1]
    size = distance_ft(a, b) or 1.0
    return max(
        0.0, ((a[0] - center[0]) * (b[0] - a[0]) + (a[1] - center[1]) * (b[1] - a[1])) / size
    )


def _is_free(
    p: Point,
    network: Network,
    segments: SegmentIndex,
    taken: dict[tuple[int, int], list[Point]],
    drawing: Drawing,
) -> bool:
    """Whether a house can stand here: off every street, off other houses, out of the water."""
    for k, i in segments.near(p, p, 36.0):
        nodes = network.ways[k].nodes
        q, _ = nearest_on(p, network.points[nodes[i]], network.points[nodes[i + 1]])
        if distance_ft(p, q) < 36.0:
            return False
    square = (int(p[0] // 60), int(p[1] // 60))
    for i in (-1, 0, 1):
        for j in (-1, 0, 1):
            for other in taken.get((square[0] + i, square[1] + j), ()):
                if distance_ft(p, other) < 38.0:
                    return False
    return not inside(p, drawing.lake) and min(distance_ft(p, q) for q in drawing.river) > 320


# --------------------------------------------------------------------------- writing


def _node_tags(network: Network) -> dict[int, dict[str, str]]:
    """Traffic signals where larger streets cross in town, stop signs left out, turning circles."""
    kinds: dict[int, set[str]] = {}
    for way in network.ways:
        for node in way.nodes:
            kinds.setdefault(node, set()).add(way.street.kind)
    ends = network.uses()
    tags: dict[int, dict[str, str]] = {}
    for way in network.ways:
        if way.street.turning_end and ends[way.nodes[-1]] == 1:
            tags[way.nodes[-1]] = {"highway": "turning_circle"}
    for node in _signal_nodes(network, kinds, ends):
        tags[node] = {"highway": "traffic_signals"}
    return tags


def _signal_nodes(network: Network, kinds: dict[int, set[str]], ends: dict[int, int]) -> list[int]:
    large = {"primary", "secondary", "tertiary"}
    one_way = {n for way in network.ways if "oneway" in way.street.tags for n in way.nodes}
    nodes = []
    for node in sorted(kinds):
        p = network.points[node]
        in_town = distance_ft(p, CORE) < 9_500 or distance_ft(p, VILLAGE) < 200
        crossing_large = len(kinds[node] & large) >= 2 and ends[node] >= 3
        crossing_one_way = node in one_way and bool(kinds[node] & {"primary", "secondary"})
        if in_town and (crossing_large or crossing_one_way):
            nodes.append(node)
    return nodes


def _restrictions(network: Network, signals: list[int]) -> list[tuple[int, str]]:
    """Signals at which a left turn is barred from one approach (every third one in the core)."""
    near = [n for n in signals if distance_ft(network.points[n], CORE) < 2_200]
    return [(node, "no_left_turn") for node in near[::3]][:5]


def _pieces(network: Network, cuts: set[int]) -> list[tuple[Way, list[int]]]:
    """Ways cut at the nodes where a turn restriction needs them to end."""
    pieces = []
    for way in network.ways:
        nodes = [way.nodes[0]]
        for node in way.nodes[1:]:
            nodes.append(node)
            if node in cuts and node != way.nodes[-1]:
                pieces.append((way, nodes))
                nodes = [node]
        pieces.append((way, nodes))
    return pieces


def _left_turn(
    network: Network, pieces: list[tuple[Way, list[int]]], via: int
) -> tuple[int, int] | None:
    """A pair of pieces (from, to) between which one turns left at the node."""
    arms = []
    for number, (way, nodes) in enumerate(pieces):
        if nodes[0] == via or nodes[-1] == via:
            other = nodes[1] if nodes[0] == via else nodes[-2]
            a, b = network.points[via], network.points[other]
            arms.append((math.atan2(b[1] - a[1], b[0] - a[0]), number, way.street))
    for angle, number, street in arms:
        if street.kind not in ("primary", "secondary"):
            continue
        for other_angle, other_number, side_street in arms:
            # Left of where one is going = clockwise from the arm that one comes in by.
            turn = (angle - other_angle) % (2 * math.pi)
            if side_street.name != street.name and abs(turn - math.pi / 2) < 0.5:
                return number, other_number
    return None


def write_pbf(town: Town, out: Path) -> None:
    """Write the extract; raises RuntimeError if the file exists already."""
    header = osmium.io.Header()
    header.set("generator", "demo_data/make_town.py")
    file = osmium.io.File(str(out), "pbf,add_metadata=false,pbf_compression=none")
    network, drawing = town.network, town.drawing
    node_tags = _node_tags(network)
    signals = sorted(n for n, t in node_tags.items() if t["highway"] == "traffic_signals")
    barred = _restrictions(network, signals)
    pieces = _pieces(network, {node for node, _ in barred})
    with osmium.SimpleWriter(file, header=header) as writer:
        for number, p in enumerate(network.points):
            _write_node(writer, number + 1, p, node_tags.get(number, {}))
        first_water = len(network.points) + 1
        water = [*drawing.river, *drawing.stream, *drawing.lake]
        for number, p in enumerate(water, first_water):
            _write_node(writer, number, p, {})
        for number, address in enumerate(town.addresses, first_water + len(water)):
            tags = {
                "addr:housenumber": str(address.number),
                "addr:street": address.street,
                "addr:city": address.city,
                "addr:state": STATE,
                "addr:postcode": address.zip_code,
            }
            writer.add_node(mutable.Node(id=number, location=(address.lon, address.lat), tags=tags))
        for number, (way, nodes) in enumerate(pieces, 1):
            tags = {"highway": way.street.kind, "name": way.street.name, **way.street.tags}
            writer.add_way(mutable.Way(id=number, nodes=[n + 1 for n in nodes], tags=tags))
        _write_water(writer, drawing, len(pieces) + 1, first_water)
        _write_restrictions(writer, network, pieces, barred)


def _write_node(writer: osmium.SimpleWriter, number: int, p: Point, tags: dict[str, str]) -> None:
    lat, lon = to_lat_lon(p)
    writer.add_node(mutable.Node(id=number, location=(lon, lat), tags=tags))


def _write_water(writer: osmium.SimpleWriter, drawing: Drawing, way_id: int, node_id: int) -> None:
    river, stream, lake = (len(x) for x in (drawing.river, drawing.stream, drawing.lake))
    nodes = list(range(node_id, node_id + river + stream + lake))
    ring = [*nodes[river + stream :], nodes[river + stream]]
    for number, (members, tags) in enumerate(
        (
            (nodes[:river], {"waterway": "river", "name": "Little Tansy River"}),
            (nodes[river : river + stream], {"waterway": "stream", "name": "Otter Run"}),
            (ring, {"natural": "water", "water": "lake", "name": "Tansy Lake"}),
        )
    ):
        writer.add_way(mutable.Way(id=way_id + number, nodes=members, tags=tags))


def _write_restrictions(
    writer: osmium.SimpleWriter,
    network: Network,
    pieces: list[tuple[Way, list[int]]],
    barred: list[tuple[int, str]],
) -> None:
    number = 0
    for via, kind in barred:
        turn = _left_turn(network, pieces, via)
        if turn is not None:
            number += 1
            writer.add_relation(
                mutable.Relation(
                    id=number,
                    members=[
                        ("w", turn[0] + 1, "from"),
                        ("n", via + 1, "via"),
                        ("w", turn[1] + 1, "to"),
                    ],
                    tags={"type": "restriction", "restriction": kind},
                )
            )


def main() -> None:
    """Write the extract to the path given, or to its place in maps/."""
    out = Path(sys.argv[1]) if len(sys.argv) > 1 else DEFAULT_OUT
    town = make_town()
    part = out.with_name("part-" + out.name)
    part.unlink(missing_ok=True)
    write_pbf(town, part)
    part.replace(out)
    km = sum(length_ft([town.network.points[n] for n in w.nodes]) for w in town.network.ways)
    sys.stdout.write(
        f"{out.name}: {km * 0.0003048:.0f} km of streets, {len(town.network.points)} street nodes, "
        f"{len(town.addresses)} house numbers\n"
    )


if __name__ == "__main__":
    main()
