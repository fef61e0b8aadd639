"""A connected county network for the bench: road extracts laid side by side and joined.

Real streets where the shared extracts are there, copies of the invented demo town otherwise. It is
a load for the stopwatch, not a map of any place.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import osmium
from osmium.osm import mutable

from planner.roads.extract import ExtractRoads
from planner.roads.graph import build_graph
from planner.roads.reader import read_extract

ROOT = Path(__file__).resolve().parents[2]
SHARED = ROOT.parent / "shared" / "roads"
TOWN = ROOT / "maps" / "alder-mills.osm.pbf"
ID_STEP = 1_000_000_000_000
GAP_DEG = 0.01
JOINING_ROADS = 8


def county_parts() -> list[Path]:
    """Two real extracts of together 3,487 km of road, else nine demo towns of 3,753 km."""
    real = [SHARED / f"{name}.osm.pbf" for name in ("columbus-oh-small", "reisterstown-md")]
    return real if all(path.is_file() for path in real) else [TOWN] * 9


@dataclass(frozen=True)
class _Side:
    """Nodes of connected roads near one border, from south to north."""

    node_ids: list[int]


def write_county(target: Path, parts: Sequence[Path]) -> Path:
    """Write the parts from west to east into one file, joined by roads."""
    west_of_next = 0.0
    sides: list[tuple[_Side, _Side]] = []
    shifts: list[tuple[float, float]] = []
    for number, part in enumerate(parts):
        raw = read_extract(part, None)
        roads = ExtractRoads(build_graph(raw), part.name)
        graph, profile = roads.graph, roads.profile()
        inside = np.flatnonzero(
            profile.usable[0::2] & profile.usable[1::2] & ~graph.ends_only & graph.may_stop
        )
        rows = graph.start[inside]
        by_place = {
            at: int(node)
            for at, node in zip(
                zip(raw.lat.tolist(), raw.lon.tolist(), strict=True), raw.node_ids, strict=True
            )
        }
        lat, lon = graph.lat[rows], graph.lon[rows]
        ids = [by_place[at] + number * ID_STEP for at in zip(lat.tolist(), lon.tolist())]  # noqa: B905
        bands = np.array_split(np.argsort(lat), JOINING_ROADS)
        sides.append(
            (
                _Side([ids[band[int(np.argmin(lon[band]))]] for band in bands]),
                _Side([ids[band[int(np.argmax(lon[band]))]] for band in bands]),
            )
        )
        shifts.append((40.0 - float(raw.lat.mean()), west_of_next - float(raw.lon.min())))
        west_of_next += float(raw.lon.max() - raw.lon.min()) + GAP_DEG
    with osmium.SimpleWriter(str(target), overwrite=True) as writer:
        for kind in (osmium.osm.NODE, osmium.osm.WAY, osmium.osm.RELATION):
            for number, part in enumerate(parts):
                _copy(writer, part, kind, number * ID_STEP, shifts[number])
            if kind == osmium.osm.WAY:
                _join(writer, sides, len(parts) * ID_STEP)
    return target


def _copy(
    writer: osmium.SimpleWriter,
    part: Path,
    kind: osmium.osm.osm_entity_bits,
    add: int,
    shift: tuple[float, float],
) -> None:
    for thing in osmium.FileProcessor(str(part), kind):
        if thing.is_node():
            at = (thing.location.lon + shift[1] - 84.0, thing.location.lat + shift[0])
            writer.add_node(mutable.Node(id=thing.id + add, location=at, tags=dict(thing.tags)))
        elif thing.is_way():
            nodes = [node.ref + add for node in thing.nodes]
            writer.add_way(mutable.Way(id=thing.id + add, nodes=nodes, tags=dict(thing.tags)))
        else:
            members = [(m.type, m.ref + add, m.role) for m in thing.members]
            writer.add_relation(
                mutable.Relation(id=thing.id + add, members=members, tags=dict(thing.tags))
            )


def _join(writer: osmium.SimpleWriter, sides: list[tuple[_Side, _Side]], first_id: int) -> None:
    way_id = first_id
    for (_, east), (west, _) in itertools.pairwise(sides):
        for start, end in zip(east.node_ids, west.node_ids, strict=True):
            way_id += 1
            tags = {"highway": "secondary", "name": "Joining Road"}
            writer.add_way(mutable.Way(id=way_id, nodes=[start, end], tags=tags))
