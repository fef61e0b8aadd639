"""Whether directions are those of an independent engine: python -m tests.bench.bench_turns PACKAGE

PACKAGE: the folder `valhalla` of an installed or unpacked wheel of pyvalhalla. Both tell what to do
on the same way: the planner's own, which the reference matches to its map. Compared are kind and
side of everything that one of the two tells and that is not just straight on; a place counts once.
"""

from __future__ import annotations

import argparse
import itertools
import math
import random
import sys
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from planner.roads.extract import ExtractRoads
from planner.roads.graph import build_graph
from planner.roads.reader import read_extract
from planner.roads.sphere import FT_PER_DEG, FT_PER_MILE, great_circle_ft
from planner.roads.travel import Leg, Maneuver, Place
from tests.bench.county import SHARED
from tests.bench.reference_turns import along, decoded, route, tiles

TUNED_ON = ("reisterstown-md", "washington-dc-turn-restriction", "oslo-east")
HELD_OUT = (
    "columbus-oh-small",
    "pa-access-restriction",
    "portland-or-central",
    "queens-village-ny-addresses",
    "sao-paulo-small",
)
BESIDE_FT = 40.0
SAME_PLACE_FT = 250.0
"""The two may tell a turn at the one or the other carriageway of a divided road."""
SAME_WAY = 0.02
"""Ways whose lengths differ by more are not the same way."""
LAST_FT = 250.0
BAR = 0.95
Point = tuple[float, float]

REFERENCE_KINDS = {
    7: ("straight", ""),
    8: ("straight", ""),
    9: ("turn", "right"),
    10: ("turn", "right"),
    11: ("turn", "right"),
    12: ("u-turn", ""),
    13: ("u-turn", ""),
    14: ("turn", "left"),
    15: ("turn", "left"),
    16: ("turn", "left"),
    17: ("ramp", "straight"),
    18: ("ramp", "right"),
    19: ("ramp", "left"),
    20: ("ramp", "right"),
    21: ("ramp", "left"),
    22: ("straight", ""),
    23: ("keep", "right"),
    24: ("keep", "left"),
    25: ("merge", ""),
    26: ("roundabout", ""),
    37: ("merge", ""),
    38: ("merge", ""),
}
"""By the numbers of the reference's documentation; those of the arrival are in ARRIVALS."""
ARRIVALS = {4: "", 5: "right", 6: "left"}


@dataclass(frozen=True)
class Told:
    """One thing told. at_ft: along the way."""

    at_ft: float
    kind: str
    side: str
    text: str


@dataclass(frozen=True)
class Difference:
    """A place where the two do not say the same; None = says nothing."""

    extract: str
    at: tuple[float, float]
    ours: Told | None
    theirs: Told | None

    @property
    def sort(self) -> str:
        """What the difference is, in a few words."""
        ours = f"{self.ours.kind} {self.ours.side}" if self.ours else "nothing"
        theirs = f"{self.theirs.kind} {self.theirs.side}" if self.theirs else "nothing"
        return f"{ours} / {theirs}"


def places_of(roads: ExtractRoads, count: int, seed: int) -> list[Place]:
    """Points beside streets where customers may live, left and right of them by chance."""
    graph, profile = roads.graph, roads.profile()
    length = graph.edge_totals()[0][0::2]
    usable = profile.usable[0::2] | profile.usable[1::2]
    good = usable & graph.may_stop & graph.drawn & (length > 1500) & ~graph.ends_only
    rng = random.Random(seed)
    edges = np.flatnonzero(good).tolist()
    places = []
    for number, edge in enumerate(rng.sample(edges, min(count, len(edges)))):
        low, high = int(graph.start[edge]), int(graph.start[edge + 1])
        row = rng.randrange(low, high - 1)
        share = rng.uniform(0.25, 0.75)
        lat, lon = (
            float(values[row] + share * (values[row + 1] - values[row]))
            for values in (graph.lat, graph.lon)
        )
        scale = math.cos(math.radians(lat))
        east = float(graph.lon[row + 1] - graph.lon[row]) * scale
        north = float(graph.lat[row + 1] - graph.lat[row])
        size = math.hypot(east, north) or 1.0
        side = rng.choice((-1, 1)) * BESIDE_FT / FT_PER_DEG
        lat, lon = lat - side * east / size, lon + side * north / size / scale
        places.append(Place(f"p{number}", lat, lon))
    return places


