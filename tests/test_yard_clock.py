"""The yard's clock (rule 38): report, inspection, loading at the yard's hoses, wash-down and
paperwork, hours that are paid at least.

Outside reference: the worked examples below by hand, every order of loading tried for small yards,
and the audit, which shares no arithmetic with schedule and engines.
"""

from __future__ import annotations

import random
import shutil
from dataclasses import replace
from itertools import permutations
from pathlib import Path

import pytest

from planner.again.said import Said
from planner.day.clock import Window, clock_text
from planner.day.day import Day, day_of
from planner.pages import day_page as pages
from planner.papers.packet import packet_pages
from planner.plan.audit import audit
from planner.plan.document import from_json, to_json
from planner.plan.model import Plan
from planner.routing.compiled.python_api import place_refills
from planner.routing.exact.route_cost import DayTables, TruckDay
from planner.routing.problem import Effort, Route, Solution, StopKind, StopRef, StopToken
from planner.routing.shared.settled import Settling
from planner.routing.shared.store import draft_of
from planner.tables.read import read_workbook
from tests.again_cases import as_filed, planned_again
from tests.bad_workbooks import BAD, BASE, merged
from tests.days import DAY, compartment, home, line, mix, order, product, site, truck, workbook
from tests.office_server import straight_day
from tests.random_days import random_day, straight_travel
from tests.random_plans import plan_random
from tests.random_problems import problem_of
from tests.test_search_price import compare
from tests.yard_days import with_yard_clock


def yard_day(count: int, seed: int = 0, **changes: object) -> Day:
    """So many trucks of one yard with one hose, each with one lawn of its own; 10 gal/min after
    5 min of set-up. With a seed lawns, windows, crews and hours differ."""
    rng = random.Random(seed)
    homes, orders, trucks = [], [], []
    for n in range(1, count + 1):
        area = rng.choice((5_000.0, 15_000.0, 24_000.0)) if seed else 12_000.0
        opens = rng.choice((None, 520.0, 560.0)) if seed else None
        homes.append(home(f"P{n}", 40.0 + 0.01 * n, -83.0, area))
        spans = None if opens is None else (Window(opens, opens + rng.choice((45.0, 400.0))),)
        orders.append(
            order(
                f"O{n}",
                homes[-1],
                "WEED",
                only_trucks=frozenset({f"T{n}"}),
                **({} if spans is None else {"windows": spans}),
            )
        )
        own = {"crew": rng.choice((1, 2)), "shift_end_min": rng.choice((480.0, 700.0))}
        trucks.append(
            truck(
                f"T{n}",
                (line("A"),),
                (compartment("1", 60.0, "A", 1),),
                **({"yard_loading": "morning"} | (own if seed else {}) | changes),  # type: ignore[arg-type]
            )
        )
    book = workbook(
        sites=(site("Y1", 40.0, -83.0, trucks_at_once=1),),
        trucks=tuple(trucks),
        products=(product("three-way", "broadleaf", "1.5 fl oz/1000 sq ft"),),
        mixes=(mix("WEED", 2.0, **{"three-way": "1.2 fl oz/1000 sq ft"}),),
        properties=tuple(homes),
        orders=tuple(orders),
    )
    return day_of(book, DAY)


def checked(day: Day, engine: str = "nearest-fit") -> Plan:
    plan = plan_random(day, engine)
    assert [str(row) for row in audit(plan, day, straight_travel(day))] == []
    return plan


def test_a_morning_by_hand() -> None:
    """Both report at 7:30 (450) and inspect until 7:45. The fill is 24 gal with 5 % margin and
    3.1 gal for the hose, in whole gallons 29: 5 + 2.9 min. T1 loads until 7:52.9, and T2 waits for
    the hose until then. After the return 10 min of wash-down and 5 of paperwork."""
    day = yard_day(2, inspection_min=15.0, washdown_min=10.0, paperwork_min=5.0)
    plan = checked(day)
    first, second = (one.stops[0] for one in plan.trucks)
    assert (first.arrive_min, first.begin_min) == (450.0, 465.0)
    assert first.leave_min == pytest.approx(472.9)
    assert (second.arrive_min, second.begin_min) == pytest.approx((450.0, 472.9))
    assert second.leave_min == pytest.approx(480.8)
    for one in plan.trucks:
        back = one.stops[-1]
        assert back.leave_min == pytest.approx(back.arrive_min + 15.0)
        assert one.totals.paid_min == pytest.approx(back.leave_min - 450.0)
        assert one.totals.yard_min == pytest.approx(one.stops[0].leave_min - 450.0 + 15.0)
        assert one.totals.wait_min == pytest.approx(0.0)


