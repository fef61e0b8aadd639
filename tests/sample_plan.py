"""A realistic day and a plan for it, built in code: two trucks, three kinds of stops, a cleaning,
a changeover, refills, held and unserved orders. Every name and figure is invented.

The times come from a plain walk over a given stop order at straight-line distance; it is meant for
looking at papers and maps, not as a second schedule. Gallons follow the rules of docs/rules.md.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import timedelta

from planner.day.clock import Window
from planner.day.day import Day, Workbook, day_of
from planner.day.fleet import Truck
from planner.day.orders import Order, WeatherHour
from planner.day.places import Property, SiteKind
from planner.day.products import Form, KeepApart, Scope
from planner.mixing.fills import Level, draw, fill_gallons, weight_lb
from planner.mixing.measures import measured_fill
from planner.mixing.recipes import Recipe, recipes
from planner.plan.model import (
    PLAN_VERSION,
    CleaningEntry,
    DayTotals,
    Draw,
    Fill,
    NotDone,
    Plan,
    ProductAmount,
    Stop,
    Totals,
    TruckPlan,
    Work,
)
from planner.roads.travel import Leg, Maneuver, RoadStretch
from planner.units import parse_amount
from tests.days import (
    DAY,
    compartment,
    home,
    line,
    mix,
    order,
    product,
    settings,
    site,
    truck,
    workbook,
)

HOSTILE = (
    "<script>alert(1)</script> `${x}` {{7*7}} </script> \\ \" ' &amp; \u202eabc \U0001f415 "
    "\u05e9\u05dc\u05d5\u05dd " + "W" * 200
)
"""Customer text that breaks a page which forgets to escape, or that takes names to be short."""

STREETS = ("Larkspur Lane", "Quarry Road", "Hollis Street", "Penny Hill Road", "Wren Court")
CUSTOMERS = (
    "M. Abernathy",
    "Dale Okafor",
    "The Linden Rows HOA",
    "R. & T. Voss",
    "Sunita Pell",
    "J. Marchetti",
    "Corner Chapel",
    "Iris Donnelly-Quaye",
    "P. Wozny",
    "Lakeview Dental",
)


def _products() -> tuple:  # type: ignore[type-arg]
    return (
        product(
            "trident",
            "broadleaf",
            "1.5 fl oz/1000 sq ft",
            name="Tri-Dent Lawn Herbicide",
            registration_no="00000-101",
            active_ingredient="2,4-D, mecoprop-p, dicamba",
            ppe=("long sleeves", "chemical-resistant gloves", "eye protection"),
            signal_word="DANGER",
            reentry="Keep people and pets off until the spray has dried",
            wind_most_mph=10.0,
            temperature_most_f=85.0,
            rain_free_hours=4.0,
            container=parse_amount("2.5 gal"),
            price=118.0,
            price_unit="gal",
        ),
        product(
            "barrier",
            "pre-emergent",
            "0.83 oz wt/1000 sq ft",
            name="Barrier Ridge 65",
            registration_no="00000-102",
            form=Form.DRY,
            formulation="WDG",
            density_lb_per_gal=None,
            signal_word="CAUTION",
            wind_most_mph=15.0,
            container=parse_amount("5 lb"),
            price=61.5,
            price_unit="lb",
        ),
        product(
            "flow28",
            "fertilizer",
            "1 lb N/1000 sq ft",
            name="Flow-28 Nitrogen",
            registration_no="",
            formulation="FERT",
            density_lb_per_gal=10.65,
            nitrogen_percent=28.0,
            signal_word="none",
            ppe=("gloves", "eye protection"),
            reentry="",
            container=parse_amount("250 gal"),
            price=3.1,
            price_unit="gal",
        ),
        product(
            "clearline",
            "non-selective",
            "2 % v/v",
            name="Clearline 41",
            registration_no="00000-104",
            wind_most_mph=10.0,
            container=parse_amount("2.5 gal"),
        ),
        product(
            "stick",
            "adjuvant",
            "0.5 % v/v",
            name="Stick-Well Surfactant",
            registration_no="",
            formulation="ADJ",
            signal_word="CAUTION",
            container=parse_amount("1 gal"),
        ),
        product(
            "ferrous",
            "iron",
            "6 fl oz/1000 sq ft",
            name="Deep Green Iron",
            registration_no="",
            formulation="FERT",
            density_lb_per_gal=10.2,
            signal_word="none",
            reentry="Rinse off walks at once; iron stains concrete",
        ),
    )


def _properties() -> tuple[Property, ...]:
    rows = []
    for number in range(1, 24):
        angle = number * 2.4
        reach = 0.008 + 0.0016 * number
        rows.append(
            home(
                f"P{number:02d}",
                40.31 + reach * math.sin(angle),
                -82.7 + 1.3 * reach * math.cos(angle),
                4200.0 + (number * 37 % 11) * 1150.0,
                customer=CUSTOMERS[number % len(CUSTOMERS)],
                address=f"{100 + 17 * number} {STREETS[number % len(STREETS)]}",
                town="Tilbury Fork",
                zip_code="00000",
                grass="tall fescue",
                hose_run_ft=float(60 + number * 13 % 240),
                gate_note="Side gate, code 4471, latch it" if number % 4 == 0 else "",
                dog_note="Two dogs: ring first" if number % 5 == 0 else "",
                sign=number % 3 != 0,
                notice="Call neighbor at no. 212 the day before" if number % 7 == 0 else "",
            )
        )
    rows[8] = replace(rows[8], customer="Heath & Sons <Garage>", gate_note="Gate #2 & chain")
    return tuple(rows)


def sample_day(hostile: bool = False) -> Day:
    """The day. hostile: customer text that tries to break the pages."""
    homes = _properties()
    if hostile:
        homes = tuple(
            replace(
                at,
                customer=HOSTILE,
                address=HOSTILE,
                gate_note=HOSTILE,
                dog_note="d" * 200,
                notice=HOSTILE,
            )
            for at in homes
        )
    plan_of = {2: "PRE", 7: "PRE", 10: "PRE", 14: "IRON", 17: "IRON", 20: "IRON"}
    orders = [
        order(
            f"O{number:02d}",
            at,
            plan_of.get(number, "WEED"),
            note=HOSTILE if hostile else ("Skip the new seed by the drive" if number == 6 else ""),
            windows=(Window(480.0, 720.0),) if number in (3, 15) else None,
        )
        for number, at in enumerate(homes, start=1)
    ]
    orders.append(order("O24", homes[4], "KILL", area_ft2=1800.0, note="Gravel drive only"))
    trucks = (
        truck(
            "T1",
            (line("A", hose_ft=400.0), line("N", hose_ft=200.0, hose_inside_diameter_in=0.375)),
            (
                compartment("1", 150.0, "A", 1, heel_gal=2.0),
                compartment("2", 90.0, "A", 2, heel_gal=1.0, last_mix="IRON", leftover_gal=1.0),
                compartment("3", 15.0, "N", 3, heel_gal=0.5, reserved_for="non-selective"),
            ),
            name="Juniper",
            applicator="Noor Haldane",
            applicator_license="TF-20417",
            lunch_min=30.0,
            lunch_earliest_min=690.0,
            lunch_latest_min=780.0,
        ),
        truck(
            "T2",
            (line("A"), line("N", hose_ft=150.0)),
            (
                compartment("1", 120.0, "A", 1, heel_gal=1.0, last_mix="WEED", leftover_gal=14.0),
                compartment("2", 80.0, "A", 2, heel_gal=1.0),
                compartment("3", 10.0, "N", 3, reserved_for="non-selective"),
            ),
            name="Sumac",
            applicator="Wes Tamblyn",
            applicator_license="TF-31552",
            lunch_min=30.0,
            lunch_earliest_min=690.0,
            lunch_latest_min=780.0,
        ),
    )
    book = workbook(
        sites=(
            site(
                "Y1",
                40.31,
                -82.7,
                name="Foundry Street yard",
                address="9 Foundry Street",
                fill_gal_per_min=25.0,
            ),
            site(
                "W1",
                40.325,
                -82.68,
                kind=SiteKind.WATER_POINT,
                name="Mill Pond standpipe",
                address="1 Pond Road",
                fill_gal_per_min=18.0,
                note="Key 7; backflow preventer hangs in the box",
            ),
        ),
        trucks=trucks,
        products=_products(),
        mixes=(
            mix("WEED", 2.0, trident="1.5 fl oz/1000 sq ft", flow28="0.5 lb N/1000 sq ft"),
            mix("PRE", 2.0, barrier="0.5 oz wt/1000 sq ft", stick="0.25 % v/v"),
            mix("IRON", 2.0, ferrous="4 fl oz/1000 sq ft"),
            mix("KILL", 1.0, clearline="2 % v/v"),
        ),
        properties=homes,
        orders=tuple(orders),
        keep_apart=(
            KeepApart("non-selective", "any other", Scope.LINE, "it kills the lawn"),
            KeepApart("iron", "pre-emergent", Scope.COMPARTMENT, "iron makes it clot"),
        ),
        settings=settings(
            company="Alder & Finch Lawn Care", phone="555-0142", business_license="B-1177"
        ),
        weather=tuple(
            WeatherHour(
                DAY + timedelta(days=hour // 24), hour % 24, "", 4 + hour % 7, None, 58, 5, 0
            )
            for hour in range(6, 40)
        ),
    )
    names = {"WEED": "Spring weed and feed", "PRE": "Crabgrass barrier", "IRON": "Iron green-up"}
    mixes = {
        key: replace(value, name=names.get(key, "Bare-ground spot"), new_mix=key == "PRE")
        for key, value in book.mixes.items()
    }
    book = replace(book, mixes=mixes)
    return day_of(_hostile_names(book) if hostile else book, DAY)


def _hostile_names(book: Workbook) -> Workbook:
    """The office's own names made hostile as well."""
    return replace(
        book,
        settings=replace(book.settings, company=HOSTILE, phone=HOSTILE),
        sites={key: replace(row, name=HOSTILE, note=HOSTILE) for key, row in book.sites.items()},
        trucks={
            key: replace(row, name=HOSTILE, applicator=HOSTILE) for key, row in book.trucks.items()
        },
        products={
            key: replace(row, name=HOSTILE, reentry=HOSTILE) for key, row in book.products.items()
        },
        mixes={key: replace(row, name=HOSTILE, note=HOSTILE) for key, row in book.mixes.items()},
    )


