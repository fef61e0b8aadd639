"""What stands on the route sheet of one truck."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

from planner.compliance.edges import strips
from planner.compliance.licensed import supervised
from planner.compliance.people import officer_papers
from planner.compliance.weather import Forecast, forecast_at, limit_text, no_forecast
from planner.day.clock import clock_text
from planner.day.day import Day
from planner.day.fleet import Truck
from planner.day.life import ahead_text
from planner.day.orders import Order, WeatherHour
from planner.day.parts import parts_text
from planner.day.places import Property
from planner.papers.also_on_board import AlsoOnBoard, also_on_board
from planner.papers.container_label import kept_texts, taken_texts
from planner.papers.directions import way_text
from planner.papers.fill_table import near_text
from planner.papers.label_facts import label_facts
from planner.papers.lookup import (
    fresh_part,
    keep_off_texts,
    mix_name,
    on_board,
    place_text,
    used_compartments,
    works,
)
from planner.papers.stop_words import (
    DutyLine,
    TellLine,
    hoses_apart,
    hoses_tonight,
    owed_duties,
    rinses,
    stop_cautions,
    stops_text,
    tell_lines,
)
from planner.papers.yard_words import yard_text
from planner.plan.caught import rinsed_lines
from planner.plan.model import Again, CleaningEntry, Fill, Stop, TruckPlan, Work
from planner.plan.same_lawn import Place
from planner.roads.travel import Leg

WORTH_SAYING_MIN = 0.5
"""A wait shorter than the clock shows is not told."""


@dataclass(frozen=True)
class MixLine:
    """A mix on the truck. places: its compartments and valve positions; limits: of the weather;
    restricted: names of its products for restricted use."""

    mix_id: str
    name: str
    places: str
    line: str
    limits: str
    restricted: tuple[str, ...]


@dataclass(frozen=True)
class WorkLine:
    """One order done at a stop. draws: (valve position, compartment, gallons);
    displaced: name of the mix pushed out of the hose, '' when none; leave: strips that stay
    unsprayed and cautions of this stop alone, '' when none; caught: mix that was caught
    from a hose and is sprayed here, '' = none; restricted: for restricted use."""

    work: Work
    mix: str
    draws: tuple[tuple[int, str, float], ...]
    displaced: str
    minutes: float
    note: str
    windows: str
    leave: str
    caught: str = ""
    restricted: bool = False

    @property
    def hose_part_gal(self) -> float:
        """Of the lawn's gallons, what comes out of compartments."""
        return sum(gal for _, _, gal in self.draws)


@dataclass(frozen=True)
class FillLine:
    """One compartment to fill at a stop. near: mark of its gauge afterwards, as text."""

    fill: Fill
    position: int
    mix: str
    near: str


@dataclass(frozen=True)
class RouteRow:
    """One stop. at: the property, None at sites; way: the turns of the way there; detour: what
    bars a shorter one; forecast: in words; site_phone: of a refill stop; work_min: minutes
    standing, waiting left out; taken: the site is open, and others fill there; yard: what the crew
    does in the yard before it leaves or after it is back; hoses: what they hold at the return;
    parts: of an order that is done in parts, those of this stop;
    tell: registered people who are to be told of it; lawn: (mark, sentence) of other visits to the
    lawn that day."""

    stop: Stop
    title: str
    address: str
    site_note: str
    site_phone: str
    at: Property | None
    works: tuple[WorkLine, ...]
    fills: tuple[FillLine, ...]
    way: str
    forecast: str
    wait_min: float
    work_min: float
    taken: bool
    detour: str = ""
    yard: str = ""
    hoses: str = ""
    tell: tuple[TellLine, ...] = ()
    lawn: tuple[tuple[str, str], ...] = ()
    parts: str = ""


