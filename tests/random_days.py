"""Invented working days for tests: `random_day(seed, size)` gives the same valid day every time.

Days are built as values, without files. They mix the things that make a day hard: windows, lunch,
leftovers, cleaning, keep-apart rules, a binding weight rating, long hoses, pins and bans, weather,
history, properties with two mixes, and water points with limited mixes and hours.
"""

from __future__ import annotations

import math
import random
from dataclasses import replace
from datetime import date, timedelta

import numpy as np

from planner.day.clock import Window
from planner.day.day import Day, Source, Workbook, day_of
from planner.day.fleet import Compartment, Line, Settings, Truck
from planner.day.orders import Order, PastApplication, WeatherHour
from planner.day.places import Property, Site, SiteKind
from planner.day.products import (
    ANY_OTHER,
    Form,
    KeepApart,
    Mix,
    MixPart,
    Product,
    Scope,
)
from planner.roads.travel import Travel
from planner.units import Amount, Rate
from tests import days

DAY = date(2027, 4, 14)
SIZES = {"small": (1, 2, 3, 9), "medium": (2, 3, 10, 25), "large": (4, 5, 30, 60)}
"""Size -> fewest and most trucks, fewest and most orders."""

CENTER = (40.42, -84.31)
"""Somewhere among fields; the town is invented."""

FL_OZ_GAL = 1 / 128
OZ_WT_LB = 1 / 16
PER_ACRE = 1000 / 43_560


def rate(
    text: str,
    value: float,
    unit: str,
    kind: str,
    per: str,
    base: float,
    basis: str = "area",
    substance: str = "product",
) -> Rate:
    """A rate of one value; base: gal or lb per 1,000 ft2 or per gallon of finished mix."""
    return Rate(text, value, value, unit, kind, per, basis, substance, base, base)


def fl_oz_per_1000(value: float) -> Rate:
    """Fluid ounces of product per 1,000 sq ft."""
    text = f"{value:g} fl oz/1000 sq ft"
    return rate(text, value, "fl oz", "volume", "1000 sq ft", value * FL_OZ_GAL)


def oz_wt_per_1000(value: float) -> Rate:
    """Ounces of weight of product per 1,000 sq ft."""
    text = f"{value:g} oz wt/1000 sq ft"
    return rate(text, value, "oz wt", "mass", "1000 sq ft", value * OZ_WT_LB)


def lb_n_per_1000(value: float) -> Rate:
    """Pounds of nitrogen per 1,000 sq ft."""
    text = f"{value:g} lb N/1000 sq ft"
    return rate(text, value, "lb", "mass", "1000 sq ft", value, substance="N")


def lb_ai_per_acre(value: float) -> Rate:
    """Pounds of active ingredient per acre."""
    text = f"{value:g} lb ai/A"
    return rate(text, value, "lb", "mass", "acre", value * PER_ACRE, substance="ai")


def percent_of_mix(value: float) -> Rate:
    """Percent by volume of the finished mix."""
    return rate(f"{value:g} % v/v", value, "%", "volume", "gal", value / 100, "finished mix")


def pints_per_100_gal(value: float) -> Rate:
    """Pints of product per 100 gallons of finished mix."""
    text = f"{value:g} pt/100 gal"
    return rate(text, value, "pt", "volume", "100 gal", value / 8 / 100, "finished mix")


def product(product_id: str, form: Form, group: str, most: Rate, **changes: object) -> Product:
    """A product without limits apart from its most rate; changes name other fields."""
    plain = days.product(
        product_id,
        group,
        most,
        name=f"{product_id.title()} (invented)",
        registration_no="",
        form=form,
        formulation="SL" if form is Form.LIQUID else "WDG",
        density_lb_per_gal=9.0 if form is Form.LIQUID else None,
    )
    return replace(plain, **changes)  # type: ignore[arg-type]


