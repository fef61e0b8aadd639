"""The calendar checked against the tables alone, apart from what made it: each open order has one
day or a reason, its day is open to it when the days are gone through one after another, and its
truck may do it. Its other figures: planner.weeks.audit_rows."""

from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import date
from itertools import pairwise
from types import MappingProxyType

from planner.day.day import Day, Workbook
from planner.day.orders import Order, PastApplication, Status
from planner.plan.audit.edges import day_without_edges
from planner.plan.audit.rules_day import DueToday
from planner.plan.audit.rules_holds import Holds
from planner.plan.audit.rules_people import kept_in_yard
from planner.plan.audit.strength import Strength, StrengthError, strength
from planner.plan.audit.weather import openings
from planner.roads.travel import Travel
from planner.units import Amount
from planner.weeks.audit_rows import row_faults
from planner.weeks.model import WAITING_CODES, Calendar, TruckShare

LATE, A_DAY_LATE = 0.8, 0.2
"""Rule 31: shares of an order's worth that being past its span counts for, and each day of it."""
SLACK = 1e-4
"""Figures are kept to six decimals."""


def calendar_faults(
    calendar: Calendar, day: Day, travel_by_truck: Mapping[str, Travel] = MappingProxyType({})
) -> list[str]:
    """What is wrong with a calendar, in words; nothing when every rule is kept. day: as it was made
    from (planner.weeks.lay.open_horizon); travel_by_truck: ways of its trucks, {} = miles are not
    looked at."""
    return [
        *_each_once(calendar, day.workbook, date.fromisoformat(calendar.days[0])),
        *_truck_days(calendar, day),
        *(fault for share in calendar.shares for fault in _share(share, day.workbook)),
        *_first_mornings(calendar, day.workbook),
        *_days_in_turn(calendar, day),
        *_sums(calendar),
        *row_faults(calendar, day),
        *_miles(calendar, day.workbook, travel_by_truck),
    ]


def _each_once(calendar: Calendar, book: Workbook, first: date) -> Iterator[str]:
    told = [row.order_id for share in calendar.shares for row in share.orders]
    told += [row.order_id for row in calendar.waiting]
    for name in sorted({name for name in told if told.count(name) > 1}):
        yield f"order {name} is told twice"
    given_up = {
        name
        for name, order in book.orders.items()
        if order.last_day is not None and order.last_day < first
    }
    open_ones = {
        name for name, order in book.orders.items() if order.status is not Status.CANCELLED
    }
    for name in sorted((open_ones - given_up) - set(told)):
        yield f"order {name} has neither a day nor a reason"
    for name in sorted(set(told) - open_ones | set(told) & given_up):
        yield f"order {name} is not open"
    for row in calendar.waiting:
        if row.code not in WAITING_CODES or not row.reason:
            yield f"order {row.order_id} waits without a reason"


def _truck_days(calendar: Calendar, day: Day) -> Iterator[str]:
    book = day.workbook
    seen: set[tuple[str, str]] = set()
    for share in calendar.shares:
        name = f"{share.truck_id} on {share.date}"
        if (share.truck_id, share.date) in seen:
            yield f"{name} is told twice"
        seen.add((share.truck_id, share.date))
        if share.truck_id not in book.trucks:
            yield f"{name} is not in service"
        if f"{share.truck_id}@{share.date}" in calendar.out:
            yield f"{name} goes out though it stays home"
        if share.date in calendar.wet:
            yield f"{name} goes out on a day taken as lost"
        if share.date not in calendar.days:
            yield f"{name} is no day of the calendar"
        when = date.fromisoformat(share.date)
        truck = book.trucks.get(share.truck_id)
        if truck is not None and (stays := kept_in_yard(replace(day, date=when), truck)):
            yield f"{name} must stay in the yard: {'; '.join(stays)}"
        off = [span for span in book.settings.holidays if span.first <= when <= span.last]
        if when.isoweekday() - 1 not in book.settings.working_days or off:
            yield f"{name} is no working day"


def _share(share: TruckShare, book: Workbook) -> Iterator[str]:
    truck = book.trucks.get(share.truck_id)
    name, gal = f"{share.truck_id} on {share.date}", dict[str, float]()
    for row in share.orders:
        order = book.orders.get(row.order_id)
        if order is None:
            continue
        if order.only_trucks is not None and share.truck_id not in order.only_trucks:
            yield f"{name}: order {row.order_id} is for other trucks"
        if share.truck_id in order.never_trucks:
            yield f"{name}: order {row.order_id} must not come with it"
        if order.mix_id not in share.loading:
            yield f"{name}: the mix of order {row.order_id} is not on board"
        wanted = order.area_ft2 / 1000 * book.mixes[order.mix_id].carrier_gal_per_1000_ft2
        if abs(wanted - row.gal) > SLACK:
            yield f"{name}: order {row.order_id} takes {wanted:.2f} gal, not {row.gal:.2f}"
        gal[order.mix_id] = gal.get(order.mix_id, 0.0) + wanted
        late = max(0, (date.fromisoformat(share.date) - order.due_to).days)
        if late != row.overdue_days:
            yield f"{name}: order {row.order_id} is {late} days late, not {row.overdue_days}"
        worth = (order.revenue or 0.0) + book.settings.unserved_price(order.priority) * order.share
        if late and row.late_cost < (LATE + A_DAY_LATE * late) * worth - SLACK:
            yield f"{name}: lateness of order {row.order_id} counts for {row.late_cost:.2f} only"
    for mix_id in gal.keys() | share.gal_by_mix.keys():
        if abs(gal.get(mix_id, 0.0) - share.gal_by_mix.get(mix_id, 0.0)) > SLACK:
            yield f"{name}: the gallons of {mix_id} do not add up"
    if truck is not None:
        most = truck.shift_end_min - truck.shift_start_min + truck.overtime_most_min
        if share.paid_min > most + SLACK or share.overtime_min > truck.overtime_most_min + SLACK:
            yield f"{name}: it is longer than the shift and its overtime"


