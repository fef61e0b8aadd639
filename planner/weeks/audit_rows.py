"""What the rows of a calendar say beside their day and truck, checked against the tables alone:
what was copied from them, what was told, and figures that no truck-day can be below."""

from collections.abc import Iterator
from datetime import date, timedelta
from math import ceil

from planner.day.day import Day, Workbook
from planner.day.fleet import Truck
from planner.day.orders import Order
from planner.plan.audit.rules_day import DueToday
from planner.weeks.model import Calendar, LaidOrder, TruckShare, WaitingOrder

SLACK = 1e-4
"""Figures are kept to six decimals."""


def row_faults(calendar: Calendar, day: Day) -> Iterator[str]:
    """What is wrong with them, in words. day: as of planner.weeks.audit."""
    book = day.workbook
    yield from _days(calendar, book)
    if set(calendar.trucks) != set(book.trucks):
        yield f"the trucks in service are {', '.join(book.trucks)}"
    rows: list[LaidOrder | WaitingOrder] = list(calendar.waiting)
    rows += [row for share in calendar.shares for row in share.orders]
    late = sum(row.late_cost for row in rows)
    if abs(late - calendar.late_cost) > SLACK * max(1, len(rows)):
        yield f"lateness counts for {late:.2f} in all, not {calendar.late_cost:.2f}"
    for row in rows:
        if (order := book.orders.get(row.order_id)) is not None:
            yield from _copied(row, order)
    for share in calendar.shares:
        yield from _share(share, book)
        for one in share.orders:
            yield from _told(one, share.date, calendar)
            if (order := book.orders.get(one.order_id)) is not None:
                yield from _later(one, order, share.date, calendar, book)
    due = DueToday(day)
    for waiting in calendar.waiting:
        if (order := book.orders.get(waiting.order_id)) is not None:
            yield from _waits(waiting, order, date.fromisoformat(calendar.days[-1]))
            yield from _last_day(waiting, order, date.fromisoformat(calendar.days[0]), due, book)


def _days(calendar: Calendar, book: Workbook) -> Iterator[str]:
    """Every working day from the first to the last is one of its days, and none is twice."""
    first, last = (date.fromisoformat(calendar.days[at]) for at in (0, -1))
    days = [first + timedelta(days=step) for step in range((last - first).days + 1)]
    working = [str(day) for day in days if _works(book, day)]
    if list(calendar.days) != working:
        wrong = sorted(set(working) ^ set(calendar.days)) or ["their order"]
        yield f"its days are not the working days from {first} to {last}: {', '.join(wrong)}"
    crews = {*book.settings.working_days}
    off = {str(one) for one in days if one.isoweekday() - 1 in crews and not _works(book, one)}
    if off - calendar.closed.keys():
        yield f"closed and not told so: {', '.join(sorted(off - calendar.closed.keys()))}"
    if wrong := sorted(calendar.closed.keys() - off - {*calendar.days}):
        yield f"told as closed, and they are no days on which crews work: {', '.join(wrong)}"
    if calendar.rain_by_day:
        chances = calendar.rain_by_day.values()
        if list(calendar.rain_by_day) != list(calendar.days):
            yield "the chances of rain are of other days"
        if not all(0 <= percent <= 100 for percent in chances):
            yield "a chance of rain is none"
    for share in calendar.shares:
        if share.date in calendar.closed:
            yield f"{share.truck_id} on {share.date} goes out on a closed day"


def _works(book: Workbook, day: date) -> bool:
    off = any(span.first <= day <= span.last for span in book.settings.holidays)
    return day.isoweekday() - 1 in book.settings.working_days and not off


def _copied(row: LaidOrder | WaitingOrder, order: Order) -> Iterator[str]:
    said = {"property": (row.property_id, order.property_id), "mix": (row.mix_id, order.mix_id)}
    said["last due day"] = row.due_to, str(order.due_to)
    if isinstance(row, LaidOrder):
        said["first due day"] = row.due_from, str(order.due_from)
    for what, (found, right) in said.items():
        if found != right:
            yield f"order {row.order_id}: its {what} is {right}, not {found}"
    if row.late_cost < -SLACK:
        yield f"order {row.order_id}: being late brings nothing"


def _told(row: LaidOrder, when: str, calendar: Calendar) -> Iterator[str]:
    day = calendar.told.get(row.order_id, "")
    if row.told != (day == when) or row.told_other != ("" if day == when else day):
        yield f"order {row.order_id}: its customer was told {day or 'no day'}"


def _later(
    row: LaidOrder, order: Order, when: str, calendar: Calendar, book: Workbook
) -> Iterator[str]:
    day = date.fromisoformat(when)
    span = range(1, max(0, (order.due_to - day).days) + 1)
    most = sum(_works(book, day + timedelta(days=step)) for step in span)
    if not 0 <= row.spare_days <= most:
        yield f"order {row.order_id}: it has at most {most} days to spare, not {row.spare_days}"
    if row.next_day and (row.next_day <= when or row.next_day not in calendar.days):
        yield f"order {row.order_id}: {row.next_day} is no later day of the calendar"
    if row.next_day_full and (not row.next_day or row.next_day_cost is not None):
        yield f"order {row.order_id}: a next day without room has no cost"


def _waits(row: WaitingOrder, order: Order, last: date) -> Iterator[str]:
    if row.code == "NOT-YET" and order.due_from <= last:
        yield f"order {row.order_id} is due from {order.due_from}: it waits for no first day"
    if row.code == "LATER" and order.due_to <= last:
        yield f"order {row.order_id} is due by {order.due_to}: it cannot be done in time later"