@dataclass(frozen=True)
class RouteSheet:
    """The route sheet. rinses: of hoses that are rinsed in the morning; kept: mix in service
    containers from before today, and what becomes of it; caught: lawns that take mix out of them;
    also: mixes on board without a sheet; unloaded: (position, compartment, what is in it) of
    compartments that are not used today; duties: of the state's rules; cautions: of
    ground, heat and sun that several stops share; keep_off: (re-entry text, mixes);
    signs: by number of the stop that owes a sign its time, a key of WHEN_TEXT;
    sign_everywhere: all visits do; town: of most stops, left out of their addresses;
    most_weight_lb: heaviest of the day; supervised: who works under whose license; no_forecast:
    that there is none, '' = there is."""

    mixes: tuple[MixLine, ...]
    rows: tuple[RouteRow, ...]
    town: str
    cleaning: tuple[tuple[CleaningEntry, str, int], ...]
    rinses: tuple[str, ...]
    kept: tuple[str, ...]
    caught: tuple[str, ...]
    also: tuple[AlsoOnBoard, ...]
    unloaded: tuple[tuple[int, str, str], ...]
    duties: tuple[DutyLine, ...]
    cautions: tuple[DutyLine, ...]
    keep_off: tuple[tuple[str, str], ...]
    signs: Mapping[int, str]
    sign_everywhere: bool
    area_ft2: float
    most_weight_lb: float
    gvwr_lb: float
    officer_papers: tuple[str, ...]
    supervised: tuple[str, ...]
    no_forecast: str


def route_sheet(
    truck_plan: TruckPlan,
    day: Day,
    legs: Mapping[tuple[str, int], Leg],
    lawns: Mapping[Place, tuple[tuple[str, str], ...]] = MappingProxyType({}),
    again: Again | None = None,
) -> RouteSheet:
    """The route of one truck, a row per stop. lawns: what other visits to a lawn mean for its
    crews; again: of the plan. Raises KeyError for a truck the day does not have."""
    truck = day.workbook.trucks[truck_plan.truck_id]
    town = _usual_town(truck_plan, day)
    owed, signs = owed_duties(truck_plan, day)
    mixes = _mix_lines(truck_plan, truck, day)
    visits = {stop.seq for stop in truck_plan.stops if stop.kind == "visit"}
    places = [stop.place_id for stop in truck_plan.stops if stop.kind == "visit"]
    forecast = Forecast(day.weather)
    shared, own = stop_cautions(truck_plan, day, forecast)
    caught = taken_texts(truck_plan, truck)
    rows = _rows(truck_plan, truck, day, legs, town, forecast, own, again)
    rinsed = rinsed_lines(truck_plan, truck)
    first = {
        next(
            (one.work.order_id for row in rows for one in row.works if one.work.line_id == name), ""
        )
        for name in rinsed
    }
    return RouteSheet(
        mixes=mixes,
        rows=tuple(
            replace(
                row,
                lawn=lawns.get((truck.truck_id, row.stop.seq), ()),
                works=tuple(
                    replace(
                        one,
                        caught=caught.get(one.work.order_id, ""),
                        # The yard has done what is to do there.
                        displaced="" if one.work.order_id in first else one.displaced,
                    )
                    for one in row.works
                ),
            )
            for row in rows
        ),
        town=town,
        cleaning=tuple(
            (
                entry,
                mix_name(day, entry.last_mix),
                truck.compartment(entry.compartment_id).position,
            )
            for entry in fresh_part(truck_plan).cleaning
        ),
        rinses=tuple(rinses(fresh_part(truck_plan), day)),
        kept=tuple(kept_texts(truck_plan, day)),
        caught=tuple(
            f"stop {stop.seq} takes {caught[work.order_id].replace('caught at', 'of')}"
            for stop, work in works(fresh_part(truck_plan))
            if work.order_id in caught
        ),
        also=also_on_board(truck_plan, day),
        unloaded=_unloaded(truck_plan, truck, day),
        duties=owed,
        cautions=(
            *(DutyLine("caution", text, "before leaving") for text in hoses_apart(truck_plan, day)),
            *(DutyLine("caution", text, stops_text(at, visits)) for text, at in shared.items()),
        ),
        keep_off=_keep_off(mixes, day),
        signs=signs,
        sign_everywhere=bool(visits) and visits <= signs.keys(),
        area_ft2=sum(work.area_ft2 for stop in truck_plan.stops for work in stop.orders),
        most_weight_lb=max((stop.weight_lb_after for stop in truck_plan.stops), default=0.0),
        gvwr_lb=truck.gvwr_lb,
        officer_papers=officer_papers(day, truck),
        supervised=tuple(supervised(day, truck, places)),
        no_forecast=no_forecast(day),
    )


