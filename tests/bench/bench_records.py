"""Records: kills at random points, recording a day of 200 applications, a year's totals.

Run from the checkout: python -m tests.bench.bench_records [kills] [seed]
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from typing import TypeVar

from planner.day.day import Workbook
from planner.plan.model import Plan
from planner.records.outcome import with_records
from planner.records.record import recording
from planner.records.store import EventDraft, Store
from planner.records.sums import APPLIED_KINDS, ASKED_OF_SUMS, year_rows
from tests.days import home
from tests.hand_plan import hand_plan
from tests.killed_writer import kill_in_a_process
from tests.records_cases import AS_PLANNED, office

DAYS, APPLICATIONS = 200, 80
Value = TypeVar("Value")


def big_day(applications: int, when: date) -> tuple[Plan, Workbook]:
    """The hand-worked day with so many copies of its first order, each at a property of its own."""
    plan, book = hand_plan(), office()
    truck = plan.trucks[0]
    fill, visit = truck.stops[0], truck.stops[1]
    stops = [fill]
    homes = dict(book.properties)
    for number in range(applications):
        name = f"B{number}"
        homes[name] = replace(
            home(name, 40.0, -83.0, 5000.0), state="OH", zip_code="43001", grass="bluegrass"
        )
        begin = 450.0 + number * 2.0
        work = replace(
            visit.orders[0],
            order_id=f"{when.isoformat()}-{number}",
            begin_min=begin,
            end_min=begin + 1.9,
            hose_gal=0.0,
            hose_compartments=(),
        )
        refill = replace(fill.fills[0], gal=10.0 if number else 13.06)
        stops.append(replace(fill, seq=2 * number + 1, kind="refill", fills=(refill,)))
        stops.append(replace(visit, seq=2 * number + 2, place_id=name, orders=(work,)))
    stops[0] = replace(fill, fills=())
    empty = {"1": 0.0, "2": 0.0, "3": 0.0}
    day = replace(truck, stops=(*stops, truck.stops[-1]), start_gal=empty, end_gal=empty)
    return replace(plan, date=when.isoformat(), trucks=(day,)), replace(book, properties=homes)


def drafts_of(plan: Plan, book: Workbook) -> tuple[EventDraft, ...]:
    """What recording it as planned appends."""
    found = recording(plan, "bench", (), (), book, book, AS_PLANNED)
    assert not found.problems, found.problems[:3]
    return found.drafts


def timed(what: str, work: Callable[[], Value]) -> Value:
    """Prints wall and CPU seconds."""
    wall, cpu = time.perf_counter(), time.process_time()
    value = work()
    wall, cpu = time.perf_counter() - wall, time.process_time() - cpu
    print(f"{what}: {wall:.2f} s wall, {cpu:.2f} s CPU")
    return value


def year(first: date) -> Iterator[date]:
    """The working days."""
    for number in range(DAYS):
        yield first + timedelta(days=number)


def totals(folder: Path) -> None:
    """A year of records, and what a plan and an annual report take out of it."""
    first = date(2027, 3, 1)
    plan, book = big_day(APPLICATIONS, first)
    path = folder / "records.sqlite"
    drafts = drafts_of(plan, book)
    with Store(path, create=True) as store:
        for when in year(first):
            text = when.isoformat()
            moved = [
                replace(
                    draft,
                    day=text,
                    subject=draft.subject.replace(plan.date, text),
                    plan=f"bench {text}",
                    body=draft.body,
                )
                for draft in drafts
            ]
            store.append(moved, "bench")
    print(f"{path.stat().st_size / 1e6:.1f} MB for {DAYS} days x {APPLICATIONS} applications")
    last = first + timedelta(days=DAYS)
    empty = replace(book, orders={})
    outcome = timed("season totals for a plan", lambda: with_records(folder, empty, last))
    assert len(outcome.workbook.history) == DAYS * APPLICATIONS + len(book.history)

    def sums() -> int:
        with Store(path) as store:
            events = store.events("2027", "2028", APPLIED_KINDS, ASKED_OF_SUMS)
            return len(year_rows(events, "2027"))

    timed("sums of a year by product", sums)
    with Store(path) as store:
        assert timed("--verify", store.damage) == ()


def one_day(folder: Path) -> None:
    """200 applications recorded."""
    plan, book = big_day(200, date(2027, 4, 14))

    def record() -> int:
        drafts = drafts_of(plan, book)
        with Store(folder / "day.sqlite", create=True) as store:
            return len(store.append(drafts, "bench"))

    assert timed("recording 200 applications", record) == 401


def kills(folder: Path, count: int, seed: int) -> None:
    """SIGKILL while a transaction is under way."""
    begun = time.monotonic()
    found = kill_in_a_process(folder, count, seed)
    print(
        f"{found.kills} kills in {time.monotonic() - begun:.0f} s, {found.hits} of them inside a "
        f"transaction: {found.acknowledged} acknowledged transactions, {found.lost} lost, "
        f"{found.torn} torn, {len(found.damage)} damages"
    )
    if found.lost or found.torn or found.damage:
        sys.exit(1)


def main(count: int, seed: int) -> None:
    """All three."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        one_day(folder)
        totals(folder)
        kills(folder, count, seed)


if __name__ == "__main__":
    main(*(int(word) for word in [*sys.argv[1:], *["1000", "1"][len(sys.argv) - 1 :]][:2]))
