"""What the calendar tells an office: answers, refusals, why an order waits, and what a day's plan
says of it. Expected words and figures were worked by hand on the starter workbook."""

from __future__ import annotations

import shutil
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from planner.chain import open_day, open_day_to_plan
from planner.compliance.people import with_licenses
from planner.day.clock import DateSpan
from planner.day.life import NoRecord
from planner.day.orders import WeatherHour
from planner.kept_home import calendar_path
from planner.office.weeks import told
from planner.plan.document import from_json
from planner.routing.exact.route_cost import DayTables
from planner.routing.problem import Effort, SolveOptions
from planner.routing.repair.draft import Draft
from planner.weeks.asking import lost_day
from planner.weeks.audit import calendar_faults
from planner.weeks.branches import BranchTask, branches, lay_branch, merged
from planner.weeks.call_list import call_list
from planner.weeks.carry import Carry
from planner.weeks.laid import shares_of
from planner.weeks.lateness import Lateness
from planner.weeks.lay import Horizon, open_horizon
from planner.weeks.lines import calendar_lines, difference_lines
from planner.weeks.model import Calendar, WaitingOrder
from planner.weeks.numbers import a_days_need, calendar_problem
from planner.weeks.open_days import open_days, working_days
from planner.weeks.page import weeks_page
from planner.weeks.share import day_share
from planner.weeks.weeks_files import weeks_files, weeks_rows
from tests.test_weeks import MONDAY, an_order, laid, office, run, spoiled, two_yards, with_orders

__all__ = ["office"]
TUESDAY = MONDAY + timedelta(days=1)


@pytest.fixture(scope="module")
def horizon(office: Path) -> Horizon:
    return open_horizon(office, MONDAY, 3)


def without_first(made: Calendar) -> Calendar:
    """The calendar before its first order had a day."""
    share = made.shares[0]
    return replace(made, shares=(replace(share, orders=share.orders[1:]), *made.shares[1:]))


def test_an_answer_names_who_gets_a_day_and_what_is_newly_lost(horizon: Horizon) -> None:
    made = laid(horizon)
    name = made.shares[0].orders[0].order_id
    before = replace(without_first(made), wet=("2027-05-05",), miles=made.miles - 1.2)
    after = replace(made, wet=("2027-05-04", "2027-05-05"))
    said = list(difference_lines(lost_day(before, after)))
    assert said[0].startswith("With Tue 2027-05-04 lost: 0 orders on another day")
    assert "1 more mile;" in said[0]
    assert f"  had no day -> Mon 2027-05-03: {name}" in said
    back = list(difference_lines(lost_day(made, replace(made, wet=("2027-05-04",), miles=0.0))))
    assert f"{made.miles:,.0f} fewer miles" in back[0]
    again = next(iter(difference_lines(lost_day(after, after))))
    assert again.startswith("With Tue 2027-05-04 lost, Wed 2027-05-05 lost: ")


def test_an_answer_names_who_keeps_the_day_with_another_truck(horizon: Horizon) -> None:
    small = with_orders(horizon, an_order(horizon, "1001", 0, 0), trucks=2)
    made = laid(small, effort=3)
    (share,) = made.shares
    asked = laid(small, effort=3, before=made, out=[f"{share.truck_id}@{share.date}"])
    (other,) = asked.shares
    assert (other.date, other.truck_id != share.truck_id) == (share.date, True)
    said = list(difference_lines(lost_day(made, asked)))
    assert "0 orders on another day" in said[0]
    assert said[1:] == [f"  Mon 2027-05-03, with {other.truck_id} instead: 1001"]
    # The gallons of who waits are told, too: 2 gal of mix per 1,000 sq ft, on 6,200.
    waits = WaitingOrder("1001", "P-1", "spring-feed", "FULL", "no room", "2027-05-03", "")
    (row,) = weeks_rows(replace(made, shares=(), waiting=(waits,)), small.day.workbook)
    assert row.gal == pytest.approx(12.4)