@dataclass
class _Walk:
    """A truck under way."""

    day: Day
    truck: Truck
    loading: Mapping[str, str | None]
    cook: Mapping[str, Recipe]
    now_min: float = 0.0
    at: tuple[float, float] = (0.0, 0.0)
    levels: tuple[Level, ...] = ()
    hose: dict[str, str] = field(default_factory=dict)
    stops: list[Stop] = field(default_factory=list)

    def drive(self, lat: float, lon: float) -> tuple[float, float]:
        north = (lat - self.at[0]) * 69.0
        east = (lon - self.at[1]) * 69.0 * math.cos(math.radians(lat))
        miles = math.hypot(north, east) * 1.3
        self.at = (lat, lon)
        return miles / 26.0 * 60.0, miles

    def add(self, kind: str, place_id: str, lat: float, lon: float, **more: object) -> None:
        minutes, miles = self.drive(lat, lon) if kind != "depart" else (0.0, 0.0)
        arrive = self.now_min + minutes
        wait = float(more.pop("wait", 0.0))  # type: ignore[arg-type]
        work_min = float(more.pop("work_min", 0.0))  # type: ignore[arg-type]
        self.now_min = arrive + wait + work_min
        self.stops.append(
            Stop(
                seq=len(self.stops),
                kind=kind,
                place_id=place_id,
                lat=lat,
                lon=lon,
                drive_min=minutes,
                drive_miles=miles,
                arrive_min=arrive,
                begin_min=arrive + wait,
                leave_min=self.now_min,
                weight_lb_after=self.truck.empty_weight_lb + weight_lb(self.levels),
                **more,  # type: ignore[arg-type]
            )
        )


