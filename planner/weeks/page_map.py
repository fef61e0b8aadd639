"""Where each day of the calendar goes: a small drawing per day, readable in black and white."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

from planner.day.day import Workbook
from planner.weeks.model import Calendar, TruckShare

WIDTH: Final = 200
HEIGHT: Final = 150
MARGIN: Final = 9
SIGNS: Final = ("dot", "ring", "square", "frame", "triangle", "cross")
"""Marks of the trucks in the order of the table; with more trucks they begin again."""

Point = tuple[float, float]


@dataclass(frozen=True)
class TruckDrawing:
    """One truck's day. sign: of SIGNS; dash: of its line; line: 'x,y x,y ...' from its yard and
    back; marks: SVG path of all its stops."""

    truck_id: str
    sign: str
    dash: str
    line: str
    marks: str


@dataclass(frozen=True)
class DayDrawing:
    """others: path of all other stops of the calendar; yards: path of the yards."""

    date: str
    others: str
    yards: str
    trucks: tuple[TruckDrawing, ...]


def day_drawings(calendar: Calendar, book: Workbook) -> tuple[DayDrawing, ...]:
    """A drawing for each day on which a truck goes out; lines are straight, north is up."""
    places = {
        one.property_id: (
            book.properties[one.property_id].lat,
            book.properties[one.property_id].lon,
        )
        for share in calendar.shares
        for one in share.orders
        if one.property_id in book.properties
    }
    yards = {
        name: (book.sites[truck.yard_id].lat, book.sites[truck.yard_id].lon)
        for name, truck in (book.trucks | book.out_of_service).items()
        if name in calendar.trucks
    }
    if not places:
        return ()
    at = _projection([*places.values(), *yards.values()])
    signs = {name: sign_of(at) for at, name in enumerate(calendar.trucks)}
    every = "".join(_mark("speck", at(point)) for point in dict.fromkeys(places.values()))
    home = "".join(_mark("yard", at(point)) for point in dict.fromkeys(yards.values()))
    found = []
    for day in calendar.days:
        shares = [share for share in calendar.shares if share.date == day and share.orders]
        drawn = tuple(
            _truck(share, signs[share.truck_id], calendar, places, yards, at)
            for share in shares
            if share.truck_id in signs
        )
        if drawn:
            found.append(DayDrawing(day, every, home, drawn))
    return tuple(found)


def sign_of(place: int) -> str:
    """The mark of the truck at that place in the table."""
    return SIGNS[place % len(SIGNS)]


def sign_path(sign: str) -> str:
    """The mark of a truck, for the key."""
    return _mark(sign, (8.0, 7.0))


def dash_of(place: int) -> str:
    """The line of the truck at that place in the table."""
    return ("", "5 2", "1.5 2", "7 2 1.5 2")[place % 4]


def _truck(
    share: TruckShare,
    sign: str,
    calendar: Calendar,
    places: dict[str, Point],
    yards: dict[str, Point],
    at: Callable[[Point], Point],
) -> TruckDrawing:
    stops = [places[one.property_id] for one in share.orders if one.property_id in places]
    stops = [stop for stop, before in zip(stops, [None, *stops], strict=False) if stop != before]
    yard = [yards[share.truck_id]] if share.truck_id in yards else []
    line = " ".join(f"{x:.1f},{y:.1f}" for x, y in map(at, [*yard, *stops, *yard]))
    marks = "".join(_mark(sign, at(stop)) for stop in stops)
    dash = dash_of(calendar.trucks.index(share.truck_id))
    return TruckDrawing(share.truck_id, sign, dash, line, marks)


def _projection(points: Sequence[Point]) -> Callable[[Point], Point]:
    """Degrees to the drawing's own units, true to angle in the middle of the points."""
    south, north = min(lat for lat, _ in points), max(lat for lat, _ in points)
    west, east = min(lon for _, lon in points), max(lon for _, lon in points)
    narrow = math.cos(math.radians((south + north) / 2))
    wide, high = max((east - west) * narrow, 1e-6), max(north - south, 1e-6)
    scale = min((WIDTH - 2 * MARGIN) / wide, (HEIGHT - 2 * MARGIN) / high)
    left, top = (WIDTH - wide * scale) / 2, (HEIGHT - high * scale) / 2

    def at(point: Point) -> Point:
        lat, lon = point
        return left + (lon - west) * narrow * scale, top + (north - lat) * scale

    return at


def _mark(sign: str, point: Point) -> str:
    x, y = point
    move = f"M{x:.1f} {y:.1f}"
    if sign in ("dot", "ring", "speck"):
        r = 1.0 if sign == "speck" else 2.2
        return f"{move}m-{r} 0a{r} {r} 0 1 0 {2 * r:g} 0a{r} {r} 0 1 0 -{2 * r:g} 0"
    shape = {
        "square": "m-2 -2h4v4h-4z",
        "frame": "m-2 -2h4v4h-4z",
        "triangle": "m0 -2.8l2.6 4.7h-5.2z",
        "cross": "m-2.1 -2.1l4.2 4.2m0 -4.2l-4.2 4.2",
        "yard": "m-4.5 -4.5h9v9h-9z",
    }
    return move + shape[sign]
