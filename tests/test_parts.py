"""Lawns that take more than a fill, done in parts (rule 39).

Outside reference: the worked day below by hand, every sequence of a small day over other numbers of
parts, and the audit, which looks at the plan alone.
"""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from types import SimpleNamespace
from typing import cast

import pytest

import planner.day.parts as day_parts
from planner.cli.days import _plan
from planner.cli.order_lines import standing_json, standing_lines
from planner.compare.fleets import NO_PRICES, Fleet
from planner.compare.tasks import day_result, fleet_day
from planner.day.day import Day, day_of
from planner.day.fleet import Compartment
from planner.day.parts import in_parts, part_id, parts_text
from planner.day.roll import roll_of
from planner.pages.not_right import late_tomorrow
from planner.pages.yard import day_map
from planner.papers.left_out import left_out
from planner.papers.packet import packet_pages
from planner.plan.audit import audit
from planner.plan.model import NotDone, Plan, Stop
from planner.plan.same_lawn import crew_notes, office_words, same_lawn_notes, same_lawns
from planner.plan.totals import orders_out
from planner.records.outcome import laid_over, store_path
from planner.records.plans import KeptPlan, plans_of_record
from planner.records.store import Store
from planner.records.sums import year_rows
from planner.routing.compiled.python_api import place_refills
from planner.routing.exact.route_cost import DayTables, TruckDay
from planner.routing.problem import (
    Effort,
    Loading,
    Route,
    RoutingProblem,
    Solution,
    SolveOptions,
    StopKind,
    StopRef,
)
from planner.routing.shared.limits import SharedLimits
from planner.routing.shared.whole import parts_in_turn
from planner.weeks.lay import _of_orders
from planner.weeks.model import Calendar
from planner.weeks.share import DayShare, day_share
from tests.days import DAY, compartment, home, line, mix, order, product, site, truck, workbook
from tests.random_days import random_day, straight_travel
from tests.random_plans import plan_random
from tests.random_problems import problem_of
from tests.records_cases import kept, record, spray


def large(area_ft2: float = 60_000.0, **changes: object) -> Day:
    """A 60 gal truck (56.9 gal from one fill, its hose full), a commercial lawn that takes 2 gal on
    1,000 ft2, and a home of 5,000 ft2 a mile farther."""
    lawns = (home("BIG", 40.02, -83.0, area_ft2), home("P2", 40.035, -83.0, 5_000.0))
    book = workbook(
        sites=(site("Y1", 40.0, -83.0),),
        trucks=(truck("T1", (line("A"),), (compartment("1", 60.0, "A", 1),), **changes),),  # type: ignore[arg-type]
        products=(product("three-way", "broadleaf", "1.5 fl oz/1000 sq ft"),),
        mixes=(mix("WEED", 2.0, **{"three-way": "1.2 fl oz/1000 sq ft"}),),
        properties=lawns,
        orders=(order("O1", lawns[0], "WEED", revenue=900.0), order("O2", lawns[1], "WEED")),
    )
    return day_of(book, DAY)


def checked(day: Day, engine: str = "nearest-fit") -> Plan:
    plan = plan_random(day, engine, count=1 if engine == "nearest-fit" else 20)
    assert [str(row) for row in audit(plan, day, straight_travel(day))] == []
    return plan


def works(plan: Plan) -> dict[str, float]:
    return {w.order_id: w.area_ft2 for t in plan.trucks for s in t.stops for w in s.orders}


def test_a_commercial_lawn_by_hand() -> None:
    """120 gal are 2.1 fills of 56.9 gal: three fills in any case, five parts of 24 gal."""
    day = in_parts(large())
    assert list(day.orders) == [*(part_id("O1", n, 5) for n in range(1, 6)), "O2"]
    assert sum(one.revenue or 0.0 for one in day.orders.values()) == pytest.approx(900.0)
    plan = checked(day)
    done = works(plan)
    assert len(done) == 6
    assert plan.totals.totals.orders == plan.trucks[0].totals.orders == 2
    assert sum(done[name] for name in done if name != "O2") == pytest.approx(60_000.0)
    assert sum(stop.kind == "refill" for stop in plan.trucks[0].stops) == 2
    price = sum(task.price for task in problem_of(day).orders if task.part_of == "O1")
    whole = problem_of(large()).orders[0].price
    assert price == pytest.approx(whole)


