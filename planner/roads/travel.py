"""What the rest of the planner asks of roads, and what a driver is told on the way, in words."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final, Protocol

import numpy as np
from numpy.typing import NDArray

from planner.problems import PlannerError
from planner.roads.sphere import FT_PER_MILE

KINDS: Final = (
    "depart",
    "turn",
    "keep",
    "straight",
    "u-turn",
    "roundabout",
    "exit",
    "ramp",
    "arrive",
)
SIDES: Final = ("", "left", "right", "slight left", "slight right", "sharp left", "sharp right")

FEET_BELOW_MILES: Final = 0.1
"""Shorter stretches are told in feet."""


@dataclass(frozen=True)
class Maneuver:
    """One thing to do on the way to a stop.

    kind: one of KINDS. text: the whole sentence, without the distance. miles: to drive after it
    until the next one. street: driven then, '' when it has no name; shield: its route numbers as
    'US 40, MD 7'. side: one of SIDES; at the arrival the side of the street, '' when it cannot be
    told. exit: which exit of a roundabout as '2', or the number of a motorway's exit as '12A'.
    toward: what the signs name. lat, lon: where it is done.
    """

    kind: str
    text: str
    miles: float
    street: str = ""
    shield: str = ""
    side: str = ""
    exit: str = ""
    toward: str = ""
    lat: float = 0.0
    lon: float = 0.0

    @property
    def distance(self) -> str:
        """The miles after it, as people read them; '' after the last one."""
        return distance_text(self.miles) if self.miles > 0 else ""

    @property
    def road(self) -> str:
        """Street and shield in one, '' when the road has neither."""
        return road_text(self.street, self.shield)


def distance_text(miles: float) -> str:
    """'350 ft' or '1.4 mi'. Feet to the nearest 50, miles to a tenth, whole ones from ten on."""
    if miles < FEET_BELOW_MILES:
        return f"{max(50, 50 * round(miles * FT_PER_MILE / 50)):.0f} ft"
    return f"{miles:.1f} mi" if miles < 9.95 else f"{miles:.0f} mi"


def road_text(street: str, shield: str) -> str:
    """'Main Street (US 40)', either alone, or ''."""
    if street and shield and shield != street:
        return f"{street} ({shield})"
    return street or shield


def ordinal(number: int) -> str:
    """'1st', '2nd', '3rd', '4th', '11th', '21st'."""
    if number % 100 in (11, 12, 13):
        return f"{number}th"
    return f"{number}{ {1: 'st', 2: 'nd', 3: 'rd'}.get(number % 10, 'th') }"


def sentence(kind: str, side: str, road: str, exit_number: str, toward: str) -> str:
    """The words of a maneuver. road: as road_text says it, or ''; side: for a
    departure the wind."""
    if kind == "depart":
        return f"Head {side}" + (f" on {road}" if road else "")
    onto = f" onto {road}" if road else ""
    signs = f" toward {toward}" if toward else ""
    if kind == "turn":
        first, _, last = side.rpartition(" ")
        return (f"{first.capitalize()} {last}" if first else f"Turn {last}") + (onto or signs)
    if kind == "keep":
        return f"Keep {side}" + (signs or onto)
    if kind == "straight":
        return f"Go straight{onto}"
    if kind == "u-turn":
        return f"Make a U-turn{onto}"
    if kind == "roundabout":
        if not exit_number:
            return f"Leave the roundabout{onto}" if road else "Enter the roundabout"
        return f"At the roundabout take the {ordinal(int(exit_number))} exit{onto or signs}"
    if kind in ("exit", "ramp"):
        what = f"exit {exit_number}" if exit_number else f"the {kind}"
        where = f" on the {side}" if side else ""
        return f"Take {what}{where}" + (signs or (f" to {road}" if road else ""))
    assert kind == "arrive", kind
    return f"Arrive, on the {side}" if side else "Arrive"


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

    def points(
        self, start: Place, end: Place, limits: VehicleLimits | None = None
    ) -> tuple[tuple[float, float], ...]:
        """The (lat, lon) of the way between two places: what a map needs of it."""

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