def _amounts(recipe: Recipe, gal: float) -> tuple[ProductAmount, ...]:
    return tuple(
        ProductAmount(part.product_id, part.amount_per_gal * gal, part.unit)
        for part in recipe.parts
    )


def _order_gal(walk: _Walk, order_id: str) -> float:
    row = walk.day.orders[order_id]
    return row.area_ft2 / 1000 * walk.day.workbook.mixes[row.mix_id].carrier_gal_per_1000_ft2


def _needs(walk: _Walk, ahead: Sequence[str]) -> tuple[dict[str, float], dict[str, float]]:
    """Gallons sprayed and drawn into hoses until the next refill."""
    spray: dict[str, float] = {}
    hoses: dict[str, float] = {}
    held = dict(walk.hose)
    for ref in ahead:
        if walk.day.workbook.sites.get(ref):
            break
        if ref == "lunch":
            continue
        mix_id = walk.day.orders[ref].mix_id
        spray[mix_id] = spray.get(mix_id, 0.0) + _order_gal(walk, ref)
        on = _line_of(walk, mix_id)
        if held.get(on) != mix_id:
            hoses[mix_id] = hoses.get(mix_id, 0.0) + walk.truck.line(on).hose_gal
            held[on] = mix_id
    return spray, hoses


def _line_of(walk: _Walk, mix_id: str) -> str:
    return next(
        tank.line_id
        for tank in walk.truck.compartments
        if walk.loading[tank.compartment_id] == mix_id
    )