def our_told(leg: Leg) -> list[Told]:
    """The planner's maneuvers of a leg, the departure left out."""
    told, miles = [], 0.0
    for one in leg.maneuvers:
        if one.kind != "depart":
            told.append(Told(miles * FT_PER_MILE, *_ours(one), one.text))
        miles += one.miles
    return told


def _ours(one: Maneuver) -> tuple[str, str]:
    side = one.side.rpartition(" ")[2]
    if one.kind in ("roundabout",):
        return one.kind, one.exit
    if one.kind in ("merge", "u-turn", "straight"):
        return one.kind, ""
    return ("ramp" if one.kind == "exit" else one.kind), side


def their_told(leg: dict[str, Any]) -> list[Told]:
    """The reference's maneuvers of a leg, the departure left out."""
    told, miles = [], 0.0
    for one in leg["maneuvers"]:
        kind = one["type"]
        if kind in ARRIVALS:
            told.append(Told(miles * FT_PER_MILE, "arrive", ARRIVALS[kind], one["instruction"]))
        elif kind in REFERENCE_KINDS:
            name, side = REFERENCE_KINDS[kind]
            if name == "roundabout":
                side = str(one.get("roundabout_exit_count", ""))
            told.append(Told(miles * FT_PER_MILE, name, side, one["instruction"]))
        miles += one["length"]
    return told


def place_on(points: list[Point], at_ft: float) -> Point:
    """The point so many feet along a way."""
    for a, b in itertools.pairwise(points):
        step = _feet(a, b)
        if at_ft <= step and step > 0:
            share = at_ft / step
            return a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1])
        at_ft -= step
    return points[-1]


def pair(
    ours: list[Told], theirs: list[Told]
) -> tuple[list[tuple[Told, Told]], list[Told], list[Told]]:
    """Pairs told at one place, and what only the one or the other tells."""
    ours_left, theirs_left = list(ours), list(theirs)
    pairs = []
    # The same kind and side first, then the same kind, then whatever is told at one place.
    tests: list[tuple[Callable[[Told, Told], bool], float]] = [
        (lambda a, b: (a.kind, a.side) == (b.kind, b.side), SAME_PLACE_FT),
        (lambda a, b: a.kind == b.kind, SAME_PLACE_FT),
        (lambda a, b: True, SAME_PLACE_FT / 2),
    ]
    for alike, within_ft in tests:
        for one in list(ours_left):
            near = [two for two in theirs_left if abs(two.at_ft - one.at_ft) <= within_ft]
            near = [two for two in near if alike(one, two)]
            if near:
                best = min(near, key=lambda two: abs(two.at_ft - one.at_ft))
                ours_left.remove(one)
                theirs_left.remove(best)
                pairs.append((one, best))
    return pairs, ours_left, theirs_left


@dataclass
class Score:
    """Counts of one or more extracts. alike: told by both with the same kind and side; unlike: told
    by both at one place, but not the same; only_ours, only_theirs: told by one; sides,
    sides_alike: of arrivals."""

    legs: int = 0
    passed_over: int = 0
    alike: int = 0
    unlike: int = 0
    only_ours: int = 0
    only_theirs: int = 0
    sides: int = 0
    sides_alike: int = 0

    def add(self, other: Score) -> None:
        """Count another extract in."""
        for name, value in vars(other).items():
            setattr(self, name, getattr(self, name) + value)

    def share(self) -> float:
        """Alike of everything that one of the two tells, the arrivals included."""
        told = self.alike + self.unlike + self.only_ours + self.only_theirs + self.sides
        return (self.alike + self.sides_alike) / max(1, told)

    def line(self) -> str:
        """The figures in a line."""
        both = self.alike + self.unlike
        return (
            f"{self.legs} legs ({self.passed_over} not matched); told by both {both}, of these "
            f"kind and side alike {self.alike / max(1, both):.3f}; by us only {self.only_ours}, by "
            f"the reference only {self.only_theirs}; side of the arrival alike "
            f"{self.sides_alike}/{self.sides}; alike of everything told {self.share():.3f}"
        )


def arrival(config: Path, package: Path, points: list[Point]) -> str | None:
    """Side of the street on which the reference sees the place, driving the last of the way; None
    where it comes to it by another way."""
    road = points[:-1]
    length = sum(_feet(a, b) for a, b in itertools.pairwise(road))
    start = place_on(road, max(0.0, length - LAST_FT))
    leg = route(config, package, start, points[-1])
    if leg is None or abs(leg["summary"]["length"] * FT_PER_MILE - min(LAST_FT, length)) > 40.0:
        return None
    return ARRIVALS.get(leg["maneuvers"][-1]["type"])


