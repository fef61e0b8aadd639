"""Times and miles of the planner beside those of Valhalla, an independent public routing engine.

Both get the same extract and the same points, and both answer every pair of them.
"""

from __future__ import annotations

import json
import random
import subprocess
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import osmium
from numpy.typing import NDArray

from planner.roads.extract import ExtractRoads
from planner.roads.graph import build_graph
from planner.roads.reader import read_extract
from planner.roads.sphere import FT_PER_MILE
from planner.roads.tags import KM_PER_MILE
from planner.roads.travel import Place

Floats = NDArray[np.float64]

SCRIPT = Path(__file__).with_name("reference_roads.py")
LEAST_MIN = 2.0
"""Below this a stop sign or the side of the street decides the ratio, not the speeds."""
OUTLIER = 1.5
WAYS_SHOWN = 12


@dataclass(frozen=True)
class Comparison:
    """One extract, one kind of vehicle of the reference. Square arrays (from, to); nan = no way in
    the reference."""

    extract: str
    roads: ExtractRoads
    roads_km: float
    costing: str
    version: str
    places: list[Place]
    minutes: Floats
    miles: Floats
    their_minutes: Floats
    their_miles: Floats

    def compared(self) -> NDArray[np.bool_]:
        """Pairs that count: another place, a way in both, and not a trip round the corner."""
        known = np.isfinite(self.their_minutes) & ~np.eye(len(self.places), dtype=np.bool_)
        longest = np.fmax(self.minutes, self.their_minutes)
        return known & (longest >= LEAST_MIN)

    def ratios(self) -> Floats:
        """Our minutes over theirs, of the pairs that count."""
        use = self.compared()
        return self.minutes[use] / np.maximum(self.their_minutes[use], 1e-9)

    def outliers(self) -> list[tuple[int, int, float]]:
        """Pairs whose times differ more than OUTLIER times, the worst first."""
        use = self.compared()
        with np.errstate(divide="ignore", invalid="ignore"):
            ratio = self.minutes / np.maximum(self.their_minutes, 1e-9)
        off = use & ((ratio > OUTLIER) | (ratio < 1 / OUTLIER))
        rows = [(int(i), int(j), float(ratio[i, j])) for i, j in np.argwhere(off)]
        return sorted(rows, key=lambda row: -abs(np.log(row[2])))


def sorted_copy(extract: Path, folder: Path) -> Path:
    """The extract sorted by kind and id, as the reference wants it."""
    target = folder / f"{extract.name.removesuffix('.osm.pbf')}.osm.pbf"
    if not target.exists():
        folder.mkdir(parents=True, exist_ok=True)
        reader = osmium.MergeInputReader()
        reader.add_file(str(extract))
        aside = folder / "sorting.osm.pbf"
        with osmium.SimpleWriter(str(aside), overwrite=True) as writer:
            reader.apply(writer, simplify=True)
        aside.rename(target)
    return target


def street_places(roads: ExtractRoads, count: int, seed: int) -> list[Place]:
    """Points in the middle of streets where customers may live, 30 ft beside them."""
    graph, profile = roads.graph, roads.profile()
    length = graph.edge_totals()[0][0::2]
    usable = profile.usable[0::2] | profile.usable[1::2]
    good = usable & graph.may_stop & graph.drawn & (length > 1500) & ~graph.ends_only
    edges = np.flatnonzero(good)
    rng = random.Random(seed)
    chosen = rng.sample(edges.tolist(), min(count, len(edges)))
    places = []
    for number, edge in enumerate(chosen):
        low, high = int(graph.start[edge]), int(graph.start[edge + 1])
        along = graph.length_tenth_ft[low:high]
        half = int(along[-1]) / 2
        lat = float(np.interp(half, along, graph.lat[low:high]))
        lon = float(np.interp(half, along, graph.lon[low:high]))
        places.append(Place(f"p{number}", lat + 30 / 364_000, lon))
    return places


def compare(
    extract: Path, folder: Path, interpreter: Path, costing: str, count: int, seed: int = 1
) -> Comparison:
    """Ask both engines about `count` places of an extract."""
    roads = ExtractRoads(build_graph(read_extract(extract, None)), extract.name)
    places = street_places(roads, count, seed)
    travel = roads.travel(places)
    answer = ask(extract, folder, interpreter, costing, places, [])
    return Comparison(
        extract.name.removesuffix(".osm.pbf"),
        roads,
        float(roads.graph.edge_totals()[0][0::2].sum()) / 10 / FT_PER_MILE * KM_PER_MILE,
        costing,
        answer["version"],
        places,
        travel.minutes,
        travel.miles,
        np.array(answer["minutes"], dtype=np.float64),
        np.array(answer["miles"], dtype=np.float64),
    )


def ask(
    extract: Path,
    folder: Path,
    interpreter: Path,
    costing: str,
    places: list[Place],
    pairs: list[tuple[int, int]],
) -> dict[str, Any]:
    """The reference's answer; see reference_roads.py."""
    name = extract.name.removesuffix(".osm.pbf")
    question = folder / f"{name}-question.json"
    told = folder / f"{name}-answer.json"
    sorted_file = sorted_copy(extract, folder)
    question.write_text(
        json.dumps(
            {
                "extract": str(sorted_file),
                "folder": str(folder / name),
                "costing": costing,
                "points": [[place.lat, place.lon] for place in places],
                "pairs": pairs,
                "ways_only": bool(pairs),
            }
        )
    )
    subprocess.run([str(interpreter), str(SCRIPT), str(question), str(told)], check=True)
    answer: dict[str, Any] = json.loads(told.read_text())
    return answer