def test_the_map_of_the_office_marks_an_order_in_parts_once() -> None:
    """Eight labels of one school lay over each other."""
    day = in_parts(large())
    plan = checked(day)
    out = tuple(NotDone(name, "FULL", "full") for name in day.orders)
    planned = SimpleNamespace(day=day, plan=replace(plan, unserved=out))
    state = SimpleNamespace(trucks=(), planned=planned)
    marks = day_map(state)["out"].make()  # type: ignore[arg-type]
    assert [order for *_, order in marks] == [part_id("O1", 1, 5), "O2"]


def test_an_order_in_parts_counts_once_wherever_orders_are_counted() -> None:
    """The tables have two orders of that day; two days later both are overdue, each named once."""
    assert "Orders: 2 due (2 on their last day)." in standing_lines(in_parts(large()))
    late = replace(large(), date=DAY + timedelta(days=2))
    lines = standing_lines(in_parts(late))
    assert "Orders: 2 due (2 overdue)." in lines
    assert [line.split()[0] for line in lines if "overdue by" in line] == ["O1", "O2"]
    told = standing_json(in_parts(late))
    assert [row["order_id"] for row in told["overdue"]] == ["O1", "O2"]  # type: ignore[attr-defined]
    assert told["counts"]["due"] == told["counts"]["overdue"] == 2  # type: ignore[index]


def test_the_next_round_of_a_lawn_in_parts_waits_for_the_order_of_the_tables() -> None:
    day = large()
    next_round = replace(
        day.orders["O1"],
        order_id="O9",
        due_from=DAY + timedelta(days=2),
        due_to=DAY + timedelta(days=2),
    )
    orders = {**day.workbook.orders, "O9": next_round}
    late = replace(day, date=DAY + timedelta(days=2), workbook=replace(day.workbook, orders=orders))
    (line,) = [line for line in standing_lines(in_parts(late)) if line.startswith("  O9 ")]
    assert "order O1 of the same mix there is overdue and comes first" in line


def stop_of(plan: Plan, row: int, *parts: int) -> Stop:
    """The first visit of a plan to BIG as it would be for these parts."""
    stop = next(one for one in plan.trucks[0].stops if one.place_id == "BIG")
    names = [part_id("O1", number, 5) for number in parts]
    begin = 480.0 + 60.0 * row
    works = tuple(
        replace(stop.orders[0], order_id=name, begin_min=begin, end_min=begin + 50)
        for name in names
    )
    return replace(stop, seq=row + 1, orders=works, begin_min=begin, leave_min=begin + 50)


def large_by(trucks: dict[str, list[Stop]]) -> tuple[Plan, Day]:
    """The commercial lawn done by these trucks; its label keeps everybody off for 4 hours."""
    day = large()
    weed = replace(day.workbook.products["three-way"], reentry="Keep off for 4 hours")
    both = {name: replace(day.workbook.trucks["T1"], truck_id=name) for name in ("T1", "T2")}
    book = replace(day.workbook, trucks=both, products={"three-way": weed})
    day = in_parts(day_of(book, DAY))
    plan = checked(day)
    done = tuple(
        replace(plan.trucks[0], truck_id=name, stops=tuple(stops)) for name, stops in trucks.items()
    )
    return replace(plan, trucks=done), day


def test_one_crew_that_comes_back_to_its_lawn_is_not_told_to_wait_for_hours() -> None:
    """It sprays other ground. Before, the office was told to choose another day for one of them,
    and all parts are done on one day or none."""
    plan = checked(in_parts(large()))
    plan, day = large_by({"T1": [stop_of(plan, 0, 1, 2), stop_of(plan, 1, 3)]})
    assert same_lawn_notes(plan, day) == ()
    (told,) = crew_notes(plan, day).values()
    words = "you do other parts 8:00 AM–8:50 AM: stay off what is wet (Keep off for 4 hours)."
    assert told == (("PARTS", words),)
    (row,) = same_lawns(plan, day)
    assert office_words(row).endswith("It stays off what is wet.")


