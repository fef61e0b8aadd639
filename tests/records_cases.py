"""The hand-worked day of `tests/hand_plan.py`, recorded: rows of the actuals sheet and helpers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from planner.day.day import Workbook
from planner.plan.document import to_json
from planner.plan.model import Plan
from planner.records.entries import Conditions, Manner
from planner.records.record import Recording, recording
from planner.records.sealed import plan_checksum
from planner.records.sheet import FILL, LEFT, SPRAY, Actual
from planner.records.store import Event
from tests.hand_plan import hand_day, hand_plan

FILE = "actuals.csv"
CONDITIONS = Conditions(4.0, "SW", 61.0)
AS_PLANNED = Manner(as_planned=True, conditions=CONDITIONS)
AS_WRITTEN = Manner(conditions=CONDITIONS)
CORRECTING = Manner(correct=True)


def office(**changes: object) -> Workbook:
    """The hand-worked tables with an applicator, and registration numbers as in the trade: none
    for the fertilizer."""
    book = hand_day().workbook
    trucks = {
        name: replace(truck, applicator="Kim Example", applicator_license="L-1")
        for name, truck in book.trucks.items()
    }
    products = dict(book.products)
    products["urea"] = replace(products["urea"], registration_no="")
    homes = {
        name: replace(home, zip_code="43001", state="OH") for name, home in book.properties.items()
    }
    base = replace(book, trucks=trucks, products=products, properties=homes)
    return replace(base, **changes)  # type: ignore[arg-type]


def fill(compartment: str, stop: int, gal: float, row: int = 2, **cells: object) -> Actual:
    base = Actual(FILE, row, "T1", FILL, stop, compartment=compartment, done=True, gal=gal)
    return replace(base, **cells)  # type: ignore[arg-type]


def spray(order: str, row: int = 3, **cells: object) -> Actual:
    base = Actual(FILE, row, "T1", SPRAY, order=order, done=True)
    return replace(base, **cells)  # type: ignore[arg-type]


def left(compartment: str, gal: float, row: int = 9, **cells: object) -> Actual:
    base = Actual(FILE, row, "T1", LEFT, compartment=compartment, done=True, gal=gal)
    return replace(base, **cells)  # type: ignore[arg-type]


def record(
    rows: Sequence[Actual] = (),
    manner: Manner = AS_PLANNED,
    events: Sequence[Event] = (),
    *,
    plan: Plan | None = None,
    book: Workbook | None = None,
    why: str = "",
) -> Recording:
    """What the rows would add to the records."""
    plan = plan or hand_plan()
    book = book or office()
    checksum = plan_checksum(to_json(plan))
    return recording(plan, checksum, rows, events, book, book, manner, why)


def kept(*recordings: Recording) -> tuple[Event, ...]:
    """The events as a store would number them."""
    drafts = [draft for one in recordings for draft in one.drafts]
    return tuple(
        Event(
            seq,
            draft.kind,
            draft.day,
            draft.subject,
            draft.plan,
            f"2027-04-14T22:00:{seq % 60:02d}+00:00",
            "office",
            draft.body,
        )
        for seq, draft in enumerate(drafts, start=1)
    )


def recorded(rows: Sequence[Actual] = (), manner: Manner = AS_PLANNED) -> tuple[Event, ...]:
    """Events of the day; the rows must be right."""
    found = record(rows, manner)
    assert found.problems == (), found.problems
    return kept(found)


def corrected(
    events: Sequence[Event], rows: Sequence[Actual], why: str = "read again"
) -> tuple[Event, ...]:
    """The events and the correction after them."""
    found = record(rows, CORRECTING, events, why=why)
    assert found.problems == (), found.problems
    first = len(events)
    return (*events, *(replace(one, seq=first + one.seq) for one in kept(found)))


def places(found: Recording) -> list[tuple[int | None, str | None, str]]:
    """Row, column and code of every problem."""
    return sorted(
        ((one.row, one.column, one.code) for one in found.problems), key=lambda one: str(one)
    )


def nothing_asked(book: Workbook) -> Workbook:
    """The tables with a licensed applicator on every truck, and no sign or notice anywhere."""
    home = {name: replace(row, sign=False, notice="") for name, row in book.properties.items()}
    trucks = {
        name: replace(row, applicator="Kim", applicator_license="1")
        for name, row in book.trucks.items()
    }
    return replace(book, properties=home, trucks=trucks)
