"""Trucks that wait their turn where a site fills only so many at one time (rule 28)."""

from __future__ import annotations

import random
import re
from dataclasses import replace
from itertools import combinations
from math import inf

import pytest

from planner.again.said import Said
from planner.day.clock import Window, clock_text
from planner.day.day import Day, day_of
from planner.papers.packet import packet_pages
from planner.plan.audit import audit
from planner.plan.model import Plan, Stop
from planner.routing.engines.nearest_fit import NearestFit
from planner.routing.exact.walk import full_walk
from planner.routing.problem import (
    Effort,
    Route,
    Solution,
    SolveOptions,
    StopKind,
    StopRef,
    StopToken,
)
from planner.routing.shared.limits import held_to_limits
from planner.routing.shared.queues import Known, queued
from planner.routing.shared.site_queue import Refill, Waits, queue_waits
from planner.routing.shared.store import draft_of, without
from tests.again_cases import as_filed, planned_again
from tests.days import DAY, compartment, home, line, mix, order, product, site, truck, workbook
from tests.few import few
from tests.random_days import random_day, straight_travel
from tests.random_plans import plan_random
from tests.random_problems import problem_of


def queue(
    arrivals: dict[str, list[tuple[float, float]]],
    at_once: int,
    busy: tuple[float, ...] = (),
    opens: float = 0.0,
) -> dict[str, dict[int, float]]:
    """Waits of trucks that come to one site at these minutes and stay for so many; whoever waits
    comes so much later to the next."""

    def refills_of(name: str, waits: Waits) -> list[Refill]:
        late, found = 0.0, []
        for number, (arrive, lasts) in enumerate(arrivals[name]):
            ready = max(arrive + late, opens)
            found.append(Refill(number, "W", arrive + late, ready, lasts))
            late += max(0.0, waits.get(number, ready) - ready)
        return found

    return queue_waits(refills_of, list(arrivals), {"W": at_once}, {"W": busy})


def test_who_comes_first_fills_first() -> None:
    """Worked by hand: B comes at 10:05 (605) while A fills from 10:00 to 10:20, and waits 15 min;
    C comes at 10:30, when B fills until 10:40."""
    arrivals = {"A": [(600.0, 20.0)], "B": [(605.0, 20.0)], "C": [(630.0, 5.0)]}
    assert queue(arrivals, 1) == {"B": {0: 620.0}, "C": {0: 640.0}}
    assert queue(arrivals, 2) == {}


def test_two_at_once_and_a_third() -> None:
    """A until 620, B until 625; C comes at 610 and begins at 620, D at 611 and begins at 625."""
    arrivals = {
        "A": [(600.0, 20.0)],
        "B": [(605.0, 20.0)],
        "C": [(610.0, 20.0)],
        "D": [(611.0, 1.0)],
    }
    assert queue(arrivals, 2) == {"C": {0: 620.0}, "D": {0: 625.0}}


def test_waiting_once_moves_what_comes_later() -> None:
    """B waits from 605 to 620 and so comes to its second refill at 715 instead of 700, behind C
    (710 to 730)."""
    arrivals = {"A": [(600.0, 20.0)], "B": [(605.0, 20.0), (700.0, 10.0)], "C": [(710.0, 20.0)]}
    assert queue(arrivals, 1) == {"B": {0: 620.0, 1: 730.0}}


def test_together_by_name_closed_and_busy() -> None:
    both = {"T2": [(600.0, 10.0)], "T1": [(600.0, 10.0)]}
    assert queue(both, 1) == {"T2": {0: 610.0}}
    # Both stand before a closed gate; who came first goes in first.
    early = {"T1": [(590.0, 10.0)], "T2": [(580.0, 10.0)]}
    assert queue(early, 1, opens=600.0) == {"T1": {0: 610.0}}
    # A truck that is known to leave at 607 goes first.
    assert queue(both, 1, busy=(607.0,)) == {"T1": {0: 607.0}, "T2": {0: 617.0}}


def one_at_a_time(day: Day, at_once: int = 1) -> Day:
    sites = {name: replace(one, trucks_at_once=at_once) for name, one in day.workbook.sites.items()}
    return day_of(replace(day.workbook, sites=sites), day.date)


def refills(plan: Plan) -> list[tuple[str, Stop]]:
    return [
        (truck.truck_id, stop)
        for truck in plan.trucks
        for stop in truck.stops
        if stop.kind == "refill"
    ]


