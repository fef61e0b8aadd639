"""One plan of record a date: which plan is the day's, where its papers lie, what of it is recorded.

The office makes as many drafts as it likes. The plan printed last is the day's, or the one that the
office names after that; the store keeps its text, so that it is found when the folder is gone.
"""

import os
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, fields
from pathlib import Path
from typing import Any, Final

from planner.plain_files import text_of as read_text_of
from planner.plan.document import to_json
from planner.plan.model import Plan
from planner.records.current import (
    CORRECTED,
    FILLED,
    NAMED,
    PLANNED,
    PRINTED,
    SKIPPED,
    SPRAYED,
    WITHDRAWN,
    current,
    kind_of,
    whole_of,
)
from planner.records.day_log import from_body, order_subject, planned_steps
from planner.records.outcome import store_path
from planner.records.sealed import CHECKSUM_DIGITS, text_sha256
from planner.records.sheet import FILL, SPRAY
from planner.records.store import Body, Conflict, Event, EventDraft, Store
from planner.records.told import ASKED_OF_STATEMENTS, CALLED, unsaid_in

_ABOUT_PLANS: Final = (PRINTED, NAMED, WITHDRAWN)
_DONE: Final = (SPRAYED, SKIPPED, FILLED, CORRECTED)


@dataclass(frozen=True)
class KeptPlan:
    """A plan that was printed or named. sha256: of its text; number: of its print, counted over
    all plans of the date, None = it was never printed; folder: of its papers when they were
    written, '' = none; near: the same, seen from where the workbook lies; orders: that it does;
    fills: subjects; broken: codes of rules that it breaks and was printed with all the same; at:
    UTC; by: who."""

    seq: int
    date: str
    sha256: str
    number: int | None
    folder: str
    near: str
    engine: str
    again: bool
    trucks_out: int
    orders: tuple[str, ...]
    fills: tuple[str, ...]
    broken: tuple[str, ...]
    at: str
    by: str

    @property
    def checksum(self) -> str:
        """As the sheets print it."""
        return self.sha256[:CHECKSUM_DIGITS]

    @property
    def mark(self) -> str:
        """'3f2a91c0d4, print 2': as it stands on the sheets after the word Plan."""
        return self.checksum if self.number is None else f"{self.checksum}, print {self.number}"


_IN_BODY: Final = tuple(
    one.name for one in fields(KeptPlan) if one.name not in ("seq", "date", "at", "by")
)
"""Fields of a KeptPlan that stand in the event's body under the same name."""


@dataclass(frozen=True)
class DayOfRecord:
    """What the records say of one date. of_record: the day's plan, None = none was printed or
    named; plans: all that were, in order, a print that came to nothing left out; checksum: of the
    plan of record or, without one, of the plan that was recorded last; orders: that it does;
    open_orders, open_fills: of them, without a record; sprayed, skipped: orders of the tables
    recorded, one in parts once; unsaid:
    SIGN, NOTICE, NEIGHBORS -> orders around which it was asked and nobody stated it."""

    date: str
    of_record: KeptPlan | None
    plans: tuple[KeptPlan, ...]
    checksum: str
    orders: tuple[str, ...]
    open_orders: tuple[str, ...]
    open_fills: tuple[str, ...]
    sprayed: int
    skipped: int
    unsaid: Mapping[str, Sequence[str]] = field(default_factory=dict)


def plans_of_record(workbook: Path, since: str = "", until: str = "9999") -> dict[str, DayOfRecord]:
    """Date -> what the records say of it, for the dates since <= date < until (ISO) with a plan or
    a record, in order; empty without a store. Raises StoreError."""
    file = store_path(workbook)
    if not file.exists():
        return {}
    with Store(file) as store:
        asked = ("is", "withdraws", "part_of", *_IN_BODY, *ASKED_OF_STATEMENTS)
        events = store.events(since, until, (*_ABOUT_PLANS, *_DONE), asked)
        planned = store.events(since, until, (PLANNED, CALLED))
    by_date: dict[str, list[Event]] = {}
    for event in (*planned, *events):
        by_date.setdefault(event.day, []).append(event)
    return {date: _day(date, rows) for date, rows in sorted(by_date.items())}


def plan_of_record(workbook: Path, date: str) -> KeptPlan | None:
    """The day's plan, None when none was printed or named. Raises StoreError."""
    file = store_path(workbook)
    if not file.exists():
        return None
    with Store(file) as store:
        plans = _kept(store.events(date, f"{date}~", _ABOUT_PLANS))
    return plans[-1] if plans else None


def text_of(workbook: Path, plan: KeptPlan) -> str:
    """The plan's text as the records keep it. Raises StoreError."""
    with Store(store_path(workbook)) as store:
        return store.plan_text(plan.sha256)


def note_print(
    workbook: Path, plan: Plan, folder: Path, broken: Iterable[str], by: str
) -> KeptPlan:
    """Make the plan its day's plan of record, under the next number of a print, before its papers
    are written. Raises StoreError."""
    return _note(PRINTED, workbook, plan, folder, broken, by)


def name_plan(
    workbook: Path, plan: Plan, folder: Path | None, broken: Iterable[str], by: str
) -> KeptPlan:
    """Make a plan its day's plan of record because the office says so. Raises StoreError."""
    return _note(NAMED, workbook, plan, folder, broken, by)


