"""OpenStreetMap extract -> drivable ways of a clip; the only import of osmium.

Roads take three reads of the file (relations, nodes, ways), so that it need not be sorted.
Everything that is not a road, a sign or water is left out inside osmium's own code. Positions of
nodes lie in a temporary file that the system pages in as needed; memory holds what the clip keeps.
"""

import tempfile
from array import array
from collections.abc import Collection, Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

import numpy as np
import osmium
from numpy.typing import NDArray
from osmium.filter import IdFilter, KeyFilter

from planner.roads.limits import CONDITIONAL, KEYS, Held, clauses, held, without
from planner.roads.network import Box, RawNetwork, TurnRule
from planner.roads.tags import NodeRule, WayRule, node_rule, way_rule
from planner.roads.travel import RoadError

TURN_KEYS = ("restriction", "restriction:motorcar", "restriction:motor_vehicle", "restriction:hgv")
TIMED_KEYS = ("hour_on", "hour_off", "day_on", "day_off")
EXEMPT = frozenset({"motorcar", "motor_vehicle", "vehicle", "goods"})
NODE_LIMITS = tuple(key for keys in KEYS.values() for key in keys)
WATERWAYS = frozenset({"river", "canal", "stream"})
UNITS_PER_DEG = 1e7
"""osmium keeps degrees as whole numbers of a ten-millionth."""

_UNREADABLE = (RuntimeError, OSError, ValueError)
"""What osmium raises while it reads a file that is no extract."""
_ODD = (UnicodeDecodeError, OSError, osmium.InvalidLocationError)
"""What it raises where a text or a position of what it has read is broken."""

Thing = TypeVar("Thing")


def read_extract(path: Path, clip: Box | None, gone: Collection[str] = ()) -> RawNetwork:
    """Every drivable way with a node in the clip (None = the whole file), whole. gone: conditions
    that do not hold. Raises RoadError when the file is missing, broken, or holds no road there."""
    _refuse_nothing(path)
    with _told(path, _ODD):
        network = _read(path, clip, gone)
    if not network.rules and _has_negative_ids(path):
        raise RoadError(
            f"the road extract {path.name} cannot be read: its nodes have negative ids, as an "
            "editor gives them before anything is uploaded; renumber it with `osmium renumber`"
        )
    if not network.rules:
        where = "near the places of this workbook" if clip else "in it"
        raise RoadError(
            f"the road extract {path.name} holds no road that a truck may drive {where}; "
            "check that it covers the work area and that lat and lon are not swapped"
        )
    return network


@contextmanager
def _told(path: Path, faults: tuple[type[Exception], ...]) -> Iterator[None]:
    try:
        yield
    except faults as error:
        if "resize file" in str(error):
            raise RoadError(
                f"there is no room to read the road extract {path.name}: make room on the disk of "
                f"the temporary folder {tempfile.gettempdir()}, or name another with TMPDIR"
            ) from error
        raise RoadError(f"the road extract {path.name} cannot be read: {error}") from error


def _each(path: Path, things: Iterable[Thing]) -> Iterator[Thing]:
    """What osmium finds, one by one. Only its own errors become a RoadError: those of the planner
    that looks at a thing stay loud."""
    with _told(path, _UNREADABLE):
        yield from things


def _tags(tags: osmium.osm.TagList) -> dict[str, str]:
    """What mappers wrote, without signs that steer a terminal or turn a line round."""
    found = dict(tags)
    for key, text in found.items():
        if not text.isprintable():
            found[key] = " ".join("".join(c if c.isprintable() else " " for c in text).split())
    return found


def _locations(path: Path) -> osmium.NodeLocationsForWays:
    with _told(path, _UNREADABLE):
        locations = osmium.NodeLocationsForWays(osmium.index.create_map("sparse_file_array"))
    locations.ignore_errors()
    return locations


def _refuse_nothing(path: Path) -> None:
    if not path.is_file():
        raise RoadError(
            f"the road extract {path} does not exist; copy it there, or name another with --roads "
            "or in planner.toml"
        )
    if path.stat().st_size == 0:
        raise RoadError(f"the road extract {path.name} is empty; download it again")


