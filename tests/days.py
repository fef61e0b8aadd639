"""Small hand-built days for tests; every figure is invented and easy to work by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from planner.day.clock import Window
from planner.day.day import Day, Source, Workbook, day_of
from planner.day.fleet import Compartment, Line, Settings, Truck
from planner.day.orders import Order
from planner.day.places import Property, Site, SiteKind
from planner.day.products import Form, KeepApart, Mix, MixPart, Product, Scope
from planner.units import Rate, parse_rate

DAY = date(2027, 4, 14)


def settings(**changes: object) -> Settings:
    """Settings with the defaults of columns.csv."""
    base = Settings(
        company="Test lawns",
        phone="",
        state="",
        business_license="",
        currency="$",
        setup_min_per_visit=4.0,
        fill_margin_percent=5.0,
        rinse_count=3,
        rinse_water_percent=10.0,
        rinse_min_each=8.0,
        rinsate_goes_to="rinse tank",
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
    return replace(base, **changes)  # type: ignore[arg-type]


def site(site_id: str, lat: float, lon: float, **changes: object) -> Site:
    """A yard when its id begins with Y, else a water point: 10 gal/min after 5 min."""
    base = Site(
        site_id=site_id,
        kind=SiteKind.YARD if site_id.startswith("Y") else SiteKind.WATER_POINT,
        name=site_id,
        address="",
        lat=lat,
        lon=lon,
        fill_gal_per_min=10.0,
        setup_min=5.0,
        open_min=None,
        close_min=None,
        mixes=None,
        note="",
    )
    return replace(base, **changes)  # type: ignore[arg-type]


def line(line_id: str, **changes: object) -> Line:
    """300 ft of 1/2-in hose and a 2 gal/min gun (common practice, no source)."""
    base = Line(line_id, 300.0, 0.5, 2.0, 10.0, 200.0)
    return replace(base, **changes)  # type: ignore[arg-type]


def compartment(
    compartment_id: str, capacity_gal: float, line_id: str, position: int, **changes: object
) -> Compartment:
    """An empty, clean compartment without heel."""
    base = Compartment(compartment_id, capacity_gal, 0.0, line_id, position, None, None, 0.0)
    return replace(base, **changes)  # type: ignore[arg-type]


def truck(
    truck_id: str,
    lines: tuple[Line, ...],
    compartments: tuple[Compartment, ...],
    **changes: object,
) -> Truck:
    """Shift 7:30-16:30, no lunch, one person, plenty of weight rating."""
    base = Truck(
        truck_id=truck_id,
        name=truck_id,
        yard_id="Y1",
        shift_start_min=450.0,
        shift_end_min=990.0,
        overtime_most_min=60.0,
        lunch_min=0.0,
        lunch_earliest_min=None,
        lunch_latest_min=None,
        crew=1,
        applicator="A. Person",
        applicator_license="L-1",
        empty_weight_lb=9000.0,
        gvwr_lb=16000.0,
        height_ft=None,
        cost_per_day=40.0,
        cost_per_mile=0.72,
        pay_per_hour=24.0,
        lines=lines,
        compartments=compartments,
    )
    return replace(base, **changes)  # type: ignore[arg-type]


def product(product_id: str, group: str, rate_most: str | Rate, **changes: object) -> Product:
    """A liquid of 9 lb/gal in a soluble form, without limits but the label's most."""
    base = Product(
        product_id=product_id,
        name=product_id,
        registration_no="00000-1",
        form=Form.LIQUID,
        formulation="SL",
        group=group,
        active_ingredient="",
        density_lb_per_gal=9.0,
        ai_lb_per_gal=None,
        ai_percent=None,
        ai_basis="ai",
        nitrogen_percent=0.0,
        phosphate_percent=0.0,
        potash_percent=0.0,
        slow_nitrogen_percent=0.0,
        rate_least=None,
        rate_most=parse_rate(rate_most) if isinstance(rate_most, str) else rate_most,
        annual_most=None,
        least_days_between=None,
        most_per_year=None,
        carrier_least_gal_per_1000_ft2=None,
        carrier_most_gal_per_1000_ft2=None,
        wind_least_mph=None,
        wind_most_mph=None,
        temperature_least_f=None,
        temperature_most_f=None,
        rain_free_hours=None,
        not_on_grass=(),
        water_distance_ft=None,
        signal_word="CAUTION",
        ppe=("gloves",),
        reentry="keep off until dry",
        price=None,
        price_unit=None,
        container=None,
        mixing_step=None,
    )
    return replace(base, **changes)  # type: ignore[arg-type]


def mix(mix_id: str, carrier_gal_per_1000_ft2: float, **rates: str) -> Mix:
    """A mix of products at the given rates (product id = rate as the label writes it)."""
    parts = tuple(MixPart(name, parse_rate(rate), "") for name, rate in rates.items())
    return Mix(mix_id, mix_id, carrier_gal_per_1000_ft2, False, "", parts)


