"""What is not right, in one line: broken rules, orders that are out, what is overdue or tight."""

from dataclasses import dataclass

from planner.by_hand.sheet import OUT_BY_HAND
from planner.compliance.people import KEPT_HOME
from planner.day.day import Day
from planner.day.life import NoRecord, brief_day, no_record_lines
from planner.office.day import DayState
from planner.pages.words import listed
from planner.pages.yard import Stall, tight
from planner.papers.left_out import left_out, said_once
from planner.papers.lookup import mix_name, place_text
from planner.papers.render import whole_text
from planner.plan.audit import Violation
from planner.plan.model import NotDone, Plan
from planner.plan.off_rate import off_rate_lines
from planner.plan.totals import by_order, orders_out

HELPS = "; what would make room: "
"""Stands between a reason and what would help, in the words of planner/routing/unserved."""


@dataclass(frozen=True)
class Broken:
    """A broken rule and its place. number: of the truck's stall, 0 = the whole day."""

    number: int
    truck_id: str
    seq: int | None
    message: str


@dataclass(frozen=True)
class OutLine:
    """An order that is out of the day. helps: what would make room, '' = not known; may_lift: the
    page can put it in."""

    order_id: str
    customer: str
    address: str
    about: str
    phone: str
    reason: str
    helps: str
    may_lift: bool


@dataclass(frozen=True)
class OutGroup:
    """Orders that are out for one kind of reason."""

    title: str
    about: str
    rows: tuple[OutLine, ...]


@dataclass(frozen=True)
class NotRight:
    """The line. names: of the orders that are out, by kind; overdue, tomorrow: overdue today, and
    what will be by tomorrow if nothing changes; tight: trucks in words; off_rate: fills away from
    their rate; crossing: two visits to one lawn at one time or too soon; no_record: sentences on
    earlier days of which nothing is recorded, each with those of them that had a plan (ISO, weekday
    and orders); barred: trucks that a rule keeps in the yard, and why; notes: that drive times are
    guessed, what happened when the day was opened."""

    broken: tuple[Broken, ...]
    out: int
    names: tuple[tuple[str, str], ...]
    overdue: int
    overdue_names: str
    tomorrow: int
    tight: tuple[str, ...]
    trucks_out: tuple[str, ...]
    off_rate: tuple[str, ...]
    crossing: tuple[str, ...]
    no_record: tuple[tuple[str, tuple[tuple[str, str], ...]], ...]
    barred: tuple[str, ...]
    notes: tuple[str, ...]


def not_right(state: DayState, yard: tuple[Stall, ...]) -> NotRight:
    """What the line says of the day."""
    day, plan = state.planned.day, state.planned.plan
    names = tuple(
        (title.lower(), listed([_name(day, row.order_id) for row in entries]))
        for title, _, entries, _ in _kinds(plan)
        if entries
    )
    return NotRight(
        broken=tuple(_broken(state)),
        out=orders_out(plan, day.orders),
        names=names,
        overdue=len(plan.overdue),
        overdue_names=listed([_name(day, row.order_id) for row in plan.overdue]),
        tomorrow=late_tomorrow(plan, day),
        tight=tight(yard),
        trucks_out=tuple(truck.truck_id for truck in state.trucks if truck.out),
        off_rate=tuple(
            f"{name} {text}" for name, texts in off_rate_lines(plan, day).items() for text in texts
        ),
        crossing=state.planned.crossing,
        no_record=tuple(
            (text, tuple(_day_without(row) for row in rows if row.of))
            for text, rows in no_record_lines(day.no_record, day.date)
        ),
        barred=tuple(
            f"{name} stays in the yard: {why}"
            for name, why in (*day.barred.items(), *((name, KEPT_HOME) for name in day.at_home))
        ),
        notes=(*_guessed(plan), *state.notes),
    )