def test_the_evening_before_is_paid_and_delays_nobody() -> None:
    """The same fill of 7.9 min at $24 an hour is $3.16 more than a day whose loading takes no
    time."""
    untimed = checked(yard_day(1, yard_loading=None))
    evening = checked(yard_day(1, yard_loading="evening"))
    assert evening.trucks[0].stops == untimed.trucks[0].stops
    more = evening.totals.totals.cost - untimed.totals.totals.cost
    assert more == pytest.approx(7.9 / 60 * 24)


def test_hours_that_are_paid_at_least() -> None:
    """A crew with one lawn is paid four hours; one that stays home is paid nothing."""
    day = yard_day(2, paid_hours_least=4.0)
    book = day.workbook
    day = day_of(replace(book, orders={"O1": book.orders["O1"]}), DAY)
    plan = checked(day)
    out, stays = plan.trucks
    assert out.totals.paid_min == 240.0
    worked = out.stops[-1].leave_min - 450.0
    assert out.totals.unworked_min == pytest.approx(240.0 - worked)
    miles = out.totals.drive_miles
    assert out.totals.cost == pytest.approx(4 * 24 + 0.72 * miles + 40)
    assert stays.totals.cost == 0.0


@pytest.mark.parametrize(("hours", "first"), [(9.0, "O1"), (0.0, "Y1")])
def test_a_truck_leaves_loaded_where_that_costs_no_more(hours: float, first: str) -> None:
    """Its first customer opens at 10: to leave empty and fill in the yard meanwhile saves the 7.9
    minutes of the evening. Within nine hours that are paid in any case it saves nothing."""
    day = yard_day(1, yard_loading="evening", paid_hours_least=hours)
    late = {"O1": replace(day.orders["O1"], windows=(Window(600.0, 700.0),))}
    problem = problem_of(day_of(replace(day.workbook, orders=late), DAY))
    loading = next(one for one in problem.trucks[0].loadings if one.mix_of == ("WEED",))
    refs = (StopRef(StopKind.REFILL, "Y1"), StopRef(StopKind.ORDER, "O1"))
    costs = []
    for begun in (refs, refs[1:]):
        draft = draft_of(problem, Solution((Route("T1", loading, begun),), {}), StopToken())
        costs.append(draft.total)
        assert Settling(Effort(count=100), 1).settle(draft) == 0.0
        (route,) = draft.answer({}).routes
        assert route.stops[0].ref == first
        assert draft.total == pytest.approx(costs[0], abs=1e-6)
    assert costs[1] - costs[0] == pytest.approx(0.0 if hours else 7.9 / 60 * 24)


@pytest.mark.parametrize(("opens", "lunch_at"), [(None, None), (790.0, 1)])
def test_nobody_waits_for_a_lunch_that_saves_nothing(
    opens: float | None, lunch_at: int | None
) -> None:
    """Nine hours are paid in any case. A crew that is done at 8 has lunch neither at 11:30 on its
    last lawn nor anywhere; one whose second lawn opens at 13:10 is home after 13:30, is owed
    lunch (rule 14), and has it while it waits, not after the lawn."""
    lunch = {"lunch_min": 30.0, "lunch_earliest_min": 690.0, "lunch_latest_min": 810.0}
    day = yard_day(2, yard_loading="evening", paid_hours_least=9.0, **lunch)
    late = day.orders["O2"]
    spans = None if opens is None else (Window(opens, opens + 60.0),)
    orders = {
        "O1": day.orders["O1"],
        "O2": replace(late, only_trucks=frozenset({"T1"}), windows=spans),
    }
    problem = problem_of(day_of(replace(day.workbook, orders=orders), DAY))
    loading = next(one for one in problem.trucks[0].loadings if one.mix_of == ("WEED",))
    done = [StopRef(StopKind.ORDER, "O1"), StopRef(StopKind.ORDER, "O2")]
    refs = (*done, StopRef(StopKind.LUNCH, ""))
    draft = draft_of(problem, Solution((Route("T1", loading, refs),), {}), StopToken())
    before = draft.total
    Settling(Effort(count=100), 1).settle(draft)
    (route,) = draft.answer({}).routes
    kinds = [stop.kind for stop in route.stops]
    assert [at for at, kind in enumerate(kinds) if kind is StopKind.LUNCH] == (
        [] if lunch_at is None else [lunch_at]
    )
    assert draft.total == pytest.approx(before, abs=1e-6)