def products() -> dict[str, Product]:
    """Ten invented products that use every kind of rate and every kind of limit."""
    liquid, dry = Form.LIQUID, Form.DRY
    rows = (
        product(
            "greenfeed",
            liquid,
            "fertilizer",
            lb_n_per_1000(1.0),
            density_lb_per_gal=10.65,
            nitrogen_percent=28.0,
            annual_most=lb_n_per_1000(4.0),
        ),
        product(
            "threeway",
            liquid,
            "broadleaf",
            fl_oz_per_1000(1.8),
            density_lb_per_gal=None,
            ai_lb_per_gal=3.8,
            ai_percent=40.0,
            wind_most_mph=10.0,
            temperature_most_f=88.0,
            rain_free_hours=3.0,
            not_on_grass=("St. Augustine",),
            least_days_between=28,
            most_per_year=3,
        ),
        product(
            "springbar",
            dry,
            "pre-emergent",
            oz_wt_per_1000(0.6),
            ai_percent=65.0,
            annual_most=oz_wt_per_1000(0.8),
        ),
        product(
            "clearall",
            liquid,
            "non-selective",
            percent_of_mix(3.0),
            density_lb_per_gal=9.8,
            wind_most_mph=12.0,
            water_distance_ft=20.0,
        ),
        product("wetter", liquid, "adjuvant", percent_of_mix(0.5), density_lb_per_gal=8.6),
        product("ironmend", liquid, "iron", fl_oz_per_1000(8.0), density_lb_per_gal=10.2),
        product(
            "grubaway",
            liquid,
            "insecticide",
            lb_ai_per_acre(0.4),
            density_lb_per_gal=9.1,
            ai_lb_per_gal=2.0,
            most_per_year=1,
            wind_least_mph=2.0,
        ),
        product(
            "spotshield",
            dry,
            "fungicide",
            oz_wt_per_1000(5.0),
            least_days_between=14,
            temperature_least_f=45.0,
        ),
        product(
            "drybar", dry, "pre-emergent", lb_ai_per_acre(1.5), ai_percent=40.0, formulation="DF"
        ),
        product("nofoam", liquid, "adjuvant", pints_per_100_gal(1.0), density_lb_per_gal=8.2),
    )
    return {row.product_id: row for row in rows}


def mixes(rng: random.Random) -> dict[str, Mix]:
    """Seven mixes of these products; the carriers vary with the day."""
    rows: tuple[tuple[str, tuple[float, ...], tuple[tuple[str, Rate], ...]], ...] = (
        ("FEED", (2.0, 3.0, 4.0), (("greenfeed", lb_n_per_1000(0.5)),)),
        (
            "WEED",
            (1.0, 1.5, 2.0),
            (("threeway", fl_oz_per_1000(1.5)), ("wetter", percent_of_mix(0.25))),
        ),
        (
            "PRE",
            (1.5, 2.0),
            (("springbar", oz_wt_per_1000(0.4)), ("nofoam", pints_per_100_gal(0.5))),
        ),
        ("BARE", (0.5, 1.0), (("clearall", percent_of_mix(2.0)),)),
        (
            "IRON",
            (2.0, 2.5),
            (("ironmend", fl_oz_per_1000(6.0)), ("greenfeed", lb_n_per_1000(0.1))),
        ),
        ("GRUB", (2.0,), (("grubaway", lb_ai_per_acre(0.3)),)),
        (
            "SPOT",
            (2.0, 2.5),
            (("spotshield", oz_wt_per_1000(4.0)), ("drybar", lb_ai_per_acre(0.75))),
        ),
    )
    return {
        mix_id: Mix(
            mix_id,
            f"{mix_id.title()} mix",
            rng.choice(carriers),
            False,
            "",
            tuple(MixPart(product_id, at, "") for product_id, at in parts),
        )
        for mix_id, carriers, parts in rows
    }


def keep_apart(rng: random.Random) -> tuple[KeepApart, ...]:
    """The non-selective from all else, and up to two more rules."""
    rows = [
        KeepApart(
            "non-selective",
            ANY_OTHER,
            rng.choice((Scope.LINE, Scope.LINE, Scope.TRUCK)),
            "kills lawns",
        )
    ]
    if rng.random() < 0.6:
        rows.append(KeepApart("iron", "broadleaf", Scope.COMPARTMENT, "they clot"))
    if rng.random() < 0.4:
        rows.append(KeepApart("SPOT", "insecticide", Scope.LINE, "no jar test passed"))
    if rng.random() < 0.15:
        rows.append(KeepApart("PRE", "GRUB", Scope.TRUCK, "house rule"))
    return tuple(rows)


