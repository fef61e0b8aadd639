"""How fast and how true the roads are: python -m tests.bench.bench_roads [--reference PYTHON]

Speed, on a connected county of 3,000 to 4,000 km (tests/bench/county.py), each measure in a
process of its own so that its memory can be told; bars are those the project set itself. With
--reference, an interpreter that has pyvalhalla (`pip install pyvalhalla`: the extra `bench` where
Python is 3.12 or newer), times and miles are also compared with Valhalla's on the shared extracts.
Exit code 1 when a bar is missed.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import resource
import subprocess
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

import numpy as np

from planner.roads.cache import cached_graph
from planner.roads.extract import ExtractRoads
from planner.roads.sphere import FT_PER_MILE
from planner.roads.tags import KM_PER_MILE
from planner.roads.travel import Place
from tests.bench.against_reference import (
    OUTLIER,
    WAYS_SHOWN,
    Comparison,
    ask,
    compare,
)
from tests.bench.county import SHARED, county_parts, write_county

BARS_S = {
    "read .osm.pbf and build": 5.0,
    "open from the cache": 0.5,
    "500 x 500": 5.0,
    "1500 x 1500": 20.0,
    "shapes of a 30-stop route": 0.2,
}
MOST_MB = 1000.0
COMPARED = (
    "reisterstown-md",
    "columbus-oh-small",
    "washington-dc-turn-restriction",
    "queens-village-ny-addresses",
    "pa-access-restriction",
)
PLACES = 100
RATIO = (0.9, 1.1)
CORRELATION = 0.98
SMALL_KM = 100.0
"""An extract of a few streets and parking lots is shown, and not held to the bars."""


def measure(name: str, extract: Path) -> dict[str, float]:
    """One measure in this process: seconds, those of one core, and megabytes at the peak."""
    begun, cpu_begun = time.perf_counter(), time.process_time()
    graph, _, from_cache = cached_graph(extract, None)
    seconds, cpu_s = time.perf_counter() - begun, time.process_time() - cpu_begun
    assert from_cache == (name != "read .osm.pbf and build"), "the cache is not as expected"
    km = float(graph.edge_totals()[0][0::2].sum()) / 10 / FT_PER_MILE * KM_PER_MILE
    result = {"km": km}
    if "x" in name.split() or "shapes" in name:
        roads = ExtractRoads(graph, "county")
        count = int(name.split()[0]) if "x" in name.split() else 30
        places = any_places(roads, count)
        begun, cpu_begun = time.perf_counter(), time.process_time()
        travel = roads.travel(places)
        seconds, cpu_s = time.perf_counter() - begun, time.process_time() - cpu_begun
        assert np.isfinite(travel.minutes).all()
        if "shapes" in name:
            # Times come first in a plan, and with them the graph that the truck may use.
            cpu_begun = time.process_time()
            seconds = min(_round_s(roads, places) for _ in range(3))
            cpu_s = (time.process_time() - cpu_begun) / 3
    return result | {"seconds": seconds, "cpu_s": cpu_s, "mb": peak_mb()}


def _round_s(roads: ExtractRoads, places: list[Place]) -> float:
    """Seconds for the shapes of a round; so short a measure catches other programs' work, so the
    best of a few counts."""
    begun = time.perf_counter()
    for start, end in zip(places, [*places[1:], places[0]], strict=True):
        roads.leg(start, end)
    return time.perf_counter() - begun


def peak_mb() -> float:
    """Megabytes that this process has held at most."""
    status = Path("/proc/self/status")
    if status.exists():
        # getrusage counts what the process held before it became this program.
        line = next(row for row in status.read_text().splitlines() if row.startswith("VmHWM"))
        return float(line.split()[1]) / 1024
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def any_places(roads: ExtractRoads, count: int) -> list[Place]:
    """Customers spread over all streets; for a route, in the order of a round."""
    graph, profile = roads.graph, roads.profile()
    usable = np.flatnonzero((profile.usable[0::2] | profile.usable[1::2]) & graph.may_stop)
    rng = random.Random(11)
    rows = graph.start[rng.sample(usable.tolist(), 4 * count if count == 30 else count)]
    lat, lon = graph.lat[rows] + 5e-5, graph.lon[rows]
    if count == 30:
        # A crew's day lies in a part of the county: the stops nearest to one of them.
        near = np.argsort(np.hypot(lat - lat[0], lon - lon[0]))[:count]
        around = np.arctan2(lat[near] - lat[near].mean(), lon[near] - lon[near].mean())
        near = near[np.argsort(around)]
        lat, lon = lat[near], lon[near]
    return [Place(f"p{i}", float(a), float(b)) for i, (a, b) in enumerate(zip(lat, lon))]  # noqa: B905


def speed(folder: Path) -> bool:
    """Every measure in its own process; prints a table. Whether all bars are met."""
    parts = county_parts()
    extract = write_county(folder / "county.osm.pbf", parts)
    print(f"county of {', '.join(sorted({part.name for part in parts}))} (x {len(parts)} parts)")
    good = True
    for name, bar_s in BARS_S.items():
        told = subprocess.run(
            [sys.executable, "-m", "tests.bench.bench_roads", "--measure", name, str(extract)],
            check=True,
            capture_output=True,
            text=True,
            env={**os.environ, "PLANNER_CACHE_DIR": str(folder / "cache")},
        )
        result = json.loads(told.stdout)
        met = result["seconds"] <= bar_s and result["mb"] <= MOST_MB
        good &= met
        print(
            f"  {name:28s} {result['seconds']:6.2f} s (bar {bar_s:g} s; {result['cpu_s']:.2f} s of "
            "one core, which is what an idle machine takes), peak "
            f"{result['mb']:,.0f} MB, {result['km']:,.0f} km  {'ok' if met else 'MISSED'}"
        )
    return good


def truth(folder: Path, interpreter: Path) -> bool:
    """Each shared extract against the reference; prints what differs and why. Whether all bars
    are met."""
    good = True
    every: list[Comparison] = []
    for name in COMPARED:
        extract = SHARED / f"{name}.osm.pbf"
        if not extract.is_file():
            print(f"  {name}: not there, left out")
            continue
        compared = compare(extract, folder, interpreter, "auto", PLACES)
        small = compared.roads_km < SMALL_KM
        if not small:
            every.append(compared)
        good &= show(compared) or small
        explain(compared, extract, folder, interpreter)
    if every:
        ours = np.concatenate([one.minutes[one.compared()] for one in every])
        theirs = np.concatenate([one.their_minutes[one.compared()] for one in every])
        low, middle, high = np.quantile(ours / theirs, [0.1, 0.5, 0.9])
        same = float(np.corrcoef(ours, theirs)[0, 1])
        met = RATIO[0] <= middle <= RATIO[1] and same >= CORRELATION
        good &= met
        print(
            f"all of them: median time ratio {middle:.3f}, 10-90 % {low:.2f}-{high:.2f}, "
            f"correlation {same:.4f}  {'ok' if met else 'MISSED'}"
        )
    return good


def show(one: Comparison) -> bool:
    """One line of figures; whether the median ratio meets its bar."""
    use, ratios = one.compared(), one.ratios()
    low, middle, high = np.quantile(ratios, [0.1, 0.5, 0.9])
    miles = one.miles[use] / np.maximum(one.their_miles[use], 1e-9)
    met = bool(RATIO[0] <= middle <= RATIO[1])
    print(
        f"{one.extract} ({one.roads_km:,.0f} km, {use.sum():,} pairs, Valhalla {one.version}): "
        f"times {middle:.3f} ({low:.2f}-{high:.2f}), correlation "
        f"{np.corrcoef(one.minutes[use], one.their_minutes[use])[0, 1]:.4f}; "
        f"miles {np.median(miles):.3f} ({np.quantile(miles, 0.1):.2f}-"
        f"{np.quantile(miles, 0.9):.2f}); {len(one.outliers())} beyond {OUTLIER} x"
        f"  {'ok' if met else 'outside of 0.9-1.1'}"
    )
    return met


def explain(one: Comparison, extract: Path, folder: Path, interpreter: Path) -> None:
    """Why the times of outliers differ: the streets that only one of the two ways uses."""
    outliers = one.outliers()
    if not outliers:
        return
    quicker = sum(ratio < 1 for _, _, ratio in outliers)
    longer = sum(
        one.their_miles[i, j] > 1.1 * one.miles[i, j] for i, j, ratio in outliers if ratio < 1
    )
    print(
        f"  outliers: {quicker} quicker and {len(outliers) - quicker} slower than the reference; "
        f"in {longer} of the quicker ones the reference drives over 10 % farther"
    )
    chosen = random.Random(3).sample(outliers, min(WAYS_SHOWN, len(outliers)))
    pairs = [(i, j) for i, j, _ in chosen]
    theirs = ask(extract, folder, interpreter, one.costing, one.places, pairs)["ways"]
    roads = one.roads
    only_ours: Counter[str] = Counter()
    for i, j, ratio in chosen:
        ours = roads.leg(one.places[i], one.places[j]).streets
        way = theirs[f"{i},{j}"]
        only_ours.update(set(ours) - set(way["streets"]))
        print(
            f"    {ratio:.2f}: {one.minutes[i, j]:.1f} min {one.miles[i, j]:.1f} miles by "
            f"{', '.join(ours) or 'unnamed streets'}; reference {way['minutes']:.1f} min "
            f"{way['miles']:.1f} miles by {', '.join(way['streets'])}"
        )
    common = ", ".join(f"{street} ({n})" for street, n in only_ours.most_common(5))
    print(f"    streets that the reference does not use in these: {common or 'none'}")


def main() -> None:
    """Run the bench."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--reference", type=Path, help="Python that has pyvalhalla")
    parser.add_argument("--folder", type=Path, help="keep tiles and the county here")
    parser.add_argument("--no-speed", action="store_true")
    parser.add_argument("--measure", nargs=2, help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.measure:
        print(json.dumps(measure(options.measure[0], Path(options.measure[1]))))
        return
    with tempfile.TemporaryDirectory() as temporary:
        folder = options.folder or Path(temporary)
        folder.mkdir(parents=True, exist_ok=True)
        good = options.no_speed or speed(Path(temporary))
        if options.reference:
            # Not resolved: the interpreter of a virtual environment is a link.
            good &= truth(folder, options.reference.absolute())
        else:
            print("no --reference given: times are not compared")
    sys.exit(0 if good else 1)


if __name__ == "__main__":
    main()
