"""Orders done before their first day by trucks that would be home early (rule 32).

The days are invented; the price of the small one is worked out by hand below. 2027-04-14 is a
Wednesday.
"""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import date, timedelta

import pytest

from planner.again.said import Said
from planner.by_hand.answer import changed_plan
from planner.by_hand.sheet import rows_of_plan
from planner.chain import solve_day
from planner.day.clock import DateSpan
from planner.day.day import Day, day_of
from planner.day.orders import Order, Status
from planner.day.roll import may_be_taken_ahead, with_orders_ahead
from planner.papers.left_out import left_out
from planner.papers.route_sheet import route_sheet
from planner.plan.assemble import Scheduler
from planner.plan.audit import audit
from planner.plan.document import from_json, to_json
from planner.plan.model import Plan
from planner.prepare import prepare_day
from planner.routing.problem import Effort, SolveOptions
from planner.units import parse_amount
from tests import days
from tests.again_cases import planned_again
from tests.random_days import random_day, straight_travel

HOMES = tuple(days.home(f"P{n}", 40.0 + 0.01 * n, -83.0, 5000.0) for n in (1, 2))
TODAY = days.order("O1", HOMES[0], "WEED")
MINUTES = 2 * 0.01 * 69.05 * 1.3 / 26 * 60 + 4 + 10 / 2
MONEY = MINUTES * 24 / 60 + 2 * 0.01 * 69.05 * 1.3 * 0.72
"""O2 lies 0.01 degrees beyond O1, which is the way there and back: 13.1 min with set-up and 10 gal
at 2 gal/min, at $24 an hour and $0.72 a mile. Visits on one line may be in either order."""


def at(day: int) -> date:
    return date(2027, 4, day)


def later(**changes: object) -> Order:
    return replace(
        days.order("O2", HOMES[1], "WEED"), **{"due_from": at(16), "due_to": at(23), **changes}
    )  # type: ignore[arg-type]


def office(
    order: Order | None = None, when: int = 14, others: tuple[Order, ...] = (), **changes: object
) -> Day:
    """One truck, O1 due today and O2 due on Friday, two working days ahead for up to $25."""
    base = days.small_day().workbook
    settings = replace(base.settings, **{"work_ahead_days": 2, "work_ahead_price": 25.0, **changes})  # type: ignore[arg-type]
    orders = (replace(TODAY, due_from=at(when), due_to=at(when)), order or later(), *others)
    book = replace(
        base,
        settings=settings,
        properties=base.properties | {home.property_id: home for home in HOMES},
        orders={row.order_id: row for row in orders},
        trucks={"T2": base.trucks["T2"]},
    )
    return opened(day_of(book, at(when)))


def opened(day: Day) -> Day:
    return replace(day, ahead=may_be_taken_ahead(day))


def planned(day: Day) -> tuple[Plan, Day]:
    """The plan and its day; the audit finds nothing in it, nor in the file."""
    travel = straight_travel(day)
    plan, violations, _ = solve_day(
        day, travel, ("straight lines", ""), SolveOptions(Effort(count=1), engine="nearest-fit")
    )
    assert [str(row) for row in violations] == []
    held = with_orders_ahead(day, plan.ahead)
    assert audit(from_json(to_json(plan)), held, travel) == ()
    return plan, held