def _fills(walk: _Walk, ahead: Sequence[str]) -> tuple[Fill, ...]:
    spray, hoses = _needs(walk, ahead)
    margin = walk.day.workbook.settings.fill_margin_percent
    add = fill_gallons(walk.levels, spray, hoses, margin, walk.truck.payload_lb)
    fills = []
    after = []
    for level, gal in zip(walk.levels, add, strict=True):
        after.append(replace(level, gal=level.gal + gal))
        if gal <= 0:
            continue
        assert level.mix_id
        recipe = walk.cook[level.mix_id]
        tank = walk.truck.compartment(level.compartment_id)
        told = measured_fill(walk.day.workbook, recipe, tank, level.gal, gal)
        fills.append(
            Fill(
                compartment_id=level.compartment_id,
                mix_id=level.mix_id,
                gal=gal,
                water_gal=gal * recipe.water_gal_per_gal,
                level_before_gal=level.gal,
                level_after_gal=level.gal + gal,
                weight_lb=gal * recipe.density_lb_per_gal,
                products=_amounts(recipe, gal),
                order_ids=(),
                metered_water_gal=told.water_gal,
                measured=tuple(
                    replace(one, amount=told.amounts[one.product_id])
                    for one in _amounts(recipe, gal)
                ),
            )
        )
    walk.levels = tuple(after)
    return tuple(fills)


def _work(walk: _Walk, row: Order, begin_min: float) -> Work:
    on = _line_of(walk, row.mix_id)
    hose_gal = 0.0
    displaced = None
    if walk.hose.get(on) != row.mix_id:
        hose_gal = walk.truck.line(on).hose_gal
        displaced = walk.hose.get(on)
        walk.hose[on] = row.mix_id
    walk.levels, into_hose = draw(walk.levels, row.mix_id, hose_gal)
    gal = _order_gal(walk, row.order_id)
    walk.levels, sprayed = draw(walk.levels, row.mix_id, gal)
    change_min = hose_gal / walk.truck.line(on).gun_gal_per_min if displaced else 0.0
    spray_min = gal / walk.truck.line(on).gun_gal_per_min
    return Work(
        order_id=row.order_id,
        mix_id=row.mix_id,
        line_id=on,
        area_ft2=row.area_ft2,
        gal=gal,
        compartments=tuple(Draw(*taken) for taken in sprayed),
        hose_gal=hose_gal,
        hose_compartments=tuple(Draw(*taken) for taken in into_hose),
        displaced_mix_id=displaced,
        changeover_min=change_min,
        begin_min=begin_min,
        spray_min=spray_min,
        end_min=begin_min + change_min + spray_min,
        products=_amounts(walk.cook[row.mix_id], gal),
    )


def _visit(walk: _Walk, order_ids: Sequence[str]) -> None:
    at = walk.day.workbook.properties[walk.day.orders[order_ids[0]].property_id]
    minutes, _ = replace(walk).drive(at.lat, at.lon)
    arrive = walk.now_min + minutes
    windows = walk.day.orders[order_ids[0]].windows
    wait = max(0.0, windows[0].open_min - arrive) if windows else 0.0
    clock = arrive + wait + walk.day.workbook.settings.setup_min_per_visit
    works = []
    for order_id in order_ids:
        works.append(_work(walk, walk.day.orders[order_id], clock))
        clock = works[-1].end_min
    walk.add(
        "visit",
        at.property_id,
        at.lat,
        at.lon,
        wait=wait,
        work_min=clock - arrive - wait,
        orders=tuple(works),
    )