def _has_negative_ids(path: Path) -> bool:
    for node in _each(path, osmium.FileProcessor(str(path), osmium.osm.NODE)):
        assert isinstance(node, osmium.osm.Node)
        return node.id < 0
    return False


def written_by(path: Path) -> str:
    """The program that wrote the extract, as its header says; '' when it does not say."""
    try:
        with osmium.io.Reader(str(path), osmium.osm.NOTHING) as reader:
            return str(reader.header().get("generator", ""))
    except _UNREADABLE:
        return ""


@dataclass(frozen=True)
class Tagged:
    """A node, a way or an area with tags. node_ids, points: (lat, lon) of its nodes that have a
    position; one of each for a node, no node_ids for an area."""

    tags: Mapping[str, str]
    node_ids: tuple[int, ...]
    points: tuple[tuple[float, float], ...]
    is_way: bool


def tagged_things(path: Path, keys: tuple[str, ...]) -> Iterator[Tagged]:
    """Every node, then every way that has one of the keys, then the outlines of areas that several
    ways draw. Raises RoadError when the file is missing or broken."""
    _refuse_nothing(path)
    with _told(path, _ODD):
        locations = _locations(path)
        nodes = osmium.FileProcessor(str(path), osmium.osm.NODE).with_filter(locations)
        for node in _each(path, nodes.with_filter(KeyFilter(*keys))):
            assert isinstance(node, osmium.osm.Node)
            if node.location.valid():
                point = (node.location.lat, node.location.lon)
                yield Tagged(_tags(node.tags), (node.id,), (point,), is_way=False)
        ways = osmium.FileProcessor(str(path), osmium.osm.WAY).with_filter(KeyFilter(*keys))
        for way in _each(path, ways.with_filter(locations)):
            assert isinstance(way, osmium.osm.Way)
            known = [node for node in way.nodes if node.location.valid()]
            points = tuple((node.location.lat, node.location.lon) for node in known)
            if points:
                ids = tuple(node.ref for node in known)
                yield Tagged(_tags(way.tags), ids, points, is_way=True)
        yield from _tagged_areas(path, keys, locations)


def _tagged_areas(
    path: Path, keys: tuple[str, ...], locations: osmium.NodeLocationsForWays
) -> Iterator[Tagged]:
    """Multipolygons (Relation:multipolygon of the OpenStreetMap wiki): tags of the relation, points
    of its outer ways."""
    outer: dict[int, list[int]] = {}
    areas: list[tuple[dict[str, str], list[int]]] = []
    relations = osmium.FileProcessor(str(path), osmium.osm.RELATION).with_filter(KeyFilter(*keys))
    for relation in _each(path, relations):
        assert isinstance(relation, osmium.osm.Relation)
        tags = _tags(relation.tags)
        if tags.get("type") in ("multipolygon", "building"):
            ways = [one.ref for one in relation.members if one.type == "w" and one.role != "inner"]
            for way_id in ways:
                outer.setdefault(way_id, []).append(len(areas))
            areas.append((tags, ways))
    if not outer:
        return
    points: list[list[tuple[float, float]]] = [[] for _ in areas]
    found = osmium.FileProcessor(str(path), osmium.osm.WAY).with_filter(IdFilter(list(outer)))
    for way in _each(path, found.with_filter(locations)):
        assert isinstance(way, osmium.osm.Way)
        line = [(n.location.lat, n.location.lon) for n in way.nodes if n.location.valid()]
        for row in outer[way.id]:
            points[row] += line
    for (tags, _), line in zip(areas, points, strict=True):
        if line:
            yield Tagged(tags, (), tuple(line), is_way=True)


