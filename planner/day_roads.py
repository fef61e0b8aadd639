"""Where a workbook's places meet the roads: the checks of every place, the drive times of a day.

The clip of the extract is always that of all the workbook's places, so that its graph is built
once and found in the cache every evening; snaps and times are asked for the day's places only.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from planner.day.day import Day, Workbook
from planner.day.fleet import Truck
from planner.problems import Problem, WorkbookError
from planner.roads.limits import ANY_DAY, HoursWorked, unread_words
from planner.roads.open import open_roads
from planner.roads.travel import Place, RoadDoubts, RoadError, Roads, Snap, Travel, VehicleLimits
from planner.tables.office import OFFICE_FILE, load_office_file

SIZE_WORDS = {
    "height_ft": ("height_ft", "height", "ft"),
    "weight_lb": ("gvwr_lb", "weight", "lb"),
    "axle_lb": ("rear_gawr_lb", "axle load", "lb"),
    "length_ft": ("length_ft", "length", "ft"),
    "width_ft": ("width_ft", "width", "ft"),
}
"""Kind of a limit -> the truck's column, in words, unit."""

MOST_DROPPED = 0.25
"""Some yards and gated places are cut off in every extract; a quarter of all roads is a bad cut.
Common sense, no source."""

OUTSIDE_FT = 5280.0
"""A place a mile from any drivable road lies outside the extract, not beside a long driveway."""


@dataclass(frozen=True)
class DayRoads:
    """Roads of a day, and the drive times of each truck. notes: warnings in words."""

    roads: Roads
    travel_by_truck: dict[str, Travel]
    limits_by_truck: dict[str, VehicleLimits]
    notes: tuple[str, ...]

    @property
    def source(self) -> tuple[str, str]:
        """Description and warning of where the drive times come from."""
        return self.roads.description, self.roads.warning


def open_day_roads(
    path: Path, day: Day, extract: Path | None, *, any_day: bool = False
) -> DayRoads:
    """Roads for the day's places. extract: goes before the one named in planner.toml; any_day: as
    they are for other days as well, with what is closed on some of them.

    Raises WorkbookError for places that the roads do not reach, RoadError for a bad extract.
    """
    worked = ANY_DAY if any_day else _worked(day)
    roads = open_book_roads(path, day.workbook, extract, worked)
    places = day_places(day)
    problems, notes = place_problems(day.workbook, roads, places, set(day.orders))
    if problems:
        raise WorkbookError(problems)
    ahead = _ahead_places(day, roads, places)
    travel_of: dict[VehicleLimits, Travel] = {}
    limits_by_truck = {truck.truck_id: limits_of(truck) for truck in day.workbook.trucks.values()}
    for truck_id, limits in limits_by_truck.items():
        if limits not in travel_of:
            travel_of[limits] = _travel(day, roads, places, ahead, limits, truck_id)
    travel_by_truck = {name: travel_of[limits] for name, limits in limits_by_truck.items()}
    notes = ([roads.warning] if roads.warning else []) + notes + _hour_notes(roads.doubts(()))
    return DayRoads(roads, travel_by_truck, limits_by_truck, tuple(notes))


def _worked(day: Day) -> HoursWorked:
    trucks = day.workbook.trucks.values()
    return HoursWorked(
        day.date,
        min((truck.shift_start_min for truck in trucks), default=ANY_DAY.begin_min),
        max((truck.latest_return_min for truck in trucks), default=ANY_DAY.end_min),
    )


def _hour_notes(doubts: RoadDoubts) -> list[str]:
    if not doubts.hours:
        return []
    what = "1 limit or closure of a street holds"
    if doubts.hours > 1:
        what = f"{doubts.hours:,} limits or closures of streets hold"
    return [
        f"{what} for some hours or days only; on such a day "
        "it counts at every hour, and the way round may be longer"
    ]


def _ahead_places(day: Day, roads: Roads, places: list[Place]) -> list[Place]:
    """Further properties with orders ahead, without those that have a problem with the roads: that
    is told when they are due."""
    known = {place.place_id for place in places}
    homes: dict[str, set[str]] = {}
    for name, order in day.ahead.items():
        if order.property_id not in known:
            homes.setdefault(order.property_id, set()).add(name)
    rows = [(day.workbook.properties[name], orders) for name, orders in homes.items()]
    found = [(Place(home.property_id, home.lat, home.lon), orders) for home, orders in rows]
    every = [place for place, _ in found]
    if not place_problems(day.workbook, roads, every, set().union(*homes.values()))[0]:
        return every
    return [
        place
        for place, orders in found
        if not place_problems(day.workbook, roads, [place], orders)[0]
    ]


