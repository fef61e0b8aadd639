"""Whether the figures of a day can be: levels, clock, label, lawn. One check, one fact."""

from collections.abc import Collection, Iterable, Iterator, Mapping
from typing import Final

from planner.compliance.applied import product_per_1000_ft2
from planner.day.day import Workbook
from planner.day.products import Product
from planner.mixing.recipes import MixingError
from planner.problems import Problem
from planner.records.codes import CONFIRMABLE
from planner.records.day_log import Replayed
from planner.records.entries import Entry
from planner.records.sheet import FILL, SPRAY
from planner.records.store import Body
from planner.units import Rate

AREA_SLACK: Final = 1.05
"""Lawns are measured to a few percent; more than a twentieth over is another lawn or a slip."""

RATE_SLACK: Final = 0.005
"""Half a percent over a label's rate is arithmetic, as in the label checks before the day."""

CLOCK_SLACK_MIN: Final = 1.0
"""Sheets are written to the minute."""


def doubtful(
    entries: Iterable[Entry],
    bodies: Mapping[str, Body],
    replayed: Mapping[str, Replayed],
    book: Workbook,
    unsettled: Collection[str] = (),
) -> tuple[list[Problem], dict[str, tuple[str, ...]]]:
    """What cannot be as written, and subject -> codes that its row confirms. bodies: of every
    record of the day, new ones included; replayed: truck -> its levels; unsettled: trucks of which
    some rows are bad, so that their levels follow from nothing."""
    problems: list[Problem] = []
    confirmed: dict[str, tuple[str, ...]] = {}
    for entry in entries:
        truck_id = entry.truck.truck_id
        levels = None if truck_id in unsettled else replayed[truck_id]
        for problem in _doubts(entry, bodies, levels, book):
            if problem.code in CONFIRMABLE and entry.actual.sure and entry.actual.note:
                before = confirmed.get(entry.step.subject, ())
                confirmed[entry.step.subject] = (*before, problem.code)
            else:
                problems.append(problem)
    return problems, confirmed


def _doubts(
    entry: Entry, bodies: Mapping[str, Body], replayed: Replayed | None, book: Workbook
) -> Iterator[Problem]:
    if replayed is not None:
        yield from check_levels(entry, replayed)
    if entry.step.what == SPRAY and entry.actual.done:
        yield from check_lawn(entry, book)
        yield from check_clock(entry, bodies)
        yield from check_label_rate(entry, bodies, book)
        yield from check_label_weather(entry, book)


_SURE: Final = "correct it; if it is right, write yes under sure and a word under note"


def check_levels(entry: Entry, replayed: Replayed) -> Iterator[Problem]:
    """Gallons against what the compartments hold."""
    for finding in replayed.findings:
        if finding.subject == entry.step.subject:
            of_reading = finding.code == "REC-13" and entry.step.what == FILL
            column = "level_read_gal" if of_reading else "gal"
            yield entry.actual.problem(column, finding.code, finding.message, _SURE)


def check_lawn(entry: Entry, book: Workbook) -> Iterator[Problem]:
    """No more than the lawn is treated."""
    home = book.properties.get(entry.step.place_id)
    area_ft2 = entry.actual.area_ft2 or 0.0
    if home is not None and area_ft2 > home.lawn_ft2 * AREA_SLACK:
        message = f"the lawn of {home.property_id} has {home.lawn_ft2:g} ft2"
        yield entry.actual.problem("area_ft2", "REC-11", message, _SURE)


def check_clock(entry: Entry, bodies: Mapping[str, Body]) -> Iterator[Problem]:
    """One gun at a time: a truck's works do not overlap."""
    start, end = entry.actual.start, entry.actual.end
    if start is None or end is None:
        return
    for step in entry.truck.steps:
        body = bodies.get(step.subject)
        if step.what != SPRAY or step.subject == entry.step.subject or body is None:
            continue
        if not body["done"] or body["start_min"] is None or body["end_min"] is None:
            continue
        # Told once, at the later of the two.
        later = (body["start_min"], step.subject) <= (start, entry.step.subject)
        if later and start < body["end_min"] - CLOCK_SLACK_MIN:
            message = f"order {step.order_id} of the same truck was not finished then"
            yield entry.actual.problem("start", "REC-5", message, _SURE)


def check_label_rate(entry: Entry, bodies: Mapping[str, Body], book: Workbook) -> Iterator[Problem]:
    """Product on the lawn, as measured, against the label's most; its least against what the
    gallons hold by the recipe, because the plan has said where a fill holds less."""
    mix = book.mixes.get(entry.step.mix_id)
    for row in bodies[entry.step.subject]["products"]:
        product = book.products.get(row["product_id"])
        if product is None or mix is None:
            continue
        reached = float(row["per_1000_ft2"])
        carrier = mix.carrier_gal_per_1000_ft2
        most = _per_1000_ft2(product, product.rate_most, carrier)
        least = _per_1000_ft2(product, product.rate_least, carrier)
        if most and reached > most * (1 + RATE_SLACK):
            message = f"{product.name} reached {reached / most:.0%} of its label's most"
            yield entry.actual.problem("gal", "REC-8", message, _SURE)
            continue
        reached = row["by_recipe"] / (entry.actual.area_ft2 or 1.0) * 1000
        if least and reached < least * (1 - RATE_SLACK):
            message = f"{product.name} reached {reached / least:.0%} of its label's least"
            yield entry.actual.problem("gal", "REC-8", message, _SURE)


def _per_1000_ft2(product: Product, rate: Rate | None, carrier: float) -> float | None:
    """None where the label sets no such limit on an area, or its rate cannot be crossed."""
    if rate is None or rate.basis != "area":
        return None
    try:
        return product_per_1000_ft2(product, rate, carrier)
    except MixingError:
        return None


def check_label_weather(entry: Entry, book: Workbook) -> Iterator[Problem]:
    """Wind and temperature that were read against the labels' limits."""
    mix = book.mixes.get(entry.step.mix_id)
    for part in mix.parts if mix is not None else ():
        product = book.products.get(part.product_id)
        if product is None:
            continue
        limits = (
            ("wind_mph", product.wind_least_mph, product.wind_most_mph, "mph"),
            ("temperature_f", product.temperature_least_f, product.temperature_most_f, "F"),
        )
        for column, least, most, unit in limits:
            value = getattr(entry.actual, column)
            if value is None:
                continue
            if most is not None and value > most:
                message = f"{product.name} may be sprayed up to {most:g} {unit}"
                yield entry.actual.problem(column, "REC-9", message, _SURE)
            elif least is not None and value < least:
                message = f"{product.name} may be sprayed from {least:g} {unit} on"
                yield entry.actual.problem(column, "REC-9", message, _SURE)
