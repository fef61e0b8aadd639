"""A calendar against day by day: the same orders of a flow of work, worked off by both.

Usage: python -m tests.bench.bench_weeks [--seeds 1,2,3] [--trucks T1,T2,T3] [--days 10]
       [--burst] [--rain 30] [--tell]

The orders of the demo season's first round (invented) fall due over three weeks by chance, each
within 3 to 10 days. Day by day: every due order is wanted every morning. With the calendar: the
day's share is planned, and what is not served flows back into the next calendar. Every day is
planned by `solve_day` with the same effort and audited. --burst: the round is due within one week,
each area on its own day, and all five trucks work. --rain: so many percent of the days are lost;
`unavoidable` counts the orders whose every day in time is. In `hindsight` one calendar of all days
is made with the rain of all of them known: who is late there is late with the best that this engine
knows; `online` is how many more are late with the calendar of every afternoon. --tell: every
afternoon the customers of the next two working days are told (settings told_price from then on);
`moved` of them were not done that day though it was dry.
"""

from __future__ import annotations

import argparse
import random
import statistics
import time
from dataclasses import dataclass, replace
from datetime import date, timedelta
from pathlib import Path

from planner.chain import checked_workbook, open_day_roads, solve_day
from planner.day.day import Day, Workbook
from planner.day.day import day_of as due_on
from planner.day.life import can_be_done
from planner.day.orders import Order
from planner.day_roads import DayRoads
from planner.plan.model import Plan
from planner.routing.problem import Effort, SolveOptions
from planner.weeks.lay import Horizon, make_calendar
from planner.weeks.linked import as_history
from planner.weeks.model import Calendar
from planner.weeks.open_days import working_days

SEASON = Path(__file__).resolve().parents[2] / "demo_data" / "season"
FIRST = date(2027, 3, 22)
LONGEST = 40
HINDSIGHT_DAYS = 30
"""Working days of the calendar that knows the rain: the orders fall due within 19."""


@dataclass
class Worked:
    """What working off the orders came to. late: orders done after their span; unavoidable: that
    had no dry day in it, whoever plans; lost: never done; told, moved: see --tell."""

    cost: float = 0.0
    miles: float = 0.0
    orders: int = 0
    late: int = 0
    unavoidable: int = 0
    lost: int = 0
    truck_days: int = 0
    overtime_min: float = 0.0
    told: int = 0
    moved: int = 0


def flow(book: Workbook, seed: int, weeks: int = 3) -> dict[str, Order]:
    """The first round's orders, due over so many weeks by chance; 0 weeks: from its own days on."""
    found = {}
    for order in book.orders.values():
        if not FIRST <= order.due_from <= FIRST + timedelta(days=4):
            continue
        chance = random.Random(f"{seed} {order.property_id}")
        first = order.due_from
        if weeks:
            first = FIRST + timedelta(days=7 * chance.randrange(weeks) + chance.randrange(5))
        last = first + timedelta(days=chance.randint(3, 10))
        found[order.order_id] = replace(order, due_from=first, due_to=last)
    return found


def work_off(
    book: Workbook,
    roads: DayRoads,
    orders: dict[str, Order],
    *,
    calendar_days: int,
    effort: int,
    calendar_effort: int,
    wet: frozenset[date] = frozenset(),
    rain_percent: float = 0.0,
    tell: bool = False,
) -> Worked:
    """Day after day until nothing is left. calendar_days: 0 = day by day."""
    done, history, left = Worked(), list(book.history), dict(orders)
    done.unavoidable = sum(_is_rained_out(book, one, wet) for one in orders.values())
    before: Calendar | None = None
    told: dict[str, str] = {}
    for when in working_days(book.settings, FIRST, LONGEST)[0]:
        if not left:
            break
        now = replace(book, orders=dict(left), history=tuple(history))
        day = due_on(now, when)
        if calendar_days:
            days, closed = working_days(book.settings, when, calendar_days)
            before = make_calendar(
                Horizon(Day(when, now, {}), days, closed, roads),
                SolveOptions(Effort(count=calendar_effort * (3 if before is None else 1))),
                before=before,
                wet=[when] if when in wet else (),
                rain_percent=rain_percent,
                told=told,
            )
            if tell:
                near = [
                    (row.order_id, str(d))
                    for d in days[:2]
                    for one in before.on(d)
                    for row in one.orders
                ]
                told = dict(near) | told
            share = {row.order_id for one in before.on(when) for row in one.orders}
            day = replace(
                day, orders={name: one for name, one in day.orders.items() if name in share}
            )
        expected = {name for name, said in told.items() if said == str(when)}
        told = {name: said for name, said in told.items() if said > str(when)}
        if when in wet or not day.orders:
            continue
        done.told += len(expected)
        done.moved += len(expected)
        day = replace(day, workbook=replace(now, orders=dict(day.orders)))
        plan, violations, _ = solve_day(
            day, roads.travel_by_truck, roads.source, SolveOptions(Effort(count=effort))
        )
        assert not violations, violations[:3]
        _count(done, plan, when, left, history, book)
        done.moved -= len(expected - left.keys())
    done.lost = len(left)
    return done


