"""A season worked off with programs, calendars and rain: what became of every round.

Usage: python -m tests.bench.bench_season [--weeks 20] [--rain 30] [--seed 1] [--customers 120]

Customers of the demo season have programs (invented). Every working day: the orders of the rounds
that come up are made, a calendar of ten days is laid from the one before, and the day's share is
planned; then it may rain, and the day's work is lost. What was done is history, so that the next
round comes up. Calendars and plans are audited. At the end every round is done, given up with a
reason, or open and named; anything else is told and the exit code is 1. By count, so repeatable.
"""

from __future__ import annotations

import argparse
import random
import sys
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import date, timedelta

from planner.chain import checked_workbook, open_day_roads, solve_day
from planner.compliance.people import with_licenses
from planner.day.day import Day, Workbook
from planner.day.day import day_of as due_on
from planner.day.orders import (
    HeatMethod,
    MonthDay,
    Order,
    PastApplication,
    ProgramRound,
    PropertyProgram,
    Status,
)
from planner.day_roads import DayRoads
from planner.plan.model import Plan
from planner.rounds.orders import DAYS_AHEAD, RoundOrders, round_orders
from planner.rounds.standing import OPEN, RoundStanding, RoundState, round_standings
from planner.routing.problem import Effort, SolveOptions
from planner.weeks.audit import calendar_faults
from planner.weeks.lay import Horizon, make_calendar
from planner.weeks.linked import as_history
from planner.weeks.model import Calendar
from planner.weeks.open_days import working_days
from planner.weeks.share import day_share
from tests.bench.bench_weeks import FIRST, SEASON

CALENDAR_DAYS = 10
GIVEN_UP = (RoundState.LOST, RoundState.SKIPPED, RoundState.CANCELLED)


RoundCells = tuple[str, MonthDay, MonthDay, int | None, int | None, float]
"""Mix, first day, last day, days least, days most, price per 1,000 sq ft."""


def program(name: str, *rounds: RoundCells) -> list[ProgramRound]:
    """The rounds of a program, in turn."""
    return [
        ProgramRound(
            name, number, "", mix, first, last, None, None, 50.0, (1, 1), HeatMethod.SIMPLE,
            least, most, 20.0, price, 2,
        )
        for number, (mix, first, last, least, most, price) in enumerate(rounds, start=1)
    ]  # fmt: skip


PROGRAMS = (
    program(
        "full",
        ("PRE", (3, 15), (4, 24), None, None, 5.0),
        ("BROAD", (4, 19), (5, 29), 21, 45, 4.0),
        ("GREEN", (5, 17), (6, 26), 21, 45, 5.0),
        ("INSECT", (6, 14), (7, 31), 21, 50, 5.0),
        ("GREEN", (8, 2), (9, 25), 21, None, 5.0),
    ),
    program(
        "feed",
        ("GREEN", (3, 22), (5, 1), None, None, 5.0),
        ("PRE", (4, 12), (5, 15), 14, None, 5.0),
        ("BROAD", (5, 10), (6, 26), 21, 50, 4.0),
        ("GREEN", (6, 14), (8, 7), 28, 60, 5.0),
        ("BROAD", (9, 1), (10, 15), 28, None, 4.0),
    ),
    program(
        "light",
        ("PRE", (3, 15), (4, 24), None, None, 5.0),
        ("INSECT", (6, 1), (7, 3), 30, None, 5.0),
    ),
)
"""Invented. The rounds of 'full' and 'feed' that open in August and September stay open."""


@dataclass
class Season:
    """The company on a day. left, made: orders still to be done, and every one there was; done:
    order -> its day."""

    book: Workbook
    made: dict[str, Order] = field(default_factory=dict)
    done: dict[str, date] = field(default_factory=dict)
    history: list[PastApplication] = field(default_factory=list)
    faults: list[str] = field(default_factory=list)
    cost: float = 0.0
    miles: float = 0.0
    truck_days: int = 0
    late: int = 0
    lost_days: int = 0
    most_waiting: int = 0

    @property
    def written(self) -> Workbook:
        """The tables with every order, as the office has them."""
        return replace(self.book, orders=dict(self.made))

    @property
    def laid(self) -> Workbook:
        """The tables with what was done laid over them."""
        left = {name: one for name, one in self.made.items() if name not in self.done}
        return replace(self.book, orders=left, history=(*self.book.history, *self.history))

    def standings(self, when: date) -> tuple[RoundStanding, ...]:
        return round_standings(self.written, self.laid, self.done.keys(), when)

    def make_orders(self, when: date) -> RoundOrders:
        """The orders of the rounds that come up, written into the table."""
        book = self.written
        found = round_orders(book, self.standings(when), when)
        for row in found.rows(book):
            home = book.properties[row["property"]]
            last = row.get("last_day")
            self.made[row["order"]] = Order(
                row["order"], row["property"], row["mix"],
                date.fromisoformat(row["due_from"]), date.fromisoformat(row["due_to"]),
                float(row.get("area_ft2", home.lawn_ft2)), None, int(row["priority"]),
                None, frozenset(), "",
                last_day=date.fromisoformat(last) if last else None,
                revenue=float(row["revenue"]) if "revenue" in row else None,
            )  # fmt: skip
        return found