def test_two_crews_on_parts_of_one_lawn_agree_who_does_which() -> None:
    plan = checked(in_parts(large()))
    one, other = stop_of(plan, 0, 1, 2), stop_of(plan, 1, 3)
    at_once = replace(other, begin_min=500.0, leave_min=550.0)
    plan, day = large_by({"T1": [one], "T2": [at_once]})
    (note,) = same_lawn_notes(plan, day)
    assert (
        "T2 (stop 2) comes 8:20 AM–9:10 AM, so two crews are on one lawn at the same time" in note
    )
    assert note.endswith(
        ", each on parts of its own (Keep off for 4 hours). Tell them who does which ground."
    )
    told = [row for rows in crew_notes(plan, day).values() for row in rows]
    for (mark, words), name in zip(told, ("T2", "T1"), strict=True):
        assert mark == "TWO CREWS"
        assert words.startswith(f"{name} does other parts ")
        assert "keep out of each other's spray" in words
    plan, day = large_by({"T1": [one], "T2": [other]})
    assert same_lawn_notes(plan, day) == ()
    marks = [row[0] for rows in crew_notes(plan, day).values() for row in rows]
    assert marks == ["THEN", "PARTS"]


def test_sheets_name_the_parts_of_a_stop_in_one_sentence() -> None:
    day = in_parts(large())
    parts = [day.orders[part_id("O1", number, 5)] for number in (1, 2, 4)]
    assert parts_text([*parts, day.orders["O2"], None]) == {"O1": "parts 1, 2 and 4 of 5"}
    assert parts_text(parts[2:]) == {"O1": "part 4 of 5"}
    page = packet_pages(checked(day), day, {}, "", "0")["truck-T1.html"]
    assert re.search(r"<b>Only parts? [1-5]( and [1-5])? of 5 of this lawn\.</b>", page)


def test_each_truck_does_its_parts_in_the_order_of_their_numbers() -> None:
    problem = problem_of(in_parts(large()))
    names = [part_id("O1", number, 5) for number in (3, 1, 5)]
    refs = (names[0], "O2", names[1], names[2])
    route = Route("T1", Loading((), ()), tuple(StopRef(StopKind.ORDER, ref) for ref in refs))
    (turned,) = parts_in_turn([route], problem)
    assert [stop.ref for stop in turned.stops] == [names[1], "O2", names[0], names[2]]
    wishes = replace(problem.preferences, told=(None,) * len(problem.orders))
    (kept,) = parts_in_turn([route], replace(problem, preferences=wishes))
    assert kept == route


class Stopped:
    """An engine that is stopped with one part left out, and knows nothing when it is asked anew."""

    name = "search"

    def __init__(self, answer: Solution, first: bool) -> None:
        self.answer, self.asked, self.first = answer, 0, first

    def solve(self, problem: RoutingProblem, options: SolveOptions) -> Solution:
        self.asked += 1
        if self.first or self.asked == 2:
            options.stop.set()
        if self.asked == 1:
            return self.answer
        home = tuple(replace(route, stops=()) for route in self.answer.routes)
        return Solution(home, {one.order_id: ("STOPPED", "") for one in problem.orders})


@pytest.mark.parametrize("first", [True, False])
def test_a_stopped_day_loses_the_order_in_parts_and_no_other(first: bool) -> None:
    """Stopped during the first search or the second. Before, the second one, which had not begun,
    was the answer: nothing was done."""
    problem = problem_of(in_parts(large()))
    loading = next(one for one in problem.trucks[0].loadings if one.mix_of == ("WEED",))
    stops = (StopRef(StopKind.ORDER, "O2"), StopRef(StopKind.ORDER, part_id("O1", 1, 5)))
    left = {part_id("O1", n, 5): ("FULL", "no time") for n in range(2, 6)}
    engine = Stopped(Solution((Route("T1", loading, stops),), left), first)
    answer = SharedLimits(engine).solve(problem, SolveOptions(Effort(count=1)))
    assert [stop.ref for stop in answer.routes[0].stops] == ["O2"]
    assert {code for code, _ in answer.unserved.values()} == {"WHOLE"}
    assert len(answer.unserved) == 5


