"""Signs, notices and calls around a recorded order: what was asked, what somebody said of it, and
what nobody did. A record claims none of them by itself."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date as Date
from datetime import datetime, time, timedelta
from typing import Any, Final

from planner.compliance.registry import Call, Visit, attempts_at, calls_at
from planner.day.day import Day, Workbook
from planner.day.fleet import Called
from planner.day.parts import whole_id
from planner.records.current import SPRAYED, current, kind_of
from planner.records.events import Event
from planner.records.parts import Body

CALLED: Final = "called"
"""Kind of the event that one attempt to call is."""

TAKEN_BACK: Final = "taken back"
"""Outcome of an attempt that was written by mistake: it stays in the log, and counts nowhere."""

SIGN, NOTICE, NEIGHBORS = "sign", "notice", "neighbors"
"""What may be asked around an order and stated of it."""

SAID: Final = {True: "told, as the sheet says", False: "not told, as the sheet says"}
"""The sheet's column `neighbors` in words."""

ASKED_OF_STATEMENTS: Final = (
    "order_id",
    "address",
    "sign_asked",
    "sign_up",
    "notice_asked",
    "notice_given",
    "to_tell",
    "neighbors_said",
)
"""All of a record that tells what was asked and stated."""

UNSAID: Final = {
    SIGN: "whether the sign was put up",
    NOTICE: "whether the notice was given",
    NEIGHBORS: "whether registered neighbors were told",
}
"""What nobody stated, in words."""


def called_of(events: Iterable[Event]) -> tuple[Called, ...]:
    """The attempts among the events, as they were recorded last."""
    return tuple(called(event.body) for event in attempts_made(events))


def attempts_made(events: Iterable[Event]) -> tuple[Event, ...]:
    """Of each attempt the event that was recorded last; what was taken back is none."""
    return tuple(
        event
        for event in current(events).values()
        if event.kind == CALLED and event.body["outcome"] != TAKEN_BACK
    )


def called(body: Mapping[str, Any]) -> Called:
    """An attempt as its record holds it."""
    names = ("person", "stops", "called_on", "called_at", "outcome", "caller")
    return Called(**{name: body[name] for name in names}, call_by=body.get("call_by") or "")


def calls_about(
    book: Workbook, date: str, order_id: str, place_id: str, begin_min: float
) -> tuple[Call, ...]:
    """The calls that an order of a day (ISO) owes to registered people."""
    whole = whole_id(book.orders, order_id)
    if not book.notify or whole not in book.orders or place_id not in book.properties:
        return ()
    when = Date.fromisoformat(date)
    begin = datetime.combine(when, time()) + timedelta(minutes=int(begin_min))
    return calls_at(Day(when, book, {}), Visit("", 0, place_id, begin, (whole,)))


def to_tell(calls: Iterable[Call]) -> tuple[Body, ...]:
    """Calls as a record keeps them: person, phone, how the lawn matches, and by when."""
    return tuple(
        {
            "person": call.person.name,
            "phone": call.person.phone,
            "how": call.at[0][1],
            "by": f"{call.due:%Y-%m-%d %H:%M}",
        }
        for call in calls
    )


def not_stated(body: Mapping[str, Any], log: Sequence[Called]) -> tuple[str, ...]:
    """SIGN, NOTICE, NEIGHBORS: what was asked around a sprayed order and nobody stated."""
    return tuple(_not_stated(body, log))


def _not_stated(body: Mapping[str, Any], log: Sequence[Called]) -> Iterator[str]:
    if body.get("sign_asked") and body.get("sign_up") is None:
        yield SIGN
    if body.get("notice_asked") and body.get("notice_given") is None:
        yield NOTICE
    people = [one["person"] for one in body.get("to_tell") or ()]
    if body.get("neighbors_said") is None and not all(
        attempts_at(log, name, body["address"]) for name in people
    ):
        yield NEIGHBORS


def unsaid_in(events: Iterable[Event]) -> dict[str, list[str]]:
    """SIGN, NOTICE, NEIGHBORS -> orders of a day around which it was asked and nobody stated it."""
    every = tuple(events)
    log, found = called_of(every), dict[str, list[str]]()
    for event in current(every).values():
        if kind_of(event) == SPRAYED:
            for name in not_stated(event.body, log):
                found.setdefault(name, []).append(event.body["order_id"])
    return found


def neighbors_text(body: Mapping[str, Any], log: Sequence[Called]) -> str:
    """What became of each call that an order owed; '' = none was owed, or nothing is stated of
    one."""
    if NEIGHBORS in not_stated(body, log):
        return ""
    said = "" if body.get("neighbors_said") is None else SAID[body["neighbors_said"]]
    texts = []
    for one in body.get("to_tell") or ():
        tried = ", ".join(at.text for at in attempts_at(log, one["person"], body["address"]))
        texts.append(f"{one['person']}: {tried or said}")
    return "; ".join(texts)
