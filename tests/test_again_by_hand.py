"""Where a truck stands and what it does next, worked by hand.

The day of tests/test_schedule.py: Y1-P1 10 min 5 mi, P1-P2 6 min 3 mi, P2-Y1 8 min 4 mi; line A's
hose holds 3.06 gal, its gun gives 2 gal/min. Planned: leave 7:30 (450) with 14 gal of WEED in 1 and
16 gal of FEED in 2; O1 (10 gal WEED) at P1 460 to 469; O2 (12 gal FEED) at P2 from 475: set-up to
479, 3.06 gal of WEED pushed out of the hose (1.53 min), 6 min at the gun, to 486.53; home 494.53.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.again.said import Said
from planner.again.take_over import TakenOver, rest_of, take_over, told_windows
from planner.day.clock import Window
from planner.day.day import Day
from planner.mixing.recipes import recipes
from planner.plan.assemble import MadeAgain, make_plan
from planner.plan.audit import audit
from planner.plan.done_part import Sprayed, Told
from planner.plan.model import Plan
from planner.prepare import prepare_day
from planner.roads.travel import Travel
from planner.routing.problem import Route, Solution, StopKind, StopRef
from tests.test_schedule import HOSE_GAL, MILES, MINUTES, ORIGIN, PLACES, scheduled, small

TRAVEL = {"T1": Travel(PLACES, MINUTES, MILES)}


def taken(at_min: float, told: Told | None = None, **said: object) -> TakenOver:
    """What stays of the day when it is planned again then."""
    day = small()
    plan = scheduled(day, "O1", "O2")
    wanted = Said(at_min, **said)  # type: ignore[arg-type]
    told = told or Told(frozenset(wanted.done), frozenset(wanted.opened), wanted.filled)
    return take_over(day, plan, wanted, told, recipes(day.workbook), TRAVEL)


def planned(state: TakenOver, *stops: StopRef) -> tuple[Day, Plan]:
    """The rest of the day with these stops."""
    day = small()
    loading = state.underway["T1"].standing.loading
    answer = Solution((Route("T1", loading, stops),), {})
    made = MadeAgain(state.again, state.underway)
    return day, make_plan(prepare_day(day), answer, TRAVEL, ORIGIN, made)


def order(name: str) -> StopRef:
    return StopRef(StopKind.ORDER, name)


def test_a_truck_at_work_stands_there_when_it_is_done() -> None:
    state = taken(465.0).underway["T1"].standing
    assert (state.place_id, state.free_min, state.miles) == ("P1", 469.0, 5.0)
    # 14 less 10 sprayed and 3.06 in the hose.
    assert state.level_gal["1"] == pytest.approx(14 - 10 - HOSE_GAL, abs=1e-3)
    assert state.level_gal["2"] == 16.0
    assert state.hose_mix == {"A": "WEED"}
    assert not state.lunched


def test_it_goes_on_with_what_its_hose_holds() -> None:
    _, plan = planned(taken(465.0), order("O2"))
    depart, first, second, back = plan.trucks[0].stops
    assert [stop.done for stop in plan.trucks[0].stops] == [True, True, False, False]
    assert (depart.leave_min, first.leave_min) == (450.0, 469.0)
    assert second.orders[0].displaced_mix_id == "WEED"
    assert second.leave_min == pytest.approx(486.53, abs=1e-2)
    assert back.arrive_min == pytest.approx(494.53, abs=1e-2)
    assert plan.trucks[0].end_gal["2"] == pytest.approx(16 - 12 - HOSE_GAL, abs=1e-3)


def test_a_truck_that_has_set_out_for_a_stop_does_it() -> None:
    # At 470 it is on its way to P2.
    assert taken(470.0).done == {"O1", "O2"}
    state = taken(470.0).underway["T1"].standing
    assert state.place_id == "P2"
    assert state.free_min == pytest.approx(486.53, abs=1e-2)


def test_called_back_from_the_road_it_stands_where_it_left() -> None:
    state = taken(470.0, opened=("O2",))
    assert state.done == {"O1"}
    standing = state.underway["T1"].standing
    # From at_min, not from 469 when it left.
    assert (standing.place_id, standing.free_min) == ("P1", 470.0)
    _, plan = planned(state, order("O2"))
    assert plan.trucks[0].stops[2].arrive_min == 476.0


def test_a_stop_passed_over_leaves_what_it_would_have_taken() -> None:
    state = taken(470.0, opened=("O1",))
    first = state.underway["T1"].done[1]
    # Y1 to P2 instead of Y1 to P1 to P2, and the hose was empty when FEED came.
    assert (first.place_id, first.drive_min, first.drive_miles) == ("P2", 8.0, 4.0)
    assert first.orders[0].displaced_mix_id is None
    assert first.orders[0].hose_gal == pytest.approx(HOSE_GAL, abs=1e-3)
    levels = state.underway["T1"].standing.level_gal
    assert levels["1"] == 14.0
    assert levels["2"] == pytest.approx(16 - 12 - HOSE_GAL, abs=1e-3)
    day, plan = planned(state, order("O1"))
    # WEED's 14 gal: 10 for the lawn and 3.06 for the hose, which held FEED.
    assert plan.trucks[0].stops[2].orders[0].displaced_mix_id == "FEED"
    # O3 is in nobody's plan here.
    assert {row.code for row in audit(plan, day, TRAVEL)} == {"ORDER-MISSING"}


def test_a_crew_ahead_of_its_plan_is_free_at_once() -> None:
    state = taken(470.0 - 2.0, done=("O2",)).underway["T1"]
    # O2 would end at 486.53; the crew says at 468 that it is done, O1 included.
    assert state.standing.free_min == pytest.approx(468.0)
    assert state.standing.place_id == "P2"
    assert state.done[-1].leave_min == pytest.approx(468.0)
    arrive = [stop.arrive_min for stop in state.done]
    assert arrive == sorted(arrive)


def test_recorded_gallons_and_times_go_before_the_plan() -> None:
    told = Told(done=frozenset({"O1"}), sprayed={"O1": Sprayed(10.5, 5500.0, 462.0, 471.0)})
    state = taken(475.0, told, opened=()).underway["T1"]
    work = state.done[1].orders[0]
    assert (work.gal, work.area_ft2, work.begin_min, work.end_min) == (10.5, 5500.0, 462.0, 471.0)
    assert state.done[1].leave_min == 471.0
    # 10.5 gal x 0.64 fl oz of product.
    assert work.products[0].amount == pytest.approx(10.5 * 0.64 / 128)
    # On its way to P2 by the plan's clock, which nobody contradicts: the end of O2 stays.
    assert state.standing.level_gal["1"] == pytest.approx(14 - 10.5 - HOSE_GAL, abs=1e-3)


def test_no_record_takes_out_more_than_there_was() -> None:
    told = Told(done=frozenset({"O1"}), sprayed={"O1": Sprayed(gal=13.0)})
    state = taken(465.0, told).underway["T1"]
    assert state.standing.level_gal["1"] == 0.0
    day, plan = planned(taken(465.0, told), order("O2"))
    found = {row.code for row in audit(plan, day, TRAVEL)}
    assert found == {"ORDER-MISSING"}


def test_a_truck_that_is_down_drives_home() -> None:
    state = taken(465.0, down=("T1",))
    assert rest_of(small(), state).workbook.trucks == {}
    _, plan = planned(state)
    assert [stop.kind for stop in plan.trucks[0].stops] == ["depart", "visit", "return"]
    # Leaves P1 at 469, ten minutes.
    assert plan.trucks[0].stops[-1].arrive_min == 479.0


def test_a_crew_that_is_home_goes_out_again_when_it_is_named() -> None:
    """Home at 494.53 with O1 and O2 done; O3 (8 gal WEED) is left, 0.94 gal of WEED on board."""
    assert rest_of(small(), taken(500.0)).workbook.trucks == {}
    state = taken(500.0, free_min={"T1": 510.0})
    standing = state.underway["T1"].standing
    assert (standing.place_id, standing.free_min) == ("Y1", 510.0)
    day, plan = planned(state, StopRef(StopKind.REFILL, "Y1"), order("O3"))
    kinds = [stop.kind for stop in plan.trucks[0].stops]
    assert kinds == ["depart", "visit", "visit", "return", "refill", "visit", "return"]
    refill, visit = plan.trucks[0].stops[4:6]
    # The hose holds FEED: 8 x 1.05 + 3.06 - 0.94 = 10.52, so 11 gal; 5 min and 11 at 10 a minute.
    assert refill.fills[0].gal == 11.0
    assert (refill.arrive_min, refill.leave_min) == (510.0, pytest.approx(516.1))
    assert visit.arrive_min == pytest.approx(524.1)
    assert [str(row) for row in audit(plan, day, TRAVEL)] == []
    # Nothing for it after all: its day stays as it was.
    _, idle = planned(state)
    assert [stop.done for stop in idle.trucks[0].stops] == [True] * 4


def test_at_six_a_filled_truck_keeps_its_load() -> None:
    state = taken(360.0, filled=True).underway["T1"]
    assert [stop.kind for stop in state.done] == ["depart"]
    assert state.standing.level_gal == {"1": 14.0, "2": 16.0}
    assert (state.standing.place_id, state.standing.free_min) == ("Y1", 450.0)
    assert taken(360.0).underway == {}


def test_a_crew_that_waits_has_lunch_meanwhile() -> None:
    """Lunch of 30 min between 8:00 (480) and 9:00 (540); the truck stands at P1 from 469 to 520."""
    day = small()
    hungry = replace(
        day.workbook.trucks["T1"], lunch_min=30.0, lunch_earliest_min=480.0, lunch_latest_min=540.0
    )
    day = replace(day, workbook=replace(day.workbook, trucks={"T1": hungry}))
    early = scheduled(day, "O1", "O2")
    kitchen = recipes(day.workbook)

    def state(free_min: float) -> TakenOver:
        said = Said(465.0, free_min={"T1": free_min})
        return take_over(day, early, said, Told(), kitchen, TRAVEL)

    standing = state(520.0).underway["T1"].standing
    assert (standing.lunch_begin_min, standing.lunched) == (480.0, True)
    # 480 + 30 is not over by 505.
    assert state(505.0).underway["T1"].standing.lunch_begin_min is None
    answer = Solution((Route("T1", standing.loading, (order("O2"),)),), {})
    made = MadeAgain(state(520.0).again, state(520.0).underway)
    plan = make_plan(prepare_day(day), answer, TRAVEL, ORIGIN, made)
    lunch, second = plan.trucks[0].stops[2:4]
    assert (lunch.kind, lunch.begin_min, lunch.leave_min) == ("lunch", 480.0, 510.0)
    assert second.arrive_min == 526.0
    assert {row.code for row in audit(plan, day, TRAVEL)} == {"ORDER-MISSING"}


def test_customers_were_told_the_planned_time_give_or_take_an_hour() -> None:
    # O2 begins its set-up at 475; O1 is done.
    assert told_windows(small(), taken(465.0)) == {"O2": Window(415.0, 535.0)}


def test_the_way_to_a_place_where_the_truck_stands_sets_up_anew() -> None:
    day = small()
    plan = scheduled(day, "O1", "O3", "O2")
    # At 470 on its way to P2, where O3 (8 gal WEED) takes 4 min: 475 to 483; O2 is called off.
    told = Told(open=frozenset({"O2"}))
    state = take_over(day, plan, Said(470.0), told, recipes(day.workbook), TRAVEL)
    assert state.underway["T1"].standing.free_min == 483.0
    day, again = planned(state, order("O2"))
    second, third = again.trucks[0].stops[2:4]
    assert (second.done, third.done) == (True, False)
    assert third.place_id == second.place_id
    assert third.orders[0].begin_min == pytest.approx(483 + 4)
    assert [str(row) for row in audit(again, day, TRAVEL)] == []


def test_facts_are_not_measured_by_rules_of_a_later_hour() -> None:
    """A window that the tables have by now makes an open order wrong, and no done one."""
    state = taken(465.0)
    day, plan = planned(state, order("O2"))
    late = {"O1": (Window(900.0, 960.0),), "O2": (Window(900.0, 960.0),)}
    book = day.workbook
    orders = {name: replace(row, windows=late.get(name)) for name, row in book.orders.items()}
    later = replace(day, workbook=replace(book, orders=orders), orders=orders)
    codes = {row.code for row in audit(plan, later, TRAVEL)}
    assert "WINDOW" in codes
    messages = " ".join(str(row) for row in audit(plan, later, TRAVEL) if row.code == "WINDOW")
    assert "O2" in messages
    assert "O1" not in messages