def test_what_one_fill_does_stays_whole() -> None:
    day = large(28_000.0)
    assert in_parts(day) is day
    far_too_large = large(2e6)
    assert in_parts(far_too_large) is far_too_large
    codes = [row.code for row in plan_random(far_too_large).unserved]
    assert codes == ["TOO-LARGE"]


def test_parts_fit_each_tank() -> None:
    """525 gal from tanks of 200 and 120 gal on one line, with 198 and 118 gal over the heels: six
    parts of 87.5 gal are two fills of both tanks and three of the larger one alone."""
    tanks = (compartment("1", 200.0, "A", 1), compartment("2", 120.0, "A", 2))
    book = large(262_500.0).workbook
    one = replace(book.trucks["T1"], compartments=tanks, gvwr_lb=20_000.0)
    day = in_parts(day_of(replace(book, trucks={"T1": one}), DAY))
    assert len(day.orders) == 7


def test_a_reserved_tank_counts_for_the_mixes_of_its_group() -> None:
    """Rule 7: a tank that is reserved for the group of a product takes the mix, and then no other
    tank of the truck does, however large. Before, such a lawn stayed whole and was too large."""
    tank = compartment("1", 60.0, "A", 1)
    reserved = replace(tank, reserved_for="broadleaf")
    right = set(in_parts(large()).orders)
    assert len(right) > 2
    for tanks in ((reserved,), (reserved, compartment("2", 200.0, "A", 2))):
        book = large().workbook
        one = replace(book.trucks["T1"], compartments=tanks, gvwr_lb=20_000.0)
        day = in_parts(day_of(replace(book, trucks={"T1": one}), DAY))
        assert set(day.orders) == right
        assert checked(day).unserved == ()
    # Reserved for something else, it is none of this mix's.
    other = replace(compartment("2", 200.0, "A", 2), reserved_for="iron")
    book = large().workbook
    one = replace(book.trucks["T1"], compartments=(tank, other), gvwr_lb=20_000.0)
    assert set(in_parts(day_of(replace(book, trucks={"T1": one}), DAY)).orders) == right


def test_a_tank_that_holds_another_mix_is_no_fill() -> None:
    """Rule 4: 90 gal of another mix stand in the tank of 200 gal, and the lawn is divided for the
    tank of 60 gal, until they are gone. Before, it stayed whole, and was left out each day."""
    right = set(in_parts(large()).orders)
    free = compartment("2", 200.0, "A", 2)
    held = replace(free, last_mix="FEED", leftover_gal=90.0)
    book = large().workbook
    book = replace(
        book, mixes=book.mixes | {"FEED": mix("FEED", 2.0, **{"three-way": "1 fl oz/1000 sq ft"})}
    )

    def orders(tank: Compartment) -> set[str]:
        tanks = (compartment("1", 60.0, "A", 1), tank)
        one = replace(book.trucks["T1"], compartments=tanks, gvwr_lb=20_000.0)
        day = in_parts(day_of(replace(book, trucks={"T1": one}), DAY))
        assert checked(day).unserved == ()
        return set(day.orders)

    assert orders(held) == right
    assert orders(free) == orders(replace(held, last_mix="WEED")) == {"O1", "O2"}


def test_a_told_day_stays_when_an_order_is_divided_anew() -> None:
    """Whole in the calendar before and in parts in this one, or the other way round."""
    whole, parts = large().workbook, in_parts(large()).workbook
    names = {name for name in parts.orders if name != "O2"}
    assert len(names) == 5
    told = {"O1": "2027-04-13", "gone": "2027-04-13"}
    assert _of_orders(told, parts) == dict.fromkeys(names, "2027-04-13")
    assert _of_orders({part_id("O1", 3, 7): "2027-04-13"}, whole) == {"O1": "2027-04-13"}
    assert _of_orders({part_id("O1", 3, 7): "2027-04-13"}, parts).keys() == names


def test_all_parts_or_none() -> None:
    """Time for some of the parts: the whole order waits, and the home is served."""
    day = in_parts(large(shift_end_min=530.0, overtime_most_min=0.0))
    plan = checked(day)
    assert set(works(plan)) == {"O2"}
    assert [row.code for row in plan.unserved] == ["WHOLE"] * 5
    assert all("order O1 is done whole or not at all" in row.reason for row in plan.unserved)
    assert plan.totals.unserved == 1
    (group,) = left_out(plan, day)
    assert [row.order_id for row in group.rows] == ["O1"]