@pytest.mark.parametrize(
    ("order", "when", "settings", "may"),
    [
        ({}, 14, {}, True),
        ({}, 14, {"work_ahead_days": 0}, False),
        ({}, 14, {"work_ahead_days": 1}, False),
        ({"due_from": at(19)}, 14, {}, False),
        # The weekend does not count: Monday is one working day after Friday.
        ({"due_from": at(19)}, 16, {"work_ahead_days": 1}, True),
        ({"due_from": at(20)}, 16, {"work_ahead_days": 1}, False),
        ({"due_from": at(18)}, 16, {"work_ahead_days": 1}, True),
        ({"due_from": at(20)}, 16, {"holidays": (DateSpan(at(19), at(19)),)}, True),
        ({"status": Status.CANCELLED}, 14, {}, False),
        ({"status": Status.ON_HOLD, "status_reason": "asks first"}, 14, {}, False),
        ({"hold_until": at(15), "status": Status.ON_HOLD}, 14, {}, False),
        ({"repeats": "O1"}, 14, {}, False),
        # Of two rounds on one lawn the earlier one is open.
        ({"property_id": "P1"}, 14, {}, False),
        ({"property_id": "P1", "area_ft2": 0.001}, 14, {}, True),
        ({"property_id": "P1", "mix_id": "FEED"}, 14, {}, True),
    ],
)  # fmt: skip
def test_which_orders_may_be_taken_ahead(
    order: dict[str, object], when: int, settings: dict[str, object], may: bool
) -> None:
    day = office(later(**order), when, **settings)
    assert ("O2" in day.ahead) is may
    # The audit's own view of it, in a plan that takes the order all the same.
    plan, _ = planned(replace(day, ahead={}))
    said = {row.code for row in audit(replace(plan, ahead=("O2",)), day, straight_travel(day))}
    assert ("AHEAD" not in said) is may


@pytest.mark.parametrize("home", ["serve_on", "skip_dates", "hold_reason"])
def test_what_keeps_an_order_out_of_the_day_keeps_it_from_being_taken_ahead(home: str) -> None:
    value = {
        "serve_on": (4,),
        "skip_dates": (DateSpan(at(14), at(14)),),
        "hold_reason": "waits for the prepayment",
    }[home]
    day = office()
    homes = day.workbook.properties
    changed = replace(homes["P2"], **{home: value})  # type: ignore[arg-type]
    book = replace(day.workbook, properties=homes | {"P2": changed})
    assert opened(day_of(book, day.date)).ahead == {}


def test_an_order_ahead_costs_what_hand_work_says_and_at_most_the_price() -> None:
    without, _ = planned(office(work_ahead_days=0))
    assert "ahead" not in to_json(without)
    plan, day = planned(office(work_ahead_price=MONEY + 0.01))
    assert plan.ahead == ("O2",)
    assert list(day.orders) == ["O1", "O2"]
    assert day.ahead == {}
    more = plan.totals.totals.cost - without.totals.totals.cost
    assert more == pytest.approx(MONEY, abs=1e-6)
    assert from_json(to_json(plan)).ahead == ("O2",)
    dear, same = planned(office(work_ahead_price=MONEY - 0.01))
    assert to_json(dear) == to_json(without)
    assert list(same.ahead) == ["O2"]


def test_no_overtime_no_other_truck_no_other_load() -> None:
    day = office(work_ahead_price=1000.0)
    truck = day.workbook.trucks["T2"]
    home_min = planned(replace(day, ahead={}))[0].trucks[0].stops[-1].arrive_min
    for end_min, taken in ((home_min + MINUTES - 0.1, ()), (home_min + MINUTES + 0.1, ("O2",))):
        short = replace(truck, shift_end_min=end_min, overtime_most_min=300.0)
        book = replace(day.workbook, trucks={"T2": short})
        assert planned(replace(day, workbook=book))[0].ahead == taken
    # T1 could do it and stays home; T2 is not loaded with FEED.
    only = office(later(only_trucks=frozenset({"T1"})), work_ahead_price=1000.0)
    both = replace(only.workbook, trucks=days.small_day().workbook.trucks)
    one = replace(both.orders["O1"], only_trucks=frozenset({"T2"}))
    book = replace(both, orders=both.orders | {"O1": one})
    assert planned(opened(day_of(book, only.date)))[0].ahead == ()
    assert planned(office(later(mix_id="FEED"), work_ahead_price=1000.0))[0].ahead == ()


