"""Rows of values -> the workbook that the planner works with."""

from collections.abc import Callable, Container, Iterator, Mapping, Sequence
from dataclasses import fields, replace
from enum import EnumType
from typing import Any, TypeVar, get_type_hints

from planner.day.day import Source, Workbook
from planner.day.fleet import (
    Applicator,
    Compartment,
    Line,
    Registered,
    Settings,
    Truck,
    signs,
)
from planner.day.orders import (
    GROUND_STATES,
    DayTemperatures,
    GroundDay,
    Order,
    PastApplication,
    ProgramRound,
    PropertyProgram,
    WeatherHour,
)
from planner.day.places import Edge, Property, Site
from planner.day.products import (
    ANY_OTHER,
    KeepApart,
    Mix,
    MixPart,
    Product,
    ProductRate,
    Scope,
)
from planner.tables.cells import YES
from planner.tables.checks_orders import due_span
from planner.tables.checks_trucks import caught_in
from planner.tables.local_rules import local_duty_rules, local_fertilizer_rules
from planner.tables.read_rows import digest_of
from planner.tables.rows import Row, Tables
from planner.tables.text import letters, says_nothing

Record = TypeVar("Record")


def build_workbook(tables: Tables) -> Workbook:
    """The workbook of all rows that read well.

    A row with a bad cell, a second row with the same key, and a row that refers to one left out
    are left out themselves; nothing in the result refers to what is not there, except names of
    trucks out of service in an order's only_trucks and never_trucks. A mix or truck keeps its good
    parts. Rows that checks found wrong in other ways (a range of rates, a heel too large) stay.
    """
    settings = Settings(**tables.settings)  # type: ignore[arg-type]
    products = _keyed(tables, "products", Product)
    mixes = {
        name: mix
        for name, mix in _keyed(
            tables, "mixes", lambda row: _record(row, Mix, parts=_parts(tables, row, set(products)))
        ).items()
        if mix.parts
    }
    sites = _keyed(tables, "sites", Site)
    applicators = _applicators(tables)
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
        weather=_all(tables, "weather", WeatherHour),
        history=_history(tables, properties, products),
        sha256=digest_of(tables),
        source=_source(tables),
        product_rates=_all(tables, "product_rates", ProductRate, product=products),
        applicators=applicators,
        programs=_keyed(tables, "programs", ProgramRound, mix=mixes),
        property_programs=_all(tables, "property_programs", _property_program, property=properties),
        temperatures=_all(tables, "temperatures", DayTemperatures),
        climate={
            int(row.number_or_none("month") or 0): row.number_or_none("lost_days_percent") or 0.0
            for row in _good_rows(tables, "climate").values()
        },
        notify=_all(tables, "notify", Registered),
        ground=_all(tables, "ground", _ground),
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
    make: Callable[[Row], Record] | type[Record],
    wanted: Callable[[Row], bool] | None = None,
    **among: Container[object],
) -> dict[str, Record]:
    """The rows' records by their key. make: of a row; a class = its fields are the cells."""
    rows = _good_rows(tables, name, wanted, **among)
    if isinstance(make, type):
        return {key: _record(row, make) for key, row in rows.items()}
    return {key: make(row) for key, row in rows.items()}


def _all(
    tables: Tables,
    name: str,
    make: Callable[[Row], Record] | type[Record],
    **among: Container[object],
) -> tuple[Record, ...]:
    return tuple(_keyed(tables, name, make, None, **among).values())


def _source(tables: Tables) -> Source:
    rows: dict[str, dict[str | None, int]] = {}
    for name, table in tables.by_name.items():
        if name not in ("orders", "history"):  # Nobody asks for their hundred thousands.
            cells = table.cells
            # Backwards, so that the first row of a key stays.
            rows[name] = dict(zip(reversed(cells.keys), reversed(cells.numbers), strict=True))
    return Source({name: table.file for name, table in tables.by_name.items()}, rows)


def _record(row: Row, kind: type[Record], **more: Any) -> Record:
    """The row as a record; more: fields that are not just a cell."""
    cells, place = row.cells, row.place
    taken = cells.derived.get(kind)
    if taken is None:
        taken = cells.derived[kind] = list(_taken(kind, cells.values))
    named = {name: make(values[place]) if make else values[place] for name, values, make in taken}
    return kind(**(named | more))


_COLUMNS = {
    "day": ("date",),
    "number": ("round",),
    "zip_code": ("zip",),
    "name": ("applicator", "person", "edge"),
}
"""Field of a record -> columns that it may be of, besides those of its own name."""

