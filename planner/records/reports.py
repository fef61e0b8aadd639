"""What goes out of the store: rows for inspectors and annual reports, and a property's history."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields
from typing import Any, Final

from planner.day.fleet import Called
from planner.exports.rows import hours_text
from planner.records.current import CORRECTED, SPRAYED, current, kind_of, whole_of
from planner.records.store import Event
from planner.records.told import (
    CALLED,
    NEIGHBORS,
    NOTICE,
    SIGN,
    called_of,
    neighbors_text,
    not_stated,
)
from planner.rules.data import record_rules

EVERYWHERE: Final = ("US-restricted", "US-deadline")
"""Rules of `planner/rules/records.csv` that hold in every state."""


@dataclass(frozen=True)
class ApplicationRow:
    """One product put on one property once. amount: in the label's unit; amount_base: gal or lb.
    measured: what went into the fills that it came from; percent_of_recipe: amount beside what
    the mix's rate makes of the gallons; blank in records of before they were kept.
    neighbors_told: what became of the calls that were owed. missing: columns that the state's
    rules or the property's row ask for and that are blank."""

    date: str
    order: str
    customer: str
    address: str
    town: str
    county: str
    state: str
    zip: str
    site: str
    lawn_ft2: float
    area_ft2: float
    grass: str
    target: str
    product: str
    registration_no: str
    active_ingredient: str
    formulation: str
    lots: str
    amount: float
    amount_unit: str
    amount_base: float
    amount_base_unit: str
    rate: str
    rate_reached_per_1000_ft2: float
    measured: str
    percent_of_recipe: float | str
    concentration_per_gal: float
    gal: float
    carrier_gal_per_1000_ft2: float
    truck: str
    compartments: str
    fills: str
    mixed_at: str
    line: str
    equipment: str
    method: str
    start: str
    end: str
    wind_mph: float | str
    wind_from: str
    temperature_f: float | str
    weather_source: str
    applicator: str
    license: str
    supervisor: str
    company: str
    business_license: str
    sign: str
    notice_asked: str
    notice_given: str
    neighbors_told: str
    signal_word: str
    reentry: str
    plan: str
    record: int
    recorded_at: str
    recorded_by: str
    corrected: str
    note: str
    missing: str


@dataclass(frozen=True)
class EventRow:
    """One record about a property as it was written, corrections beside what they correct."""

    date: str
    record: int
    what: str
    order: str
    mix: str
    area_ft2: float | str
    gal: float | str
    products: str
    applicator: str
    recorded_at: str
    recorded_by: str
    corrects: int | str
    why: str
    note: str


def application_rows(events: Iterable[Event], state: str = "") -> tuple[ApplicationRow, ...]:
    """One row per application and product, by day, as it stands after all corrections. state:
    two letters, '' = all."""
    every = tuple(events)
    log = {
        day: called_of(some) for day, some in _by_day(e for e in every if e.kind == CALLED).items()
    }
    found = [event for event in current(every).values() if kind_of(event) == SPRAYED]
    return tuple(
        _application(event, product, log.get(event.day, ()))
        for event in sorted(found, key=lambda event: (event.day, event.body["start_min"] or 0.0))
        if not state or event.body["state"] == state
        for product in event.body["products"]
    )


def property_rows(events: Iterable[Event], property_id: str) -> tuple[EventRow, ...]:
    """Everything that was ever recorded about a property, in the order of recording."""
    return tuple(_event(event) for event in events if event.body.get("property_id") == property_id)


def _by_day(events: Iterable[Event]) -> dict[str, list[Event]]:
    found: dict[str, list[Event]] = {}
    for event in events:
        found.setdefault(event.day, []).append(event)
    return found


def _application(event: Event, product: dict[str, Any], log: Sequence[Called]) -> ApplicationRow:
    body = event.body
    draws = body["compartments"]
    cells: dict[str, Any] = {
        "date": event.day,
        "order": whole_of(body),
        "area_ft2": body["area_ft2"],
        "target": product["target"],
        "product": product["name"] or product["product_id"],
        "amount": product["label_amount"],
        "amount_unit": product["label_unit"],
        "amount_base": product["amount"],
        "amount_base_unit": product["unit"],
        "rate": product["rate"],
        "rate_reached_per_1000_ft2": product["per_1000_ft2"],
        "concentration_per_gal": product["per_gal"],
        "measured": product.get("measured", ""),
        "percent_of_recipe": round(product["amount"] / product["by_recipe"] * 100, 1)
        if product.get("by_recipe")
        else "",
        "truck": body["truck_id"],
        "line": body["line_id"],
        "compartments": "; ".join(f"{one['compartment_id']}: {one['gal']:.2f}" for one in draws),
        "fills": "; ".join(dict.fromkeys(one["fill"] for one in draws if one["fill"])),
        "start": _clock(body["start_min"]),
        "end": _clock(body["end_min"]),
        "wind_mph": _blank(body["wind_mph"]),
        "temperature_f": _blank(body["temperature_f"]),
        "sign": _yes_no(body["sign_up"]),
        "notice_given": _yes_no(body["notice_given"]),
        "neighbors_told": neighbors_text(body, log),
        "plan": event.plan,
        "record": event.seq,
        "recorded_at": event.recorded_at,
        "recorded_by": event.recorded_by,
        "corrected": body["why"] if event.kind == CORRECTED else "",
    }
    for name in ("registration_no", "active_ingredient", "formulation", "signal_word", "reentry"):
        cells[name] = product[name]
    # All else is kept under the column's name.
    for one in fields(ApplicationRow):
        if one.name not in cells and one.name != "missing":
            cells[one.name] = body[one.name]
    return ApplicationRow(**cells, missing="; ".join(_missing(cells, not_stated(body, log))))


STATED: Final = {SIGN: "sign", NOTICE: "notice_given", NEIGHBORS: "neighbors_told"}
"""What was asked around an order -> the column that holds what was stated of it."""


def _missing(cells: dict[str, Any], unsaid: Iterable[str]) -> list[str]:
    """Only products with a registration number fall under the record rules. unsaid: what was asked
    around the order and nobody stated."""
    asked = [STATED[name] for name in unsaid]
    if not cells["registration_no"]:
        return asked
    needed = dict.fromkeys(
        name
        for rule in record_rules()
        if rule.rule_id in EVERYWHERE or rule.state == cells["state"]
        for name in rule.needed
        # Where nobody was to be told, there is nothing to keep a record of.
        if name not in STATED.values()
    )
    return [*(name for name in needed if cells[name] in ("", None)), *asked]


def _event(event: Event) -> EventRow:
    body = event.body
    products = [
        f"{row['name'] or row['product_id']} {row['label_amount']:g} {row['label_unit']}"
        for row in body.get("products", ())
    ]
    return EventRow(
        date=event.day,
        record=event.seq,
        what=event.kind if event.kind != CORRECTED else f"corrected: {kind_of(event)}",
        order=whole_of(body),
        mix=body["mix"],
        area_ft2=body.get("area_ft2", ""),
        gal=body.get("gal", ""),
        products="; ".join(products),
        applicator=body.get("applicator", ""),
        recorded_at=event.recorded_at,
        recorded_by=event.recorded_by,
        corrects=body.get("corrects", ""),
        why=body.get("why") or body.get("superseded", {}).get("why", ""),
        note=body["note"],
    )


def _clock(minutes: float | None) -> str:
    return "" if minutes is None else hours_text(minutes)


def _blank(value: float | None) -> float | str:
    return "" if value is None else value


def _yes_no(value: bool | None) -> str:
    return "" if value is None else "yes" if value else "no"