def test_two_orders_of_a_lawn_are_one_call(horizon: Horizon) -> None:
    made = laid(horizon)
    share = next(one for one in made.shares if len(one.orders) > 1)
    first, second, *rest = (replace(row, told_other="2027-05-05") for row in share.orders)
    share = replace(share, orders=(first, replace(second, property_id=first.property_id), *rest))
    calls = len({row.property_id for row in share.orders})
    lines = calendar_lines(replace(made, shares=(share,)), horizon.day.workbook)
    assert any(line.startswith(f"{calls} customer") for line in lines)


def test_days_without_a_record_are_noted(horizon: Horizon) -> None:
    """Done or not, their orders count as open: whoever lays anew must know."""
    lacking = NoRecord(MONDAY - timedelta(days=3), ("1001", "1002"), 2)
    made = laid(replace(horizon, day=replace(horizon.day, no_record=(lacking,))), effort=3)
    assert "Friday's 2 orders have no record: record them, or they count as open." in made.notes
    lines = calendar_lines(made, horizon.day.workbook)
    assert any(line.startswith("Note: Friday's 2 orders") for line in lines)


def test_every_wrong_day_is_named_at_once(office: Path) -> None:
    words = ("--engine", "nearest-fit", "--effort", 3)
    assert "without --tell" in run("weeks", office, "--tell", MONDAY, code=1).stderr
    run("weeks", office, "--from", MONDAY, "--days", 6, *words)
    path = calendar_path(office)
    before = path.read_bytes()
    wrong = ("--tell", "2027-05-09", "--tell", MONDAY, "--tell", "2027-06-01")
    said = run("weeks", office, *wrong, code=1).stderr
    assert "no order on Sun 2027-05-09, Tue 2027-06-01; it has some on Mon 2027-05-03" in said
    assert path.read_bytes() == before
    wrong = ("--wet", "2027-05-09", "--without", "T9@2027-05-03", "--without", "truck-1@2028-05-03")
    said = run("weeks", office, *wrong, *words, code=2).stderr
    for part in ("nobody works on Sun 2027-05-09", "T9@2027-05-03: write it as", "is no day of"):
        assert part in said
    path.unlink()


def test_a_days_plan_says_who_stays_home(horizon: Horizon) -> None:
    made = laid(horizon)
    made = replace(made, out=("truck-1@2027-05-03",), wet=("2027-05-04",))
    day = replace(horizon.day, orders={"1001": horizon.day.workbook.orders["1001"]})
    day = with_licenses(replace(day, kept_home=("truck-1",)), ("truck-1",))
    share = replace(day_share(made, MONDAY), truck_of={"1001": "truck-2"})
    assert share.text(day).startswith(
        "Calendar: 1 order lies on this day; truck-1 stays home by it ("
    )
    other = replace(day_share(made, TUESDAY), truck_of={})
    assert ", 1 more is due that it has no day for" in other.text(day)
    assert "; it takes this day as lost to rain" in other.text(day)
    assert "home" not in other.text(day)


def test_a_day_leaves_what_the_calendar_has_later_however_it_is_divided(office: Path) -> None:
    """In parts for other tanks there, and whole today."""
    day = open_day_to_plan(office, MONDAY, ["1003 part 1 of 2", "1003 part 2 of 2"])
    assert "1003" not in day.orders
    assert day.laid_later == ("1003",)
    assert "1003" in open_day_to_plan(office, MONDAY, ["1004"]).orders


