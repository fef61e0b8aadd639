"""The house numbers and street names of a road extract."""

import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Final

from planner.roads.address_book import AddressBook, House, NumberLine
from planner.roads.addresses import number_key, number_parts, street_key, zip_of
from planner.roads.reader import Tagged, tagged_things
from planner.roads.sphere import Point

OTHER_NAMES: Final = ("alt_name", "official_name", "old_name", "loc_name", "short_name", "ref")
"""Tags of a street under which people know it as well."""


def read_address_book(path: Path) -> AddressBook:
    """Every address of an extract. Raises RoadError when it cannot be read."""
    houses: list[House] = []
    lines: list[NumberLine] = []
    roads: dict[str, tuple[str, list[Point]]] = {}
    other_names: set[tuple[str, str]] = set()
    keys: dict[str, str] = {}
    at_node: dict[int, tuple[int, str]] = {}
    for thing in tagged_things(path, ("addr:housenumber", "addr:interpolation", "highway")):
        tags = thing.tags
        if "addr:housenumber" in tags:
            _note_number(thing, at_node)
            if tags.get("addr:street"):
                houses += _houses(thing)
        elif "addr:interpolation" in tags and thing.is_way:
            lines += _number_line(thing, at_node)
        elif "highway" in tags and thing.is_way and tags.get("name"):
            name = tags["name"]
            if name not in keys:
                keys[name] = street_key(name)
            key = keys[name]
            roads.setdefault(key, (name, []))[1].append(thing.points[len(thing.points) // 2])
            for tag in OTHER_NAMES:
                for other in tags.get(tag, "").split(";"):
                    if other.strip():
                        other_names.add((other.strip(), key))
    others = {(street_key(name), key) for name, key in other_names}
    return AddressBook(houses, lines, roads, others)


def _note_number(thing: Tagged, at_node: dict[int, tuple[int, str]]) -> None:
    parts = number_parts(number_key(thing.tags["addr:housenumber"]))
    if not thing.is_way and parts is not None and not parts[0]:
        at_node[thing.node_ids[0]] = (parts[1], thing.tags.get("addr:street", ""))


def _houses(thing: Tagged) -> list[House]:
    """One house for each number of a node or building ('5;7' are two)."""
    lat, lon = zip(*thing.points, strict=True)
    point = ((min(lat) + max(lat)) / 2, (min(lon) + max(lon)) / 2)
    return [
        _house(thing.tags, number_key(number), thing.tags["addr:street"], point)
        for number in thing.tags["addr:housenumber"].replace(",", ";").split(";")
        if number.strip()
    ]


def _house(tags: Mapping[str, str], number: str, street: str, point: Point) -> House:
    # A town's houses share their texts, or a county would not fit into memory.
    return House(
        number,
        sys.intern(street),
        sys.intern(tags.get("addr:city", "")),
        sys.intern(tags.get("addr:state", "")),
        sys.intern(zip_of(tags.get("addr:postcode", ""))),
        point,
    )


def _number_line(thing: Tagged, at_node: Mapping[int, tuple[int, str]]) -> list[NumberLine]:
    """The line of an addr:interpolation way, when at least two of its nodes have numbers."""
    kind = thing.tags["addr:interpolation"]
    step = {"odd": 2, "even": 2, "all": 1}.get(kind, int(kind) if kind.isdecimal() else 0)
    known = [(row, *at_node[node]) for row, node in enumerate(thing.node_ids) if node in at_node]
    streets = [thing.tags.get("addr:street", ""), *(street for _, _, street in known)]
    street = next(filter(None, streets), "")
    if step < 1 or len(known) < 2 or not street:
        return []
    house = _house(thing.tags, "", street, thing.points[0])
    numbers = tuple((row, number) for row, number, _ in known)
    return [NumberLine(house, step, numbers, thing.points)]