def _drive_day(walk: _Walk, refs: Sequence[str]) -> None:
    sites = walk.day.workbook.sites
    yard = sites[walk.truck.yard_id]
    walk.at = (yard.lat, yard.lon)
    walk.now_min = walk.truck.shift_start_min
    fills = _fills(walk, refs)
    walk.add("depart", yard.site_id, yard.lat, yard.lon, fills=fills)
    place = 0
    while place < len(refs):
        ref = refs[place]
        if ref == "lunch":
            last = walk.stops[-1]
            walk.add("lunch", last.place_id, last.lat, last.lon, work_min=walk.truck.lunch_min)
        elif ref in sites:
            here = sites[ref]
            fills = _fills(walk, refs[place + 1 :])
            minutes = here.setup_min + sum(fill.gal for fill in fills) / here.fill_gal_per_min
            walk.add("refill", ref, here.lat, here.lon, work_min=minutes, fills=fills)
        else:
            group = [ref]
            at = walk.day.orders[ref].property_id
            while place + 1 < len(refs) and (
                refs[place + 1] in walk.day.orders
                and walk.day.orders[refs[place + 1]].property_id == at
            ):
                place += 1
                group.append(refs[place])
            _visit(walk, group)
        place += 1
    walk.add("return", yard.site_id, yard.lat, yard.lon)


def _with_order_ids(stops: Sequence[Stop]) -> tuple[Stop, ...]:
    """Fills told which orders are sprayed from them."""
    told = []
    for number, stop in enumerate(stops):
        fills = []
        for fill in stop.fills:
            served: list[str] = []
            for later in stops[number + 1 :]:
                if any(other.compartment_id == fill.compartment_id for other in later.fills):
                    break
                served += [
                    work.order_id
                    for work in later.orders
                    if any(
                        taken.compartment_id == fill.compartment_id for taken in work.compartments
                    )
                ]
            fills.append(replace(fill, order_ids=tuple(served)))
        told.append(replace(stop, fills=tuple(fills)))
    return tuple(told)


def _totals(walk: _Walk, stops: Sequence[Stop], cleaning_min: float) -> Totals:
    works = [work for stop in stops for work in stop.orders]
    visits = [stop for stop in stops if stop.kind == "visit"]
    drive_min = sum(stop.drive_min for stop in stops)
    miles = sum(stop.drive_miles for stop in stops)
    lunch = walk.truck.lunch_min if any(stop.kind == "lunch" for stop in stops) else 0.0
    back = stops[-1].arrive_min
    paid = back - walk.truck.shift_start_min - lunch + cleaning_min
    over = max(0.0, back - walk.truck.shift_end_min)
    return Totals(
        drive_min=drive_min,
        drive_miles=miles,
        refill_min=sum(s.leave_min - s.begin_min for s in stops if s.kind == "refill"),
        spray_min=sum(work.spray_min for work in works),
        setup_min=4.0 * len(visits),
        changeover_min=sum(work.changeover_min for work in works),
        wait_min=sum(stop.begin_min - stop.arrive_min for stop in stops),
        lunch_min=lunch,
        cleaning_min=cleaning_min,
        paid_min=paid,
        overtime_min=over,
        refills=sum(stop.kind == "refill" for stop in stops),
        visits=len(visits),
        orders=len(works),
        gal=sum(work.gal for work in works),
        cost=(paid + over * 0.5) * 24.0 / 60.0 + miles * 0.72 + 40.0,
    )


def _truck_plan(
    day: Day,
    cook: Mapping[str, Recipe],
    truck_id: str,
    loading: Mapping[str, str | None],
    refs: Sequence[str],
    cleaning: tuple[CleaningEntry, ...],
) -> TruckPlan:
    row = day.workbook.trucks[truck_id]
    walk = _Walk(day, row, loading, cook)
    cleaned = {entry.compartment_id for entry in cleaning}
    walk.levels = tuple(
        Level(
            tank.compartment_id,
            loading[tank.compartment_id],
            tank.capacity_gal,
            tank.heel_gal,
            0.0 if tank.compartment_id in cleaned else tank.leftover_gal,
            cook[loading[tank.compartment_id] or "WEED"].density_lb_per_gal,
        )
        for tank in row.compartments
    )
    start_gal = {level.compartment_id: level.gal for level in walk.levels}
    _drive_day(walk, refs)
    stops = _with_order_ids(walk.stops)
    return TruckPlan(
        truck_id=truck_id,
        loading=dict(loading),
        start_gal=start_gal,
        cleaning=cleaning,
        stops=stops,
        end_gal={level.compartment_id: level.gal for level in walk.levels},
        totals=_totals(walk, stops, sum(entry.minutes for entry in cleaning)),
    )