def test_a_day_uses_no_truck_that_the_calendar_keeps_home(office: Path, tmp_path: Path) -> None:
    """The plan, what the office opens, and the audit of a plan that does; by the office's word it
    may, and every paper says so."""
    words = ("--engine", "nearest-fit", "--effort", 3)
    day, folder = ("--date", MONDAY, "--engine", "nearest-fit"), tmp_path / "monday"
    plan_file = folder / "plan.json"
    run("weeks", office, "--from", MONDAY, "--days", 4, *words)

    def going(*more: object) -> set[str]:
        run("plan", office, *day, "--out", folder, "--force", *more)
        plan = from_json(plan_file.read_text(encoding="utf-8"))
        return {truck.truck_id for truck in plan.trucks if truck.stops}

    assert "truck-1" in going("--no-calendar")
    earlier = tmp_path / "earlier.json"
    shutil.copy(plan_file, earlier)
    run("audit", earlier, office)
    run("weeks", office, "--without", "truck-1@2027-05-03", "--write", *words)
    said = run("audit", earlier, office, code=4).stdout
    assert said.count("[TRUCK-HOME]") == 1
    assert "1 violation." in said
    left = run("plan", office, *day, "--out", folder, "--force").stderr
    assert "; truck-1 stays home by it" in left
    assert going() == {"truck-2"}
    run("audit", plan_file, office)
    opened = open_day(office, MONDAY)
    assert set(opened.workbook.trucks) == {"truck-2"}
    assert set(opened.barred) == {"truck-1"}
    # Tuesday is none of it, and the calendar lays its other days with both.
    assert set(open_day(office, TUESDAY).workbook.trucks) == {"truck-1", "truck-2"}
    assert set(open_horizon(office, MONDAY, 3).day.workbook.trucks) == {"truck-1", "truck-2"}
    assert "truck-1" in going("--no-calendar")
    told = run("plan", office, *day, "--out", folder, "--force", "--no-calendar").stdout
    assert "truck-1 goes out though the calendar keeps it home: the office said so." in told
    run("audit", plan_file, office)
    # At noon it is out.
    noon = ("--again", plan_file, "--at", "12:00", "--out", tmp_path / "noon")
    run("plan", office, *noon, "--engine", "nearest-fit")
    run("audit", tmp_path / "noon" / "plan.json", office)
    path = calendar_path(office)
    path.write_text("[]", encoding="utf-8")
    assert "delete it and run" in run("plan", office, *day, "--no-calendar", code=1).stderr
    path.unlink()


def test_the_chance_of_a_day_is_the_mean_of_the_lawns_areas(horizon: Horizon) -> None:
    """Where every lawn has its weather area, the forecast without an area is nobody's."""
    book = horizon.day.workbook
    homes = list(book.properties.values())
    areas = {one.property_id: "west" if at % 3 else "east" for at, one in enumerate(homes)}
    rows = [
        WeatherHour(MONDAY, hour, area, 3.0, None, 60.0, rain, 0.0)
        for hour in range(24)
        for area, rain in (("west", 70.0), ("east", 10.0))
    ]
    book = replace(
        book,
        weather=tuple(rows),
        properties={
            one.property_id: replace(one, weather_area=areas[one.property_id]) for one in homes
        },
    )
    opened = open_days(replace(horizon.day, workbook=book), horizon.days, (), set(book.properties))
    found = Lateness(book, opened, 20.0).mean_chances()
    at = [areas[book.orders[name].property_id] for name in opened.of]
    expected = (0.7 * at.count("west") + 0.1 * at.count("east")) / len(at)
    assert found == pytest.approx([expected, 0.2, 0.2])


def test_a_hose_too_short_is_said_not_put_off(horizon: Horizon) -> None:
    """Due long after the calendar, it would wait for ever as 'can be done later, for less'."""
    order = an_order(horizon, "1001", 0, 60)
    small = with_orders(horizon, order, trucks=2)
    book = small.day.workbook
    home = replace(book.properties[order.property_id], hose_run_ft=900.0)
    book = replace(book, properties=book.properties | {order.property_id: home})
    made = laid(replace(small, day=replace(small.day, workbook=book)), effort=3)
    (row,) = made.waiting
    assert row.code == "NO-HOSE"
    assert row.reason.startswith("needs 900 ft of hose; the longest that can carry")
    assert day_share(made, MONDAY).later == frozenset(), "the day's plan says it, too"


