"""Real road extracts (OpenStreetMap contributors, ODbL) beside the repository.

What must hold on any road network; skipped where the extracts are not there."""

from __future__ import annotations

import random
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from planner.roads.extract import ExtractRoads
from planner.roads.graph import build_graph
from planner.roads.reader import read_extract
from planner.roads.speeds import SIGNAL_S, STOP_S, U_TURN_S
from planner.roads.sphere import great_circle_ft
from planner.roads.travel import Place

FOLDER = Path(__file__).resolve().parents[2] / "shared" / "roads"
NAMES = (
    "reisterstown-md",
    "columbus-oh-small",
    "washington-dc-turn-restriction",
    "pa-access-restriction",
    "queens-village-ny-addresses",
)


def extract(name: str) -> Path:
    path = FOLDER / f"{name}.osm.pbf"
    if not path.is_file():
        pytest.skip(f"the extract {name} is not beside the repository")
    return path


@pytest.fixture(scope="module", params=NAMES)
def roads(request):
    return ExtractRoads(build_graph(read_extract(extract(request.param), None)), request.param)


@pytest.fixture(scope="module")
def places(roads):
    """Forty points on and beside roads that are connected."""
    graph, profile = roads.graph, roads.profile()
    rng = random.Random(7)
    usable = np.flatnonzero((profile.usable[0::2] | profile.usable[1::2]) & graph.may_stop)
    found = []
    for number in range(40):
        edge = int(rng.choice(usable.tolist()))
        row = rng.randrange(int(graph.start[edge]), int(graph.start[edge + 1]))
        aside = rng.uniform(-1e-4, 1e-4)
        found.append(Place(f"p{number}", float(graph.lat[row]) + aside, float(graph.lon[row])))
    return found


def test_most_roads_hang_together(roads):
    profile = roads.profile()
    assert profile.dropped_edges < 0.2 * roads.graph.edge_count


def test_times_and_miles_are_plausible(roads, places):
    travel = roads.travel(places)
    off = ~np.eye(len(places), dtype=bool)
    assert np.isfinite(travel.minutes).all()
    lat = np.array([p.lat for p in places])
    lon = np.array([p.lon for p in places])
    straight = great_circle_ft(lat[:, None], lon[:, None], lat, lon) / 5280
    # Each place stands at most 0.0001 degrees, 37 ft, from its road.
    assert (travel.miles >= straight - 0.02)[off].all()
    speed = travel.miles.sum() / travel.minutes.sum() * 60
    assert 10 < speed < 45
    # One-ways and ramps make ways there and back differ, but not by much on the whole.
    assert np.median(np.abs(travel.minutes - travel.minutes.T)) < 0.2 * travel.minutes.mean()


def test_no_way_is_much_longer_than_over_a_third_place(roads, places):
    # Stopping at a junction or turning round at a stop saves at most the turns there.
    minutes = roads.travel(places).minutes
    over = (minutes[:, :, None] + minutes[None, :, :]).min(axis=1)
    assert (minutes - over).max() <= (U_TURN_S + SIGNAL_S + STOP_S) / 60


def test_legs_are_the_ways_of_the_table(roads, places):
    travel = roads.travel(places)
    snaps = {snap.place_id: snap for snap in roads.snaps(places)}
    for i in range(0, 40, 3):
        j = (i * 7 + 5) % 40
        if i == j:
            continue
        leg, minutes, miles = roads.leg_with_sums(places[i], places[j])
        assert (minutes, miles) == (travel.minutes[i, j], travel.miles[i, j])
        lat, lon = (np.array(values) for values in zip(*leg.points, strict=True))
        drawn = great_circle_ft(lat[:-1], lon[:-1], lat[1:], lon[1:]).sum()
        aside = snaps[f"p{i}"].distance_ft + snaps[f"p{j}"].distance_ft
        assert drawn == pytest.approx(miles * 5280 + aside, abs=2 + 2e-4 * drawn)
        assert all(a != b for a, b in zip(leg.streets, leg.streets[1:], strict=False))


def test_private_roads_only_at_the_ends(roads, places):
    graph, vehicle = roads.graph, roads._vehicle(None)
    points = vehicle.snapper.snap(places)
    for i in range(40):
        way = vehicle.search.way(points[i], points[(i + 11) % 40], np.inf)
        kinds = "".join("p" if graph.ends_only[edge // 2] else "o" for edge in way.edges)
        # A street that only private roads lead to counts as one of them.
        main = "".join(
            "m" if vehicle.profile.depart_node[edge] == edge else "s" for edge in way.edges
        )
        assert re.fullmatch(r"s*m*s*", main), (kinds, main)
        assert not any(k == "p" and m == "m" for k, m in zip(kinds, main, strict=True))


def test_two_builds_are_the_same():
    raw = [read_extract(extract("pa-access-restriction"), None) for _ in range(2)]
    one, two = (build_graph(network) for network in raw)
    assert np.array_equal(one.arc_end, two.arc_end)
    assert np.array_equal(one.arc_ms, two.arc_ms)
    assert one.names == two.names


def test_no_left_turn_in_washington():
    """Every no_left_turn over a node: the turn is driven where the rule is taken out of the data,
    and no other way; with the rule it never is, and the way is at least as long."""
    raw = read_extract(extract("washington-dc-turn-restriction"), None)
    graph = build_graph(raw)
    roads = ExtractRoads(graph, "with")
    free = ExtractRoads(build_graph(replace(raw, turn_rules=[])), "without")
    way_of = dict(zip(raw.way_ids.tolist(), range(len(raw.way_ids)), strict=True))
    ends = []
    for rule in raw.turn_rules:
        if rule.kind != "left_turn" or rule.only or rule.via_node is None:
            continue
        via = int(np.searchsorted(raw.node_ids, rule.via_node))
        pair = []
        for way_id in (rule.from_ways[0], rule.to_ways[0]):
            row = way_of.get(way_id)
            nodes = (
                []
                if row is None
                else raw.way_nodes[raw.way_start[row] : raw.way_start[row + 1]].tolist()
            )
            if via not in (nodes[:1] + nodes[-1:]):
                break
            beside = nodes[1] if nodes[0] == via else nodes[-2]
            lat = (raw.lat[via] + raw.lat[beside]) / 2
            lon = (raw.lon[via] + raw.lon[beside]) / 2
            pair.append(Place(f"{len(ends)} {way_id}", float(lat), float(lon)))
        if len(pair) == 2:
            ends += pair
    far = {snap.place_id for snap in roads.snaps(ends) if snap.distance_ft > 3}
    # All at once: each search of its own would begin with the whole network.
    with_rules, without = roads.travel(ends).minutes, free.travel(ends).minutes
    longer = tried = 0
    for at in range(0, len(ends), 2):
        if far.isdisjoint(place.place_id for place in ends[at : at + 2]):
            tried += 1
            assert with_rules[at, at + 1] >= without[at, at + 1]
            longer += with_rules[at, at + 1] > without[at, at + 1] + 0.05
    assert tried >= 40
    assert longer >= 15