def withdraw(workbook: Path, plan: KeptPlan, by: str) -> None:
    """Take a print back whose papers could not be written: the plan before it counts again. Raises
    StoreError."""
    body = {"withdraws": plan.seq}
    with Store(store_path(workbook)) as store:
        _append(store, plan.date, by, lambda _: (WITHDRAWN, plan.checksum, body))


def papers_of(workbook: Path, plan: KeptPlan) -> Path | None:
    """The folder that holds the plan's papers now, None when there is none with this plan.json.
    It is looked for as the workbook sees it, for a folder that moved with it, and where it was
    written."""
    for folder in (workbook.resolve().parent / plan.near, Path(plan.folder)):
        try:
            text = read_text_of(folder / "plan.json")
        except (OSError, UnicodeDecodeError):
            continue
        if plan.folder and text_sha256(text) == plan.sha256:
            return folder
    return None


def _note(
    kind: str, workbook: Path, plan: Plan, folder: Path | None, broken: Iterable[str], by: str
) -> KeptPlan:
    text = to_json(plan)
    sha256 = text_sha256(text)
    checksum = sha256[:CHECKSUM_DIGITS]
    steps = planned_steps(plan, checksum)
    whole = "" if folder is None else str(folder.resolve())
    body = {
        "sha256": sha256,
        "folder": whole,
        "near": _near(workbook, whole),
        "engine": plan.engine,
        "again": plan.again is not None,
        "trucks_out": sum(bool(row.stops) for row in plan.trucks),
        "orders": [step.order_id for step in steps if step.what == SPRAY],
        "fills": [step.subject for step in steps if step.what == FILL],
        "broken": sorted(set(broken)),
    }

    def numbered(rows: Sequence[Event]) -> tuple[str, str, Body]:
        prints = [row for row in rows if row.kind == PRINTED]
        same = [row.body["number"] for row in prints if row.body["sha256"] == sha256]
        number = len(prints) + 1 if kind == PRINTED else same[-1] if same else None
        return kind, checksum, body | {"number": number}

    with Store(store_path(workbook), create=True) as store:
        return _plan(_append(store, plan.date, by, numbered, {sha256: text}))


def _append(
    store: Store,
    date: str,
    by: str,
    make: Callable[[Sequence[Event]], tuple[str, str, Body]],
    plan_texts: Mapping[str, str] | None = None,
) -> Event:
    """make: what is known of the date's plans -> kind, checksum and body of what comes next; asked
    again when another office was quicker."""
    while True:
        rows = store.events(date, f"{date}~", _ABOUT_PLANS)
        kind, checksum, body = make(rows)
        last = rows[-1].seq if rows else None
        draft = EventDraft(kind, date, f"{date} plan of record", checksum, body, last)
        try:
            return store.append([draft], by, plan_texts)[0]
        except Conflict:
            continue


def _near(workbook: Path, folder: str) -> str:
    try:
        return os.path.relpath(folder, workbook.resolve().parent) if folder else ""
    except ValueError:  # another drive of Windows
        return ""


def _kept(events: Iterable[Event]) -> tuple[KeptPlan, ...]:
    """The date's plans in the order in which they became its plan of record."""
    rows = list(events)
    gone = {row.body["withdraws"] for row in rows if row.kind == WITHDRAWN}
    return tuple(_plan(row) for row in rows if row.kind != WITHDRAWN and row.seq not in gone)


def _plan(event: Event) -> KeptPlan:
    cells: dict[str, Any] = {
        name: tuple(value) if isinstance(value := event.body[name], list) else value
        for name in _IN_BODY
    }
    return KeptPlan(
        seq=event.seq, date=event.day, at=event.recorded_at, by=event.recorded_by, **cells
    )


def _day(date: str, events: Sequence[Event]) -> DayOfRecord:
    plans = _kept(event for event in events if event.kind in _ABOUT_PLANS)
    known = current(event for event in events if event.kind in _DONE)
    planned = [event for event in events if event.kind == PLANNED]
    of_record = plans[-1] if plans else None
    orders: tuple[str, ...] = ()
    fills: tuple[str, ...] = ()
    checksum = ""
    if of_record is not None:
        orders, fills, checksum = of_record.orders, of_record.fills, of_record.checksum
    elif planned:
        steps = [step for truck in from_body(planned[-1].body) for step in truck.steps]
        orders = tuple(step.order_id for step in steps if step.what == SPRAY)
        fills = tuple(step.subject for step in steps if step.what == FILL)
        checksum = planned[-1].plan
    orders_told = {
        (kind_of(row), whole_of(row.body))
        for row in known.values()
        if row.body["order_id"] is not None
    }
    kinds = [kind for kind, _ in orders_told]
    return DayOfRecord(
        date=date,
        of_record=of_record,
        plans=plans,
        checksum=checksum,
        orders=orders,
        open_orders=tuple(name for name in orders if order_subject(date, name) not in known),
        open_fills=tuple(subject for subject in fills if subject not in known),
        sprayed=kinds.count(SPRAYED),
        skipped=kinds.count(SKIPPED),
        unsaid=unsaid_in(event for event in events if event.kind in (*_DONE, CALLED)),
    )
