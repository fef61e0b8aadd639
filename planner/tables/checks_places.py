"""Checks of sites, properties and their weather areas."""

import math
import re
from collections import defaultdict
from collections.abc import Iterator

from planner.day.places import SiteKind
from planner.problems import Problem
from planner.rules.grasses import grass_rows, known_grasses, lawn_names
from planner.tables.checks_general import grass_cure
from planner.tables.rows import Row, Tables
from planner.tables.text import STATES, alike, did_you_mean

FARTHEST_FROM_YARD_MILES = 150.0
"""Three hours of driving one way leave no day for spraying; a place so far is a slip of the pen."""

ONE_POINT_MILES = 10.0 / 5280.0
"""Ten feet: nearer than any two lawns' middles."""

_MILES_A_DEGREE = 69.0
_WIDER = 6.0
"""How much wider, in degrees, ten feet are at most than they are high (below 80 degrees)."""
_MOST_IN_A_SQUARE = 20
"""Of thousands of properties at one point, each is compared with the first few."""
_UNIT = r"(?:(?:apt|apartment|unit|suite|ste|flat|lot)\.? *#?\w+,? +|#\w+,? +)?"
_HOUSE = re.compile(rf"\s*{_UNIT}([\d-]+).*?\b([a-z]{{3,}}|\d+)")
"""House number, and the first word of the street."""


def check_yards(tables: Tables) -> Iterator[Problem]:
    """PLACE-1: a truck that starts at a site that is no yard."""
    kinds = {row.written("site"): row for row in tables.rows("sites") if row.good("kind")}
    yards = [name for name, row in kinds.items() if name and row.text("kind") == SiteKind.YARD]
    for row in tables.rows("trucks"):
        site = kinds.get(row.text("yard"))
        if row.text("yard") and site is not None and site.text("kind") != SiteKind.YARD:
            cure = f"name a site of kind yard ({', '.join(yards)})" if yards else "name a yard"
            yield row.problem("yard", "PLACE-1", "this site is not of kind yard", cure)


def check_points(tables: Tables) -> Iterator[Problem]:
    """PLACE-2, PLACE-3, PLACE-5: points that are swapped, empty or very far away."""
    yards = [
        point
        for row in tables.rows("sites")
        if row.good("kind") and row.text("kind") == SiteKind.YARD
        if (point := _point(row)) is not None and not _odd(point)
    ]
    for table in ("sites", "properties"):
        for row in tables.rows(table):
            point = _point(row)
            if point is not None:
                yield from _point_problems(row, point, yards)


def points_at_once(tables: Tables, problems: list[Problem]) -> list[Problem]:
    """The problems with one PLACE-7 a table instead of two blank cells for each place that has no
    point yet; before the addresses are looked up these are all of them."""
    for table in ("properties", "sites"):
        rows = [
            row
            for row in tables.rows(table)
            if {"lat", "lon"} <= row.cells.texts.keys()
            and row.written("lat") == row.written("lon") == ""
        ]
        if rows:
            problems = _at_once(table, rows, problems)
    return problems


def _at_once(table: str, rows: list[Row], problems: list[Problem]) -> list[Problem]:
    cells = {(row.file, row.number, name) for row in rows for name in ("lat", "lon")}
    others = [p for p in problems if (p.file, p.row, p.column) not in cells or p.code != "CELL-1"]
    count = "this place has" if len(rows) == 1 else f"{len(rows)} {table} from here on have"
    cure = "run `planner locate` on the workbook: it finds their points from their addresses"
    return [*others, rows[0].problem("lat", "PLACE-7", f"{count} neither lat nor lon", cure)]


def _point(row: Row) -> tuple[float, float] | None:
    lat, lon = row.number_or_none("lat"), row.number_or_none("lon")
    return None if lat is None or lon is None else (lat, lon)


def _odd(point: tuple[float, float]) -> bool:
    return point == (0.0, 0.0) or _swapped_in_america(point)


def _swapped_in_america(point: tuple[float, float]) -> bool:
    # The states lie from 15 to 72 degrees north and from 60 to 180 degrees west.
    return point[0] <= -60.0 and 15.0 <= point[1] <= 72.0