def test_a_lawn_that_two_trucks_share_is_one_order() -> None:
    """Of 120 gal each truck does some: each has the order in its count, and the day has it once."""
    book = large(shift_end_min=540.0, overtime_most_min=0.0).workbook
    second = replace(book.trucks["T1"], truck_id="T2")
    both = day_of(replace(book, trucks=book.trucks | {"T2": second}), DAY)
    plan = checked(in_parts(both))
    assert len(works(plan)) == 6
    assert [truck.totals.orders for truck in plan.trucks] in ([1, 2], [2, 1])
    assert plan.totals.totals.orders == 2
    more = replace(plan.totals, totals=replace(plan.totals.totals, orders=3))
    found = audit(replace(plan, totals=more), in_parts(both), straight_travel(both))
    assert [row.code for row in found] == ["TOTAL-DAY"]


def test_each_fleet_of_a_comparison_divides_for_its_own_trucks() -> None:
    """A fleet with a tank of 150 gal does the lawn in one fill, another leaves it out."""
    day = large(shift_end_min=550.0, overtime_most_min=0.0)
    small = day.workbook.trucks["T1"]
    tanks = (compartment("1", 150.0, "A", 1),)
    bigger = replace(small, compartments=tanks, gvwr_lb=20_000.0)
    rows = {}
    for name, one in {"small": small, "large": bigger}.items():
        theirs = fleet_day(day, Fleet(name, {"T1": one}, NO_PRICES, {}), {})
        rows[name] = day_result(name, theirs, checked(theirs))
    assert [rows["small"].orders, rows["large"].orders] == [2, 2]
    assert (rows["small"].left_out, rows["large"].left_out) == ({"O1"}, frozenset())


def test_the_audit_finds_an_order_done_in_part() -> None:
    day = in_parts(large())
    plan = plan_random(day)
    gone = NotDone(part_id("O1", 5, 5), "FULL", "the day is full")
    found = {row.code for row in audit(replace(plan, unserved=(gone,)), day, straight_travel(day))}
    assert "PARTS" in found


def cheapest(day: Day) -> float:
    """Every place of the home among the parts, refills proved, orders of parts alike."""
    problem = problem_of(day)
    one = TruckDay(DayTables(problem), 0, problem.trucks[0].loadings[0])
    parts = [row for row, task in enumerate(problem.orders) if task.order_id != "O2"]
    home_row = next(row for row, task in enumerate(problem.orders) if task.order_id == "O2")
    found = [
        place_refills(one, [*parts[:at], home_row, *parts[at:]], prove=True)
        for at in range(len(parts) + 1)
    ]
    return min(row[0] for row in found if row is not None)