def _read(path: Path, clip: Box | None, gone: Collection[str]) -> RawNetwork:
    turn_rules, ignored, water_ways = _read_relations(path, gone)
    locations = _locations(path)
    signs: dict[int, NodeRule] = {}
    nodes = osmium.FileProcessor(str(path), osmium.osm.NODE).with_filter(locations)
    for node in _each(path, nodes.with_filter(KeyFilter("highway", "barrier", *NODE_LIMITS))):
        assert isinstance(node, osmium.osm.Node)
        rule = node_rule(without(_tags(node.tags), gone))
        if rule is not None and _inside(node.location.x, node.location.y, clip):
            signs[node.id] = rule
    ways = _Ways(clip)
    keys = KeyFilter("highway", "waterway", "natural")
    found = osmium.FileProcessor(str(path), osmium.osm.WAY).with_filter(keys)
    for way in _each(path, found.with_filter(locations)):
        assert isinstance(way, osmium.osm.Way)
        ways.add(way, without(_tags(way.tags), gone))
    if water_ways:
        found = osmium.FileProcessor(str(path), osmium.osm.WAY).with_filter(IdFilter(water_ways))
        for way in _each(path, found.with_filter(locations)):
            assert isinstance(way, osmium.osm.Way)
            ways.add_water(way, "")
    return ways.network(signs, turn_rules, ignored)


def _inside(x: int, y: int, clip: Box | None) -> bool:
    return clip is None or (
        clip.west <= x / UNITS_PER_DEG <= clip.east
        and clip.south <= y / UNITS_PER_DEG <= clip.north
    )


class _Ways:
    """Collects ways and their nodes in flat arrays."""

    def __init__(self, clip: Box | None) -> None:
        self._clip = clip
        self._refs, self._xs, self._ys = array("q"), array("q"), array("q")
        self._starts = array("q", [0])
        self._ids = array("q")
        self._rules: list[WayRule] = []
        self._water: list[tuple[str, NDArray[np.float64]]] = []

    def add(self, way: osmium.osm.Way, tags: Mapping[str, str]) -> None:
        """Keep a way if a truck may drive it, or if it is water to be drawn."""
        if "highway" not in tags:
            if tags.get("natural") == "water" or tags.get("waterway") in WATERWAYS:
                self.add_water(way, tags.get("name", ""))
            return
        rule = way_rule(tags)
        if rule is None:
            return
        for refs, xs, ys in _located_pieces(way):
            if self._touches_clip(xs, ys):
                self._refs.extend(refs)
                self._xs.extend(xs)
                self._ys.extend(ys)
                self._starts.append(len(self._refs))
                self._ids.append(way.id)
                self._rules.append(rule)

    def add_water(self, way: osmium.osm.Way, name: str) -> None:
        """Keep the line of a water way."""
        for _, xs, ys in _located_pieces(way):
            if self._touches_clip(xs, ys):
                self._water.append((name, np.array([ys, xs], dtype=np.float64).T / UNITS_PER_DEG))

    def _touches_clip(self, xs: list[int], ys: list[int]) -> bool:
        if self._clip is None:
            return True
        return any(_inside(x, y, self._clip) for x, y in zip(xs, ys, strict=True))

    def network(
        self, signs: dict[int, NodeRule], turn_rules: list[TurnRule], ignored: int
    ) -> RawNetwork:
        """Everything kept, with each node once."""
        refs = np.array(self._refs, dtype=np.int64)
        node_ids, first, rows = np.unique(refs, return_index=True, return_inverse=True)
        row_of = {int(node): row for row, node in enumerate(node_ids) if int(node) in signs}
        kept_ways = set(self._ids)
        return RawNetwork(
            node_ids=node_ids,
            lat=np.array(self._ys, dtype=np.float64)[first] / UNITS_PER_DEG,
            lon=np.array(self._xs, dtype=np.float64)[first] / UNITS_PER_DEG,
            way_ids=np.array(self._ids, dtype=np.int64),
            way_start=np.array(self._starts, dtype=np.int64),
            way_nodes=rows.astype(np.int64),
            rules=self._rules,
            node_rules={row: signs[node] for node, row in row_of.items()},
            turn_rules=[r for r in turn_rules if kept_ways.intersection(r.from_ways)],
            turn_rules_ignored=ignored,
            water=self._water,
        )


