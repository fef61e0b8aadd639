"""Times, miles and ways from a road extract. And why a truck does not take the way that others
take."""

import itertools
from collections.abc import Sequence
from typing import Final, TypeVar

import numpy as np
from numpy.typing import NDArray

from planner.roads.choices import Piece, pieces_of
from planner.roads.graph import Junctions, RoadGraph, Snapper, SnapPoint
from planner.roads.guidance import maneuvers
from planner.roads.limits import ANY_DAY, KINDS, Held, HoursWorked, held
from planner.roads.network import Box, widened
from planner.roads.profile import PACK, Profile, Restrictions, build_profile, restrictions, unpack
from planner.roads.search import RoadPath, Search
from planner.roads.speeds import MOST_SNAP_FT
from planner.roads.sphere import FT_PER_MILE, great_circle_ft
from planner.roads.travel import (
    OPENSTREETMAP_CREDIT,
    Leg,
    Place,
    RoadDoubts,
    RoadError,
    RoadStretch,
    Snap,
    Travel,
    VehicleLimits,
)

WORTH_SAYING_MS: Final = 30_000
"""A way round that costs less than half a minute is not told."""

WORDS: Final = {
    "height_ft": "height limit {:.4g} ft",
    "weight_lb": "weight limit {:,.0f} lb",
    "axle_lb": "axle limit {:,.0f} lb",
    "length_ft": "length limit {:.4g} ft",
    "width_ft": "width limit {:.4g} ft",
}


def barred_by(
    graph: RoadGraph, bars: Restrictions, limits: VehicleLimits, shorter: Sequence[int]
) -> str:
    """The first thing that bars the truck on the directed edges of the shorter way, with its
    street, in words."""
    for directed in shorter:
        edge = directed // 2
        if not bars.closed[edge] and not (bars.ends_only[edge] and not graph.ends_only[edge]):
            continue
        street = graph.names[int(graph.point_name[graph.start[edge]])] or "an unnamed road"
        figures = graph.limit_table[graph.limits[edge]]
        for kind, figure in zip(KINDS, figures.tolist(), strict=True):
            size = getattr(limits, kind)
            if size is not None and figure < size:
                return f"{street} ({WORDS[kind].format(figure)})"
        return f"{street} (no trucks)"
    return "the shorter way (a height or weight limit at a point)"


MS_PER_MIN = 60_000.0
TENTH_FT_PER_MILE = FT_PER_MILE * 10
FIRST_LOOK_MPH = 20.0
"""A way is first looked for within the time of the straight line at this speed, plus some."""
FIRST_LOOK_MIN = 4.0
MAJOR_RANK = 4
"""Roads up to tertiary are drawn as major."""
TRAVELS_KEPT = 8
NEAR_MILES = 2.0
"""Bridges this far round the places count as near them."""
BESIDE_FT = 500.0
LARGEST_LAWFUL = {
    "height_ft": 13.5,
    "weight_lb": 80_000.0,
    "axle_lb": 20_000.0,
    "length_ft": 40.0,
    "width_ft": 8.5,
}
"""A limit of at least this bars no truck that drives without a permit. 80,000 lb, 20,000 lb an axle
and 102 in of width are federal (23 CFR 658.15 and 658.17); 13.5 ft and 40 ft of a single truck are
usual among the states (from memory)."""
Item = TypeVar("Item")


class _Vehicle:
    """What is kept for all vehicles that may use the same roads."""

    def __init__(self, graph: RoadGraph, bars: Restrictions) -> None:
        self.bars = bars
        self.profile = profile = build_profile(graph, bars)
        usable = profile.usable[0::2] | profile.usable[1::2]
        self.snapper = Snapper(graph, usable & graph.may_stop)
        self.search = Search(graph, profile)
        self.points: dict[Place, SnapPoint] = {}
        self.travels: dict[tuple[Place, ...], Travel] = {}


