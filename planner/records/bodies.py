"""What a record keeps: everything that the strictest published rules ask for, as it was that day.

Names, addresses, registration numbers and rates are written out, not referred to: the tables go on
changing, a record must not.
"""

from collections.abc import Iterator, Mapping
from datetime import date as Date
from typing import Any, Final

from planner.compliance.edges import strips
from planner.day.day import Workbook
from planner.day.fleet import Line
from planner.day.parts import whole_id
from planner.day.products import Product
from planner.mixing.measures import in_steps
from planner.plan.model import Fill, Work
from planner.records.day_log import Replayed, Step
from planner.records.entries import ONE_READING, READ_THERE, Entry
from planner.records.sheet import FILL, SPRAY
from planner.records.store import Body
from planner.units import KINDS, convert

METHOD = "hand-held lawn gun"
"""What the planner plans for."""

DECIMALS = 6

METERED_ALIKE: Final = 0.02
"""Gallons this near to the plan's were measured as the sheet says; meters show no less."""


def body_of(entry: Entry, work: Work | None, fill: Fill | None, book: Workbook, date: str) -> Body:
    """The record of one step of a day (ISO). work, fill: the plan's, for an order and a fill."""
    if entry.step.what == SPRAY:
        assert work is not None, "an order has its work in the plan"
        return _sprayed(entry, work, book, date) if entry.actual.done else _skipped(entry, book)
    body: Body = {
        "done": bool(entry.actual.done),
        "truck_id": entry.truck.truck_id,
        "stop": entry.step.stop,
        "compartment_id": entry.step.compartment_id,
        "mix_id": entry.step.mix_id,
        "gal": _rounded(entry.actual.gal or 0.0),
        "note": entry.actual.note,
    }
    if entry.step.what == FILL:
        body |= {
            "place_id": entry.step.place_id,
            "place": _place(book, entry.step.place_id),
            "start_min": entry.actual.start,
            "lot": entry.actual.lot,
        }
        if entry.actual.level_read_gal is not None:
            body["level_read_gal"] = _rounded(entry.actual.level_read_gal)
        if fill is not None and entry.actual.done:
            body["products"] = list(_measured(fill, entry.actual.gal or 0.0, book))
    return body


def _measured(fill: Fill, gal: float, book: Workbook) -> Iterator[Body]:
    """What cup, scale and packets put into a fill: as the sheet says, and for other gallons than
    planned in the same steps."""
    share = gal / fill.gal if fill.gal else 0.0
    for told, exact in zip(fill.measured, fill.products, strict=True):
        product = book.products[told.product_id]
        amount, by_recipe = told.amount, exact.amount * share
        if abs(share - 1) > METERED_ALIKE:
            held_back = told.amount < in_steps(product, exact.amount) - 1e-6
            amount = in_steps(product, by_recipe, by_recipe if held_back else None)
        yield {
            "product_id": product.product_id,
            "name": product.name,
            "amount": _rounded(amount),
            "by_recipe": _rounded(by_recipe),
            **_label_amount(product, amount),
        }


def as_measured(body: Body, strength: Mapping[str, float]) -> Body:
    """The record of an order with the product that its fills really held. strength: product ->
    share of the recipe; what is not in it went in by the recipe."""
    if not any(abs(share - 1) > 1e-9 for share in strength.values()):
        return body
    names = ("amount", "label_amount", "per_1000_ft2", "per_gal")
    products = [
        one | {name: _rounded(one[name] * strength.get(one["product_id"], 1.0)) for name in names}
        for one in body["products"]
    ]
    return body | {"products": products}


def with_source(body: Body, step: Step, replayed: Replayed, fills: dict[str, Body]) -> Body:
    """The record of an order with the compartments, fills and mixing place that it came from.
    fills: subject -> record."""
    draws = replayed.draws.get(step.subject, ())
    places = [fills[fill]["place"] for _, _, fill in draws if fill in fills]
    lots = [fills[fill]["lot"] for _, _, fill in draws if fill in fills and fills[fill]["lot"]]
    measured: dict[str, dict[str, None]] = {}
    for fill in (fills[fill] for _, _, fill in draws if fill in fills):
        for one in fill.get("products", ()):
            text = f"{one['label_amount']:.4g} {one['label_unit']} in {fill['gal']:g} gal"
            measured.setdefault(one["product_id"], {})[text] = None
    return body | {
        "products": [
            one | {"measured": "; ".join(measured.get(one["product_id"], ()))}
            for one in body["products"]
        ],
        "compartments": [
            {"compartment_id": name, "gal": _rounded(gal), "fill": fill}
            for name, gal, fill in draws
        ],
        "mixed_at": "; ".join(dict.fromkeys(places)) or "left from an earlier day",
        "lots": "; ".join(dict.fromkeys(lots)),
    }