def _sum_totals(rows: Sequence[Totals]) -> Totals:
    names = Totals.__dataclass_fields__
    return Totals(**{name: sum(getattr(row, name) for row in rows) for name in names})


def _orders(*numbers: int) -> list[str]:
    return [f"O{number:02d}" for number in numbers]


def sample_plan(day: Day | None = None) -> Plan:
    """A plan of sample_day(): T1 with four changes of mix and two refills, T2 with one refill."""
    day = day or sample_day()
    cook = recipes(day.workbook)
    first = _truck_plan(
        day,
        cook,
        "T1",
        {"1": "WEED", "2": "PRE", "3": "KILL"},
        [
            "O01",
            "O02",
            "O03",
            "O05",
            "O24",
            "O06",
            "O07",
            "W1",
            "O08",
            "O10",
            "lunch",
            "O11",
            "O13",
            "Y1",
            "O16",
            "O18",
        ],
        (CleaningEntry("2", "IRON", 3, 9.0, 24.0, 0.001, "rinse tank", "iron makes it clot"),),
    )
    second = _truck_plan(
        day,
        cook,
        "T2",
        {"1": "WEED", "2": "IRON", "3": None},
        [*_orders(4, 15, 14, 9), "W1", "O17", "lunch", *_orders(12, 19, 20, 21)],
        (),
    )
    held = (NotDone("O22", "HOLD-GRASS", "Tri-Dent must not touch the grass there (dichondra)"),)
    unserved = (
        NotDone("O23", "DAY-FULL", "the day is full; 35 more minutes on truck T2 would make room"),
    )
    return Plan(
        version=PLAN_VERSION,
        date=DAY.isoformat(),
        workbook_sha256="0" * 64,
        seed=1,
        effort="count 300",
        engine="by hand",
        roads="straight line x 1.3 at 26 mph",
        roads_warning="Straight-line roads: times and miles are guesses, not real roads.",
        trucks=(first, second),
        held=held,
        unserved=unserved,
        totals=DayTotals(_sum_totals([first.totals, second.totals]), 1, 1),
    )


def sample_legs(plan: Plan) -> dict[tuple[str, int], Leg]:
    """Bent ways between the stops, with street names."""
    legs = {}
    for truck_plan in plan.trucks:
        for before, stop in zip(truck_plan.stops, truck_plan.stops[1:], strict=False):
            if stop.kind == "lunch":
                continue
            corner = (before.lat, stop.lon)
            names = (STREETS[stop.seq % 5], STREETS[(stop.seq + 2) % 5])
            points = ((before.lat, before.lon), corner, (stop.lat, stop.lon))
            told = (
                Maneuver("depart", f"Head north on {names[0]}", 0.7, names[0]),
                Maneuver("turn", f"Turn left onto {names[1]}", 0.6, names[1], "", "left"),
                Maneuver("arrive", "Arrive, on the right", 0.0, side="right"),
            )
            legs[truck_plan.truck_id, stop.seq] = Leg(points, names, maneuvers=told)
    return legs


def sample_streets() -> tuple[RoadStretch, ...]:
    """A checkerboard of streets and a river."""
    rows = []
    for number in range(-6, 7):
        lat = 40.31 + number * 0.007
        lon = -82.7 + number * 0.009
        kind = "major" if number % 3 == 0 else "minor"
        rows.append(RoadStretch(f"{number + 7}th Street", kind, ((lat, -82.76), (lat, -82.64))))
        rows.append(RoadStretch(f"Avenue {number + 7}", kind, ((40.265, lon), (40.355, lon))))
    river = tuple((40.265 + 0.006 * step, -82.73 + 0.004 * math.sin(step)) for step in range(16))
    rows.append(RoadStretch("Tilbury River", "water", river))
    return tuple(rows)


__all__ = ["HOSTILE", "sample_day", "sample_legs", "sample_plan", "sample_streets"]