def _feet(a: Point, b: Point) -> float:
    return float(great_circle_ft(*(np.array(value) for value in (*a, *b))))


def measure(
    extract: Path, folder: Path, package: Path, count: int, seed: int
) -> tuple[Score, list[Difference]]:
    """Compare so many legs of an extract."""
    name = extract.name.removesuffix(".osm.pbf")
    config = tiles(extract, folder, package)
    roads = ExtractRoads(build_graph(read_extract(extract, None)), name)
    places = places_of(roads, 3 * count, seed)
    rng = random.Random(seed)
    score = Score()
    differences: list[Difference] = []
    for _ in range(4 * count):
        if score.legs == count:
            break
        leg = roads.leg(*rng.sample(places, 2))
        differences += compare_leg(leg, config, package, name, score)
    return score, differences


def compare_leg(leg: Leg, config: Path, package: Path, name: str, score: Score) -> list[Difference]:
    """Where the two differ on one leg, counted into the score; a leg that the reference does not
    drive the same way is passed over."""
    points = list(leg.points)
    theirs_leg = along(config, package, points[1:-1])
    miles = sum(one.miles for one in leg.maneuvers)
    if theirs_leg is None or abs(theirs_leg["summary"]["length"] - miles) > SAME_WAY * miles + 0.01:
        score.passed_over += 1
        return []
    score.legs += 1
    ours, theirs = our_told(leg), their_told(theirs_leg)
    differences = []
    side = arrival(config, package, points)
    if side is not None:
        score.sides += 1
        score.sides_alike += ours[-1].side == side
        if ours[-1].side != side:
            told = replace(ours[-1], side=side, text="")
            differences.append(Difference(name, points[-1], ours[-1], told))
    pairs, alone, left = pair(
        [one for one in ours if one.kind != "arrive"],
        [one for one in theirs if one.kind != "arrive"],
    )
    found: list[tuple[Told | None, Told | None]] = []
    for one, two in pairs:
        if (one.kind, one.side) != (two.kind, two.side):
            found.append((one, two))
            score.unlike += 1
        else:
            score.alike += one.kind != "straight"
    # Straight on is told by the reference at every new name; it is no matter of side.
    alone = [one for one in alone if one.kind != "straight"]
    left = [one for one in left if one.kind != "straight"]
    score.only_ours += len(alone)
    score.only_theirs += len(left)
    found += [(one, None) for one in alone]
    found += [(None, one) for one in left]
    shape = decoded(theirs_leg["shape"])
    for first, second in found:
        at_ft = next(told.at_ft for told in (second, first) if told is not None)
        differences.append(Difference(name, place_on(shape, at_ft), first, second))
    return differences


def main() -> None:
    """Run the bench."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("package", type=Path)
    parser.add_argument("--folder", type=Path, required=True, help="keep tiles here")
    parser.add_argument("--roads", type=Path, default=SHARED, help="folder of the extracts")
    parser.add_argument("--extracts", nargs="*", default=list(HELD_OUT))
    parser.add_argument("--legs", type=int, default=80, help="of each extract")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--show", action="store_true", help="every difference, each place once")
    options = parser.parse_args()
    total = Score()
    every: list[Difference] = []
    for name in options.extracts:
        extract = options.roads / f"{name}.osm.pbf"
        score, differences = measure(
            extract, options.folder, options.package, options.legs, options.seed
        )
        print(f"{name}: {score.line()}", flush=True)
        total.add(score)
        every += differences
    print(f"all: {total.line()}")
    for sort, number in Counter(one.sort for one in every).most_common():
        print(f"  {number:4d} {sort} (ours / theirs)")
    if options.show:
        places = {(one.sort, f"{one.at[0]:.3f} {one.at[1]:.3f}"): one for one in every}
        for one in sorted(places.values(), key=lambda one: one.sort):
            texts = [told.text if told else "-" for told in (one.ours, one.theirs)]
            where = f"{one.extract} {one.at[0]:.5f},{one.at[1]:.5f}"
            print(f"{one.sort} | {where} | {' | '.join(texts)}")
    sys.exit(0 if total.share() >= BAR else 1)


if __name__ == "__main__":
    main()