def test_a_yard_whose_trucks_all_stay_home_is_served_by_another(
    office: Path,
    horizon: Horizon,
) -> None:
    both = two_yards(office, horizon)
    out = [f"truck-2@{day}" for day in both.days]
    (part,) = branches(both, out)
    assert set(part.day.workbook.orders) == set(both.day.workbook.orders)
    options = SolveOptions(Effort(count=3), engine="nearest-fit")
    made = merged([lay_branch(BranchTask(part, options, {"out": out}))], both)
    assert calendar_faults(made, both.day) == []
    assert {share.truck_id for share in made.shares} == {"truck-1"}
    # On some of the days only: its lawns wait, and the reason says who was not asked.
    tasks = [BranchTask(one, options, {"out": out[:2]}) for one in branches(both, out[:2])]
    parts = [lay_branch(task) for task in tasks]
    assert len(parts) == 2
    waiting = tuple(replace(row, code="NO-TRUCK") for row in parts[1].waiting)
    for row in merged([parts[0], replace(parts[1], waiting=waiting)], both).waiting:
        assert row.code != "NO-TRUCK" or row.reason.endswith("were not asked (--branches)")


def test_rain_of_branches_is_that_of_their_open_orders(office: Path, horizon: Horizon) -> None:
    """As of one calendar: three orders at 10 % and one at 50 % are 20 % in the mean, whoever else
    is kept out of every day."""
    both = two_yards(office, horizon)
    options = SolveOptions(Effort(count=3), engine="nearest-fit")
    first = lay_branch(BranchTask(branches(both)[0], options))
    share, row = first.shares[0], first.shares[0].orders[0]
    kept = WaitingOrder("1005", "P-5", "weeds", "KEPT-OUT", "on hold", "2027-05-03", "")
    three = tuple(replace(row, order_id=name) for name in ("1001", "1002", "1003"))
    parts = [
        replace(first, shares=(replace(share, orders=orders),), waiting=waiting,
                rain_by_day={share.date: percent}, rain_percent=percent)
        for orders, waiting, percent in (
            (three, (), 10.0), ((replace(row, order_id="1004"),), (kept, kept), 50.0)
        )
    ]  # fmt: skip
    whole = merged(parts, both)
    assert whole.rain_by_day == {share.date: pytest.approx(20.0)}
    assert whole.rain_percent == pytest.approx(20.0)


def test_an_order_for_days_on_which_nobody_works_is_said(horizon: Horizon) -> None:
    """Saturday and Sunday alone are its days: it waits for no first day."""
    more = [MONDAY + timedelta(days=step) for step in (3, 4, 7)]
    friday = replace(horizon, days=(*horizon.days, *more))
    order = an_order(friday, "1001", 5, 6, last_day=MONDAY + timedelta(days=6))
    (row,) = laid(with_orders(friday, order), effort=3).waiting
    assert row.code == "NO-TRUCK"
    assert row.reason == "nobody works from Sat 2027-05-08 to Sun 2027-05-09, its last day"


def test_a_next_day_without_room_is_told_apart_from_one_that_nobody_reckoned(
    horizon: Horizon,
) -> None:
    """One truck with time for one of two lawns: Monday's order finds no room on Tuesday."""
    small = with_orders(horizon, an_order(horizon, "1001", 0, 0), an_order(horizon, "1003", 1, 1))
    book = small.day.workbook
    ((name, truck),) = book.trucks.items()
    short = replace(truck, shift_end_min=truck.shift_start_min + 72.0, overtime_most_min=0.0)
    book = replace(book, trucks={name: short})
    small = replace(small, day=replace(small.day, workbook=book))
    full = laid(small, effort=3)
    (row,) = full.shares[0].orders
    assert (row.next_day, row.next_day_cost, row.next_day_full) == (str(TUESDAY), None, True)
    said = "\n".join(calendar_lines(full, book))
    assert "its last day in time; Tue 2027-05-04 has no room for it" in said.replace("  ", " ")
    told = weeks_rows(full, book)[0]
    assert (told.next_day_cost, told.next_day_room) == ("", "no")
    unknown = laid(small, effort=3, next_days=False)
    (row,) = unknown.shares[0].orders
    assert not row.next_day_full
    said = "\n".join(calendar_lines(unknown, book))
    assert "what Tue 2027-05-04 would cost was not reckoned" in said
    assert weeks_rows(unknown, book)[0].next_day_room == ""