def hindsight(
    book: Workbook, roads: DayRoads, orders: dict[str, Order], wet: frozenset[date], effort: int
) -> tuple[int, int]:
    """Orders late and orders without a day in one calendar that knows every lost day before."""
    days, closed = working_days(book.settings, FIRST, HINDSIGHT_DAYS)
    now = replace(book, orders=dict(orders))
    made = make_calendar(
        Horizon(Day(FIRST, now, {}), days, closed, roads),
        SolveOptions(Effort(count=effort)),
        wet=[day for day in days if day in wet],
        rain_percent=0.0,
        put_off=False,
    )
    late = sum(row.overdue_days > 0 for share in made.shares for row in share.orders)
    return late, len(made.waiting)


def _is_rained_out(book: Workbook, order: Order, wet: frozenset[date]) -> bool:
    """Whether no day of its span on which it can be done is dry."""
    home = book.properties[order.property_id]
    span = (
        order.due_from + timedelta(days=k) for k in range((order.due_to - order.due_from).days + 1)
    )
    return not any(can_be_done(order, home, book.settings, day) for day in span if day not in wet)


def _count(
    done: Worked,
    plan: Plan,
    when: date,
    left: dict[str, Order],
    history: list,  # type: ignore[type-arg]
    book: Workbook,
) -> None:
    totals = plan.totals.totals
    done.cost += totals.cost
    done.miles += totals.drive_miles
    done.overtime_min += totals.overtime_min
    done.truck_days += sum(1 for truck in plan.trucks if truck.stops)
    for truck in plan.trucks:
        for stop in truck.stops:
            for row in stop.orders:
                order = left.pop(row.order_id)
                done.orders += 1
                done.late += when > order.due_to
                history += as_history(book, order, when)


def main() -> None:
    """Both ways for each seed, and the medians."""
    ask = argparse.ArgumentParser()
    ask.add_argument("--seeds", default="1,2,3,4,5")
    ask.add_argument("--trucks", help="[default: T1,T2,T3; with --burst all]")
    ask.add_argument("--burst", action="store_true", help="all due within one week")
    ask.add_argument("--days", type=int, default=9)
    ask.add_argument("--effort", type=int, default=40)
    ask.add_argument("--calendar-effort", type=int, default=80)
    ask.add_argument("--rain", type=float, default=0.0)
    ask.add_argument("--tell", action="store_true")
    ask.add_argument("--reckon", type=float, default=None, help="rain that is reckoned with")
    given = ask.parse_args()
    book = checked_workbook(SEASON)
    trucks = (given.trucks or ("T1,T2,T3,T4,T5" if given.burst else "T1,T2,T3")).split(",")
    book = replace(book, trucks={name: book.trucks[name] for name in trucks})
    if given.rain:
        # The demo's forecast calls every day of some weeks dry: it knows nothing of this rain.
        book = replace(book, weather=())
    every = Day(FIRST, book, book.orders)
    roads = open_day_roads(SEASON, every, None)
    gains, excess = [], []
    for seed in (int(one) for one in given.seeds.split(",")):
        orders = flow(book, seed, 0 if given.burst else 3)
        chance = random.Random(f"rain {seed}")
        wet = frozenset(
            day
            for day in working_days(book.settings, FIRST, LONGEST)[0]
            if chance.random() < given.rain / 100.0
        )
        both = []
        for days in (0, given.days):
            begun = time.process_time()
            worked = work_off(
                book,
                roads,
                orders,
                calendar_days=days,
                effort=given.effort,
                calendar_effort=given.calendar_effort,
                wet=wet,
                rain_percent=given.rain if given.reckon is None else given.reckon,
                tell=given.tell,
            )
            both.append(worked)
            name = f"calendar of {days} days" if days else "day by day"
            print(seed, name, worked, f"{time.process_time() - begun:.0f} CPU s", flush=True)
        day_by_day, with_calendar = both
        if wet:
            late, open_still = hindsight(book, roads, orders, wet, 3 * given.calendar_effort)
            more = with_calendar.late + with_calendar.lost - late - open_still
            excess.append(more)
            print(
                f"{seed} hindsight: {late} late, {open_still} never; online {more:+d}", flush=True
            )
        gains.append(
            (
                100 * (with_calendar.cost / day_by_day.cost - 1),
                100 * (with_calendar.miles / day_by_day.miles - 1),
            )
        )
        print(seed, "cost {:+.1f} %, miles {:+.1f} %".format(*gains[-1]), flush=True)
    cost, miles = (statistics.median(one) for one in zip(*gains, strict=True))
    print(f"median: cost {cost:+.1f} %, miles {miles:+.1f} %")
    if excess:
        print(
            f"late beyond hindsight: median {statistics.median(excess):+g}, most {max(excess):+d}"
        )


if __name__ == "__main__":
    main()