def check_roads(path: Path, book: Workbook) -> tuple[list[Problem], list[str]]:
    """What is wrong with where the places of a workbook lie on the roads that planner.toml names,
    and notes in words; nothing when it names none."""
    named = load_office_file(path).roads
    if named is None:
        return [], []
    try:
        roads = open_book_roads(path, book, None)
    except RoadError as error:
        cure = (
            "repair the file, or name another under roads; without the line, days are planned with "
            "times of straight lines"
        )
        return [Problem(OFFICE_FILE, None, "roads", "ROAD-3", str(error), named, cure)], []
    problems, notes = place_problems(book, roads, workbook_places(book), set(book.orders))
    return problems, notes + doubt_notes(book, roads.doubts(workbook_places(book)), named)


def doubt_notes(book: Workbook, doubts: RoadDoubts, file: str) -> list[str]:
    """What the road file leaves open, in words: trucks whose size is not known, limits that cannot
    be read, rules of some hours, streets without a way to them."""
    notes = []
    for kind, (count, least) in doubts.near.items():
        blank = [name for name, one in book.trucks.items() if getattr(limits_of(one), kind) is None]
        if not blank:
            continue
        column, what, unit = SIZE_WORDS[kind]
        noun = "stretch" if count == 1 else "stretches"
        notes.append(
            f"{column} is blank for {', '.join(blank)}: {count} {noun} of road near your places "
            f"{'has' if count == 1 else 'have'} a limit of {what} (the least {least:,.4g} {unit}), "
            "and these trucks may be sent through; fill it in under trucks"
        )
    if doubts.unread:
        notes.append(
            f"{file}: {unread_words(doubts.unread)} cannot be read and bar no truck; look "
            "whether yours may pass there"
        )
    if doubts.timed:
        what = "1 limit or closure holds"
        if doubts.timed > 1:
            what = f"{doubts.timed:,} limits or closures hold"
        notes.append(f"{file}: {what} on conditions that the planner does not follow")
    notes += [f"{file}: {note}" for note in _hour_notes(doubts)]
    if doubts.dropped_share > MOST_DROPPED:
        notes.append(
            f"{file}: {100 * doubts.dropped_share:.0f} % of its roads cannot be reached from the "
            "rest and are not used; it may be cut badly: take the extract of a whole county"
        )
    return notes


def limits_of(truck: Truck) -> VehicleLimits:
    """What bridges and signs are checked against: truck and axles as heavy as they may be."""
    axles = [one for one in (truck.front_gawr_lb, truck.rear_gawr_lb) if one is not None]
    return VehicleLimits(
        truck.gvwr_lb, truck.height_ft, max(axles, default=None), truck.length_ft, truck.width_ft
    )


def workbook_places(book: Workbook) -> list[Place]:
    """Every site and every property."""
    sites = [Place(site.site_id, site.lat, site.lon) for site in book.sites.values()]
    return sites + [
        Place(home.property_id, home.lat, home.lon) for home in book.properties.values()
    ]


def day_places(day: Day) -> list[Place]:
    """Every site, and every property with an order that day, each once."""
    due = {order.property_id for order in day.orders.values()}
    return [
        place
        for place in workbook_places(day.workbook)
        if place.place_id in day.workbook.sites or place.place_id in due
    ]


def open_book_roads(
    path: Path, book: Workbook, extract: Path | None, worked: HoursWorked = ANY_DAY
) -> Roads:
    """Roads round all the places of a workbook. extract: goes before the one named in
    planner.toml; worked: what cannot hold then does not count. Raises RoadError."""
    settings = book.settings
    return open_roads(
        road_file(path, extract),
        workbook_places(book),
        straight_line_factor=settings.straight_line_factor,
        straight_line_speed_mph=settings.straight_line_speed_mph,
        road_time_factor=settings.road_time_factor,
        worked=worked,
    )


def road_file(path: Path, extract: Path | None) -> Path | None:
    """The extract or table of times that a workbook's roads come from; None = straight lines."""
    if extract is not None:
        return extract
    named = load_office_file(path).roads
    return (path if path.is_dir() else path.parent) / named if named else None


def kept_away(book: Workbook, roads: Roads, limits: VehicleLimits) -> frozenset[str]:
    """Properties that low or weak bridges and signs keep such a truck away from (see ROAD-2)."""
    places = workbook_places(book)
    nearest_ft = {snap.place_id: snap.distance_ft for snap in roads.snaps(places)}
    return frozenset(
        snap.place_id
        for snap in roads.snaps(places, limits)
        if snap.place_id in book.properties
        and snap.distance_ft - nearest_ft[snap.place_id] > book.settings.far_from_road_ft
    )


def _where(book: Workbook, place_id: str) -> tuple[str, int | None]:
    table = "sites" if place_id in book.sites else "properties"
    return book.source.where(table, place_id)