def company(seed: int, customers: int) -> tuple[Workbook, DayRoads]:
    """The demo season's customers on programs: some begin late, end early or skip a round."""
    book = checked_workbook(SEASON)
    homes = sorted({order.property_id for order in book.orders.values()})
    homes = sorted(random.Random(f"customers {seed}").sample(homes, min(customers, len(homes))))
    # Without the demo's forecast: it calls days dry that the invented rain takes.
    orders = {name: one for name, one in book.orders.items() if one.property_id in homes}
    book = replace(book, orders=orders, weather=())
    roads = open_day_roads(SEASON, Day(FIRST, book, book.orders), None)
    having = []
    for property_id in homes:
        chance = random.Random(f"season {seed} {property_id}")
        rounds = chance.choices(PROGRAMS, (60, 30, 10))[0]
        first = FIRST + timedelta(days=chance.randrange(100)) if chance.random() < 0.04 else None
        last = FIRST + timedelta(days=chance.randrange(140)) if chance.random() < 0.04 else None
        skips = {chance.randint(1, len(rounds))} if chance.random() < 0.05 else set[int]()
        why = "the customer's wish" if last or skips else ""
        having.append(
            PropertyProgram(
                property_id, rounds[0].program_id, None, first, last, frozenset(skips), why
            )
        )
    trucks = {name: book.trucks[name] for name in ("T1", "T2")}
    programs = {one.key: one for rounds in PROGRAMS for one in rounds}
    book = replace(
        book, trucks=trucks, orders={}, programs=programs, property_programs=tuple(having)
    )
    return book, roads


def work_a_day(
    season: Season, roads: DayRoads, when: date, before: Calendar | None, given: argparse.Namespace
) -> Calendar:
    """Lay the calendar, plan the day's share and, when it stays dry, do it."""
    season.make_orders(when)
    chance = random.Random(f"day {given.seed} {when}")
    laid = season.laid
    days, closed = working_days(laid.settings, when, CALENDAR_DAYS)
    horizon = Horizon(Day(when, laid, {}), days, closed, roads)
    calendar = make_calendar(
        horizon,
        SolveOptions(Effort(count=given.effort), engine=given.engine),
        before=before,
        rain_percent=given.rain,
    )
    season.faults += [f"{when} calendar: {one}" for one in calendar_faults(calendar, horizon.day)]
    share = day_share(calendar, when)
    due = due_on(laid, when)
    day = replace(
        due,
        orders={name: one for name, one in due.orders.items() if name not in share.later},
        laid_later=tuple(name for name in due.orders if name in share.later),
        done=frozenset(season.done),
    )
    if day.orders:
        day = with_licenses(day)
        options = SolveOptions(Effort(count=given.effort), engine=given.engine)
        plan, violations, _ = solve_day(
            day, roads.travel_by_truck, roads.source, options, share.kept(day)
        )
        season.faults += [f"{when} plan: {one}" for one in violations]
        if chance.random() < given.rain / 100.0:
            season.lost_days += 1
        else:
            _do(season, plan, when)
    season.most_waiting = max(season.most_waiting, len(calendar.waiting))
    return calendar


def _do(season: Season, plan: Plan, when: date) -> None:
    totals = plan.totals.totals
    having = {one.property_id: one for one in season.book.property_programs}
    season.cost += totals.cost
    season.miles += totals.drive_miles
    season.truck_days += sum(1 for truck in plan.trucks if truck.stops)
    for truck in plan.trucks:
        for stop in truck.stops:
            for row in stop.orders:
                order = season.made[row.order_id]
                if row.order_id in season.done:
                    season.faults.append(f"{when}: order {row.order_id} was done before")
                has = having[order.property_id]
                if not (has.first_day or when) <= when <= (has.last_day or when):
                    season.faults.append(f"{when}: order {row.order_id} is outside its program")
                season.done[row.order_id] = when
                season.late += when > order.due_to
                season.history += as_history(season.book, order, when)