def settings(rng: random.Random) -> Settings:
    """An office's settings; the ones that change times and gallons vary."""
    return Settings(
        company="Meadow Lane Lawn Care",
        phone="555-0100",
        state="OH",
        business_license="",
        currency="$",
        setup_min_per_visit=rng.choice((2.0, 4.0, 5.5)),
        fill_margin_percent=rng.choice((0.0, 5.0, 5.0, 10.0)),
        rinse_count=rng.choice((2, 3)),
        rinse_water_percent=10.0,
        rinse_min_each=rng.choice((5.0, 8.0)),
        rinsate_goes_to="rinse tank at the yard",
        straight_line_factor=1.3,
        straight_line_speed_mph=26.0,
        road_time_factor=1.0,
        far_from_road_ft=600.0,
        pay_per_hour=24.0,
        overtime_factor=1.5,
        cost_per_mile=0.72,
        unserved_price_1=3000.0,
        unserved_price_2=1200.0,
        unserved_price_3=500.0,
        usual_truck_price=15.0,
        keep_price=25.0,
        refill_price=0.0,
        balance_price=0.0,
        compact_price=0.0,
        told_within_min=60.0,
        told_price=40.0,
        rain_counts_from_percent=50.0,
        water_lb_per_gal=8.34,
        working_days=(0, 1, 2, 3, 4),
        holidays=(),
        work_ahead_days=0,
        work_ahead_price=0.0,
        meter_error_percent=1.5,
        wind_most_mph=10.0,
        poison_center_phone="1-800-222-1222",
        spill_phone="1-800-424-8802",
    )


def _point(rng: random.Random, spread_deg: float) -> tuple[float, float]:
    lat, lon = CENTER
    return (
        round(lat + rng.uniform(-spread_deg, spread_deg), 5),
        round(lon + rng.uniform(-spread_deg, spread_deg), 5),
    )


def sites(rng: random.Random, mix_ids: list[str]) -> dict[str, Site]:
    """One or two yards and up to two water points, some with hours and limited mixes."""
    found: dict[str, Site] = {}
    for number in range(1 if rng.random() < 0.85 else 2):
        lat, lon = _point(rng, 0.03)
        hours = (300.0, 1080.0) if rng.random() < 0.3 else (None, None)
        limited = frozenset(mix_ids) - {rng.choice(mix_ids)} if rng.random() < 0.15 else None
        found[f"Y{number + 1}"] = Site(
            f"Y{number + 1}",
            SiteKind.YARD,
            "Yard",
            "",
            lat,
            lon,
            rng.choice((20.0, 25.0, 40.0)),
            rng.choice((6.0, 10.0)),
            *hours,
            limited,
            "",
        )
    for number in range(rng.choice((0, 1, 1, 2))):
        lat, lon = _point(rng, 0.08)
        hours = (480.0, 960.0) if rng.random() < 0.5 else (None, None)
        most = rng.randint(2, len(mix_ids))
        limited = frozenset(rng.sample(mix_ids, most)) if rng.random() < 0.6 else None
        found[f"W{number + 1}"] = Site(
            f"W{number + 1}",
            SiteKind.WATER_POINT,
            "Water point",
            "",
            lat,
            lon,
            rng.choice((12.0, 30.0)),
            rng.choice((5.0, 8.5)),
            *hours,
            limited,
            "backflow preventer",
        )
    return found


def _compartments(
    rng: random.Random, lines: tuple[Line, ...], mix_ids: list[str]
) -> tuple[Compartment, ...]:
    """Two to four on one or two lines, with at most one leftover that the pump can reach."""
    count = rng.randint(2, 4)
    full_leftover = rng.randrange(count) if rng.random() < 0.35 else None
    rows = []
    for number in range(count):
        dedicated = len(lines) == 2 and number == count - 1
        capacity = float(rng.choice((15, 20, 30)) if dedicated else rng.choice((40, 60, 100, 150)))
        heel = rng.choice((0.0, 0.5, 1.0, 2.0))
        last_mix, leftover = None, 0.0
        if number == full_leftover:
            # The dedicated compartment's leftover is the dedicated mix, as in a real yard.
            last_mix = "BARE" if dedicated else rng.choice([m for m in mix_ids if m != "BARE"])
            leftover = round(heel + rng.uniform(0.05, 0.5) * (capacity - heel), 1)
        elif rng.random() < 0.4:
            last_mix = rng.choice(mix_ids)
            leftover = rng.choice((0.0, heel))
        rows.append(
            Compartment(
                f"C{number + 1}",
                capacity,
                heel,
                lines[-1].line_id if dedicated else lines[0].line_id,
                number + 1,
                "non-selective" if dedicated and rng.random() < 0.5 else None,
                last_mix,
                leftover,
            )
        )
    return tuple(rows)


