"""Rows of values -> the workbook that the planner works with."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Container, Mapping
from dataclasses import fields
from typing import Any, TypeVar

from planner.day.day import Source, Workbook
from planner.day.fleet import (
    Applicator,
    Compartment,
    Line,
    Registered,
    Settings,
    Truck,
    people_named,
)
from planner.day.orders import (
    GROUND_STATES,
    DayTemperatures,
    GroundDay,
    HeatMethod,
    Order,
    PastApplication,
    ProgramRound,
    PropertyProgram,
    Status,
    WeatherHour,
)
from planner.day.places import Edge, Property, Site, SiteKind
from planner.day.products import (
    ANY_OTHER,
    Form,
    KeepApart,
    Mix,
    MixPart,
    Product,
    ProductRate,
    Scope,
)
from planner.tables.cells import YES
from planner.tables.checks_orders import due_span
from planner.tables.local_rules import local_duty_rules, local_fertilizer_rules
from planner.tables.read_rows import digest_of
from planner.tables.rows import Row, Tables
from planner.tables.text import says_nothing

Record = TypeVar("Record")


def build_workbook(tables: Tables) -> Workbook:
    """The workbook of all rows that read well.

    A row with a bad cell, a second row with the same key, and a row that refers to one left out
    are left out themselves; nothing in the result refers to what is not there, except names of
    trucks out of service in an order's only_trucks and never_trucks. A mix or truck keeps its good
    parts. Rows that checks found wrong in other ways (a range of rates, a heel too large) stay.
    """
    settings = Settings(**tables.settings)  # type: ignore[arg-type]
    products = _keyed(tables, "products", _product)
    mixes = {
        name: mix
        for name, mix in _keyed(
            tables, "mixes", lambda row: _mix(row, _parts(tables, row, set(products)))
        ).items()
        if mix.parts
    }
    sites = _keyed(tables, "sites", _site)
    applicators = tuple(
        Applicator(name=row.text("applicator"), **_named(row, Applicator))
        for row in _good_rows(tables, "applicators").values()
    )
    every_truck = {
        name: truck
        for name, truck in _keyed(
            tables,
            "trucks",
            lambda row: _truck(row, tables, settings, applicators),
            lambda row: row.text("yard") in sites,
        ).items()
        if truck.compartments
    }
    idle = {row.text("truck") for row in tables.rows("trucks") if not row.value("in_service")}
    trucks = {name: truck for name, truck in every_truck.items() if name not in idle}
    edges = _edges(tables)
    properties = _keyed(tables, "properties", lambda row: _property(row, settings, edges))
    orders = _keyed(
        tables,
        "orders",
        lambda row: _order(row, properties),
        lambda row: due_span(row) is not None,
        property=properties,
        mix=mixes,
    )
    local = list(_good_rows(tables, "local_rules").values())
    return Workbook(
        settings=settings,
        sites=sites,
        trucks=trucks,
        products=products,
        mixes=mixes,
        keep_apart=_keep_apart(tables, products, set(mixes)),
        properties=properties,
        orders=orders,
        weather=tuple(_keyed(tables, "weather", _hour).values()),
        history=_history(tables, properties, products),
        sha256=digest_of(tables),
        source=_source(tables),
        product_rates=tuple(
            ProductRate(product_id=row.text("product"), **_named(row, ProductRate))
            for row in _good_rows(tables, "product_rates", product=products).values()
        ),
        applicators=applicators,
        programs=_keyed(tables, "programs", _round, mix=mixes),
        property_programs=tuple(
            _property_program(row)
            for row in _good_rows(tables, "property_programs", property=properties).values()
        ),
        temperatures=tuple(
            DayTemperatures(day=_day(row), **_named(row, DayTemperatures))
            for row in _good_rows(tables, "temperatures").values()
        ),
        climate={
            int(row.number_or_none("month") or 0): row.number_or_none("lost_days_percent") or 0.0
            for row in _good_rows(tables, "climate").values()
        },
        notify=tuple(
            Registered(name=row.text("person"), **_named(row, Registered))
            for row in _good_rows(tables, "notify").values()
        ),
        ground=tuple(
            GroundDay(
                day=_day(row),
                state=tuple(name for name in GROUND_STATES if row.value(name)),
                **_named(row, GroundDay),
            )
            for row in _good_rows(tables, "ground").values()
        ),
        local_fertilizer_rules=local_fertilizer_rules(local, settings.state),
        local_duty_rules=local_duty_rules(local, settings.state),
        out_of_service={name: every_truck[name] for name in every_truck if name in idle},
    )


def _good_rows(
    tables: Tables,
    name: str,
    wanted: Callable[[Row], bool] | None = None,
    **among: Container[object],
) -> dict[str, Row]:
    """Rows by their key; among: column -> what its cells must be among."""
    places = _good_places(tables, name, wanted, **among)
    return {key: Row(tables.by_name[name].cells, place) for key, place in places.items()}


def _good_places(
    tables: Tables,
    name: str,
    wanted: Callable[[Row], bool] | None = None,
    **among: Container[object],
) -> dict[str, int]:
    table = tables.by_name.get(name)
    if table is None or table.cells.missing or not table.cells.numbers:
        return {}
    cells, lost = table.cells, set(table.cells.bad)
    for column, known in among.items():
        lost.update(place for place, value in enumerate(cells.values[column]) if value not in known)
    places: dict[str, int] = {}
    for place, key in enumerate(cells.keys):
        if key is None or place in lost or key in places:
            continue
        if wanted is None or wanted(Row(cells, place)):
            places[key] = place
    return places


def _keyed(
    tables: Tables,
    name: str,
    make: Callable[[Row], Record],
    wanted: Callable[[Row], bool] | None = None,
    **among: Container[object],
) -> dict[str, Record]:
    return {key: make(row) for key, row in _good_rows(tables, name, wanted, **among).items()}


def _source(tables: Tables) -> Source:
    rows: dict[str, dict[str | None, int]] = {}
    for name, table in tables.by_name.items():
        if name not in ("orders", "history"):  # Nobody asks for their hundred thousands.
            cells = table.cells
            # Backwards, so that the first row of a key stays.
            rows[name] = dict(zip(reversed(cells.keys), reversed(cells.numbers), strict=True))
    return Source({name: table.file for name, table in tables.by_name.items()}, rows)


def _named(row: Row, record: type[Any]) -> dict[str, Any]:
    """Cells that a record takes over under their own names; a new column of that kind needs no
    line here."""
    cells, place = row.cells, row.place
    taken = cells.derived.get(record)
    if taken is None:
        names = [field.name for field in fields(record)]
        taken = [(name, cells.values[name]) for name in names if name in cells.values]
        cells.derived[record] = taken
    return {name: values[place] for name, values in taken}


def _site(row: Row) -> Site:
    cells = _named(row, Site)
    mixes = row.items("mixes")
    cells |= {"kind": SiteKind(row.text("kind")), "mixes": frozenset(mixes) if mixes else None}
    return Site(
        site_id=row.text("site"),
        open_min=row.number_or_none("open"),
        close_min=row.number_or_none("close"),
        **cells,
    )


def _edges(tables: Tables) -> dict[str, tuple[Edge, ...]]:
    found: dict[str, tuple[Edge, ...]] = {}
    for row in _good_rows(tables, "edges").values():
        name = row.text("property")
        edge = Edge(name=row.text("edge"), **_named(row, Edge))
        found[name] = (*found.get(name, ()), edge)
    return found


def _property(row: Row, settings: Settings, edges: Mapping[str, tuple[Edge, ...]]) -> Property:
    cells = _named(row, Property)
    cells["edges"] = edges.get(row.text("property"), ())
    zip_code = row.text("zip")
    cells["state"] = (row.text("state") or settings.state).upper()
    cells["usual_truck"] = row.text("usual_truck") or None
    cells["contact_by"] = row.text("contact_by")
    cells["gate_note"] = _note(row, "gate_note", "There is a gate")
    cells["dog_note"] = _note(row, "dog_note", "There is a dog")
    return Property(
        property_id=row.text("property"),
        # Spreadsheets take a ZIP code for a number and drop the zeros in front of it.
        zip_code=zip_code.zfill(5) if zip_code.isdecimal() else zip_code,
        **cells,
    )


def _note(row: Row, column: str, there_is: str) -> str:
    """Offices write yes and no under notes, too: 'N' is nothing to print, 'Y' a warning."""
    text = row.text(column)
    if says_nothing(text):
        return ""
    return there_is if text.casefold() in YES else text


def _truck(
    row: Row, tables: Tables, settings: Settings, applicators: tuple[Applicator, ...]
) -> Truck:
    truck = row.text("truck")
    lines = tuple(
        _line(line)
        for line in _good_rows(tables, "lines", lambda line: line.text("truck") == truck).values()
    )
    known = {line.line_id for line in lines}
    compartments = [
        _compartment(tank)
        for tank in _good_rows(
            tables,
            "compartments",
            lambda tank: tank.text("truck") == truck and tank.text("line") in known,
        ).values()
    ]
    cells = _named(row, Truck)
    cells["name"] = row.text("name") or truck
    for name in (
        "cost_per_mile",
        "pay_per_hour",
        "inspection_min",
        "yard_loading",
        "washdown_min",
        "paperwork_min",
        "paid_hours_least",
    ):
        if cells[name] is None:
            cells[name] = getattr(settings, name)
    cells["table_license"], cells["supervisor"] = _signs(cells["applicator"], applicators)
    return Truck(
        truck_id=truck,
        yard_id=row.text("yard"),
        shift_start_min=row.number_or_none("shift_start") or 0.0,
        shift_end_min=row.number_or_none("shift_end") or 0.0,
        lunch_earliest_min=row.number_or_none("lunch_earliest"),
        lunch_latest_min=row.number_or_none("lunch_latest"),
        lines=lines,
        compartments=tuple(sorted(compartments, key=lambda tank: tank.position)),
        **cells,
    )


def _signs(cell: str, applicators: tuple[Applicator, ...]) -> tuple[str, str]:
    crew = people_named(cell, applicators)
    own = [one for one in crew if one.license.strip()]
    led = own or [boss for one in crew for boss in people_named(one.supervisor, applicators)]
    numbers = dict.fromkeys(one.license.strip() for one in led if one.license.strip())
    names = dict.fromkeys(one.name for one in led if not own)
    return ", ".join(numbers), " and ".join(names)


def _line(row: Row) -> Line:
    cells = {**_named(row, Line), "hose_mix": row.text("hose_mix") or None}
    return Line(line_id=row.text("line"), **cells)


def _compartment(row: Row) -> Compartment:
    cells = _named(row, Compartment)
    for name in ("reserved_for", "last_mix"):
        cells[name] = row.text(name) or None
    return Compartment(compartment_id=row.text("compartment"), line_id=row.text("line"), **cells)


def _product(row: Row) -> Product:
    cells = _named(row, Product)
    cells["form"] = Form(row.text("form"))
    return Product(product_id=row.text("product"), **cells)


def _parts(tables: Tables, mix: Row, products: set[str]) -> tuple[MixPart, ...]:
    rows = _good_rows(
        tables,
        "mix_products",
        lambda row: row.text("mix") == mix.text("mix") and row.text("product") in products,
    )
    return tuple(
        MixPart(product_id=row.text("product"), **_named(row, MixPart)) for row in rows.values()
    )


def _mix(row: Row, parts: tuple[MixPart, ...]) -> Mix:
    return Mix(mix_id=row.text("mix"), parts=parts, **_named(row, Mix))


def _keep_apart(
    tables: Tables, products: dict[str, Product], mixes: set[str]
) -> tuple[KeepApart, ...]:
    known = {product.group for product in products.values()} | mixes | {ANY_OTHER}
    rules = []
    for row in _good_rows(tables, "keep_apart").values():
        a, b = (
            ANY_OTHER if row.text(side).casefold() == ANY_OTHER else row.text(side)
            for side in ("a", "b")
        )
        if a == ANY_OTHER:
            a, b = b, a
        if a != b and a in known and b in known:
            rules.append(KeepApart(a, b, Scope(row.text("scope")), row.text("why")))
    return tuple(rules)


def _order(row: Row, properties: dict[str, Property]) -> Order:
    span = due_span(row)
    assert span is not None, "orders without a day are left out before"
    only = row.items("only_trucks")
    cells = _named(row, Order)
    cells |= {
        "due_from": span[0],
        "due_to": span[1],
        "area_ft2": cells["area_ft2"] or properties[row.text("property")].lawn_ft2,
        "only_trucks": frozenset(only) if only else None,
        "never_trucks": frozenset(row.items("never_trucks")),
        "status": Status(row.text("status")),
        "repeats": row.text("repeats") or None,
    }
    return Order(
        order_id=row.text("order"),
        property_id=row.text("property"),
        mix_id=row.text("mix"),
        **cells,
    )


def _round(row: Row) -> ProgramRound:
    cells = _named(row, ProgramRound)
    cells["degree_day_method"] = HeatMethod(row.text("degree_day_method"))
    return ProgramRound(
        program_id=row.text("program"),
        number=int(row.number_or_none("round") or 0),
        mix_id=row.text("mix"),
        **cells,
    )


def _property_program(row: Row) -> PropertyProgram:
    cells = _named(row, PropertyProgram)
    skipped = (int(item) for item in row.items("skip_rounds") if item.isdecimal())
    cells["skip_rounds"] = frozenset(skipped)
    return PropertyProgram(
        property_id=row.text("property"), program_id=row.text("program"), **cells
    )


def _hour(row: Row) -> WeatherHour:
    return WeatherHour(day=_day(row), **_named(row, WeatherHour))


def _history(
    tables: Tables, properties: Mapping[str, Property], products: Mapping[str, Product]
) -> tuple[PastApplication, ...]:
    places = _good_places(tables, "history", property=properties, product=products)
    if not places:
        return ()
    # Column by column: a large office has hundreds of thousands.
    columns = [
        map(tables.by_name["history"].cells.values[name].__getitem__, places.values())
        for name in ("property", "product", "date", "area_ft2", "amount")
    ]
    return tuple(
        PastApplication(
            (home := properties[property_id]).property_id,
            products[product_id].product_id,
            day,
            area_ft2 or home.lawn_ft2,
            amount,
        )
        for property_id, product_id, day, area_ft2, amount in zip(*columns, strict=True)
    )


def _day(row: Row) -> dt.date:
    day = row.value("date")
    assert isinstance(day, dt.date), "rows with a bad date are left out before"
    return day