def test_overtime_counts_until_release() -> None:
    """Back at the shift's end to the minute, released 15 min after it."""
    plain = checked(yard_day(1))
    back = plain.trucks[0].stops[-1].arrive_min
    plan = checked(yard_day(1, shift_end_min=back, washdown_min=15.0))
    assert plan.trucks[0].totals.overtime_min == pytest.approx(15.0)
    late = yard_day(1, shift_end_min=back, washdown_min=15.0, overtime_most_min=14.0)
    assert [row.order_id for row in plan_random(late).unserved] == ["O1"]


def cheapest(day: Day, plan: Plan) -> float:
    """Every order of loading tried, each truck's day worked out here from its own figures: fills of
    the plan (they hang on no clock), drive, window, 4 min of set-up, spraying, the way home."""
    travel = straight_travel(day)
    least = float("inf")
    by_name = {one.truck_id: one for one in plan.trucks if one.stops}
    for turn in permutations(by_name):
        free, money = 0.0, 0.0
        for name in turn:
            own, done = day.workbook.trucks[name], by_name[name]
            gal = sum(fill.gal for fill in done.stops[0].fills)
            start = max(free, own.shift_start_min + own.inspection_min)
            free = now = start + 5.0 + gal / 10.0
            rows = travel[name].index()
            drive = float(travel[name].minutes[rows["Y1"], rows[done.stops[1].place_id]])
            work = done.stops[1].orders[0]
            now += drive
            windows = day.orders[work.order_id].windows
            for window in windows or ():
                now = max(now, window.open_min)
            now += 4.0 + work.gal / 2.0
            for window in windows or ():
                money += 0.0 if now <= window.close_min + 1e-6 else 1e9
            now += drive
            money += 1e9 if now > own.shift_end_min + own.overtime_most_min + 1e-6 else 0.0
            paid = now - own.shift_start_min + 0.5 * max(0.0, now - own.shift_end_min)
            money += paid / 60 * own.pay_per_hour * own.crew
            money += own.cost_per_day + own.cost_per_mile * done.totals.drive_miles
        least = min(least, money)
    return least


@pytest.mark.parametrize("count", [3, 4])
def test_trucks_are_loaded_in_the_cheapest_order(count: int) -> None:
    waited = 0
    for seed in range(1, 16):
        day = yard_day(count, seed, inspection_min=10.0)
        plan = checked(day)
        waited += sum(one.stops[0].begin_min > 460.5 for one in plan.trucks if one.stops)
        assert plan.totals.totals.cost == pytest.approx(cheapest(day, plan), abs=1e-6), seed
    assert waited >= 15


@pytest.mark.parametrize("seed", range(12))
def test_audit_finds_nothing_on_random_days_with_a_yard_clock(seed: int) -> None:
    day = with_yard_clock(random_day(seed, ("small", "medium")[seed % 2]), seed)
    plan = checked(day)
    filed = from_json(to_json(plan))
    assert [str(row) for row in audit(filed, day, straight_travel(day))] == []