class ExtractRoads:
    """Roads of an OpenStreetMap extract; see the Roads protocol."""

    warning = ""

    def __init__(
        self,
        graph: RoadGraph,
        description: str,
        road_time_factor: float = 1.0,
        credit: str = OPENSTREETMAP_CREDIT,
        worked: HoursWorked = ANY_DAY,
    ) -> None:
        self.graph = graph
        self.description = description
        self.credit = credit
        self._factor = road_time_factor
        self._hours = sum(held(text, worked) is not Held.ALWAYS for text in graph.conditions)
        self._junctions = Junctions(graph)
        self._by_limits: dict[VehicleLimits | None, _Vehicle] = {}
        self._by_key: dict[bytes, _Vehicle] = {}

    def profile(self, limits: VehicleLimits | None = None) -> Profile:
        """The graph that a vehicle may use."""
        return self._vehicle(limits).profile

    def travel(self, places: Sequence[Place], limits: VehicleLimits | None = None) -> Travel:
        """Minutes and miles between all places. Raises RoadError naming every place that no road
        leads to or that lies outside the extract."""
        vehicle = self._vehicle(limits)
        key = tuple(places)
        if key not in vehicle.travels:
            while len(vehicle.travels) >= TRAVELS_KEPT:
                vehicle.travels.pop(next(iter(vehicle.travels)))
            vehicle.travels[key] = self._travel(vehicle, key)
        return vehicle.travels[key]

    def leg(self, start: Place, end: Place, limits: VehicleLimits | None = None) -> Leg:
        """The fastest way between two places, with the step from each place to its road. Raises
        RoadError when there is none."""
        return self.leg_with_sums(start, end, limits)[0]

    def leg_with_sums(
        self, start: Place, end: Place, limits: VehicleLimits | None = None
    ) -> tuple[Leg, float, float]:
        """The way, its minutes and its miles (the same as those of travel)."""
        vehicle = self._vehicle(limits)
        way, pieces, points = self._way(vehicle, start, end)
        detour = self._detour(vehicle, limits, start, end, way.weight)
        ms, tenth_ft = unpack(np.array(way.weight))
        streets = _without_repeats([piece.label.shown for piece in pieces if piece.label.shown])
        told = maneuvers(self._junctions, pieces, (end.lat, end.lon))
        minutes = float(ms) / MS_PER_MIN * self._factor
        leg = Leg(points, tuple(streets), detour, told)
        return leg, minutes, float(tenth_ft) / TENTH_FT_PER_MILE

    def points(
        self, start: Place, end: Place, limits: VehicleLimits | None = None
    ) -> tuple[tuple[float, float], ...]:
        """The (lat, lon) of the fastest way. Raises RoadError when there is none."""
        return self._way(self._vehicle(limits), start, end)[2]

    def _way(
        self, vehicle: _Vehicle, start: Place, end: Place
    ) -> tuple[RoadPath, list[Piece], tuple[tuple[float, float], ...]]:
        """The fastest way, what it runs over, its points. Raises RoadError when there is none."""
        first, last = self._snapped(vehicle, [start, end])
        straight_ft = great_circle_ft(
            np.array(first.lat), np.array(first.lon), np.array(last.lat), np.array(last.lon)
        )
        look_min = FIRST_LOOK_MIN + float(straight_ft) / FT_PER_MILE / FIRST_LOOK_MPH * 60
        way = vehicle.search.way(first, last, look_min * MS_PER_MIN * PACK)
        if way is None:
            raise RoadError(
                f"no road leads from {start.place_id} to {end.place_id}",
                (start.place_id, end.place_id),
            )
        pieces = pieces_of(self.graph, way, first, last)
        shape = [(first.lat, first.lon), *(point for piece in pieces for point in piece.points)]
        points = _without_repeats([(start.lat, start.lon), *shape, (end.lat, end.lon)])
        return way, pieces, tuple(points)

    def _detour(
        self,
        vehicle: _Vehicle,
        limits: VehicleLimits | None,
        start: Place,
        end: Place,
        weight: float,
    ) -> str:
        """What bars the vehicle from a shorter way, '' when there is none worth saying."""
        free = self._vehicle(None)
        if limits is None or free is vehicle:
            return ""
        first, last = self._snapped(free, [start, end])
        shorter = free.search.way(first, last, weight)
        if shorter is None or (weight - shorter.weight) / PACK < WORTH_SAYING_MS:
            return ""
        return barred_by(self.graph, vehicle.bars, limits, shorter.edges)

    def snaps(self, places: Sequence[Place], limits: VehicleLimits | None = None) -> list[Snap]:
        """Distance of each place from the nearest road where the vehicle may come and stop."""
        vehicle = self._vehicle(limits)
        return (
            [
                Snap(place.place_id, point.distance_ft, self._name(point.row))
                for place, point in zip(places, vehicle.snapper.snap(places), strict=True)
            ]
            if places
            else []
        )

    def streets(self) -> list[RoadStretch]:
        """Streets, cut where their name changes, and water. Driveways and parking aisles are left
        out."""
        graph = self.graph
        streets = []
        for edge in np.flatnonzero(graph.drawn).tolist():
            low, high = int(graph.start[edge]), int(graph.start[edge + 1])
            kind = "major" if graph.rank[edge] <= MAJOR_RANK else "minor"
            names = graph.point_name[low : high - 1]
            cuts = [0, *(np.flatnonzero(np.diff(names)) + 1).tolist(), high - low - 1]
            for a, b in itertools.pairwise(cuts):
                points = _points(graph.lat, graph.lon, low + a, low + b + 1)
                streets.append(RoadStretch(graph.names[int(names[a])], kind, points))
        for row, name in enumerate(graph.water_name.tolist()):
            low, high = int(graph.water_start[row]), int(graph.water_start[row + 1])
            points = _points(graph.water_lat, graph.water_lon, low, high)
            streets.append(RoadStretch(graph.names[name], "water", points))
        return streets

    def doubts(self, places: Sequence[Place]) -> RoadDoubts:
        """What the data leaves open near the places."""
        graph, profile = self.graph, self.profile()
        near: dict[str, tuple[int, float]] = {}
        if places:
            lat, lon = [place.lat for place in places], [place.lon for place in places]
            box = widened(Box(min(lat), min(lon), max(lat), max(lon)), NEAR_MILES)
            first = graph.start[:-1]
            inside = (graph.lat[first] >= box.south) & (graph.lat[first] <= box.north)
            inside &= (graph.lon[first] >= box.west) & (graph.lon[first] <= box.east)
            figures = graph.limit_table[graph.limits[inside]]
            for column, kind in enumerate(KINDS):
                bars = figures[:, column][figures[:, column] < LARGEST_LAWFUL[kind]]
                if len(bars):
                    near[kind] = (len(bars), float(bars.min()))
        in_all = float(graph.edge_totals()[0][0::2].sum())
        share = profile.dropped_tenth_ft / in_all if in_all else 0.0
        return RoadDoubts(graph.unread_limits, graph.timed_rules, near, share, self._hours)

    def beside_dropped(self, places: Sequence[Place]) -> frozenset[str]:
        """Those of the places that lie beside a street which cannot be reached from the rest."""
        snaps = Snapper(self.graph, self.graph.may_stop).snap(places)
        return frozenset(
            place.place_id
            for place, point in zip(places, snaps, strict=True)
            if point.distance_ft <= BESIDE_FT
        )

    def _vehicle(self, limits: VehicleLimits | None) -> _Vehicle:
        if limits not in self._by_limits:
            limit = restrictions(self.graph, limits)
            key = limit.key()
            if key not in self._by_key:
                self._by_key[key] = _Vehicle(self.graph, limit)
            self._by_limits[limits] = self._by_key[key]
        return self._by_limits[limits]

    def _snapped(self, vehicle: _Vehicle, places: Sequence[Place]) -> list[SnapPoint]:
        new = [place for place in dict.fromkeys(places) if place not in vehicle.points]
        if new:
            vehicle.points.update(zip(new, vehicle.snapper.snap(new), strict=True))
        points = [vehicle.points[place] for place in places]
        far = [
            place.place_id
            for place, point in zip(places, points, strict=True)
            if point.distance_ft > MOST_SNAP_FT
        ]
        if far:
            raise RoadError(
                f"no road within {MOST_SNAP_FT:,.0f} ft of {', '.join(far)}: outside the road "
                "extract, or lat and lon are wrong",
                tuple(far),
            )
        return points

    def _travel(self, vehicle: _Vehicle, places: tuple[Place, ...]) -> Travel:
        ids = tuple(place.place_id for place in places)
        if not places:
            return Travel((), np.zeros((0, 0)), np.zeros((0, 0)))
        weights = vehicle.search.weights(self._snapped(vehicle, places))
        cut_off = _cut_off(weights)
        if cut_off:
            named = tuple(ids[row] for row in cut_off)
            raise RoadError(f"no road leads to and from {', '.join(named)}", named)
        ms, tenth_ft = unpack(weights)
        minutes, miles = ms / MS_PER_MIN * self._factor, tenth_ft / TENTH_FT_PER_MILE
        minutes.setflags(write=False)  # Shared by everybody who asks for the same places.
        miles.setflags(write=False)
        return Travel(ids, minutes, miles)

    def _name(self, row: int) -> str:
        return self.graph.names[int(self.graph.point_name[row])]


def _points(
    lat: NDArray[np.float64], lon: NDArray[np.float64], low: int, high: int
) -> tuple[tuple[float, float], ...]:
    return tuple(zip(lat[low:high].tolist(), lon[low:high].tolist(), strict=True))


def _without_repeats(values: list[Item]) -> list[Item]:
    return [v for i, v in enumerate(values) if i == 0 or v != values[i - 1]]


def _cut_off(weights: NDArray[np.float64]) -> list[int]:
    """The fewest rows, taken greedily, without which every way exists."""
    missing = np.isinf(weights)
    rows: list[int] = []
    while missing.any():
        worst = int(np.argmax(missing.sum(axis=0) + missing.sum(axis=1)))
        rows.append(worst)
        missing[worst, :] = missing[:, worst] = False
    return sorted(rows)