def _day_without(row: NoRecord) -> tuple[str, str]:
    return row.day.isoformat(), f"{brief_day(row.day.isoformat())}: {len(row.orders)}"


def _guessed(plan: Plan) -> tuple[str, ...]:
    """That drive times are no road's; the sheets say more."""
    said = plan.roads_warning.partition(". ")[0].rstrip(".")
    return (said,) if said else ()


def late_tomorrow(plan: Plan, day: Day) -> int:
    """Orders that are overdue by tomorrow if nothing changes; one in parts is one."""
    late = {row.order_id for row in plan.overdue}
    rows = [
        row
        for row in (*plan.unserved, *plan.held)
        if (order := day.orders.get(row.order_id)) is not None
        and (row.order_id in late or order.whole_id in late or order.due_to <= day.date)
    ]
    return len(by_order(rows, day.orders))


Kind = tuple[str, str, tuple[NotDone, ...], bool]


def _kinds(plan: Plan) -> tuple[Kind, ...]:
    """Title, words about it, orders of the day that are out, and whether the page can put them
    in."""
    by_hand = tuple(row for row in plan.unserved if row.code == OUT_BY_HAND)
    no_room = tuple(row for row in plan.unserved if row.code != OUT_BY_HAND)
    unplanned = not any(truck.stops for truck in plan.trucks)
    rule = "the page cannot change this; a licensed person can, at the label"
    return (
        ("Not planned yet", "plan the day, or ask the trucks to put one in", by_hand, True)
        if unplanned
        else ("Not put in", "by hand; ask the trucks to put one in", by_hand, True),
        ("No room", "you can change this", no_room, True),
        ("Kept back by a rule", rule, plan.held, False),
    )


def _name(day: Day, order_id: str) -> str:
    order = day.workbook.orders.get(order_id)
    return place_text(day, order.property_id).title if order is not None else order_id


def _broken(state: DayState) -> list[Broken]:
    numbers = {truck.truck_id: row for row, truck in enumerate(state.trucks, start=1)}
    found = [_one(row, 0) for row in state.day_violations]
    for truck in state.trucks:
        found += [_one(row, numbers[truck.truck_id]) for row in truck.violations]
    return found


def _one(row: Violation, number: int) -> Broken:
    return Broken(number, row.truck_id or "", row.seq, row.message)


def out_groups(state: DayState) -> tuple[OutGroup, ...]:
    """Orders that are not done on the day, in groups that have some."""
    day, plan = state.planned.day, state.planned.plan
    groups = [_group(day, *kind) for kind in _kinds(plan)]
    for group in left_out(plan, day):
        if group.short in {"not for today", "given up", "overdue", "taken ahead"}:
            entries = tuple(NotDone(row.order_id, row.code, row.reason) for row in group.rows)
            groups.append(_group(day, group.title, "", entries, False))
    return tuple(group for group in groups if group.rows)


def _group(
    day: Day, title: str, about: str, entries: tuple[NotDone, ...], may_lift: bool
) -> OutGroup:
    rows = said_once(entries)
    return OutGroup(title, about, tuple(_line(day, entry, may_lift) for entry in rows))


def _line(day: Day, entry: NotDone, may_lift: bool) -> OutLine:
    order = day.workbook.orders.get(entry.order_id)
    reason, _, helps = entry.reason.partition(HELPS)
    if order is None:
        return OutLine(entry.order_id, entry.order_id, "", "", "", reason, helps, False)
    home = day.workbook.properties.get(order.property_id)
    place = place_text(day, order.property_id)
    about = (
        f"order {entry.order_id} · {mix_name(day, order.mix_id)}, "
        f"{whole_text(order.area_ft2)} ft² · priority {order.priority}"
    )
    phone = home.phone if home is not None else ""
    if order.note:
        about += f" · note: “{order.note}”"
    return OutLine(
        *(entry.order_id, place.title, place.address, about, phone, reason, helps),
        may_lift=may_lift and entry.order_id in day.orders,
    )