def _last_day(
    row: WaitingOrder, order: Order, first: date, due: DueToday, book: Workbook
) -> Iterator[str]:
    """The last day of its span from the calendar's first on that nothing known keeps it out of."""
    ends = order.due_to.toordinal()
    if order.last_day is not None:
        ends = min(ends, order.last_day.toordinal())
    span = [date.fromordinal(number) for number in range(first.toordinal(), ends + 1)]
    able = [one for one in span if _works(book, one) and not {*due.why(order, one)} - {"REPEAT"}]
    right = str(able[-1]) if able else ""
    if row.last_day != right:
        yield (
            f"order {row.order_id}: its last day in time is {right or 'over'}, not "
            f"{row.last_day or 'over'}"
        )


def _share(share: TruckShare, book: Workbook) -> Iterator[str]:
    truck, name = book.trucks.get(share.truck_id), f"{share.truck_id} on {share.date}"
    if truck is None:
        return
    parts = truck.compartments
    if len(share.loading) != len(parts):
        yield f"{name}: it has {len(parts)} compartments, not {len(share.loading)}"
        return
    lines = {line.line_id: line for line in truck.lines}
    for mix_id in {*share.loading} - {None, *book.mixes}:
        yield f"{name}: there is no mix {mix_id}"
    # Of what leaves the guns at once, and one set-up for each lawn.
    fastest = max(line.gun_gal_per_min for line in truck.lines)
    work = sum(share.gal_by_mix.values()) / fastest
    work += book.settings.setup_min_per_visit * len({row.property_id for row in share.orders})
    if share.paid_min < work - SLACK:
        yield f"{name}: spraying and setting up take {work:.0f} min, more than {share.paid_min:.0f}"
    shift = truck.shift_end_min - truck.shift_start_min - truck.lunch_min
    if abs(share.shift_min - shift) > SLACK:
        yield f"{name}: its shift has {shift:.0f} min, not {share.shift_min:.0f}"
    if share.paid_min > shift + truck.lunch_min + share.overtime_min + SLACK:
        yield f"{name}: its overtime is more than {share.overtime_min:.0f} min"
    fixed = truck.cost_per_day + share.miles * truck.cost_per_mile
    per_min = truck.pay_per_hour * truck.crew / 60
    fixed += share.overtime_min * per_min * (book.settings.overtime_factor - 1)
    least, most = (
        fixed + per_min * max(minutes, truck.paid_hours_least * 60)
        for minutes in (share.paid_min, share.paid_min + _beside_most_min(truck, book))
    )
    if share.miles < 0 or not least - 0.01 <= share.cost <= most + 0.01:
        span = f"{least:.2f}" if most - least < 0.01 else f"{least:.2f} to {most:.2f}"
        yield f"{name}: pay, miles and the truck cost {span}, not {share.cost:.2f}"
    fills = 1
    for mix_id, gal in share.gal_by_mix.items():
        carry = [part for part, one in zip(parts, share.loading, strict=True) if one == mix_id]
        usable = sum(part.capacity_gal - part.heel_gal for part in carry)
        if usable > 0:
            fills = max(fills, ceil(gal / usable - SLACK))
    if share.refills < fills - 1:
        yield f"{name}: its gallons take {fills - 1} refills, not {share.refills}"
    for row in share.orders:
        home = book.properties.get(row.property_id)
        hoses = [
            lines[part.line_id].hose_ft
            for part, mix_id in zip(parts, share.loading, strict=True)
            if mix_id == row.mix_id
        ]
        if home is not None and hoses and max(hoses) < home.hose_run_ft:
            yield f"{name}: no hose with {row.mix_id} reaches the lawn of order {row.order_id}"
    yield from _evening(share, book)


def _beside_most_min(truck: Truck, book: Workbook) -> float:
    """Minutes that can be paid beside the clock: each compartment rinsed, all filled in the
    evening (rules 5 and 38)."""
    if truck.yard_loading == "morning":
        return 0.0
    rules, yard = book.settings, book.sites[truck.yard_id]
    minutes = rules.rinse_count * rules.rinse_min_each * len(truck.compartments)
    if truck.yard_loading == "evening":
        gal = sum(part.capacity_gal for part in truck.compartments)
        minutes += yard.setup_min + gal / yard.fill_gal_per_min
    return minutes


def _evening(share: TruckShare, book: Workbook) -> Iterator[str]:
    truck, name = book.trucks[share.truck_id], f"{share.truck_id} on {share.date}"
    if not share.evening_mix and not share.evening_gal and not share.evening_hose:
        return
    parts = truck.compartments
    if {len(share.evening_mix), len(share.evening_gal)} != {len(parts)} or len(
        share.evening_hose
    ) != len(truck.lines):
        yield f"{name}: its evening is that of another truck"
        return
    for part, mix_id, gal in zip(parts, share.evening_mix, share.evening_gal, strict=True):
        if not 0 <= gal <= part.capacity_gal + 0.01:
            yield f"{name}: {part.compartment_id} cannot hold {gal:.2f} gal in the evening"
        loaded = share.loading[parts.index(part)]
        if loaded is not None and mix_id != loaded:
            yield f"{name}: {part.compartment_id} carries {loaded}, not {mix_id}, in the evening"
    for hose in share.evening_hose:
        if hose is not None and hose not in book.mixes:
            yield f"{name}: there is no mix {hose} for a hose to hold"
