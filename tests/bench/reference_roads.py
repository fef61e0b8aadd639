"""Times and miles by Valhalla, for bench_roads.py, which runs this file with an interpreter that
has pyvalhalla (wheels for Python 3.12 and newer) and nothing else.

    python reference_roads.py QUESTION.json ANSWER.json

QUESTION: {"extract", "folder", "costing", "points": [[lat, lon], ...], "pairs": [[i, j], ...]};
ANSWER: {"version", "minutes": [...], "miles": [...], "ways": {"i,j": [lat, lon, ...]}}, null where
Valhalla finds no way. Tiles are built in the folder once.
"""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import valhalla  # type: ignore[import-not-found,unused-ignore]

KM_PER_MILE = 1.609344
SOURCES_AT_ONCE = 20

FASTEST = {"maneuver_penalty": 0, "service_penalty": 0, "use_highways": 0.5, "use_tolls": 0.5}
"""Taken off: what makes Valhalla prefer a slower way because it is easier to follow."""


def tiles(extract: Path, folder: Path) -> Path:
    """The configuration of the tiles of an extract, built where they are not there yet."""
    config_file = folder / "valhalla.json"
    if not config_file.exists():
        (folder / "tiles").mkdir(parents=True, exist_ok=True)
        config = valhalla.get_config(tile_extract="", tile_dir=folder / "tiles")
        config["mjolnir"]["concurrency"] = 1
        config["service_limits"]["auto"]["max_matrix_location_pairs"] = 1_000_000
        config["service_limits"]["truck"]["max_matrix_location_pairs"] = 1_000_000
        aside = folder / "building.json"
        aside.write_text(json.dumps(config))
        # The wheel's own starter of this program wants to find it on PATH first.
        build = Path(valhalla.PYVALHALLA_DIR) / "bin" / "valhalla_build_tiles"
        subprocess.run(
            [str(build), "-c", str(aside), str(extract)],
            check=True,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        aside.rename(config_file)
    return config_file


def table(actor: Any, points: list[list[float]], costing: str) -> tuple[list[Any], list[Any]]:
    """Minutes and miles from every point to every point, row by row."""
    places = [{"lat": lat, "lon": lon} for lat, lon in points]
    minutes: list[Any] = []
    miles: list[Any] = []
    for first in range(0, len(places), SOURCES_AT_ONCE):
        answer = actor.matrix(
            {
                "sources": places[first : first + SOURCES_AT_ONCE],
                "targets": places,
                "costing": costing,
                "costing_options": {costing: FASTEST},
                "units": "km",
                "verbose": True,
            }
        )
        for row in answer["sources_to_targets"]:
            minutes.append([None if c["time"] is None else c["time"] / 60 for c in row])
            miles.append([None if c["time"] is None else c["distance"] / KM_PER_MILE for c in row])
    return minutes, miles


def way(actor: Any, start: list[float], end: list[float], costing: str) -> dict[str, Any]:
    """Minutes, miles and manoeuvres of one way."""
    answer = actor.route(
        {
            "locations": [{"lat": lat, "lon": lon} for lat, lon in (start, end)],
            "costing": costing,
            "costing_options": {costing: FASTEST},
            "units": "miles",
        }
    )
    leg = answer["trip"]["legs"][0]
    return {
        "minutes": leg["summary"]["time"] / 60,
        "miles": leg["summary"]["length"],
        "streets": [(m.get("street_names") or ["(no name)"])[0] for m in leg["maneuvers"][:-1]],
    }


def main() -> None:
    """Solution one question file."""
    question = json.loads(Path(sys.argv[1]).read_text())
    config = tiles(Path(question["extract"]), Path(question["folder"]))
    actor = valhalla.Actor(str(config))
    minutes, miles = (
        ([], [])
        if question.get("ways_only")
        else table(actor, question["points"], question["costing"])
    )
    points = question["points"]
    ways = {
        f"{i},{j}": way(actor, points[i], points[j], question["costing"])
        for i, j in question["pairs"]
    }
    answer = {
        "version": valhalla.__version__,
        "minutes": minutes,
        "miles": miles,
        "ways": ways,
    }
    Path(sys.argv[2]).write_text(json.dumps(answer))


if __name__ == "__main__":
    main()