def test_a_day_on_which_every_truck_stays_home_is_no_next_day(horizon: Horizon) -> None:
    """ "Tuesday has no room for it" was said of a day on which nobody goes out, by the calendar or
    because the truck is in the shop: Wednesday is the next day, and without that there is none."""
    small = with_orders(horizon, an_order(horizon, "1001", 0, 0))
    book = small.day.workbook
    ((name, truck),) = book.trucks.items()
    shop = replace(truck, out_on=(DateSpan(TUESDAY, TUESDAY),))
    table = replace(small.day, workbook=replace(book, trucks={name: shop}))
    for made in (
        laid(small, out=[f"{name}@{TUESDAY}"], effort=3),
        laid(replace(small, day=table), effort=3),
    ):
        (row,) = made.shares[0].orders
        assert (row.next_day, row.next_day_full) == (str(TUESDAY + timedelta(days=1)), False)
        assert row.next_day_cost is not None
    homes = [f"{name}@{TUESDAY + timedelta(days=at)}" for at in (0, 1)]
    made = laid(small, out=homes, effort=3)
    assert "no later day in this calendar" in "\n".join(calendar_lines(made, book))


def test_a_lawn_in_parts_is_one_order_to_whoever_counts(horizon: Horizon) -> None:
    """Rule 39: 1001 in two parts and 1002, on one truck's Monday; of 1003 both parts wait."""
    made = laid(with_orders(horizon, an_order(horizon, "1001", 0, 0)), effort=3)
    share, row = made.shares[0], made.shares[0].orders[0]
    names = ("1001 part 1 of 2", "1001 part 2 of 2", "1002")
    share = replace(share, orders=tuple(replace(row, order_id=name) for name in names))
    wait = WaitingOrder("1003 part 1 of 2", "P-3", "weeds", "FULL", "full", "2027-05-03", "")
    parts = (wait, replace(wait, order_id="1003 part 2 of 2"))
    made = replace(made, shares=(share,), waiting=parts)
    first, *rest = calendar_lines(made, horizon.day.workbook)
    assert "2 orders on 1 truck-day, 1 waiting;" in first
    assert any(line.startswith("It fits on none of its days (1):") for line in rest)
    assert sum("1003 (P-3, weeds)" in line for line in rest) == 1
    (laid_row,) = [line for line in rest if line.startswith("Mon 2027-05-03")]
    assert laid_row.split()[3] == "2"
    page = weeks_page(made, horizon.day.workbook)
    assert "2 must, 0 may move" in page
    assert ">1 without a day" in page
    lost = lost_day(
        made, replace(made, shares=(), waiting=(*parts, replace(wait, order_id="1002")))
    )
    first, *rest = difference_lines(lost)
    assert "1 without a later day" in first
    assert sum("1002 (" in line for line in rest) == 1

    # Lists have a row for it, too.
    late = replace(share, orders=tuple(replace(one, overdue_days=2) for one in share.orders))
    made = replace(made, shares=(late,))
    book = horizon.day.workbook
    texts = ["\n".join(calendar_lines(made, book)), *weeks_files(made, book).values()]
    assert all("1001" in text for text in texts)
    assert not any("part 1 of 2" in text for text in (*texts, weeks_page(made, book)))
    (row_of,) = [line for line in texts[0].splitlines() if "1001" in line]
    assert "2 days overdue" in row_of
    # So it is where two trucks have parts of it; and why no cost stands there, is said.
    truck_ids = (late.truck_id, "truck-9")
    tomorrow = [replace(one, next_day="2027-05-04", next_day_cost=None) for one in late.orders[:2]]
    halves = [
        replace(late, truck_id=name, orders=(one,))
        for name, one in zip(truck_ids, tomorrow, strict=True)
    ]
    two = replace(made, shares=tuple(halves))
    (risk,) = [line for line in calendar_lines(two, book) if "overdue" in line]
    assert risk.endswith("would cost was not reckoned, for all its parts would have to move")
    page = weeks_page(two, book)
    rows = [row for row in page.split("<tr") if "2 days late" in row]
    assert len(rows) == 1
    assert f">{truck_ids[0]}, truck-9<" in rows[0]
    assert "all parts would move, not reckoned" in rows[0]
    (waits,) = [line for line in texts[1].splitlines() if '"1003"' in line]
    assert ",21.75," in waits
    # Told as one order, both parts are.
    (call, *_) = [one for one in call_list(made, book) if "1001" in one.orders]
    after = told(made, call)
    assert after.told.keys() >= {"1001 part 1 of 2", "1001 part 2 of 2"}
    assert all(one.told for one in after.shares[0].orders if "1001" in one.order_id)