def test_engines_price_the_yard_as_the_rules_do() -> None:
    """Plain and compiled price alike, and refills placed at the price that they then have."""
    fine = placed = 0
    for seed in range(12):
        problem = problem_of(with_yard_clock(random_day(seed, "small"), seed))
        if not problem.orders:
            continue
        rng = random.Random(seed)
        fine += compare(problem, rng)[1]
        tables = DayTables(problem)
        for row, spec in enumerate(problem.trucks):
            day = TruckDay(tables, row, spec.loadings[0])
            can = [at for at in range(day.orders) if day.can[at]]
            found = place_refills(day, rng.sample(can, min(5, len(can))))
            if found is not None and found[1]:
                assert day.cost(found[1]) == pytest.approx(found[0], abs=1e-6)
                placed += 1
    assert fine > 100
    assert placed > 5


def test_tables_without_a_yard_clock_plan_as_before() -> None:
    """Nothing of it stands in the plan: the fields are left out of plan.json."""
    plan = plan_random(yard_day(2, yard_loading=None))
    assert "yard_min" not in to_json(plan)
    for one in plan.trucks:
        begin, end = one.stops[0], one.stops[-1]
        assert begin.arrive_min == begin.begin_min == begin.leave_min == 450.0
        assert end.arrive_min == end.leave_min


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        # 50 to inspect, 10 to set up, 30 to wash, 30 of paper: all of 7:30 to 9:15 and 15 over.
        (
            ",9:15,",
            ",9:15,",
            "of which the yard takes 120 (inspection 50, washdown 30",
        ),
        (",9:15,", ",9:16,", ""),
        (",morning,", ",evening,", ""),
        (",yes,7:30,", ",no,7:30,", ""),
    ],
)
def test_a_shift_without_a_minute_for_the_road_is_told(
    tmp_path: Path, old: str, new: str, told: str
) -> None:
    book = merged(BAD / "TRUCK-5-no-time-to-leave", tmp_path)
    trucks = book / "trucks.csv"
    trucks.write_text(trucks.read_text().replace(old, new, 1))
    found = [one for one in read_workbook(book).problems if one.code == "TRUCK-5"]
    assert len(found) == bool(told)
    assert all(told in one.message and one.cure for one in found)
    # What is on board from the day before needs no fill to leave with.
    shutil.copy(BASE / "compartments.csv", book)
    assert not [one for one in read_workbook(book).problems if one.code == "TRUCK-5"]


def test_route_sheet_and_day_page_tell_the_yard(tmp_path: Path) -> None:
    """Two trucks at one hose: inspected first; the second waits until the first is filled."""
    day = yard_day(2, inspection_min=15.0, washdown_min=15.0, paperwork_min=10.0)
    opened = straight_day(day, tmp_path)
    plan = opened.state.planned.plan
    sheets = "".join(packet_pages(plan, day, {}, map_file="", plan_mark="x").values())
    page = pages.day_page(opened.state)
    opened.close()
    first, second = sorted((row.stops for row in plan.trucks), key=lambda s: s[0].begin_min)
    for stops in (first, second):
        report, begin, left = (
            clock_text(minute)
            for minute in (stops[0].arrive_min, stops[0].begin_min, stops[0].leave_min)
        )
        inspected = clock_text(stops[0].arrive_min + 15)
        wait = f" wait for the hose until {begin}," if stops is second else ""
        released = clock_text(stops[-1].leave_min)
        for words in (
            f"Report at {report}: inspect the truck until {inspected},{wait} fill until {left}.",
            f"Wash down and park 15 min, paperwork 10 min. Released at {released}.",
        ):
            assert words in sheets
            assert words in page