def _unloaded(truck_plan: TruckPlan, truck: Truck, day: Day) -> tuple[tuple[int, str, str], ...]:
    used = used_compartments(truck_plan)
    found = []
    for row in truck.compartments:
        if row.compartment_id in used:
            continue
        gal = truck_plan.start_gal[row.compartment_id]
        mix_id = truck_plan.loading.get(row.compartment_id) or row.last_mix
        content = f"{gal:.1f} gal of {mix_name(day, mix_id)}" if mix_id and gal > 0 else "empty"
        found.append((row.position, row.compartment_id, content))
    return tuple(found)


def _usual_town(truck_plan: TruckPlan, day: Day) -> str:
    """The town of most visits, '' when none is named; the first one met where two tie."""
    properties = day.workbook.properties
    towns = [
        properties[stop.place_id].town
        for stop in truck_plan.stops
        if stop.kind == "visit" and stop.place_id in properties
    ]
    return max(towns, key=towns.count, default="")


def _mix_lines(truck_plan: TruckPlan, truck: Truck, day: Day) -> tuple[MixLine, ...]:
    by_mix: dict[str, list[str]] = {}
    held = on_board(truck_plan)
    line_of: dict[str, str] = {}
    for row in sorted(truck.compartments, key=lambda row: row.position):
        mix_id = held.get(row.compartment_id)
        if mix_id is not None:
            name = f"{row.position}"
            if row.compartment_id != name:
                name += f" (compartment {row.compartment_id})"
            by_mix.setdefault(mix_id, []).append(name)
            line_of[mix_id] = row.line_id
    return tuple(
        MixLine(
            mix_id,
            mix_name(day, mix_id),
            " then ".join(places),
            line_of[mix_id],
            limit_text(day.workbook, mix_id),
            label_facts(day, (mix_id,)).restricted,
        )
        for mix_id, places in by_mix.items()
    )


def _keep_off(mixes: tuple[MixLine, ...], day: Day) -> tuple[tuple[str, str], ...]:
    """(what the labels say on re-entry, names of the mixes or 'every mix')."""
    names_of: dict[str, list[str]] = {}
    for row in mixes:
        for text in keep_off_texts(day, row.mix_id) or ("see the labels",):
            names_of.setdefault(text, []).append(row.name)
    return tuple(
        (text, "every mix" if len(names) == len(mixes) else ", ".join(names))
        for text, names in names_of.items()
    )


def _rows(
    truck_plan: TruckPlan,
    truck: Truck,
    day: Day,
    legs: Mapping[tuple[str, int], Leg],
    town: str,
    forecast: Forecast,
    own: Mapping[str, tuple[str, ...]],
    again: Again | None,
) -> tuple[RouteRow, ...]:
    rows = []
    noted: set[str] = set()
    for stop in truck_plan.stops:
        leg = legs.get((truck.truck_id, stop.seq))
        way = way_text(leg.maneuvers) if leg else ""
        row = _row(stop, truck, day, way, town, forecast, own)
        yard = yard_text(truck_plan, stop, truck, again)
        hoses = hoses_tonight(truck_plan, day) if stop.kind == "return" else ""
        tell = tell_lines(truck.truck_id, stop, day)
        row = replace(
            row, tell=tell, detour="" if leg is None else leg.detour, yard=yard, hoses=hoses
        )
        # A site's note is read once; every further refill there leaves it out.
        rows.append(replace(row, site_note="") if row.site_note in noted else row)
        noted.add(row.site_note)
    return tuple(rows)