def test_the_audit_finds_miles_that_no_way_with_refills_has(horizon: Horizon) -> None:
    """Told as with refills, the way is not known: each place has to be driven to all the same."""
    made = laid(horizon)
    share = next(one for one in made.shares if not one.refills)
    shares = tuple(replace(one, refills=1) if one is share else one for one in made.shares)
    travel = horizon.roads.travel_by_truck
    assert calendar_faults(replace(made, shares=shares), horizon.day, travel) == []
    short = tuple(replace(one, miles=0.1) if one.refills else one for one in shares)
    found = calendar_faults(replace(made, shares=short), horizon.day, travel)
    assert any("miles at least, not 0.10" in fault for fault in found)


def test_the_audit_knows_holidays_and_last_days(horizon: Horizon) -> None:
    """Tuesday is a holiday, and the customer is served on Mondays and Wednesdays only: the last day
    of an order due until Friday is Wednesday, counted on the fingers."""
    order = an_order(horizon, "1001", 0, 4, mix_id="weeds")
    small = with_orders(horizon, order)
    book = small.day.workbook
    home = replace(
        book.properties[order.property_id], serve_on=frozenset({0, 2}), hose_run_ft=900.0
    )
    book = replace(
        book,
        settings=replace(book.settings, holidays=(DateSpan(TUESDAY, TUESDAY),)),
        properties=book.properties | {order.property_id: home},
    )
    days, closed = working_days(book.settings, MONDAY, 3)
    assert closed == {str(TUESDAY): "closed (settings holidays)"}
    of = replace(small, day=replace(small.day, workbook=book), days=days, closed=closed)
    made = laid(of, effort=3)
    (row,) = made.waiting
    assert row.last_day == "2027-05-05"
    for spoiled_one, said in (
        (replace(made, closed={}), "closed and not told so: 2027-05-04"),
        (
            replace(made, waiting=(replace(row, last_day="2027-05-04"),)),
            "order 1001: its last day in time is 2027-05-05, not 2027-05-04",
        ),
        (
            replace(made, waiting=(replace(row, last_day=""),)),
            "order 1001: its last day in time is 2027-05-05, not over",
        ),
    ):
        assert calendar_faults(spoiled_one, of.day) == [said]