def miles_between(a: tuple[float, float], b: tuple[float, float]) -> float:
    """Miles between two points (lat, lon), near enough to tell a slip of the pen."""
    across = (a[1] - b[1]) * math.cos(math.radians((a[0] + b[0]) / 2))
    return math.hypot(a[0] - b[0], across) * _MILES_A_DEGREE


def _point_problems(
    row: Row, point: tuple[float, float], yards: list[tuple[float, float]]
) -> Iterator[Problem]:
    found = f"{point[0]:g}, {point[1]:g}"
    if point == (0.0, 0.0):
        cure = "write the place's own latitude and longitude"
        yield row.problem("lat", "PLACE-3", "this point lies in the Atlantic", cure, found)
        return
    if _swapped_in_america(point):
        yield _swapped(row, found)
        return
    away = min((miles_between(point, yard) for yard in yards), default=0.0)
    if away <= FARTHEST_FROM_YARD_MILES:
        return
    other_way = (point[1], point[0])
    if min(miles_between(other_way, yard) for yard in yards) <= FARTHEST_FROM_YARD_MILES:
        yield _swapped(row, found)
        return
    cure = "check lat and lon; longitudes in America have a minus"
    message = f"this point is {away:,.0f} miles from the nearest yard"
    yield row.problem("lat", "PLACE-5", message, cure, found)


def _swapped(row: Row, found: str) -> Problem:
    return row.problem(
        "lat", "PLACE-2", "latitude and longitude look swapped", "exchange lat and lon", found
    )


def check_place_names(tables: Tables) -> Iterator[Problem]:
    """PLACE-4: a property with the short name of a site; plans name places by it."""
    for row in tables.rows("properties"):
        if row.good("property") and row.text("property") in tables.ids("sites"):
            yield row.problem(
                "property", "PLACE-4", "a site has the same short name", "rename one of the two"
            )


