"""Fills in which whole packets or a coarse cup make more or less of a product than the recipe."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from functools import lru_cache
from typing import Final

from planner.day.day import Day, Workbook
from planner.day.fleet import Truck
from planner.day.very import Very
from planner.mixing.mosts import label_leasts
from planner.plan.caught import CaughtWalk, with_handed
from planner.plan.model import Fill, Plan, ProductAmount, TruckPlan
from planner.problems import counted

LIKE_ITS_RATE: Final = 0.05
"""A fill this near to its rate is not spoken of."""


def off_rate(book: Workbook, fill: Fill) -> Iterator[tuple[ProductAmount, float, str]]:
    """What is measured of each product that is not near its rate, its share of the rate, and that
    in words: '1 packet, 62 % of its rate, under its label's least'."""
    for told, exact in zip(fill.measured, fill.products, strict=True):
        share = told.amount / exact.amount if exact.amount else 1.0
        if abs(share - 1) <= LIKE_ITS_RATE:
            continue
        product = book.products[told.product_id]
        packet = product.packet_base
        count = "" if packet is None else f"{counted(round(told.amount / packet), 'packet')}, "
        words = f"{count}{share * 100:.0f} % of its rate"
        under = [
            about
            for least, about in label_leasts(book, fill.mix_id, told.product_id)
            if told.amount / fill.gal < least * 0.995 and exact.amount / fill.gal >= least * 0.975
        ]
        if told.amount == 0:
            words = "too small for a packet within the label: do not mix it"
        elif under:
            words += f", under its label's least {' and '.join(filter(None, under))}".rstrip()
        yield told, share, words


def measured_share(fills: Iterable[Fill], product_id: str) -> str:
    """What share of its rate the crew is told to measure of a product, for papers that state the
    rate: ', measured at 75 % of it'; '' where every fill is near its rate."""
    shares = [
        told.amount / exact.amount
        for fill in fills
        for told, exact in zip(fill.measured, fill.products, strict=True)
        if told.product_id == product_id and exact.amount
    ]
    if all(abs(share - 1) <= LIKE_ITS_RATE for share in shares):
        return ""
    span = dict.fromkeys(f"{share * 100:.0f}" for share in (min(shares), max(shares)))
    return f", measured at {' to '.join(span)} % of it"


def off_rate_lines(plan: Plan, day: Day) -> dict[str, tuple[str, ...]]:
    """Truck -> its fills, as the papers tell them, that are not done yet and not near their rate,
    each in words."""
    trucks, found = with_handed(plan, day.workbook).trucks, dict[str, tuple[str, ...]]()
    for row in plan.trucks:
        said = _truck_lines(Very(row), trucks.get(row.truck_id), Very(day.workbook))
        if said:
            found[row.truck_id] = (*found.get(row.truck_id, ()), *said)
    return found


@lru_cache(maxsize=2048)
def _truck_lines(row: Very[TruckPlan], truck: Truck | None, of: Very[Workbook]) -> tuple[str, ...]:
    """Of one truck, with what it is handed in the morning."""
    book, planned = of.value, row.value
    if truck is not None and planned.stops:
        handed = replace(book, trucks={truck.truck_id: truck})
        planned = CaughtWalk(planned, handed).truck_plan()
    alike: dict[tuple[str, str, str], list[str]] = {}
    for stop in planned.stops:
        where = "the yard" if stop.kind == "depart" else f"stop {stop.seq}"
        for fill in () if stop.done else stop.fills:
            for told, _, words in off_rate(book, fill):
                key = book.products[told.product_id].name, fill.compartment_id, words
                alike.setdefault(key, []).append(f"{where} ({fill.gal:g} gal)")
    return tuple(
        f"{name} in compartment {tank} at {' and '.join(places)}: {words}"
        for (name, tank, words), places in alike.items()
    )


def off_rate_notes(plan: Plan, day: Day) -> tuple[str, ...]:
    """A sentence for each truck with such fills."""
    return tuple(
        f"{day.workbook.trucks[name].title} has fills away from their rate: {'; '.join(said)}. "
        "Plan them otherwise, or see that the labels allow it."
        for name, said in off_rate_lines(plan, day).items()
    )
