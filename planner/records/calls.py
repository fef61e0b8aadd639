"""The call list: its sheet, and the attempts that are recorded from it."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any, Final

from planner.compliance.registry import Call, Visit, calls, product_words
from planner.day.day import Day
from planner.exports.rows import hours_text
from planner.exports.text import csv_text
from planner.papers.day_page import visits
from planner.papers.lookup import place_text
from planner.plan.model import Plan
from planner.problems import Problem
from planner.records.current import current
from planner.records.store import Event, EventDraft
from planner.records.told import CALLED as CALLED
from planner.records.told import TAKEN_BACK, attempts_made
from planner.tables.columns import Column
from planner.tables.one_sheet import SheetKind, read_one_sheet

FILE_NAME: Final = "calls.csv"
"""Its name in the day's folder."""

OUTCOMES: Final = "reached|message left|no answer|wrong number|refused"


def _column(name: str, kind: str, meaning: str, required: bool = False) -> Column:
    return Column("calls", name, kind, "", required, required, "", None, None, meaning)


_KIND: Final = SheetKind(
    "calls",
    "call list",
    {
        column.column: column
        for column in (
            _column("person", "text", "Whom to call, as in the table notify", True),
            _column("phone", "text", "Number"),
            _column("stops", "text", "What the call is about"),
            _column("call_by", "text", "The last moment to call"),
            _column("called_on", "date", "Day of the attempt; blank = not yet"),
            _column("called_at", "time", "Time of the attempt"),
            _column("outcome", f"choice:{OUTCOMES}|{TAKEN_BACK}", "What came of it"),
            _column("caller", "text", "Who called"),
            _column("note", "text", "Anything else; copy the row for a second attempt"),
        )
    },
    ("call_from", "products"),
    "print the day again with `planner packet`, and fill its call list in",
)


@dataclass(frozen=True)
class CallRow:
    """One call of the list, with room for its attempt."""

    person: str
    phone: str
    stops: str
    products: str
    call_from: str
    call_by: str
    called_on: str = ""
    called_at: str = ""
    outcome: str = ""
    caller: str = ""
    note: str = ""


@dataclass(frozen=True)
class CalledRow:
    """One attempt as it was recorded last. date: of the day that it was about."""

    date: str
    person: str
    phone: str
    stops: str
    call_by: str
    called_on: str
    called_at: str
    outcome: str
    caller: str
    note: str
    record: int
    recorded_at: str
    recorded_by: str


def called_rows(events: Iterable[Event]) -> tuple[CalledRow, ...]:
    """The attempts among the events, in the order in which they were recorded."""
    return tuple(
        CalledRow(
            date=event.day,
            record=event.seq,
            recorded_at=event.recorded_at,
            recorded_by=event.recorded_by,
            **event.body,
        )
        for event in attempts_made(events)
    )


def calls_of(plan: Plan, day: Day) -> tuple[Call, ...]:
    """The calls that a plan's stops owe; what is done owes none."""
    return calls(day, visits(plan, day))


def calls_sheet(plan: Plan, day: Day) -> str:
    """The call list by due time as CSV, '' when nobody must be called."""
    rows = [
        CallRow(
            person=call.person.name,
            phone=call.person.phone,
            stops="; ".join(_stop(day, visit, how) for visit, how in call.at),
            products=product_words(day, call.order_ids),
            call_from=_moment(call.earliest),
            call_by=_moment(call.due),
        )
        for call in calls_of(plan, day)
    ]
    return csv_text(CallRow, rows) if rows else ""


def _stop(day: Day, visit: Visit, how: str) -> str:
    begin = hours_text(visit.begin.hour * 60.0 + visit.begin.minute)
    return f"{place_text(day, visit.property_id).address} {begin} ({visit.truck_id}; {how})"


def _moment(moment: datetime | None) -> str:
    return "" if moment is None else f"{moment:%Y-%m-%d %H:%M}"


def attempts(
    path: Path, date: str, events: Sequence[Event]
) -> tuple[list[EventDraft], list[Problem]]:
    """The attempts of a filled-in call list that are not recorded yet, and everything that is wrong
    in it. date: the day that is called about (ISO); events: its calls so far. Rows
    without a day, a time and an outcome are open."""
    rows, problems = read_one_sheet(path, _KIND)
    known = current(events)
    drafts: dict[str, EventDraft] = {}
    for row in rows:
        problems += _half(row.file, row.number, row.values)
        if not _AN_ATTEMPT.issubset(row.values):
            continue
        body = {name: _plain(name, row.values.get(name, "")) for name in _KIND.columns}
        subject = f"{date} call {body['person']} {body['called_on']} {body['called_at']}"
        before = known.get(subject)
        if before is None or before.body != body:
            seq = None if before is None else before.seq
            drafts[subject] = EventDraft(CALLED, date, subject, "", body, seq)
    return list(drafts.values()), problems


_AN_ATTEMPT: Final = frozenset({"person", "called_on", "called_at", "outcome"})


def _half(file: str, number: int, values: Mapping[str, object]) -> Iterator[Problem]:
    lacking = _AN_ATTEMPT - values.keys()
    if lacking and values.keys() & {"called_on", "called_at", "outcome"}:
        for name in sorted(lacking):
            cure = "an attempt needs its day, its time and what came of it"
            yield Problem(file, number, name, "REC-3", "the cell is blank", "", cure)


def _plain(name: str, value: Any) -> Any:
    if name == "called_at" and value != "":
        return hours_text(float(value))
    return value.isoformat() if hasattr(value, "isoformat") else value