def check_shared_points(tables: Tables) -> Iterator[Problem]:
    """PLACE-6: two customers a few feet apart although their addresses differ; a point was copied,
    or both were found no better than by their street. Flats of one building share a point."""
    squares: dict[tuple[int, int], list[tuple[tuple[float, float], Row]]] = defaultdict(list)
    for row in tables.rows("properties"):
        point = _point(row)
        if point is None or _odd(point):
            continue
        # Meridians lie closer than parallels: a square is wider, in degrees, than it is high.
        side = ONE_POINT_MILES / _MILES_A_DEGREE
        down, across = int(point[0] // side), int(point[1] // (_WIDER * side))
        near = [
            other
            for a in (down - 1, down, down + 1)
            for b in (across - 1, across, across + 1)
            for other in squares.get((a, b), ())
        ]
        for there, first in near:
            if miles_between(point, there) <= ONE_POINT_MILES and not _one_home(first, row):
                yield row.problem(
                    "lat",
                    "PLACE-6",
                    f"this point is also that of '{first.text('property')}' in row "
                    f"{first.number}, whose address differs",
                    "check which of the two lies there; if both do, move one by 20 ft "
                    "(0.00006 degrees of latitude)",
                    f"{point[0]:g}, {point[1]:g}",
                )
                break
        if len(squares[down, across]) < _MOST_IN_A_SQUARE:
            squares[down, across].append((point, row))


def _one_home(one: Row, other: Row) -> bool:
    """Whether two properties may share a point: one customer, or one house number and street."""
    if alike(one.text("customer"), other.text("customer")):
        return True
    a, b = (_HOUSE.match(row.text("address").casefold()) for row in (one, other))
    return one.text("address") == other.text("address") or (
        a is not None and b is not None and a.groups() == b.groups()
    )


def check_states(tables: Tables) -> Iterator[Problem]:
    """STATE-1: a state that is not one of the postal codes."""
    cells = [
        (row, "state", row.text("state"))
        for name in ("applicators", "properties", "sites", "notify", "local_rules")
        for row in tables.rows(name)
    ] + [
        (row, "value", row.text("value"))
        for row in tables.rows("settings")
        if row.text("setting").casefold() == "state"
    ]
    for row, column, state in cells:
        if state and state.upper() not in STATES:
            yield row.problem(
                column, "STATE-1", "this is not a two-letter state", "write it like OH or TX"
            )


def check_weather_areas(tables: Tables) -> Iterator[Problem]:
    """WEATHER-1: a property whose weather area has no row, though other areas have some; it would
    be sprayed without any limit of weather."""
    areas = {row.text("area") for row in tables.rows("weather") if row.good("area")} - {""}
    if not areas or not tables.known("weather"):
        return
    for row in tables.rows("properties"):
        area = row.text("weather_area")
        if area and area not in areas:
            cure = did_you_mean(area, sorted(areas), "add its hours to weather")
            yield row.problem(
                "weather_area", "WEATHER-1", "the weather table has no such area", cure
            )


def check_grass_spelling(tables: Tables) -> Iterator[Problem]:
    """GRASS-1: a grass that is nearly, but not quite, one that a product must not touch; the
    difference would let the product onto it."""
    barred = {name for row in tables.rows("products") for name in row.items("not_on_grass")}
    same = {name.casefold() for name in barred}
    likes: dict[str, str | None] = {}
    for row in tables.rows("properties"):
        # A lawn of two grasses is written 'bluegrass / fescue'.
        for grass in filter(None, map(str.strip, re.split("[;,/+&]", row.text("grass")))):
            if row.text("grass").casefold() in same or grass.casefold() in same:
                continue
            if known_grasses(grass):
                continue
            if grass not in likes:
                likes[grass] = next((name for name in sorted(barred) if alike(grass, name)), None)
            if likes[grass] is not None:
                yield row.problem(
                    "grass",
                    "GRASS-1",
                    f"products write it '{likes[grass]}' in not_on_grass",
                    "spell it the same way in both tables",
                    found=grass,
                )


def check_grass_is_known(tables: Tables) -> Iterator[Problem]:
    """GRASS-2: a blank or unknown grass on a lawn that is due for a product which some grass does
    not bear, or bears at another rate; nothing would keep it off."""
    barring = {row.text("product") for row in tables.rows("products") if row.items("not_on_grass")}
    barring |= {row.text("product") for row in tables.rows("product_rates") if row.text("grass")}
    mixes: dict[str, str] = {}
    for row in tables.rows("mix_products"):
        if row.text("product") in barring:
            mixes.setdefault(row.text("mix"), row.text("product"))
    due: dict[str, str] = {}
    for row in tables.rows("orders"):
        if row.text("mix") in mixes and row.text("status") != "cancelled":
            due.setdefault(row.text("property"), mixes[row.text("mix")])
    barred = sorted({name for row in tables.rows("products") for name in row.items("not_on_grass")})
    known = {name.casefold() for name in barred}
    names = sorted({grass for grass, _ in grass_rows()} | set(barred))
    for row in tables.rows("properties"):
        product = due.get(row.text("property"))
        if product is None or not row.good("grass"):
            continue
        said = lawn_names(row.text("grass"))
        odd = [
            name
            for name in said
            if not known_grasses(name)
            and name.casefold() not in known
            and not any(alike(name, other) for other in barred)
        ]
        if odd or not said:
            usual = "write its grass by name: Kentucky bluegrass, tall fescue, ..."
            yield row.problem(
                "grass",
                "GRASS-2",
                f"it is due for {product}, whose label is different on some grasses, and its "
                f"grass is {'not known' if odd else 'blank'}",
                grass_cure(odd[0], names, usual) if odd else usual,
                found=odd[0] if odd else row.text("grass"),
            )


def check_shores(tables: Tables) -> Iterator[Problem]:
    """EDGE-1: a shore without its distance to the lawn; the strip's width would not be known."""
    for row in tables.rows("properties"):
        if (
            row.number_or_none("shore_ft")
            and row.good("water_distance_ft")
            and row.value("water_distance_ft") is None
        ):
            yield row.problem(
                "water_distance_ft",
                "EDGE-1",
                "the lawn has a shore, and how far it is from the water is blank",
                "write the feet between them, 0 where the lawn runs to the water",
            )


def check_registered(tables: Tables) -> Iterator[Problem]:
    """NOTIFY-1: a person to tell who can be near to nothing."""
    for row in tables.rows("notify"):
        point = ("lat", "lon", "radius_ft")
        if not row.good(*point, "listed_addresses") or row.items("listed_addresses"):
            continue
        blank = [name for name in point if row.value(name) is None]
        if blank:
            yield row.problem(
                blank[0],
                "NOTIFY-1",
                "the planner cannot tell which stops are near this person",
                "write lat, lon and radius_ft, or the addresses that the person has listed",
            )