def overlaps(plan: Plan, at_once: int) -> list[tuple[str, ...]]:
    """Sets of trucks that fill at one place at one time, one more than may."""
    found = []
    for some in combinations(refills(plan), at_once + 1):
        begins = max(stop.begin_min for _, stop in some)
        ends = min(stop.leave_min for _, stop in some)
        if len({stop.place_id for _, stop in some}) == 1 and begins < ends - 1e-6:
            found.append(tuple(name for name, _ in some))
    return found


def twins(**changes: object) -> Day:
    """Two like trucks of 30 gal and four lawns of 12,000 ft2 in pairs on both sides of the yard, as
    far from it; each lawn takes 24 gal at 2 gal per 1,000 ft2, so each truck refills once."""
    homes = tuple(
        home(name, 40.0, -83.0 + east, 12_000.0)
        for name, east in (("P1", 0.02), ("P2", 0.0201), ("P3", -0.02), ("P4", -0.0201))
    )
    trucks = tuple(
        truck(name, (line("A"),), (compartment("1", 30.0, "A", 1),), **changes)
        for name in ("T1", "T2")
    )
    book = workbook(
        sites=(site("Y1", 40.0, -83.0, trucks_at_once=1),),
        trucks=trucks,
        products=(product("three-way", "broadleaf", "1.5 fl oz/1000 sq ft"),),
        mixes=(mix("WEED", 2.0, **{"three-way": "1.2 fl oz/1000 sq ft"}),),
        properties=homes,
        orders=tuple(
            order(f"O{n}", at, "WEED", only_trucks=frozenset({"T1" if n < 3 else "T2"}))
            for n, at in enumerate(homes, start=1)
        ),
    )
    return day_of(book, DAY)


@pytest.mark.parametrize("engine", ["nearest-fit", "ortools"])
def test_twins_meet_in_the_yard(engine: str) -> None:
    """Both trucks come back at the same minute; T2 waits for T1. By hand: the first fill is 24 gal
    with 5 % margin and 3.1 gal for the hose, in whole gallons 29; 1.9 gal of it come back, so that
    the refill is 25.2 - 1.9, in whole gallons 24: 5 min of set-up and 2.4 min at 10 gal a
    minute."""
    day = twins()
    plan = plan_random(day, engine, count=1)
    assert plan.unserved == ()
    (_, first), (_, second) = refills(plan)
    assert first.arrive_min == pytest.approx(second.arrive_min, abs=1e-6)
    assert first.begin_min == first.arrive_min
    assert second.begin_min == pytest.approx(first.leave_min, abs=1e-6)
    assert second.begin_min - second.arrive_min == pytest.approx(7.4, abs=1e-6)
    assert [str(found) for found in audit(plan, day, straight_travel(day))] == []


def test_what_waiting_breaks_is_left_out_or_done_otherwise() -> None:
    """The shift ends a minute after both would be back without waiting."""
    free = plan_random(one_at_a_time(twins(), 2))
    back = max(one.stops[-1].arrive_min for one in free.trucks)
    day = twins(shift_end_min=back + 1.0, overtime_most_min=0.0)
    plan = plan_random(day)
    (left,) = plan.unserved
    assert left.code == "SITE"
    assert "would wait its turn at Y1, which fills 1 at one time" in left.reason
    assert [str(found) for found in audit(plan, day, straight_travel(day))] == []


@pytest.mark.parametrize("least", [1, 2])
def test_a_stopped_plan_loads_who_is_in_a_hurry_first_and_loses_the_least(least: int) -> None:
    """Each truck is loaded for 5 min and 2.9 min at one hose in the morning, T1 first as trucks
    come. T2 has 3 minutes to spare: loaded first it does all. With 3 minutes for T1, too, one lawn
    must wait: that of the least price. Before, a stopped plan loaded trucks as they come."""
    problem = problem_of(twins())
    trucks = tuple(replace(one, loads="morning") for one in problem.trucks)
    rows = [row for row, one in enumerate(problem.orders) if one.order_id in ("O2", "O4")]
    problem = without(replace(problem, trucks=trucks), rows)
    loading = trucks[0].loadings[[one.mix_of for one in trucks[0].loadings].index(("WEED",))]
    routes = tuple(
        Route(name, loading, (StopRef(StopKind.ORDER, order_id),))
        for name, order_id in (("T1", "O1"), ("T2", "O3"))
    )
    answer = Solution(routes, {})
    draft = draft_of(problem, answer, StopToken())
    ends = [full_walk(draft.days[row], draft.stops[row]).timings[0].leave_min for row in (0, 1)]
    hurry = {"O3": 3.0} if least == 2 else {"O1": 3.0, "O3": 3.0}
    orders = tuple(
        replace(one, price=1000.0 * (3 - row), windows=(Window(0.0, ends[row] + hurry[name]),))
        if (name := one.order_id) in hurry
        else one
        for row, one in enumerate(problem.orders)
    )
    stop = StopToken()
    stop.set()
    held, why = held_to_limits(replace(problem, orders=orders), answer, stop)
    assert set(why) == ({"O3"} if least == 1 else set())
    assert not queued(held).broken


