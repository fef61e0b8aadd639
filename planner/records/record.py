"""A planned day and its actuals sheet -> events for the store, or everything that is wrong."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from planner.day.day import Workbook
from planner.day.parts import whole_id
from planner.plan.caught import as_told, with_handed
from planner.plan.model import Fill, Plan, Work
from planner.problems import Problem
from planner.records.bodies import as_measured, body_of, with_source
from planner.records.current import (
    CORRECTED,
    FILLED,
    LEFT_OVER,
    PLANNED,
    SKIPPED,
    SPRAYED,
    current,
    kind_of,
)
from planner.records.day_log import LoggedTruckDay, Replayed, from_body, replay, to_body, truck_days
from planner.records.entries import Entry, Manner, entries
from planner.records.plausible import doubtful
from planner.records.sheet import FILL, LEFT, SPRAY, Actual, plan_mark
from planner.records.store import Body, Event, EventDraft
from planner.records.worked_out import fills_to_look_at, fills_worked_out, worked_out_lines


@dataclass(frozen=True)
class Recording:
    """What would be appended. problems: when there are any, drafts is empty. still_open: orders
    and fills of the plan without a record; notes: on gallons that nobody read, in sentences."""

    drafts: tuple[EventDraft, ...]
    problems: tuple[Problem, ...]
    still_open: tuple[str, ...]
    notes: tuple[str, ...] = ()


def recording(
    plan: Plan,
    checksum: str,
    rows: Sequence[Actual],
    events: Sequence[Event],
    seen: Workbook,
    table: Workbook,
    manner: Manner,
    why: str = "",
) -> Recording:
    """The events that the sheet adds. checksum: of the plan's text, as the sheets print it.
    events: the day's so far. seen, table: the workbook with the records of days before, and as it
    is written. why: of a correction."""
    wrong = [*_missing(plan, table), *_of_other_plans(plan, checksum, rows)]
    if wrong:
        return Recording((), tuple(wrong), ())
    known = current(events)
    trucks = truck_days(plan, checksum, seen, table)
    found, problems, unsettled = entries(trucks, rows, known, seen, manner, plan.date)
    works, fills = _works(plan), _fills(as_told(plan, with_handed(plan, seen)))

    def of_entry(entry: Entry, fill: Fill | None) -> Body:
        body = body_of(entry, works.get(entry.step.order_id), fill, seen, plan.date)
        return body | _done_ahead(entry, plan.date, seen)

    recorded = {subject: event.body for subject, event in known.items()}
    found, fresh = fills_worked_out(found, recorded, fills, of_entry, seen)
    bodies = recorded | fresh
    replayed = {truck.truck_id: replay(truck, bodies) for truck in trucks}
    for entry in found:
        strength = replayed[entry.truck.truck_id].strength.get(entry.step.subject, {})
        fresh[entry.step.subject] = as_measured(fresh[entry.step.subject], strength)
    bodies |= fresh
    doubts, confirmed = doubtful(found, bodies, replayed, seen, unsettled)
    problems += doubts
    if problems:
        return Recording((), tuple(problems), ())
    drafts = []
    planned = EventDraft(
        PLANNED, plan.date, f"{plan.date} plan {checksum}", checksum, to_body(plan, trucks)
    )
    if planned.subject not in known and found:
        drafts.append(planned)
    for entry in found:
        body = _whole(entry, fresh, bodies, replayed, confirmed)
        draft = _draft(entry, body, plan.date, checksum, why)
        if draft is not None:
            drafts.append(draft)
    if manner.superseded_by:
        told = {"superseded": {"plan_of_record": manner.superseded_by, "why": why}}
        drafts = [replace(draft, body=draft.body | told) for draft in drafts]
    still_open = [name for truck in trucks for name in replayed[truck.truck_id].still_open]
    notes = list(worked_out_lines(found, fresh))
    if manner.correct:
        notes += fills_to_look_at(trucks, recorded, bodies, fills, seen)
    return Recording(tuple(drafts), (), tuple(still_open), tuple(notes))


def _missing(plan: Plan, book: Workbook) -> Iterator[Problem]:
    """The record is written out from the tables; what they no longer hold cannot be."""

    def gone(table: str, key: str, cure: str) -> Problem:
        message = f"the plan names '{key}', which is not in the table {table}"
        return Problem("plan.json", None, None, "REC-1", message, key, cure)

    for truck in plan.trucks:
        if truck.truck_id not in book.trucks and any(stop.orders for stop in truck.stops):
            yield gone("trucks", truck.truck_id, "put its row back")
        for work in (work for stop in truck.stops for work in stop.orders):
            for one in work.products:
                if one.product_id not in book.products:
                    yield gone("products", one.product_id, "put its row back")
            if work.mix_id not in book.mixes:
                yield gone("mixes", work.mix_id, "put its row back")
        for stop in truck.stops:
            if stop.orders and stop.place_id not in book.properties:
                yield gone("properties", stop.place_id, "put its row back")


def _of_other_plans(plan: Plan, checksum: str, rows: Sequence[Actual]) -> Iterator[Problem]:
    """REC-1 for the first row of each other plan. Of a day that was planned again, the rows of the
    plan before it are its own."""
    known = [plan_mark(checksum)]
    if plan.again is not None:
        known.append(plan_mark(plan.again.earlier_sha256[: len(checksum)]))
    told = {row.plan.casefold(): row for row in reversed(rows)}
    for mark in sorted(told.keys() - {*known, ""}, key=lambda mark: told[mark].number or 0):
        message = f"the sheet was written for another plan than this one ({known[0]})"
        cure = "name the plan.json that lies beside the sheet"
        yield told[mark].problem("plan", "REC-1", message, cure)


def _works(plan: Plan) -> dict[str, Work]:
    return {
        work.order_id: work for truck in plan.trucks for stop in truck.stops for work in stop.orders
    }


def _fills(plan: Plan) -> dict[tuple[str, int, str], Fill]:
    return {
        (truck.truck_id, stop.seq, fill.compartment_id): fill
        for truck in plan.trucks
        for stop in truck.stops
        for fill in stop.fills
    }


def _done_ahead(entry: Entry, day: str, seen: Workbook) -> Body:
    """The first due day of an order that is done before it: its row may get another date later."""
    order = seen.orders.get(whole_id(seen.orders, entry.step.order_id))
    if order is None or not entry.actual.done or order.due_from.isoformat() <= day:
        return {}
    return {"early_for": order.due_from.isoformat()}


def _whole(
    entry: Entry,
    fresh: Mapping[str, Body],
    bodies: Mapping[str, Body],
    replayed: Mapping[str, Replayed],
    confirmed: Mapping[str, tuple[str, ...]],
) -> Body:
    subject = entry.step.subject
    body = fresh[subject]
    if entry.step.what == SPRAY and entry.actual.done:
        fills = {
            step.subject: bodies[step.subject]
            for step in entry.truck.steps
            if step.what == FILL and step.subject in bodies
        }
        body = with_source(body, entry.step, replayed[entry.truck.truck_id], fills)
    return body | {"confirmed": list(confirmed.get(subject, ()))}


def _kind(entry: Entry) -> str:
    if entry.step.what == LEFT:
        return LEFT_OVER if entry.actual.done else SKIPPED
    if not entry.actual.done:
        return SKIPPED
    return FILLED if entry.step.what == FILL else SPRAYED


def _draft(entry: Entry, body: Body, day: str, checksum: str, why: str) -> EventDraft | None:
    kind, before = _kind(entry), entry.before
    if before is None:
        return EventDraft(kind, day, entry.step.subject, checksum, body)
    told = ("is", "corrects", "why", "superseded")
    old = {name: value for name, value in before.body.items() if name not in told}
    if old == body and kind_of(before) == kind:
        return None
    body = body | {"is": kind, "corrects": before.seq, "why": why}
    return EventDraft(CORRECTED, day, entry.step.subject, checksum, body, replaces=before.seq)


def planned_days(events: Sequence[Event]) -> dict[str, tuple[str, tuple[LoggedTruckDay, ...]]]:
    """Checksum of each recorded plan -> (day, its trucks), in the order of recording."""
    return {
        event.plan: (event.day, from_body(event.body))
        for event in current(events).values()
        if kind_of(event) == PLANNED
    }
