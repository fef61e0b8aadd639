"""What the rest of the planner asks of roads."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from planner.problems import PlannerError
from planner.roads.maneuvers import Maneuver

OPENSTREETMAP_CREDIT = "© OpenStreetMap contributors, ODbL 1.0"
"""What the license of OpenStreetMap's data asks to be shown with maps made of it:
https://www.openstreetmap.org/copyright"""


@dataclass(frozen=True)
class Place:
    """A point to drive from and to. place_id: unique among the places of one question."""

    place_id: str
    lat: float
    lon: float


@dataclass(frozen=True)
class VehicleLimits:
    """What low and weak bridges and signs are checked against. axle_lb: of its heaviest axle.
    None = not checked."""

    weight_lb: float | None = None
    height_ft: float | None = None
    axle_lb: float | None = None
    length_ft: float | None = None
    width_ft: float | None = None


@dataclass(frozen=True)
class Travel:
    """Drive minutes and miles between places. minutes, miles: square arrays (from, to), in the
    order of place_ids, zero on the diagonal; miles are those of the fastest way."""

    place_ids: tuple[str, ...]
    minutes: NDArray[np.float64]
    miles: NDArray[np.float64]

    def index(self) -> dict[str, int]:
        """Row of each place."""
        return {place_id: row for row, place_id in enumerate(self.place_ids)}


@dataclass(frozen=True)
class Leg:
    """The way between two places. points: (lat, lon) in driving order, both places included;
    streets: names in driving order, without repeats in a row; detour: what a shorter way is barred
    by, in words, '' when this vehicle drives as any other; maneuvers: what the driver is told, from
    the departure to the arrival (first and last), () where no road is known; the route sheet shows
    some, the GPX file and a page for the phone all of them. planner.chain.legs_of has them for
    every stop of a plan."""

    points: tuple[tuple[float, float], ...]
    streets: tuple[str, ...]
    detour: str = ""
    maneuvers: tuple[Maneuver, ...] = ()


@dataclass(frozen=True)
class Snap:
    """How a place meets the road. distance_ft: to the nearest drivable road."""

    place_id: str
    distance_ft: float
    street: str


@dataclass(frozen=True)
class RoadStretch:
    """One street of the background drawing. kind: 'major', 'minor' or 'water'."""

    name: str
    kind: str
    points: tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class RoadDoubts:
    """What the source's data leaves open. unread: limits that cannot be read, as 'key=value';
    timed: rules of some cases that are not followed; near: kind of limit (as
    VehicleLimits names them) -> stretches near the places that have one and the least of them, of
    those that bar some lawful truck; dropped_share: of the road length, what cannot be reached
    from the rest and left again; hours: limits and closures of some hours that count all day."""

    unread: tuple[str, ...] = ()
    timed: int = 0
    near: Mapping[str, tuple[int, float]] = field(default_factory=dict)
    dropped_share: float = 0.0
    hours: int = 0


class Roads(Protocol):
    """A source of times and ways.

    description: what it is, for plan.json and the pages (no machine paths). warning: said loudly
    on every page, '' when the times come from real roads. credit: the notice that the source asks
    to be shown with what is made of it, '' when it asks for none.
    """

    description: str
    warning: str
    credit: str

    def travel(self, places: Sequence[Place], limits: VehicleLimits | None = None) -> Travel:
        """Minutes and miles between all places. Raises RoadError naming unreachable places."""

    def leg(self, start: Place, end: Place, limits: VehicleLimits | None = None) -> Leg:
        """The way between two places."""

    def snaps(self, places: Sequence[Place], limits: VehicleLimits | None = None) -> list[Snap]:
        """Distance of each place from the road where a vehicle would stop (empty list when there
        is no road network)."""

    def streets(self) -> list[RoadStretch]:
        """Streets and water for the map's background (empty when there is no road network)."""

    def doubts(self, places: Sequence[Place]) -> RoadDoubts:
        """What the data leaves open near the places."""

    def beside_dropped(self, places: Sequence[Place]) -> frozenset[str]:
        """Those of the places that lie beside a street which cannot be reached from the rest."""


class RoadError(PlannerError):
    """Places that cannot be reached, or a road file that cannot be read. message: for people;
    place_ids: every place that it is about, () when it is about the file."""

    def __init__(self, message: str, place_ids: tuple[str, ...] = ()) -> None:
        self.place_ids = place_ids
        super().__init__(message)