def home(property_id: str, lat: float, lon: float, lawn_ft2: float, **changes: object) -> Property:
    """A property reached by any hose."""
    base = Property(
        property_id=property_id,
        customer=f"Customer {property_id}",
        address=f"{property_id} Test Street",
        town="",
        state="",
        zip_code="",
        lat=lat,
        lon=lon,
        lawn_ft2=lawn_ft2,
        grass="",
        hose_run_ft=0.0,
        water_distance_ft=None,
        weather_area="",
        gate_note="",
        dog_note="",
        sign=False,
        notice="",
    )
    return replace(base, **changes)  # type: ignore[arg-type]


def order(order_id: str, at: Property, mix_id: str, **changes: object) -> Order:
    """An order for the whole lawn, due on DAY, at any time, by any truck."""
    base = Order(
        order_id=order_id,
        property_id=at.property_id,
        mix_id=mix_id,
        due_from=DAY,
        due_to=DAY,
        area_ft2=at.lawn_ft2,
        windows=None,
        priority=2,
        only_trucks=None,
        never_trucks=frozenset(),
        note="",
    )
    return replace(base, **changes)  # type: ignore[arg-type]


def workbook(
    *,
    sites: tuple[Site, ...] = (),
    trucks: tuple[Truck, ...] = (),
    products: tuple[Product, ...] = (),
    mixes: tuple[Mix, ...] = (),
    properties: tuple[Property, ...] = (),
    orders: tuple[Order, ...] = (),
    keep_apart: tuple[KeepApart, ...] = (),
    **changes: object,
) -> Workbook:
    """A workbook of these rows."""
    base = Workbook(
        settings=settings(),
        sites={row.site_id: row for row in sites},
        trucks={row.truck_id: row for row in trucks},
        products={row.product_id: row for row in products},
        mixes={row.mix_id: row for row in mixes},
        keep_apart=keep_apart,
        properties={row.property_id: row for row in properties},
        orders={row.order_id: row for row in orders},
        weather=(),
        history=(),
        sha256="0" * 64,
        source=Source({}, {}),
    )
    return replace(base, **changes)  # type: ignore[arg-type]


def small_day() -> Day:
    """Two trucks, three mixes, nine orders on eight properties around a yard and a water point.

    T1: 60 + 40 gal on a shared line A and 10 gal of non-selective on line N. T2: 50 gal on A and
    10 gal on N. WEED and FEED at 2 and 3 gal per 1,000 ft2, KILL at 1 gal per 1,000 ft2.
    """
    homes = tuple(
        home(f"P{number}", 40.0 + 0.01 * row, -83.0 + 0.012 * column, 4000.0 + 1000.0 * number)
        for number, (row, column) in enumerate(
            [(1, 1), (1, 2), (2, 1), (2, -1), (-1, 1), (-2, 2), (-1, -2), (0, 2)], start=1
        )
    )
    mixes_of = ["WEED", "FEED", "WEED", "WEED", "FEED", "WEED", "FEED", "WEED"]
    orders = [
        order(f"O{number}", at, mix_id)
        for number, (at, mix_id) in enumerate(zip(homes, mixes_of, strict=True), start=1)
    ]
    orders[2] = replace(orders[2], windows=(Window(480.0, 660.0),))
    orders.append(order("O9", homes[0], "KILL", area_ft2=1500.0))
    trucks = (
        truck(
            "T1",
            (line("A"), line("N", hose_ft=150.0)),
            (
                compartment("1", 60.0, "A", 1, heel_gal=1.0),
                compartment("2", 40.0, "A", 2, heel_gal=1.0),
                compartment("3", 10.0, "N", 3, reserved_for="non-selective"),
            ),
            lunch_min=30.0,
            lunch_earliest_min=690.0,
            lunch_latest_min=780.0,
        ),
        truck(
            "T2",
            (line("A"), line("N", hose_ft=150.0)),
            (
                compartment("1", 50.0, "A", 1, heel_gal=0.5),
                compartment("2", 10.0, "N", 2, reserved_for="non-selective"),
            ),
        ),
    )
    book = workbook(
        sites=(site("Y1", 40.0, -83.0), site("W1", 40.015, -82.985)),
        trucks=trucks,
        products=(
            product("three-way", "broadleaf", "1.5 fl oz/1000 sq ft"),
            product("urea", "fertilizer", "0.5 lb/1000 sq ft", form=Form.DRY, formulation="FERT"),
            product("burndown", "non-selective", "2 % v/v"),
        ),
        mixes=(
            mix("WEED", 2.0, **{"three-way": "1.2 fl oz/1000 sq ft"}),
            mix("FEED", 3.0, urea="0.4 lb/1000 sq ft"),
            mix("KILL", 1.0, burndown="2 % v/v"),
        ),
        properties=homes,
        orders=tuple(orders),
        keep_apart=(KeepApart("non-selective", "any other", Scope.LINE, "kills grass"),),
    )
    return day_of(book, DAY)