def _first_mornings(calendar: Calendar, book: Workbook) -> Iterator[str]:
    """A tank that holds more than its heel takes no other mix until that was sprayed, or more was
    filled in (rule 4). What a fill leaves is a margin, which a last fill leaves out."""
    holding = {
        (name, row): part.leftover_gal
        for name, truck in book.trucks.items()
        for row, part in enumerate(truck.compartments)
        if part.leftover_gal > part.heel_gal
    }
    for share in sorted(calendar.shares, key=lambda one: one.date):
        truck = book.trucks.get(share.truck_id)
        parts = enumerate(() if truck is None else truck.compartments)
        drawn: dict[str, list[int]] = {}
        for row, part in sorted(parts, key=lambda one: one[1].position):
            mix_id = share.loading[row] if row < len(share.loading) else None
            if mix_id is None or (share.truck_id, row) not in holding:
                continue
            if mix_id == part.last_mix:
                drawn.setdefault(mix_id, []).append(row)
                continue
            yield (
                f"{share.truck_id} on {share.date}: {part.compartment_id} holds "
                f"{holding[share.truck_id, row]:g} gal of {part.last_mix} and cannot take {mix_id}"
            )
        for mix_id, rows in drawn.items():
            assert truck is not None
            line = truck.line(truck.compartments[rows[0]].line_id)
            # At most: each of its orders may fill the hose anew.
            need = share.gal_by_mix.get(mix_id, 0.0) + line.hose_gal * sum(
                one.mix_id == mix_id for one in share.orders
            )
            heels = {row: truck.compartments[row].heel_gal for row in rows}
            there = sum(holding[share.truck_id, row] - heels[row] for row in rows)
            for row in rows:
                left = holding.pop((share.truck_id, row))
                taken = min(left - heels[row], need)
                if need <= there and left - taken > heels[row]:
                    holding[share.truck_id, row] = left - taken
                there, need = there - taken, need - taken


def _days_in_turn(calendar: Calendar, day: Day) -> Iterator[str]:
    """Every order is due on its day and no rule holds it, with the days before it done."""
    book = day.workbook
    left, past = dict(book.orders), list(book.history)
    made: dict[str, Strength] = {}
    for mix_id, mix in book.mixes.items():
        try:
            made[mix_id] = strength(book, mix)
        except StrengthError:
            continue
    for text in calendar.days:
        names = [
            row.order_id for share in calendar.shares if share.date == text for row in share.orders
        ]
        share = {name: left[name] for name in names if name in left}
        if not share:
            continue
        when = date.fromisoformat(text)
        today = Day(when, replace(book, orders=dict(left), history=tuple(past)), share)
        today = day_without_edges(today)
        due = DueToday(today)
        for name in share:
            if name not in due.due:
                yield f"order {name} is not due on {text} ({due.aside.get(name, 'its span')})"
        rules = Holds(today, made, openings(today))
        for order in today.orders.values():
            if why := rules.why(order):
                yield f"order {order.order_id} must be held on {text}: {'; '.join(why.values())}"
        for name, order in share.items():
            past += _records(book, order, when, made)
            del left[name]


def _miles(
    calendar: Calendar, book: Workbook, travel_by_truck: Mapping[str, Travel]
) -> Iterator[str]:
    """Without a refill a truck drives from the yard by its lawns home, and that many miles; with
    some it drives at least the shortest way into each of its places."""
    for share in calendar.shares:
        travel, truck = travel_by_truck.get(share.truck_id), book.trucks.get(share.truck_id)
        lawns = [row.property_id for row in share.orders]
        places = {} if travel is None else travel.index()
        if travel is None or truck is None or not lawns or not {*lawns} <= places.keys():
            continue
        at = [places[name] for name in (truck.yard_id, *lawns, truck.yard_id)]
        name = f"{share.truck_id} on {share.date}"
        if not share.refills:
            way = sum(float(travel.miles[one, other]) for one, other in pairwise(at))
            if abs(way - share.miles) > SLACK:
                yield f"{name}: its way is {way:.2f} miles, not {share.miles:.2f}"
            continue
        every = {*at, *(places[site] for site in book.sites if site in places)}
        least = sum(
            min(float(travel.miles[one, other]) for one in every if one != other)
            for other in {*at}
            if len(every) > 1
        )
        if share.miles < least - SLACK:
            yield f"{name}: its way is {least:.2f} miles at least, not {share.miles:.2f}"


def _records(
    book: Workbook, order: Order, when: date, made: dict[str, Strength]
) -> Iterator[PastApplication]:
    mix = made.get(order.mix_id)
    if mix is None:
        return
    gal = order.area_ft2 / 1000 * book.mixes[order.mix_id].carrier_gal_per_1000_ft2
    for product_id, per_gal in mix.product.items():
        unit = mix.units[product_id]
        base = per_gal * gal
        amount = Amount(base, unit, "volume" if unit == "gal" else "mass", base)
        yield PastApplication(order.property_id, product_id, when, order.area_ft2, amount)


def _sums(calendar: Calendar) -> Iterator[str]:
    for name in ("cost", "miles"):
        total = sum(getattr(share, name) for share in calendar.shares)
        if abs(total - getattr(calendar, name)) > SLACK * max(1, len(calendar.shares)):
            yield f"the {name} of the shares is {total:.2f}, not {getattr(calendar, name):.2f}"