def _located_pieces(way: osmium.osm.Way) -> Iterator[tuple[list[int], list[int], list[int]]]:
    """Refs, x and y of each stretch of two or more nodes with a position (an extract may lack the
    nodes outside its border), without a node twice in a row."""
    refs: list[int] = []
    xs: list[int] = []
    ys: list[int] = []
    for node in way.nodes:
        location = node.location
        if not location.valid():
            if len(refs) > 1:
                yield refs, xs, ys
            refs, xs, ys = [], [], []
        elif not refs or refs[-1] != node.ref:
            refs.append(node.ref)
            xs.append(location.x)
            ys.append(location.y)
    if len(refs) > 1:
        yield refs, xs, ys


def _read_relations(path: Path, gone: Collection[str]) -> tuple[list[TurnRule], int, list[int]]:
    """Turn rules, how many were left out, and the ways that outline water areas."""
    rules: list[TurnRule] = []
    ignored = 0
    water_ways: list[int] = []
    found = osmium.FileProcessor(str(path), osmium.osm.RELATION).with_filter(
        KeyFilter(*TURN_KEYS, *(key + CONDITIONAL for key in TURN_KEYS), "natural")
    )
    for relation in _each(path, found):
        assert isinstance(relation, osmium.osm.Relation)
        tags = _tags(relation.tags)
        members = [(member.type, member.role, member.ref) for member in relation.members]
        if tags.get("natural") == "water":
            water_ways += [ref for kind, role, ref in members if kind == "w" and role != "inner"]
        if not tags.get("type", "").startswith("restriction"):
            continue
        if EXEMPT.intersection(part.strip() for part in tags.get("except", "").split(";")):
            continue
        rule = turn_rule(tags, members, gone)
        if rule is None:
            ignored += 1
        else:
            rules.append(rule)
    return rules, ignored, water_ways


def _restriction(tags: Mapping[str, str], gone: Collection[str]) -> tuple[str, str]:
    """What the rule says, and its condition. A turn barred for some hours of work is barred all
    day; a turn that is the only one then is not, since with its counterpart of other hours nothing
    would be left."""
    value = next((tags[key] for key in TURN_KEYS if key in tags), "")
    if any(key in tags for key in TIMED_KEYS):
        days = "-".join(tags[key][:2] for key in ("day_on", "day_off") if key in tags)
        hours = f"{tags.get('hour_on', '00:00')}-{tags.get('hour_off', '24:00')}"
        timed = [(value, f"{days} {hours}".strip())]
    elif not value:
        timed = [pair for key in TURN_KEYS for pair in clauses(tags.get(key + CONDITIONAL, ""))]
    else:
        return value, ""
    for word, when in timed:
        if word.startswith("no_") and held(when) and when not in gone:
            return word, when if held(when) is Held.PARTLY else ""
    return "", ""


def turn_rule(
    tags: Mapping[str, str], members: list[tuple[str, str, int]], gone: Collection[str] = ()
) -> TurnRule | None:
    """The rule of a restriction relation, or None when it is not complete or not kept. members:
    type ('n', 'w'), role, id; gone: conditions that do not hold. Rules for hgv only are kept too:
    they cost a light truck a little at most."""
    said, condition = _restriction(tags, gone)
    sort, _, kind = said.partition("_")
    from_ways = tuple(ref for typ, role, ref in members if typ == "w" and role == "from")
    to_ways = tuple(ref for typ, role, ref in members if typ == "w" and role == "to")
    via_nodes = [ref for typ, role, ref in members if typ == "n" and role == "via"]
    via_ways = tuple(ref for typ, role, ref in members if typ == "w" and role == "via")
    one_via = len(via_nodes) == 1 if not via_ways else not via_nodes
    if sort not in ("no", "only") or not (from_ways and to_ways and one_via):
        return None
    return TurnRule(
        only=sort == "only",
        kind=kind,
        from_ways=from_ways,
        via_node=via_nodes[0] if via_nodes else None,
        via_ways=via_ways,
        to_ways=to_ways,
        hours=condition,
    )