@pytest.mark.parametrize("loads", ["morning", "evening", None])
def test_a_truck_that_stayed_at_home_is_inspected_when_it_is_sent_out(loads: str | None) -> None:
    """By hand: T1, whose crew comes at 13:00, breaks down at 10:00 (600), so that T2, which had
    nothing to do, gets O1. Its crew comes at 10:00 and looks round it for 15 minutes; the hose
    fills it in 5 + 2.9 min. Planned once more at 10:05, 10 of the 15 minutes are left."""
    day = yard_day(2, inspection_min=15.0, yard_loading=loads)
    book = day.workbook
    trucks = {**book.trucks, "T1": replace(book.trucks["T1"], shift_start_min=780.0)}
    first, any_truck = book.orders["O1"], replace(book.orders["O1"], only_trucks=None)
    idle = checked(day_of(replace(book, trucks=trucks, orders={"O1": first}), DAY))
    day = day_of(replace(book, trucks=trucks, orders={"O1": any_truck}), DAY)
    _, early = planned_again(day, as_filed(idle), Said(420.0, down=("T1",)))
    _, later = planned_again(day, as_filed(idle), Said(600.0, down=("T1",)))
    _, once_more = planned_again(day, as_filed(later), Said(605.0))
    lasts = 7.9 if loads == "morning" else 0.0
    for plan, reports, leaves in (
        (early, 450.0, 465.0),
        (later, 600.0, 615.0),
        (once_more, 605.0, 615.0),
    ):
        plan = as_filed(plan)
        (sent,) = [one for one in plan.trucks if one.stops]
        assert sent.truck_id == "T2"
        first = sent.stops[0]
        assert (first.arrive_min, first.begin_min) == (reports, leaves)
        assert first.leave_min == pytest.approx(leaves + lasts)
        assert [str(row) for row in audit(plan, day, straight_travel(day))] == []
        words = f"Report at {clock_text(reports)}: inspect the truck until {clock_text(leaves)}"
        assert words in packet_pages(plan, day, {}, "", "0123456789")["truck-T2.html"]
        hurried = replace(first, begin_min=reports, leave_min=reports + lasts)
        rushed = replace(sent, stops=(hurried, *sent.stops[1:]))
        rest = tuple(rushed if one is sent else one for one in plan.trucks)
        found = audit(replace(plan, trucks=rest), day, straight_travel(day))
        # Where trucks wait for the hose, that rule says when loading begins.
        wrong = "SITE-FULL" if loads == "morning" else "CLOCK-DEPART"
        assert wrong in {row.code for row in found}


def test_a_crew_that_had_not_come_yet_inspects_when_it_comes() -> None:
    """By hand: T1 and T2 have an order each and report at 7:30 (450). Planned again at 7:20 (440),
    T1's crew comes at 10:00 (600), and looks round the truck for its 15 minutes then. Told at 8:20
    (500) that it comes at 9:20 or at 11:40, the inspection moves with it; at 10:05 a third of it is
    over. A crew that was there at 7:40 (460) had begun at 7:30."""
    day = yard_day(2, inspection_min=15.0, yard_loading=None)
    first = checked(day)
    _, later = planned_again(day, as_filed(first), Said(440.0, free_min={"T1": 600.0}))
    for earlier, said, reports, leaves in (
        (first, Said(440.0, free_min={"T1": 600.0}), 600.0, 615.0),
        (first, Said(460.0, free_min={"T1": 600.0}), 600.0, 600.0),
        (later, Said(500.0), 600.0, 615.0),
        (later, Said(500.0, free_min={"T1": 560.0}), 560.0, 575.0),
        (later, Said(500.0, free_min={"T1": 700.0}), 700.0, 715.0),
        (later, Said(605.0), 605.0, 615.0),
    ):
        _, plan = planned_again(day, as_filed(earlier), said)
        plan = as_filed(plan)
        sent = plan.trucks[0]
        begins = sent.stops[0]
        assert (begins.arrive_min, begins.begin_min) == (reports, leaves)
        assert [str(row) for row in audit(plan, day, straight_travel(day))] == []
        words = f"inspect the truck until {clock_text(leaves)}"
        sheet = packet_pages(plan, day, {}, "", "0123456789")["truck-T1.html"]
        assert (words in sheet) == (leaves > reports)
        hurried = replace(sent, stops=(replace(begins, begin_min=reports), *sent.stops[1:]))
        found = audit(replace(plan, trucks=(hurried, plan.trucks[1])), day, straight_travel(day))
        assert bool(found) == (leaves > reports)
        for kept in ({}, {"T1": reports}, {"T1": leaves + 30.0}):
            told = replace(plan, again=replace(plan.again, inspected_min=kept))  # type: ignore[type-var]
            wrong = leaves > reports or kept.get("T1", 0.0) > leaves
            assert bool(audit(told, day, straight_travel(day))) == wrong