def test_a_stopped_plan_still_takes_in_what_fits() -> None:
    """T2 does both of its lawns (as in the plan that is not stopped), T1 was stopped before its
    second, for which there is time. Before, a stopped plan took nothing in."""
    problem = problem_of(twins())
    loading = problem.trucks[0].loadings[0]
    stops = {"T1": ("O1",), "T2": ("O3", "Y1", "O4")}
    kinds = {"Y1": StopKind.REFILL}
    routes = tuple(
        Route(name, loading, tuple(StopRef(kinds.get(one, StopKind.ORDER), one) for one in some))
        for name, some in stops.items()
    )
    stop = StopToken()
    stop.set()
    held, why = held_to_limits(problem, Solution(routes, {"O2": ("STOPPED", "")}), stop)
    assert (held.unserved, why) == ([], {})
    assert not queued(held).broken
    assert held.stop is stop


def test_queues_are_the_same_whatever_was_looked_at_before() -> None:
    """Random orders of loading and changed stop orders of random days, with what all of them before
    came to at hand, against the plain reckoning."""
    waited = 0
    for seed in range(few(5, of=20)):
        rng = random.Random(f"known {seed}")
        problem = problem_of(one_at_a_time(random_day(seed, "medium"), 1))
        loaded = tuple(replace(one, loads="morning") for one in problem.trucks)
        problem = replace(problem, trucks=loaded)
        answer = NearestFit().solve(problem, SolveOptions(Effort(count=1)))
        draft, known = draft_of(problem, answer, StopToken()), Known()
        for _ in range(12):
            rows = list(range(len(problem.trucks)))
            rng.shuffle(rows)
            draft.turns = {row: place for place, row in enumerate(rows)}
            trial, row = draft.copy(), rng.choice(rows)
            stops = rng.sample(trial.stops[row], len(trial.stops[row]))
            if (cost := trial.days[row].cost(stops)) < inf:
                trial.put(row, stops, cost)
                draft = rng.choice((draft, trial))
            assert queued(draft, known) == queued(draft)
            waited += bool(queued(draft).waits)
    assert waited > 20


def test_the_audit_sees_a_truck_that_does_not_wait() -> None:
    """The plan of the same day without the limit, and one with a wait too long."""
    day = twins()
    free = replace(plan_random(one_at_a_time(day, 2)), workbook_sha256=day.workbook.sha256)
    codes = {found.code for found in audit(free, day, straight_travel(day))}
    assert codes == {"SITE-FULL"}
    kept = plan_random(day)
    codes = {found.code for found in audit(kept, one_at_a_time(day, 2), straight_travel(day))}
    assert codes == {"CLOCK-BEGIN"}


@pytest.mark.parametrize("seed", range(few(30, of=60)))
def test_random_days_never_crowd_a_site(seed: int) -> None:
    day = one_at_a_time(random_day(seed, "medium" if seed % 3 else "large"), 1 + seed % 2)
    plan = plan_random(day)
    assert overlaps(plan, 1 + seed % 2) == []
    assert [str(found) for found in audit(plan, day, straight_travel(day))] == []
    if seed % 4 == 0:
        later, again = planned_again(day, as_filed(plan), Said(at_min=630.0))
        assert [str(found) for found in audit(again, later, straight_travel(later))] == []


def test_the_random_days_have_queues() -> None:
    """Else the test before would say little: sites are crowded when nobody waits."""
    crowded = waited = 0
    for seed in (15, 16, 19, 23, 27):
        day = random_day(seed, "medium" if seed % 3 else "large")
        crowded += bool(overlaps(plan_random(day), 1))
        plan = plan_random(one_at_a_time(day))
        waited += any(stop.begin_min > stop.arrive_min + 0.1 for _, stop in refills(plan))
    assert (crowded, waited) == (3, 4)


def test_the_route_sheet_says_why_the_crew_waits() -> None:
    day = twins()
    plan = plan_random(day)
    pages = packet_pages(plan, day, {}, "map.html", "0123456789")
    (_, second) = refills(plan)[1]
    assert "Wait your turn" not in pages["truck-T1.html"]
    words = " ".join(re.sub(r"<[^>]+>", " ", pages["truck-T2.html"]).split())
    until = clock_text(second.begin_min)
    assert f"Wait your turn: other trucks fill here until {until}" in words