def _truck(rng: random.Random, number: int, yards: list[str], mix_ids: list[str]) -> Truck:
    lines = tuple(
        Line(
            f"L{n + 1}",
            float(rng.choice((200, 300, 400))),
            rng.choice((0.375, 0.5, 0.625)),
            rng.choice((1.5, 2.0, 3.0, 4.5)),
            8.0,
            200.0,
        )
        for n in range(rng.choice((1, 2, 2)))
    )
    compartments = _compartments(rng, lines, mix_ids)
    capacity = sum(c.capacity_gal for c in compartments)
    leftover = sum(c.leftover_gal for c in compartments)
    empty = float(rng.choice((6200, 8400, 11500)))
    share = rng.uniform(0.3, 0.7) if rng.random() < 0.5 else 1.3
    # Room for what is already on board: a truck that is too heavy as it stands is no input.
    payload = max(share * capacity * 8.7, leftover * 10.0 + 150.0)
    start = float(rng.choice((390, 420, 450)))
    lunch = rng.choice((0.0, 30.0, 30.0, 45.0))
    return Truck(
        truck_id=f"T{number}",
        name=f"Truck {number}",
        yard_id=rng.choice(yards),
        shift_start_min=start,
        shift_end_min=start + rng.choice((360.0, 480.0, 540.0)),
        overtime_most_min=rng.choice((0.0, 30.0, 60.0)),
        lunch_min=lunch,
        lunch_earliest_min=660.0 if lunch else None,
        lunch_latest_min=rng.choice((720.0, 780.0)) if lunch else None,
        crew=rng.choice((1, 1, 2)),
        applicator="",
        applicator_license="",
        empty_weight_lb=empty,
        gvwr_lb=math.ceil(empty + payload),
        height_ft=None,
        cost_per_day=rng.choice((0.0, 45.0)),
        cost_per_mile=rng.choice((0.6, 0.72, 0.95)),
        pay_per_hour=rng.choice((22.0, 24.0, 27.5)),
        lines=lines,
        compartments=compartments,
    )


def _properties(rng: random.Random, count: int) -> dict[str, Property]:
    found: dict[str, Property] = {}
    for number in range(1, count + 1):
        lat, lon = _point(rng, 0.07)
        if number > 1 and rng.random() < 0.04:
            neighbor = found[f"P{number - 1}"]
            lat, lon = neighbor.lat, neighbor.lon
        found[f"P{number}"] = Property(
            property_id=f"P{number}",
            customer=f"Customer {number}",
            address=f"{number} Clover Street",
            town="",
            state="OH",
            zip_code="",
            lat=lat,
            lon=lon,
            lawn_ft2=float(min(45_000, max(1_500, round(rng.lognormvariate(8.9, 0.6), -1)))),
            grass="St. Augustine" if rng.random() < 0.05 else "tall fescue",
            hose_run_ft=float(rng.choice((80, 120, 150, 180, 250, 380))),
            water_distance_ft=float(rng.choice((10, 60))) if rng.random() < 0.12 else None,
            weather_area=rng.choice(("", "", "north")),
            gate_note="",
            dog_note="",
            sign=False,
            notice="",
        )
    return found


def _windows(rng: random.Random) -> tuple[Window, ...] | None:
    kind = rng.random()
    if kind < 0.55:
        return None
    if kind < 0.85:
        opens = float(rng.randrange(420, 840, 15))
        return (Window(opens, opens + rng.choice((90.0, 150.0, 240.0))),)
    return (Window(450.0, 600.0), Window(780.0, float(rng.choice((870, 930)))))


def _orders(
    rng: random.Random, count: int, places: dict[str, Property], mix_ids: list[str], trucks: int
) -> dict[str, Order]:
    in_use = rng.sample(mix_ids, rng.randint(2, min(5, len(mix_ids))))
    found: dict[str, Order] = {}
    truck_ids = [f"T{n + 1}" for n in range(trucks)]
    property_ids = list(places)
    for number in range(1, count + 1):
        # Fewer properties than orders: the rest are second mixes at the same place.
        property_id = property_ids[(number - 1) % len(property_ids)]
        taken = {o.mix_id for o in found.values() if o.property_id == property_id}
        free = [mix_id for mix_id in in_use if mix_id not in taken] or in_use
        lawn_ft2 = places[property_id].lawn_ft2
        mix_id = rng.choice(free)
        share = 0.1 if mix_id == "BARE" else rng.choice((1.0, 1.0, 0.6))
        pin = rng.random()
        due_to = DAY + timedelta(days=rng.choice((0, 0, 3)))
        found[f"O{number}"] = Order(
            f"O{number}",
            property_id,
            mix_id,
            DAY - timedelta(days=rng.choice((0, 2))),
            due_to,
            round(lawn_ft2 * share, 1),
            _windows(rng),
            rng.choice((1, 2, 2, 2, 3)),
            frozenset({rng.choice(truck_ids)}) if pin < 0.08 else None,
            frozenset({rng.choice(truck_ids)}) if pin > 0.92 else frozenset(),
            "",
        )
    return found


