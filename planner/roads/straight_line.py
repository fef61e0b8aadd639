"""A stand-in where there is no road extract: straight lines, made longer by a factor."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from planner.roads.sphere import FT_PER_MILE, great_circle_ft
from planner.roads.travel import Leg, Place, RoadDoubts, RoadStretch, Snap, Travel, VehicleLimits


class NoNetwork:
    """Answers of a source of times that knows no streets."""

    def leg(self, start: Place, end: Place, limits: VehicleLimits | None = None) -> Leg:
        """The straight line."""
        return straight_leg(start, end)

    def snaps(self, places: Sequence[Place], limits: VehicleLimits | None = None) -> list[Snap]:
        """None: there is no road."""
        return []

    def streets(self) -> list[RoadStretch]:
        """None: there is no road."""
        return []

    def doubts(self, places: Sequence[Place]) -> RoadDoubts:
        """None: there is no road."""
        return RoadDoubts()

    def beside_dropped(self, places: Sequence[Place]) -> frozenset[str]:
        """None: there is no road."""
        return frozenset()


class StraightLineRoads(NoNetwork):
    """Straight line times a factor, at one speed; see the Roads protocol."""

    credit = ""

    def __init__(self, factor: float, speed_mph: float) -> None:
        self._factor, self._speed_mph = factor, speed_mph
        self.description = f"straight line × {factor:g} at {speed_mph:g} mph"
        self.warning = (
            "NO ROAD MAP: drive times are guessed from straight lines "
            f"(× {factor:g} at {speed_mph:g} mph). Rivers, one-way streets and closed roads are "
            "not known. Give a road extract of your county before you rely on the clock times."
        )

    def travel(self, places: Sequence[Place], limits: VehicleLimits | None = None) -> Travel:
        """Minutes and miles between all places; limits change nothing."""
        lat = np.array([place.lat for place in places], dtype=np.float64)
        lon = np.array([place.lon for place in places], dtype=np.float64)
        feet = great_circle_ft(lat[:, None], lon[:, None], lat[None, :], lon[None, :])
        miles = feet / FT_PER_MILE * self._factor
        np.fill_diagonal(miles, 0.0)
        ids = tuple(place.place_id for place in places)
        return Travel(ids, miles / self._speed_mph * 60.0, miles)


def straight_leg(start: Place, end: Place) -> Leg:
    """A leg drawn as a straight line, without streets."""
    return Leg(((start.lat, start.lon), (end.lat, end.lon)), ())


def straight_line(factor: float, speed_mph: float) -> StraightLineRoads:
    """Roads guessed from straight lines. factor: road miles per straight mile; speed_mph: all day.
    Raises ValueError when either is not above 0."""
    if not (factor > 0 and speed_mph > 0):
        raise ValueError("factor and speed_mph must be above 0")
    return StraightLineRoads(factor, speed_mph)