def _about(entry: Entry, book: Workbook) -> Body:
    home = book.properties[entry.step.place_id]
    mix = book.mixes.get(entry.step.mix_id)
    whole = whole_id(book.orders, entry.step.order_id)
    return {
        "order_id": entry.step.order_id,
        **({"part_of": whole} if whole != entry.step.order_id else {}),
        "property_id": home.property_id,
        "customer": home.customer,
        "address": home.address,
        "town": home.town,
        "county": home.county,
        "state": home.state or book.settings.state,
        "zip": home.zip_code,
        "site": "lawn",
        "lawn_ft2": home.lawn_ft2,
        "grass": home.grass,
        "mix_id": entry.step.mix_id,
        "mix": mix.name if mix is not None else entry.step.mix_id,
        "truck_id": entry.truck.truck_id,
        "stop": entry.step.stop,
        "planned_area_ft2": _rounded(entry.step.area_ft2),
        "planned_gal": _rounded(entry.step.gal),
        "note": entry.actual.note,
    }


def _skipped(entry: Entry, book: Workbook) -> Body:
    return {"done": False, **_about(entry, book)}


def _sprayed(entry: Entry, work: Work, book: Workbook, date: str) -> Body:
    row = entry.actual
    area_ft2, gal = row.area_ft2 or 0.0, row.gal or 0.0
    home = book.properties[entry.step.place_id]
    line = book.trucks[entry.truck.truck_id].line(work.line_id)
    targets = {part.product_id: part.target for part in book.mixes[work.mix_id].parts}
    products = [
        _product(
            book.products[one.product_id],
            one.amount * (gal / work.gal if work.gal else 0.0),
            area_ft2,
            gal,
            targets.get(one.product_id, ""),
            _rate_text(book, work.mix_id, one.product_id),
        )
        for one in work.products
    ]
    order = book.orders.get(whole_id(book.orders, work.order_id))
    left = strips(book, order, Date.fromisoformat(date)) if order is not None else ()
    return {
        "done": True,
        **_about(entry, book),
        **({"left_unsprayed": [strip.text for strip in left]} if left else {}),
        "area_ft2": _rounded(area_ft2),
        "gal": _rounded(gal),
        "carrier_gal_per_1000_ft2": _rounded(gal / area_ft2 * 1000 if area_ft2 else 0.0),
        "products": products,
        "line_id": work.line_id,
        "equipment": _equipment(line),
        "method": METHOD,
        "start_min": row.start,
        "end_min": row.end,
        "wind_mph": row.wind_mph,
        "wind_from": row.wind_from or ("calm" if row.wind_mph == 0 else ""),
        "temperature_f": row.temperature_f,
        "weather_source": _weather_source(entry),
        "applicator": row.applicator,
        "license": row.license,
        "supervisor": row.supervisor,
        "business_license": book.settings.business_license,
        "company": book.settings.company,
        "sign_asked": home.sign,
        "sign_up": row.sign,
        "notice_asked": home.notice,
        "notice_given": row.notice,
        **(
            {"to_tell": list(entry.to_tell), "neighbors_said": row.neighbors}
            if entry.to_tell
            else {}
        ),
    }


def _product(
    product: Product, amount: float, area_ft2: float, gal: float, target: str, rate: str
) -> Body:
    return {
        "product_id": product.product_id,
        "name": product.name,
        "registration_no": product.registration_no,
        "active_ingredient": product.active_ingredient,
        "formulation": product.formulation,
        "target": target,
        "amount": _rounded(amount),
        "by_recipe": _rounded(amount),
        **_label_amount(product, amount),
        "rate": rate,
        "per_1000_ft2": _rounded(amount / area_ft2 * 1000 if area_ft2 else 0.0),
        "per_gal": _rounded(amount / gal if gal else 0.0),
        "signal_word": product.signal_word,
        "reentry": product.reentry,
    }


def _label_amount(product: Product, amount: float) -> Body:
    unit = product.rate_most.unit
    if product.rate_most.substance != "product" or KINDS.get(unit) != KINDS[product.unit]:
        # A rate in N, ai or percent has no unit of product to count in.
        unit = product.unit
    return {
        "unit": product.unit,
        "label_amount": _rounded(convert(amount, product.unit, unit)),
        "label_unit": unit,
    }


def _rate_text(book: Workbook, mix_id: str, product_id: str) -> str:
    for part in book.mixes[mix_id].parts:
        if part.product_id == product_id:
            return part.rate.text
    return ""


def _equipment(line: Line) -> str:
    return (
        f"line {line.line_id}, {line.hose_ft:g} ft of {line.hose_inside_diameter_in:g}-in hose, "
        f"gun {line.gun_gal_per_min:g} gal/min"
    )


def _place(book: Workbook, place_id: str) -> str:
    site = book.sites.get(place_id)
    if site is None:
        return place_id
    return ", ".join(part for part in (site.name, site.address) if part) or place_id


def _rounded(value: Any) -> float:
    return round(float(value), DECIMALS)


def _weather_source(entry: Entry) -> str:
    if entry.actual.wind_mph is None:
        return ""
    return ONE_READING if entry.days_weather else READ_THERE