_MAKERS: dict[Any, Callable[[Any], object]] = {
    str | None: lambda text: text or None,
    frozenset[str]: frozenset,
    frozenset[str] | None: lambda items: frozenset(items) if items else None,
}
"""Type of a field -> what makes it of a cell's value."""


def _taken(
    kind: type[Any], columns: Mapping[str, Sequence[Any]]
) -> Iterator[tuple[str, Sequence[Any], Callable[[Any], object] | None]]:
    """(field, column, what makes the one of the other; None = nothing need be made). A field takes
    the column of its own name, or of that name without _id or _min: a new column needs no line
    here."""
    hints = get_type_hints(kind)
    for field in fields(kind):
        name, hint = field.name, hints[field.name]
        names = (name, name.removesuffix("_id"), name.removesuffix("_min"), *_COLUMNS.get(name, ()))
        for column in names:
            if column in columns:
                make = hint if isinstance(hint, EnumType) else _MAKERS.get(hint)
                yield name, columns[column], make
                break


def _edges(tables: Tables) -> dict[str, tuple[Edge, ...]]:
    found: dict[str, tuple[Edge, ...]] = {}
    for row in _good_rows(tables, "edges").values():
        name = row.text("property")
        found[name] = (*found.get(name, ()), _record(row, Edge))
    return found


def _property(row: Row, settings: Settings, edges: Mapping[str, tuple[Edge, ...]]) -> Property:
    zip_code = row.text("zip")
    return _record(
        row,
        Property,
        edges=edges.get(row.text("property"), ()),
        state=(row.text("state") or settings.state).upper(),
        contact_by=row.text("contact_by"),
        gate_note=_note(row, "gate_note", "There is a gate"),
        dog_note=_note(row, "dog_note", "There is a dog"),
        # Spreadsheets take a ZIP code for a number and drop the zeros in front of it.
        zip_code=zip_code.zfill(5) if zip_code.isdecimal() else zip_code,
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
    lines = _keyed(tables, "lines", Line, lambda line: line.text("truck") == truck)
    known = {line.line_id for line in lines.values()}
    compartments = _keyed(
        tables,
        "compartments",
        Compartment,
        lambda tank: tank.text("truck") == truck and tank.text("line") in known,
    )
    table_license, supervisor = signs(row.text("applicator"), applicators)
    return _record(
        row,
        Truck,
        name=row.text("name") or truck,
        lines=tuple(lines.values()),
        compartments=tuple(sorted(compartments.values(), key=lambda tank: tank.position)),
        table_license=table_license,
        supervisor=supervisor,
        service_containers=tuple(filter(None, map(caught_in, row.items("service_containers")))),
        **{name: getattr(settings, name) for name in _OFFICE_S if row.value(name) is None},
    )


_OFFICE_S = (
    "cost_per_mile",
    "pay_per_hour",
    "inspection_min",
    "yard_loading",
    "washdown_min",
    "paperwork_min",
    "paid_hours_least",
)
"""Blank cells of a truck that the settings fill."""


def _applicators(tables: Tables) -> tuple[Applicator, ...]:
    """A person with licenses of several states has a row for each; what is the person's own may
    stand in one of them."""
    rows = [
        replace(one, state=one.state.upper()) for one in _all(tables, "applicators", Applicator)
    ]
    own: dict[str, dict[str, Any]] = {}
    for one in rows:
        for name in ("training_until", "medical_card_until", "cdl_class"):
            if getattr(one, name) is not None:
                own.setdefault(letters(one.name), {}).setdefault(name, getattr(one, name))

    def blanks(one: Applicator) -> dict[str, Any]:
        known = own.get(letters(one.name), {}).items()
        return {name: value for name, value in known if getattr(one, name) is None}

    return tuple(replace(one, **blanks(one)) for one in rows)


def _parts(tables: Tables, mix: Row, products: set[str]) -> tuple[MixPart, ...]:
    rows = _keyed(
        tables,
        "mix_products",
        MixPart,
        lambda row: row.text("mix") == mix.text("mix") and row.text("product") in products,
    )
    return tuple(rows.values())


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
    lawn_ft2 = properties[row.text("property")].lawn_ft2
    return _record(
        row,
        Order,
        due_from=span[0],
        due_to=span[1],
        area_ft2=row.number_or_none("area_ft2") or lawn_ft2,
    )


def _property_program(row: Row) -> PropertyProgram:
    skipped = (int(item) for item in row.items("skip_rounds") if item.isdecimal())
    return _record(row, PropertyProgram, skip_rounds=frozenset(skipped))


def _ground(row: Row) -> GroundDay:
    state = tuple(name for name in GROUND_STATES if row.value(name))
    return _record(row, GroundDay, state=state)


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