def cancel(season: Season, when: date, seed: int) -> None:
    """One customer in 2,000 calls an open order off each day."""
    for name, order in season.made.items():
        chance = random.Random(f"cancel {seed} {name} {when}")
        open_ = name not in season.done and order.status is Status.OPEN
        if open_ and chance.random() < 0.0005:
            season.made[name] = replace(
                order, status=Status.CANCELLED, status_reason="the customer's wish"
            )


def unaccounted(season: Season, calendar: Calendar, when: date) -> Iterator[str]:
    """Rounds of which nobody can say what became of them, in words. calendar: of the last day."""
    found = season.standings(when)
    orders = round_orders(season.written, found, when)
    conflicts = {one.order_id for one, _ in orders.conflicts}
    to_come = {one.order_id for one, _, _ in orders.new}
    named = {*calendar.day_of, *(row.order_id for row in calendar.waiting if row.reason)}
    for name in sorted(_expected(season) ^ {one.order_id for one in found}):
        yield f"round {name} is missing, or should not be there"
    for one in found:
        name, order = one.order_id, season.made.get(one.order_id)
        open_ = order is not None and name not in season.done and order.status is Status.OPEN
        gone = order is not None and order.last_day is not None and order.last_day < when
        if (one.state is RoundState.DONE) != (name in season.done):
            yield f"round {name} is {one.state}, and its order was done on {season.done.get(name)}"
        elif one.state is RoundState.DONE and one.done_on != season.done[name]:
            yield f"round {name} was done on {season.done[name]}, not {one.done_on}"
        elif one.state in GIVEN_UP and not one.reason:
            yield f"round {name} is {one.state} without a reason"
        elif one.state in GIVEN_UP and open_ and not gone:
            yield f"round {name} is {one.state} ({one.reason}), and its order is still open"
        elif one.state not in (RoundState.DONE, *GIVEN_UP):
            far = one.opens is not None and one.opens > when + timedelta(days=DAYS_AHEAD)
            held = one.waits and one.reason
            if not ((open_ and name in named) or name in conflicts | to_come or far or held):
                yield f"round {name} is {one.state}, and nothing names it"


def _expected(season: Season) -> set[str]:
    """Every round that the programs give, reckoned from the tables alone."""
    found = set()
    for having in season.book.property_programs:
        for one in season.book.programs.values():
            assert one.to_day is not None
            closes = date(FIRST.year, *one.to_day)
            if one.program_id == having.program_id and not (
                having.first_day and closes < having.first_day
            ):
                found.add(f"{having.property_id}.{one.key.replace('/', '.')}.{FIRST.year}")
    return found


def main() -> None:
    """A season, its figures, and what is wrong with it."""
    ask = argparse.ArgumentParser()
    ask.add_argument("--weeks", type=int, default=20)
    ask.add_argument("--rain", type=float, default=30.0)
    ask.add_argument("--seed", type=int, default=1)
    ask.add_argument("--effort", type=int, default=12)
    ask.add_argument("--engine", default="nearest-fit")
    ask.add_argument("--customers", type=int, default=120)
    given = ask.parse_args()
    begun = time.process_time()
    book, roads = company(given.seed, given.customers)
    season, calendar = Season(book), None
    end = FIRST + timedelta(weeks=given.weeks)
    days = [day for day in working_days(book.settings, FIRST, 5 * given.weeks)[0] if day < end]
    for when in days:
        calendar = work_a_day(season, roads, when, calendar, given)
        cancel(season, when, given.seed)
        if when.weekday() == days[-1].weekday():
            cpu = f"{time.process_time() - begun:.0f} CPU s"
            print(when, f"{len(season.done)} of {len(season.made)} orders done,", cpu, flush=True)
    assert calendar is not None
    states = Counter(one.state for one in season.standings(days[-1]))
    wrong = list(unaccounted(season, calendar, days[-1]))
    revenue = sum(season.made[name].revenue or 0.0 for name in season.done)
    print("rounds:", ", ".join(f"{count} {state}" for state, count in sorted(states.items())))
    for one in season.standings(days[-1]):
        if one.state is RoundState.LOST:
            print(f"lost: {one.order_id}: {one.reason}")
    still_open = sum(states[state] for state in (*OPEN, RoundState.LATER))
    print(
        f"{len(days)} working days, {season.lost_days} lost to rain; {len(season.done)} orders done"
        f" ({season.late} late), {still_open} rounds open; ${season.cost:,.0f} cost,"
        f" ${revenue:,.0f} revenue, {season.miles:,.0f} miles, {season.truck_days} truck-days;"
        f" {time.process_time() - begun:.0f} CPU s"
    )
    for text in (season.faults + wrong)[:40]:
        print("WRONG", text)
    print(f"{len(season.faults)} audit faults, {len(wrong)} rounds unaccounted for")
    sys.exit(bool(season.faults or wrong))


if __name__ == "__main__":
    main()