def test_the_audit_reads_every_row(horizon: Horizon) -> None:
    """A calendar spoiled by hand, figure by figure."""
    made = laid(horizon)
    share, row = made.shares[0], made.shares[0].orders[0]

    def one(**more: object) -> Calendar:
        return spoiled(made, orders=(replace(row, **more), *share.orders[1:]))  # type: ignore[arg-type]

    parts = len(share.loading)
    wrong = {
        "its property is": one(property_id="P-99"),
        "its mix is": one(mix_id="nothing"),
        "its last due day is": one(due_to="2027-12-31"),
        "days to spare": one(spare_days=99),
        "customer was told no day": one(told=True),
        "customer was told 2027-05-05": replace(made, told={row.order_id: "2027-05-05"}),
        "no later day of": one(next_day="2027-05-01"),
        "without room has no cost": one(next_day_full=True, next_day_cost=4.0),
        "brings nothing": one(late_cost=-50.0),
        "lateness counts for": replace(made, late_cost=-1.0),
        "not the working days": replace(made, days=(made.days[0], made.days[2])),
        "goes out on a closed day": replace(made, closed={share.date: "closed"}),
        "chance of rain is none": replace(made, rain_by_day=dict.fromkeys(made.days, 300.0)),
        "trucks in service are": replace(made, trucks=("truck-1",)),
        "compartments, not": spoiled(made, loading=(*share.loading, None)),
        "spraying and setting up take": spoiled(made, paid_min=1.0),
        "its shift has": spoiled(made, shift_min=1.0),
        "its overtime is more": spoiled(made, paid_min=share.shift_min + 300.0, overtime_min=0.0),
        "and the truck cost": spoiled(made, cost=1.0),
        "cannot hold": spoiled(made, evening_gal=(9_999.0,) * parts),
        "its evening is that of another": spoiled(made, evening_gal=()),
        "for a hose to hold": spoiled(made, evening_hose=("x",) * len(share.evening_hose)),
    }
    assert [one for one in made.shares if not one.refills], "whose miles are known"
    wrong |= {
        "miles, not 0.00": replace(
            made, miles=0.0, shares=tuple(replace(one, miles=0.0) for one in made.shares)
        ),
        "as closed, and": replace(made, closed={"2027-05-08": "closed (settings holidays)"}),
    }
    travel = horizon.roads.travel_by_truck
    for said, calendar in wrong.items():
        found = calendar_faults(calendar, horizon.day, travel)
        assert any(said in fault for fault in found), (said, found)
    name = row.order_id
    waits = WaitingOrder(name, row.property_id, row.mix_id, "NOT-YET", "later", row.due_to, "")
    moved = replace(without_first(made), waiting=(*made.waiting, waits))
    assert f"order {name} is due from" in " ".join(calendar_faults(moved, horizon.day))


def test_a_truck_at_home_is_loaded_for_who_is_moved_to_its_day(horizon: Horizon) -> None:
    """A truck-day at home is left with some loading by the search, which means nothing: whichever
    it is, Monday's order has room on Tuesday, and for the same money."""
    feed = an_order(horizon, "1001", 0, 0)
    small = with_orders(horizon, feed, an_order(horizon, "1003", 2, 2, windows=None))
    book = small.day.workbook
    opened = open_days(small.day, small.days, (), set(book.properties))
    late, carry = Lateness(book, opened, 0.0), Carry(book, a_days_need(book, opened))
    problem = calendar_problem(
        small.day, opened, small.roads.travel_by_truck, frozenset(), {}, late
    )
    before, tuesday, after = (one.loadings for one in problem.trucks)
    monday = next(one for one in before if feed.mix_id in one.mix_of)
    told = set()
    for idle in tuesday:
        draft = Draft(DayTables(problem), [monday, idle, after[0]])
        draft.put(0, [0], draft.days[0].cost([0]))
        (share,) = shares_of(carry.in_turn(draft), book, opened, {}, late, carry, True)
        (row,) = share.orders
        assert (row.next_day, row.next_day_full) == (str(TUESDAY), False)
        told.add(row.next_day_cost)
    assert len({feed.mix_id in idle.mix_of for idle in tuesday}) == 2
    assert len(told) == 1