@pytest.mark.parametrize("area_ft2", [32_000.0, 47_000.0, 60_000.0])
def test_no_other_number_of_parts_is_cheaper(
    area_ft2: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    """But for cents: fills are whole gallons with a margin. Thirds of 94 gal cost a tenth more."""
    day = large(area_ft2)
    ours = in_parts(day)
    least = cheapest(ours)
    assert plan_random(ours, "ortools", count=40).totals.totals.cost == pytest.approx(least)
    gal = area_ft2 / 500.0
    for count in range(2, 8):
        monkeypatch.setattr(day_parts, "LEAST_OF_A_FILL", count * 56.94 / gal - 1e-3)
        monkeypatch.setattr(day_parts, "MOST_OF_A_FILL", count * 56.94 / gal - 1e-3)
        other = in_parts(day)
        if all(task.gal <= 56.9 for task in problem_of(other).orders):
            assert cheapest(other) >= 0.995 * least, count


@pytest.mark.parametrize("engine", ["nearest-fit", "ortools"])
def test_random_days_with_a_commercial_lawn(engine: str) -> None:
    """One lawn of each day grows to three fills or so; several trucks, mixes, windows, hours."""
    whole = torn = 0
    for seed in range(8):
        day = random_day(seed, "small")
        name = next(iter(day.orders))
        one = day.orders[name]
        carrier = day.workbook.mixes[one.mix_id].carrier_gal_per_1000_ft2
        book = day.workbook
        lawn = replace(book.properties[one.property_id], lawn_ft2=300_000.0 / carrier)
        grown = replace(one, area_ft2=300_000.0 / carrier)
        book = replace(
            book,
            orders=book.orders | {name: grown},
            properties=book.properties | {lawn.property_id: lawn},
        )
        day = in_parts(day_of(book, day.date))
        parts = {n for n, row in day.orders.items() if row.part_of == name}
        plan = checked(day, engine)
        served = parts & set(works(plan))
        assert served in (set(), parts)
        whole += bool(parts) and served == parts
        torn += bool(parts) and not served
    assert whole >= 2
    assert torn >= 1


def test_parts_that_the_calendar_lays_on_two_days_are_planned_on_the_first() -> None:
    laid = {"O1 part 1 of 2": "2027-04-14", "O1 part 2 of 2": "2027-04-15", "O2": "2027-04-15"}
    waiting = [
        SimpleNamespace(order_id=f"O{n}", code=code) for n, code in ((3, "LATER"), (4, "FULL"))
    ]
    found = SimpleNamespace(on=lambda _when: (), day_of=laid, waiting=waiting, out=(), wet=())
    calendar = cast("Calendar", found)
    assert day_share(calendar, date(2027, 4, 14)).later == {"O2", "O3"}
    assert day_share(calendar, date(2027, 4, 13)).later == {*laid, "O3"}


def test_counts_of_the_office_are_of_orders_and_not_of_parts() -> None:
    """A lawn in five parts that waits, or lies on a later day, is one order everywhere."""
    day = in_parts(large())
    parts = [name for name, one in day.orders.items() if one.part_of]
    assert len(parts) == 5
    plan = checked(day)
    waits = tuple(NotDone(name, "NO-ROOM", "full") for name in (*parts, "O2"))
    waiting = replace(plan, unserved=waits)
    assert (orders_out(waiting, day.orders), late_tomorrow(waiting, day)) == (2, 2)
    assert roll_of(replace(day, orders={"O2": day.orders["O2"]})).left_out == ("O1",)
    share = DayShare(dict.fromkeys([*parts, "O2"], "T1"), frozenset())
    assert share.text(day).startswith("Calendar: 2 orders lie on this day")
    later = replace(day, orders={"O2": day.orders["O2"]}, laid_later=tuple(parts))
    assert "1 order lies on this day; 1 due order is for later days" in share.text(later)


def test_records_add_parts_up_under_the_order(tmp_path: Path) -> None:
    """Four of five parts are sprayed: 12,000 ft2 of the order are left, which one fill does."""
    day = large()
    table = day.workbook
    trucks = {
        name: replace(one, applicator="Kim Example", applicator_license="L-1")
        for name, one in table.trucks.items()
    }
    table = replace(table, trucks=trucks)
    plan = checked(in_parts(replace(day, workbook=table)))
    last = [name for name in works(plan) if name != "O2"][-1]
    found = record([spray(last, done=False, note="dog")], plan=plan, book=table)
    assert [one.message for one in found.problems] == []
    events = kept(found)
    bodies = [event.body for event in events if event.body.get("part_of")]
    assert len(bodies) == 5
    assert {body["part_of"] for body in bodies} == {"O1"}
    after = laid_over(table, events, (), DAY + timedelta(days=1))
    assert after.workbook.orders["O1"].area_ft2 == pytest.approx(12_000.0)
    assert "O2" in after.done
    assert [row.applications for row in year_rows(events, str(DAY.year))] == [2]
    with Store(store_path(tmp_path), create=True) as store:
        store.append(found.drafts, "office")
    (told,) = plans_of_record(tmp_path).values()
    assert (told.sprayed, told.skipped) == (2, 1)
    day = DAY.isoformat()
    names, at = tuple(works(plan)), f"{day}T06:00:00+00:00"
    printed = KeptPlan(1, day, "3f2a", 1, "", "", "search", False, 1, names, (), (), at, "office")
    assert "3f2a, print 1: 2 orders, 1 truck, search; " in _plan(printed)