def test_papers_say_it_and_plans_by_hand_and_at_noon_keep_it() -> None:
    plan, day = planned(office())
    travel = straight_travel(day)
    (group,) = left_out(plan, day)
    assert (group.short, group.rows[0].order_id) == ("taken ahead", "O2")
    words = "taken ahead (due from Fri 2027-04-16)"
    assert group.rows[0].reason == f"{words}; truck T2, stop 1; tell the customer"
    notes = [
        work.note
        for row in route_sheet(plan.trucks[0], day, {}).rows
        for work in row.works
    ]  # fmt: skip
    assert sorted(notes) == ["", words]
    ready = Scheduler(prepare_day(day), travel)
    by_hand, out = changed_plan(rows_of_plan(plan), plan, ready, ("straight lines", ""))
    assert (by_hand.ahead, out) == (("O2",), ())
    assert audit(by_hand, day, travel) == ()
    then, noon = planned_again(office(), plan, Said(at_min=455.0))
    assert noon.again is not None
    assert (noon.again.added, noon.ahead) == (("O2",), ())
    assert {work.order_id for stop in noon.trucks[0].stops for work in stop.orders} == {"O1", "O2"}
    assert audit(noon, then, straight_travel(then)) == ()


def spread(seed: int) -> Day:
    """A random day of which about half the orders are due in one to three days."""
    day = random_day(seed, "medium")
    rng = random.Random(f"ahead {seed}")
    orders = {}
    for name, order in day.workbook.orders.items():
        first = day.date + timedelta(days=rng.choice((0, 0, 0, 1, 2, 3)))
        orders[name] = replace(order, due_from=first, due_to=first + timedelta(days=5))
    settings = replace(day.workbook.settings, work_ahead_days=2, work_ahead_price=25.0)
    return day_of(replace(day.workbook, orders=orders, settings=settings), day.date)


def in_short_supply(day: Day) -> Day:
    """The day with one truck at a time at each site, and a tenth more of every product than its
    plan uses."""
    used: dict[str, float] = {}
    for truck in planned(day)[0].trucks:
        for part in (part for stop in truck.stops for f in stop.fills for part in f.products):
            used[part.product_id] = used.get(part.product_id, 0.0) + part.amount
    book = day.workbook
    products = {
        name: replace(row, in_store=parse_amount(f"{1.1 * used[name]:.6f} {row.unit}"))
        if used.get(name)
        else row
        for name, row in book.products.items()
    }
    sites = {name: replace(row, trucks_at_once=1) for name, row in book.sites.items()}
    return day_of(replace(book, products=products, sites=sites), day.date)


@pytest.mark.parametrize("seed", range(24))
def test_taken_orders_take_nothing_from_the_others(seed: int) -> None:
    day = in_short_supply(spread(seed)) if seed % 2 else spread(seed)
    before, _ = planned(day)
    after, _ = planned(opened(day))

    def of_trucks(plan: Plan) -> dict[str, list[str]]:
        return {
            truck.truck_id: [
                work.order_id
                for stop in truck.stops
                for work in stop.orders
                if work.order_id not in plan.ahead
            ]
            for truck in plan.trucks
        }

    assert of_trucks(after) == of_trucks(before)
    for kind in ("held", "unserved"):
        names = [[row.order_id for row in getattr(plan, kind)] for plan in (before, after)]
        assert names[0] == names[1]
    for old, new in zip(before.trucks, after.trucks, strict=True):
        assert bool(new.stops) == bool(old.stops)
        assert new.totals.overtime_min <= old.totals.overtime_min + 1e-6
    most = before.totals.totals.cost + 25.0 * len(after.ahead)
    assert after.totals.totals.cost <= most + 1e-6
    if not after.ahead:
        assert to_json(after) == to_json(before)


def test_the_random_days_take_something_ahead() -> None:
    """Else the property would say little."""
    days_ahead = [opened(spread(0)), opened(spread(2)), opened(in_short_supply(spread(1)))]
    assert all(planned(day)[0].ahead for day in days_ahead)