def place_problems(
    book: Workbook, roads: Roads, places: list[Place], orders: set[str]
) -> tuple[list[Problem], list[str]]:
    """Places outside the roads, places that a truck cannot come near, and notes on places far from
    their road. orders: that count for where a truck has to go."""
    snaps = {snap.place_id: snap for snap in roads.snaps(places)}
    far_ft = book.settings.far_from_road_ft
    problems: list[Problem] = []
    notes: list[str] = []
    away = {name for name, snap in snaps.items() if snap.distance_ft > far_ft}
    far = [place for place in places if place.place_id in away]
    cut_off = roads.beside_dropped(far) if far else frozenset()
    for snap in snaps.values():
        file, row = _where(book, snap.place_id)
        if snap.distance_ft > OUTSIDE_FT:
            problems.append(_outside(file, row, snap, snap.place_id in cut_off))
        elif snap.place_id in cut_off:
            notes.append(
                f"{file}, row {row}: the street at '{snap.place_id}' cannot be reached from the "
                f"other roads of the extract; the nearest that can is {snap.distance_ft:.0f} ft "
                f"away ({snap.street or 'unnamed'})"
            )
        elif snap.distance_ft > far_ft:
            notes.append(
                f"{file}, row {row}: '{snap.place_id}' is {snap.distance_ft:.0f} ft from the "
                f"nearest road ({snap.street or 'unnamed'}); check its lat and lon"
            )
    inside = [
        place
        for place in places
        if place.place_id in snaps and snaps[place.place_id].distance_ft <= OUTSIDE_FT
    ]
    problems += _out_of_reach(book, roads, inside, snaps, orders)
    return problems, notes


def _outside(file: str, row: int | None, snap: Snap, cut_off: bool) -> Problem:
    miles = f"{snap.distance_ft / 5280:.1f} miles"
    message = f"'{snap.place_id}' is {miles} from the nearest road of the extract"
    cure = "check lat and lon, or use an extract that covers the place"
    if cut_off:
        message = (
            f"the street at '{snap.place_id}' cannot be reached from the other roads of the "
            f"extract; the nearest that can is {miles} away"
        )
        cure = "use an extract that covers the way there, or see what bars it on the map"
    return Problem(file, row, "lat", "ROAD-1", message, cure=cure)


def _out_of_reach(
    book: Workbook, roads: Roads, places: list[Place], snaps: dict[str, Snap], orders: set[str]
) -> Iterator[Problem]:
    """ROAD-2 where low or weak bridges and signs keep a truck so far away that the road it would
    stop on is not the place's."""
    snaps_of: dict[VehicleLimits, list[Snap]] = {}
    for truck in book.trucks.values():
        limits = limits_of(truck)
        if limits not in snaps_of:
            snaps_of[limits] = roads.snaps(places, limits)
        has_to_go = _has_to_go(book, truck, orders)
        for snap in snaps_of[limits]:
            extra_ft = snap.distance_ft - snaps[snap.place_id].distance_ft
            if extra_ft > book.settings.far_from_road_ft and has_to_go(snap.place_id):
                yield Problem(
                    *_where(book, snap.place_id),
                    "lat",
                    "ROAD-2",
                    f"truck {truck.truck_id} cannot come nearer to '{snap.place_id}' by road than "
                    f"{snap.distance_ft:,.0f} ft ({snap.street or 'unnamed'}): a limit of weight "
                    "or size keeps it out",
                    cure="check lat and lon and the truck's height and GVWR; if they are right, "
                    "write the truck under never_trucks of the orders there",
                )


def _has_to_go(book: Workbook, truck: Truck, orders: set[str]) -> Callable[[str], bool]:
    """Whether a truck may be sent to a place: its yard, a water point, or a property with an order
    that does not exclude it."""
    homes = {
        order.property_id
        for order_id, order in book.orders.items()
        if order_id in orders
        and truck.truck_id not in order.never_trucks
        and (order.only_trucks is None or truck.truck_id in order.only_trucks)
    }
    return lambda place_id: place_id in book.sites or place_id in homes


def _travel(
    day: Day,
    roads: Roads,
    places: list[Place],
    ahead: list[Place],
    limits: VehicleLimits,
    truck_id: str,
) -> Travel:
    try:
        return roads.travel([*places, *ahead], limits)
    except RoadError as error:
        if ahead:
            return _travel(day, roads, places, [], limits, truck_id)
        if not error.place_ids:
            raise
        raise WorkbookError(
            Problem(
                *_where(day.workbook, place_id),
                "lat",
                "ROAD-2",
                f"truck {truck_id} cannot reach '{place_id}' by road and come back",
                cure="check lat and lon, the truck's height and weight, and the road extract",
            )
            for place_id in error.place_ids
        ) from error