def _row(
    stop: Stop,
    truck: Truck,
    day: Day,
    way: str,
    town: str,
    weather: Forecast,
    own: Mapping[str, tuple[str, ...]],
) -> RouteRow:
    place = place_text(day, stop.place_id)
    at = day.workbook.properties.get(stop.place_id) if stop.kind == "visit" else None
    forecast = forecast_at(day, at, stop.begin_min, weather) if at is not None else None
    return RouteRow(
        stop=stop,
        title=place.title,
        address=at.address
        if at is not None and at.town == town
        else _without_town(place.address, town),
        site_note=place.note if stop.kind in {"depart", "refill"} else "",
        site_phone=place.phone if stop.kind == "refill" else "",
        at=at,
        works=tuple(
            _work_line(work, truck, day, own.get(work.order_id, ())) for work in stop.orders
        ),
        fills=tuple(
            FillLine(fill, tank.position, mix_name(day, fill.mix_id), near_text(tank, fill))
            for fill in stop.fills
            if (tank := truck.compartment(fill.compartment_id))
        ),
        way=way,
        forecast=forecast_text(forecast) if forecast is not None else "",
        wait_min=stop.begin_min - stop.arrive_min,
        work_min=stop.leave_min - stop.begin_min,
        taken=_taken(stop, day),
        parts=_parts(stop, day),
    )


def _parts(stop: Stop, day: Day) -> str:
    orders = (day.workbook.orders.get(work.order_id) for work in stop.orders)
    words = [f"{parts} of this lawn" for parts in parts_text(orders).values()]
    return f"Only {' and '.join(words)}." if words else ""


def _taken(stop: Stop, day: Day) -> bool:
    """Whether a truck waits there for others to fill."""
    site = day.workbook.sites.get(stop.place_id)
    if stop.kind != "refill" or site is None:
        return False
    ready_min = max(stop.arrive_min, site.open_min or stop.arrive_min)
    return stop.begin_min > ready_min + WORTH_SAYING_MIN


def _without_town(address: str, town: str) -> str:
    """A site's address is one text; the usual town at its end is left out like a customer's."""
    return address.removesuffix(f", {town}") if town else address


def _work_line(work: Work, truck: Truck, day: Day, cautions: tuple[str, ...]) -> WorkLine:
    gallons: dict[str, float] = {}
    for draw in work.compartments:
        gallons[draw.compartment_id] = gallons.get(draw.compartment_id, 0.0) + draw.gal
    order = day.workbook.orders.get(work.order_id)
    return WorkLine(
        work=work,
        mix=mix_name(day, work.mix_id),
        draws=tuple((truck.compartment(name).position, name, gal) for name, gal in gallons.items()),
        displaced=mix_name(day, work.displaced_mix_id) if work.displaced_mix_id else "",
        minutes=work.end_min - work.begin_min,
        note=_note(order, day),
        windows=windows_text(order),
        leave="; ".join(filter(None, (leave_text(day, order), *cautions))),
        restricted=bool(label_facts(day, (work.mix_id,)).restricted),
    )


def leave_text(day: Day, order: Order | None) -> str:
    """The strips of an order's lawn that stay unsprayed, '' when none; with the mix where another
    of the day leaves others there."""
    if order is None:
        return ""
    own = strips(day.workbook, order, day.date)
    others = [one for one in day.orders.values() if one.property_id == order.property_id]
    alike = all(strips(day.workbook, one, day.date) == own for one in others)
    mix = "" if alike or not own else f"{mix_name(day, order.mix_id)}: "
    return mix + "; ".join(strip.text for strip in own)


def _note(order: Order | None, day: Day) -> str:
    if order is None:
        return ""
    ahead = ahead_text(order.due_from) if order.due_from > day.date else ""
    return "; ".join(filter(None, (ahead, order.note)))


def windows_text(order: Order | None) -> str:
    """The customer's windows, '' when any time will do."""
    if order is None or not order.windows:
        return ""
    return ", ".join(
        f"{clock_text(window.open_min)}–{clock_text(window.close_min)}" for window in order.windows
    )


def forecast_text(hour: WeatherHour) -> str:
    """One hour of forecast in a few words: wind to gusts, temperature, chance of rain."""
    wind = f"{hour.wind_mph:.0f}"
    if hour.gust_mph is not None and hour.gust_mph > hour.wind_mph:
        wind += f"–{hour.gust_mph:.0f}"
    rain = f"rain {hour.rain_chance_percent:.0f} %"
    return f"{wind} mph, {hour.temperature_f:.0f} °F, {rain}"
