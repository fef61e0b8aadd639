"""Maneuvers by Valhalla, an independent public routing engine, along ways that the planner drives.

The programs inside the wheel of pyvalhalla are called, so that any Python will do. `package`: the
folder `valhalla` of an installed or unpacked wheel.
"""

from __future__ import annotations

import importlib
import itertools
import json
import os
import subprocess
import sys
import types
from pathlib import Path
from typing import Any

import osmium

from tests.bench.against_reference import sorted_copy

POLYLINE_DEG = 1e-6
"""Shapes come with six decimals."""


def _environment(package: Path) -> dict[str, str]:
    return {**os.environ, "LD_LIBRARY_PATH": str(package.parent / "pyvalhalla.libs")}


def _default_config(package: Path, tiles: Path) -> dict[str, Any]:
    """The wheel's own defaults, read without its compiled module (for Python 3.12 and newer)."""
    bare = types.ModuleType("valhalla")
    bare.__path__ = [str(package)]
    sys.modules["valhalla"] = bare
    config: dict[str, Any] = importlib.import_module("valhalla.config").get_config(
        tile_extract="", tile_dir=tiles
    )
    return config


NEW_IDS = 10**12
COUNTRY = """<osm version="0.6">
<node id="1" version="1" lat="-60" lon="-170"/><node id="2" version="1" lat="-60" lon="170"/>
<node id="3" version="1" lat="80" lon="170"/><node id="4" version="1" lat="80" lon="-170"/>
<way id="1" version="1"><nd ref="1"/><nd ref="2"/><nd ref="3"/><nd ref="4"/><nd ref="1"/></way>
<relation id="1" version="1"><member type="way" ref="1" role="outer"/>
<tag k="type" v="boundary"/><tag k="boundary" v="administrative"/><tag k="admin_level" v="2"/>
<tag k="name" v="United States"/><tag k="ISO3166-1:alpha2" v="US"/></relation></osm>
"""
"""Small extracts hold no border of a country, and without one the reference drives on the left."""


def _run(package: Path, program: str, config: Path, extract: Path) -> None:
    path = package / "bin" / program
    path.chmod(0o755)
    subprocess.run(
        [str(path), "-c", str(config), str(extract)],
        check=True,
        capture_output=True,
        env=_environment(package),
    )


def _positive(extract: Path, target: Path) -> None:
    """A sorted extract with the ids below 0, which an editor gives new things, after all others:
    the reference refuses them."""

    def known(number: int) -> int:
        return number if number > 0 else NEW_IDS - number

    kinds = (osmium.osm.NODE, osmium.osm.WAY, osmium.osm.RELATION)
    with osmium.SimpleWriter(str(target), overwrite=True) as writer:
        for kind, is_new in itertools.product(kinds, (False, True)):
            for thing in osmium.FileProcessor(str(extract), kind):
                if (thing.id < 0) != is_new:
                    continue
                changed = thing.replace(id=known(thing.id))
                if isinstance(thing, osmium.osm.Way):
                    changed.nodes = [known(node.ref) for node in thing.nodes]
                elif isinstance(thing, osmium.osm.Relation):
                    changed.members = [
                        (one.type, known(one.ref), one.role) for one in thing.members
                    ]
                writer.add(changed)


def tiles(extract: Path, folder: Path, package: Path) -> Path:
    """The configuration of the tiles of an extract, built in the folder where they are not there
    yet."""
    name = "turns-" + extract.name.removesuffix(".osm.pbf")
    config_file = folder / name / "turns.json"
    if config_file.exists():
        return config_file
    (folder / name / "tiles").mkdir(parents=True, exist_ok=True)
    config = _default_config(package, folder / name / "tiles")
    config["mjolnir"]["concurrency"] = 1
    config["mjolnir"]["admin"] = str(folder / name / "admins.sqlite")
    aside = folder / name / "building.json"
    aside.write_text(json.dumps(config))
    country = folder / name / "country.osm"
    country.write_text(COUNTRY)
    border = folder / name / "country.osm.pbf"
    with osmium.SimpleWriter(str(border), overwrite=True) as writer:
        for thing in osmium.FileProcessor(str(country)):
            writer.add(thing)
    _run(package, "valhalla_build_admins", aside, border)
    copy = folder / name / "sorted.osm.pbf"
    _positive(sorted_copy(extract, folder), copy)
    _run(package, "valhalla_build_tiles", aside, copy)
    aside.rename(config_file)
    return config_file


def along(config: Path, package: Path, points: list[tuple[float, float]]) -> dict[str, Any] | None:
    """The reference's leg along points (lat, lon), None when it matches no single way to them."""
    shape = {"shape": _places(points), "shape_match": "map_snap"}
    return _leg(config, package, "trace_route", shape)


def route(
    config: Path, package: Path, start: tuple[float, float], end: tuple[float, float]
) -> dict[str, Any] | None:
    """The reference's leg between two points, None when there is none."""
    return _leg(config, package, "route", {"locations": _places([start, end])})


def _places(points: list[tuple[float, float]]) -> list[dict[str, float]]:
    return [{"lat": lat, "lon": lon} for lat, lon in points]


def _leg(config: Path, package: Path, action: str, ask: dict[str, Any]) -> dict[str, Any] | None:
    service = package / "bin" / "valhalla_service"
    service.chmod(0o755)
    question = {"costing": "auto", "units": "miles", **ask}
    ran = subprocess.run(
        [str(service), str(config), action, json.dumps(question)],
        check=False,
        capture_output=True,
        text=True,
        env=_environment(package),
    )
    trip = json.loads(ran.stdout).get("trip") if ran.returncode == 0 else None
    if trip is None or len(trip["legs"]) != 1:
        return None
    leg: dict[str, Any] = trip["legs"][0]
    return leg


def decoded(shape: str) -> list[tuple[float, float]]:
    """The points (lat, lon) of an encoded shape."""
    points: list[tuple[float, float]] = []
    values = [0, 0]
    at = 0
    while at < len(shape):
        for axis in (0, 1):
            shift = bits = 0
            while True:
                byte = ord(shape[at]) - 63
                at += 1
                bits |= (byte & 31) << shift
                shift += 5
                if byte < 32:
                    break
            values[axis] += ~(bits >> 1) if bits & 1 else bits >> 1
        points.append((values[0] * POLYLINE_DEG, values[1] * POLYLINE_DEG))
    return points