def _weather(rng: random.Random) -> tuple[WeatherHour, ...]:
    if rng.random() < 0.35:
        return ()
    rise = rng.choice((11, 13, 15, 99))
    rain = rng.choice((14, 16, 99, 99))
    rows = []
    for offset in (0, 1):
        for hour in range(5, 21):
            for area in ("", "north"):
                wind = 4.0 + (9.0 if hour >= rise else 0.0) + (1.0 if area else 0.0)
                raining = offset == 0 and hour == rain
                rows.append(
                    WeatherHour(
                        DAY + timedelta(days=offset),
                        hour,
                        area,
                        wind,
                        wind + 2.0 if rng.random() < 0.5 else None,
                        50.0 + 2.0 * (hour - 5),
                        60.0 if raining else 10.0,
                        0.05 if raining else 0.0,
                    )
                )
    return tuple(rows)


def _history(rng: random.Random, places: dict[str, Property]) -> tuple[PastApplication, ...]:
    rows = []
    for property_id, place in places.items():
        if rng.random() < 0.12:
            rows.append(
                PastApplication(
                    property_id,
                    "threeway",
                    DAY - timedelta(days=rng.choice((10, 27, 28, 60))),
                    place.lawn_ft2,
                    Amount(12.0, "fl oz", "volume", 12.0 * FL_OZ_GAL),
                )
            )
        if rng.random() < 0.1:
            pounds = 0.5 * place.lawn_ft2 / 1000 * OZ_WT_LB
            rows.append(
                PastApplication(
                    property_id,
                    "springbar",
                    DAY - timedelta(days=40),
                    place.lawn_ft2,
                    Amount(pounds, "lb", "mass", pounds),
                )
            )
        if rng.random() < 0.05:
            rows.append(
                PastApplication(
                    property_id,
                    "grubaway",
                    DAY - timedelta(days=rng.choice((90, 200))),
                    place.lawn_ft2,
                    Amount(8.0, "fl oz", "volume", 8.0 * FL_OZ_GAL),
                )
            )
    return tuple(rows)


def random_day(seed: int, size: str | int = "mixed") -> Day:
    """A valid invented day. size: a name of SIZES, 'mixed', or the number of orders."""
    rng = random.Random(f"day {seed} {size}")
    if isinstance(size, int):
        trucks, count = max(1, min(5, size // 10 + rng.choice((0, 1)))), size
    else:
        name = size if size in SIZES else rng.choice(("small", "small", "medium", "large"))
        least_trucks, most_trucks, least_orders, most_orders = SIZES[name]
        trucks = rng.randint(least_trucks, most_trucks)
        count = rng.randint(least_orders, most_orders)
    mixes_of_day = mixes(rng)
    mix_ids = list(mixes_of_day)
    places = _properties(rng, max(2, round(count * rng.uniform(0.75, 1.0))))
    sites_of_day = sites(rng, mix_ids)
    yards = [s.site_id for s in sites_of_day.values() if s.kind is SiteKind.YARD]
    workbook = Workbook(
        settings=settings(rng),
        sites=sites_of_day,
        trucks={f"T{n}": _truck(rng, n, yards, mix_ids) for n in range(1, trucks + 1)},
        products=products(),
        mixes=mixes_of_day,
        keep_apart=keep_apart(rng),
        properties=places,
        orders=_orders(rng, count, places, mix_ids, trucks),
        weather=_weather(rng),
        history=_history(rng, places),
        sha256=f"{seed:064x}",
        source=Source({}, {}),
    )
    return day_of(workbook, DAY)


def straight_travel(day: Day, factor: float = 1.3, speed_mph: float = 26.0) -> dict[str, Travel]:
    """Straight lines times a factor at one speed, the same for every truck of the day."""
    book = day.workbook
    points = {s.site_id: (s.lat, s.lon) for s in book.sites.values()}
    points |= {p.property_id: (p.lat, p.lon) for p in book.properties.values()}
    degrees = np.array(list(points.values()))
    # 69.05 miles to a degree of latitude (mean; from memory); flat-earth is exact enough here.
    north = degrees[:, 0] * 69.05
    east = degrees[:, 1] * 69.05 * math.cos(math.radians(CENTER[0]))
    miles = factor * np.hypot(north[:, None] - north[None, :], east[:, None] - east[None, :])
    travel = Travel(tuple(points), miles / speed_mph * 60, miles)
    return dict.fromkeys(book.trucks, travel)