def test_a_next_day_that_costs_more_than_to_leave_the_order_out_has_room(horizon: Horizon) -> None:
    """1001 is worth little and the truck is dear: the calendar would leave it out before it sent
    the truck on Tuesday for it alone, and still Tuesday has room."""
    feed = an_order(horizon, "1001", 0, 0, priority=3)
    beside = an_order(horizon, "1006", 0, 0, windows=None)
    two = with_orders(horizon, feed, beside)
    ((name, truck),) = two.day.workbook.trucks.items()
    book = replace(two.day.workbook, trucks={name: replace(truck, cost_per_day=900.0)})
    made = laid(replace(two, day=replace(two.day, workbook=book)), effort=3)
    row = next(o for share in made.shares for o in share.orders if o.order_id == "1001")
    assert (row.next_day, row.next_day_full) == ("2027-05-04", False)
    assert row.next_day_cost is not None
    assert row.next_day_cost > 900.0


def test_a_tank_that_is_taken_on_the_first_mornings_only_is_no_reason(horizon: Horizon) -> None:
    """The front tank holds 90 gal of weeds until Monday's lawn has had them; then it takes feed
    with the rear one. Feed for 260 gal, due for two more weeks, waits because that is cheaper: not
    because it is more than the rear tank pumps. With nothing to spray the weeds on, or a lawn for
    22 gal of them, the words say what is in the way."""
    weeds = an_order(horizon, "1003", 0, 0, windows=None, area_ft2=70_000.0)
    feed = an_order(horizon, "1004", 0, 18, area_ft2=130_000.0)
    both = with_orders(horizon, weeds, feed)
    ((name, truck),) = both.day.workbook.trucks.items()
    front, rear, *_ = truck.compartments
    front = replace(front, last_mix="weeds", leftover_gal=90.0)
    homes = both.day.workbook.properties
    home = replace(homes[feed.property_id], lawn_ft2=130_000.0)
    large = replace(homes[weeds.property_id], lawn_ft2=70_000.0)
    book = replace(
        both.day.workbook,
        trucks={name: replace(truck, compartments=(front, rear), gvwr_lb=20_000.0)},
        properties=homes | {home.property_id: home, large.property_id: large},
    )
    first = replace(both, day=replace(both.day, workbook=book))
    made = laid(first, effort=3)
    again = laid(first, effort=3, before=made)
    (row,) = again.waiting
    assert (row.order_id, row.code) == ("1004", "LATER")
    few = replace(weeds, area_ft2=14_500.0)
    for orders in ({"1004": feed}, {"1003": few, "1004": feed}):
        some = replace(first.day, workbook=replace(book, orders=orders))
        (row,) = laid(replace(first, day=some), effort=3).waiting
        assert row.code == "TOO-LARGE"
        assert "the most a truck can pump from one fill is 11" in row.reason
        held = "90 gal of weeds in front of truck-1"
        assert row.reason.endswith(f"what is left in it takes no other mix: {held}")
    # The audit's own reading of rule 4, by a calendar that loads the tank with feed.
    (share,) = made.shares
    wrong = replace(made, shares=(replace(share, loading=("spring-feed", "weeds")),))
    faults = calendar_faults(wrong, first.day)
    assert (
        "truck-1 on 2027-05-03: front holds 90 gal of weeds and cannot take spring-feed" in faults
    )
    # For 105 gal the tank was filled anew; 22 leave 64, with what the hose takes.
    for gal, said in ((105.0, False), (21.75, True)):
        early = replace(share, date="2027-05-01", gal_by_mix={"weeds": gal})
        after = replace(made, shares=(early, replace(share, loading=("spring-feed", "weeds"))))
        found = [one for one in calendar_faults(after, first.day) if "cannot take" in one]
        assert bool(found) is said, found
