"""What a driver is told on the way, in words."""

from dataclasses import dataclass
from typing import Final

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
