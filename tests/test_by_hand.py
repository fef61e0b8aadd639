"""A plan that a person changes: read back, worked out again, audited, told in plain words."""

from __future__ import annotations

import csv
import io
import json
import random
from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import date
from pathlib import Path

import openpyxl
import pytest
from click.testing import CliRunner, Result

from planner.by_hand.answer import BY_HAND, changed_plan
from planner.by_hand.sheet import (
    COLUMNS,
    SHOWN_ONLY,
    HandRow,
    StopOrderError,
    rows_of_plan,
    rows_of_sheet,
    stop_order_sheet,
)
from planner.cli.main import main
from planner.day.day import Day
from planner.plan.assemble import Scheduler
from planner.plan.audit import audit
from planner.plan.document import from_json, to_json
from planner.plan.model import FillTo, Plan
from planner.prepare import prepare_day
from planner.problems import Problem
from planner.roads.travel import Travel
from planner.tables.starter import starter_files
from tests.bad_workbooks import places
from tests.codes import HAND_CODES
from tests.hand_plan import TRAVEL, hand_day, hand_plan
from tests.random_days import random_day, straight_travel
from tests.random_plans import plan_random

ROADS = ("given", "")


def ready(day: Day, travel: Mapping[str, Travel] = TRAVEL) -> Scheduler:
    return Scheduler(prepare_day(day), travel)


def changed(rows: list[HandRow]) -> Plan:
    return changed_plan(rows, hand_plan(), ready(hand_day()), ROADS)[0]


def orders_of(plan: Plan) -> dict[str, list[str]]:
    return {
        truck.truck_id: [work.order_id for stop in truck.stops for work in stop.orders]
        for truck in plan.trucks
    }


def order_row(order_id: str, truck: str = "T1") -> HandRow:
    return HandRow("stop-order.csv", 2, truck, "order", order_id, "", False)


# ---- what is not changed comes out as it was


def test_the_hand_worked_plan_is_worked_out_as_it_was() -> None:
    # Every figure of it was worked by hand (tests/hand_plan.py).
    plan = changed(rows_of_plan(hand_plan()))
    assert audit(plan, hand_day(), TRAVEL) == ()
    assert orders_of(plan) == orders_of(hand_plan())
    assert plan.unserved == hand_plan().unserved
    assert plan.engine == hand_plan().engine + BY_HAND


@pytest.mark.parametrize("seed", range(40))
def test_a_stop_order_that_nobody_touched_gives_the_same_plan(seed: int, tmp_path: Path) -> None:
    day = random_day(seed, ("small", "medium")[seed % 2])
    plan, travel = plan_random(day), straight_travel(day)
    sheet = tmp_path / "stop-order.csv"
    sheet.write_text(stop_order_sheet(plan, day), encoding="utf-8", newline="")
    rows, problems = rows_of_sheet(sheet)
    assert problems == []
    for told in (rows, rows_of_plan(plan)):
        again, out = changed_plan(
            told, plan, ready(day, travel), ("straight lines", "straight lines only")
        )
        assert out == ()
        assert sorted(map(str, again.unserved)) == sorted(map(str, plan.unserved))
        assert replace(again, engine=plan.engine, unserved=plan.unserved) == plan


def test_the_sheet_shows_what_it_says_it_shows() -> None:
    text = stop_order_sheet(hand_plan(), hand_day())
    head = next(csv.reader(io.StringIO(text.removeprefix("\ufeff"))))
    assert head == [*COLUMNS, *SHOWN_ONLY]


def test_an_excel_sheet_does_as_well(tmp_path: Path) -> None:
    text = stop_order_sheet(hand_plan(), hand_day())
    book = openpyxl.Workbook()
    sheet = book.worksheets[0]
    for cells in csv.reader(io.StringIO(text.removeprefix("\ufeff"))):
        sheet.append([float(cell) if cell.isdecimal() else cell or None for cell in cells])
    book.save(tmp_path / "monday.xlsx")
    rows, problems = rows_of_sheet(tmp_path / "monday.xlsx")
    assert problems == []
    assert orders_of(changed(rows)) == orders_of(hand_plan())


# ---- changes


def test_two_orders_swapped_are_driven_and_timed_anew() -> None:
    rows = [row for row in rows_of_plan(hand_plan()) if row.does != "lunch"]
    at = {row.what: place for place, row in enumerate(rows)}
    rows[at["O1"]], rows[at["O2"]] = rows[at["O2"]], rows[at["O1"]]
    plan = changed(rows)
    assert orders_of(plan)["T1"] == ["O2", "O3", "O1"]
    first = plan.trucks[0].stops[1]
    # Y1 to P2 is 8 minutes, and there is no window at P2.
    assert (first.place_id, first.arrive_min) == ("P2", 458.0)


def test_an_order_that_vanishes_is_unserved_by_hand() -> None:
    rows = [row for row in rows_of_plan(hand_plan()) if row.what != "O3"]
    plan, out = changed_plan(rows, hand_plan(), ready(hand_day()), ROADS)
    assert out == ("O3",)
    (gone,) = [entry for entry in plan.unserved if entry.order_id == "O3"]
    assert (gone.code, gone.reason) == ("HAND", "taken out by hand")
    # O5 keeps the reason that the engine gave.
    assert hand_plan().unserved[0] in plan.unserved
    assert audit(plan, hand_day(), TRAVEL) == ()


def test_an_order_without_truck_is_taken_out_too() -> None:
    rows = [replace(r, truck="") if r.what == "O3" else r for r in rows_of_plan(hand_plan())]
    assert "O3" not in orders_of(changed(rows))["T1"]


def test_a_truck_without_orders_stays_home() -> None:
    rows = [row for row in rows_of_plan(hand_plan()) if row.does != "order"]
    plan = changed(rows)
    assert plan.trucks[0].stops == ()
    assert set(plan.trucks[0].loading.values()) == {None}


def test_another_truck_is_loaded_by_its_rows() -> None:
    rows = [
        replace(row, truck="T2") if row.what == "O1" else row for row in rows_of_plan(hand_plan())
    ]
    with pytest.raises(StopOrderError) as raised:
        changed(rows)
    (problem,) = raised.value.problems
    assert problem.code == "HAND-4"
    assert "order O1 needs WEED, and the truck is loaded with nothing" in problem.message
    assert "(empty: 1)" in problem.cure
    rows = [replace(r, mix="WEED") if (r.truck, r.does) == ("T2", "load") else r for r in rows]
    plan = changed(rows)
    assert orders_of(plan)["T2"] == ["O1"]
    assert plan.trucks[1].loading == {"1": "WEED"}


def test_what_breaks_a_rule_is_taken_and_the_audit_says_so() -> None:
    # O4's bentgrass must not be touched by the three-way of WEED.
    rows = rows_of_plan(hand_plan())
    last = max(place for place, row in enumerate(rows) if row.truck == "T1")
    rows.insert(last + 1, order_row("O4"))
    plan = changed(rows)
    assert "O4" in orders_of(plan)["T1"]
    assert plan.held == ()
    assert "ORDER-HELD" in {row.code for row in audit(plan, hand_day(), TRAVEL)}


def test_pins_go_into_the_plan() -> None:
    rows = [replace(r, pinned=True) if r.what == "O2" else r for r in rows_of_plan(hand_plan())]
    plan = changed(rows)
    assert plan.pinned == ("O2",)
    assert [row.pinned for row in rows_of_plan(plan) if row.what == "O2"] == [True]


def test_a_cleaning_is_asked_for_where_the_loading_asks() -> None:
    # Compartment 1 held FEED: loaded with FEED again it needs no cleaning.
    rows = [
        replace(row, mix={"1": "FEED", "2": "WEED"}[row.what])
        if (row.truck, row.does) == ("T1", "load") and row.what in "12"
        else row
        for row in rows_of_plan(hand_plan())
    ]
    assert [entry.compartment_id for entry in changed(rows).trucks[0].cleaning] == []


@pytest.mark.parametrize("seed", range(120))
def test_whatever_a_person_does_is_worked_out_or_told(seed: int) -> None:
    """Rows moved, given away, loaded otherwise, taken out and put in at random: the answer is a
    plan that the audit can read, or problems; and a plan once worked out stays as it is."""
    rng = random.Random(f"by hand {seed}")
    day = random_day(seed, "small")
    plan, travel = plan_random(day), straight_travel(day)
    trucks, mixes = list(day.workbook.trucks), list(day.workbook.mixes)
    rows = rows_of_plan(plan)
    for _ in range(rng.randint(1, 5)):
        place = rng.randrange(len(rows))
        what = rng.randrange(6)
        if what == 0:
            rows.insert(rng.randrange(len(rows) + 1), rows.pop(place))
        elif what == 1:
            rows[place] = replace(rows[place], truck=rng.choice(trucks))
        elif what == 2 and rows[place].does == "load":
            rows[place] = replace(rows[place], mix=rng.choice([*mixes, ""]))
        elif what == 3:
            del rows[place]
        elif what == 4 and rows[place].does == "load":
            rows.insert(place, HandRow("x", None, rows[place].truck, "lunch", "", "", False))
        elif plan.held or plan.unserved:
            entry = rng.choice([*plan.held, *plan.unserved])
            truck = rng.choice(trucks)
            rows.append(HandRow("x", None, truck, "order", entry.order_id, "", False))
        if not rows:
            return
    refused: tuple[Problem, ...] = ()
    try:
        made, _ = changed_plan(rows, plan, ready(day, travel), ROADS)
    except StopOrderError as error:
        refused = error.problems
    assert all(one.code in HAND_CODES and one.cure for one in refused)
    if refused:
        return
    audit(made, day, travel)
    again, _ = changed_plan(rows_of_plan(made), made, ready(day, travel), ROADS)
    assert replace(again, unserved=()) == replace(made, unserved=())


# ---- gallons of a load (rule 40)


def filled_no_further(gal: float, rows: list[HandRow]) -> list[HandRow]:
    return [replace(r, fill_to_gal=gal) if (r.does, r.what) == ("load", "1") else r for r in rows]


def test_the_office_may_fill_a_compartment_no_further_than_it_says() -> None:
    # By hand: the fill before P1 is 10 gal + 0.5 gal margin + 3.06 gal of hose + 1 gal of heel,
    # 15 gal in whole gallons; 14.5 gal carry all but the margin's last half gallon. The refill
    # (9 gal at W1) stays under it.
    rows = filled_no_further(14.5, rows_of_plan(hand_plan()))
    plan = changed(rows)
    assert audit(plan, hand_day(), TRAVEL) == ()
    first = plan.trucks[0].stops[0].fills[0]
    assert (first.gal, first.level_after_gal) == (14.5, 14.5)
    assert {row.compartment_id: row.gal for row in plan.trucks[0].fill_to} == {"1": 14.5}
    assert from_json(to_json(plan)) == from_json(to_json(changed(rows_of_plan(plan))))
    # Without the office's word the same gallons are a margin that somebody forgot.
    silent = replace(plan, trucks=(replace(plan.trucks[0], fill_to=()), plan.trucks[1]))
    found = {row.code for row in audit(silent, hand_day(), TRAVEL)}
    assert found >= {"FILL-GAL", "FILL-MARGIN"}
    # And with less than it the plan's 14.5 gal are too many.
    less = (FillTo("1", 14.0),)
    told = replace(plan, trucks=(replace(plan.trucks[0], fill_to=less), plan.trucks[1]))
    assert {row.code for row in audit(told, hand_day(), TRAVEL)} >= {"FILL-CAPACITY"}


def test_gallons_that_do_not_last_are_named() -> None:
    plan = changed(filled_no_further(8.0, rows_of_plan(hand_plan())))
    assert plan.trucks[0].stops[0].fills[0].gal == 8.0
    # 8 gal less 1 gal of heel; 10 gal and 3.06 gal of hose are needed.
    short = [row.message for row in audit(plan, hand_day(), TRAVEL) if row.code == "FILL-SHORT"]
    assert short[0].startswith("WEED: 7.00 gal can be pumped, 13.06 gal are needed")


@pytest.mark.parametrize("seed", range(12))
def test_gallons_set_on_random_days_break_no_rule_of_fills(seed: int, tmp_path: Path) -> None:
    day = random_day(seed, "medium")
    plan, travel, rng = plan_random(day), straight_travel(day), random.Random(seed)
    rows = [
        replace(row, fill_to_gal=float(round(rng.uniform(0.3, 1.0) * tank.capacity_gal)))
        if row.does == "load" and (tank := day.workbook.trucks[row.truck].compartment(row.what))
        else row
        for row in rows_of_plan(plan)
    ]
    made, _ = changed_plan(rows, plan, ready(day, travel), ROADS)
    found = {row.code for row in audit(made, day, travel)}
    assert not {one for one in found if one.startswith("FILL-")} - {"FILL-SHORT"}
    for truck in made.trucks:
        for fill in (fill for stop in truck.stops for fill in stop.fills):
            assert fill.level_after_gal <= truck.fill_to_gal[fill.compartment_id] + 1e-9
    sheet = tmp_path / "stop-order.csv"
    sheet.write_text(stop_order_sheet(made, day), encoding="utf-8", newline="")
    again, _ = changed_plan(rows_of_sheet(sheet)[0], made, ready(day, travel), ROADS)
    assert to_json(again) == to_json(made)


# ---- what cannot be

BAD: list[tuple[str, str, str, Callable[[list[str]], list[str]]]] = [
    ("HAND-1", "what", "there is no such order", lambda rows: [*rows, "T1,order,O77,,"]),
    ("HAND-1", "what", "the order is due 2027-04-20", lambda rows: [*rows, "T1,order,OX,,"]),
    ("HAND-2", "what", "the order is also in row", lambda rows: [*rows, "T1,,O1,,"]),
    ("HAND-2", "what", "the compartment is also in", lambda rows: [*rows, "T1,load,1,FEED,"]),
    ("HAND-3", "truck", "no such truck is in service", lambda rows: [*rows, "T5,refill,W1,,"]),
    ("HAND-3", "what", "no such compartment", lambda rows: [*rows, "T1,load,9,FEED,"]),
    ("HAND-3", "what", "there is no such site", lambda rows: [*rows, "T1,refill,W7,,"]),
    ("HAND-3", "mix", "there is no such mix", lambda rows: [*rows, "T2,load,1,FEAD,"]),
    ("HAND-5", "truck", "names no truck", lambda rows: [*rows, ",lunch,,,"]),
    ("HAND-5", "what", "names no site", lambda rows: [*rows, "T1,refill,,,"]),
    ("HAND-5", "pinned", "only an order of a truck", lambda rows: [*rows, "T1,lunch,,,yes"]),
    ("HAND-5", "fill_to_gal", "holds 10 gal", lambda rows: [*rows, "T1,load,3,,,10.5"]),
    ("HAND-5", "fill_to_gal", "that is loaded", lambda rows: [*rows, "T1,lunch,,,,12"]),
    ("HAND-6", "mix", "the order's mix is WEED", lambda rows: [*rows, "T1,order,O4,FEED,"]),
    ("CHOICE-1", "does", "", lambda rows: [*rows, "T1,dance,O4,,"]),
]


@pytest.mark.parametrize(("code", "column", "words", "spoil"), BAD)
def test_what_cannot_be_is_told_with_its_row(
    code: str,
    column: str,
    words: str,
    spoil: Callable[[list[str]], list[str]],
    tmp_path: Path,
) -> None:
    day = hand_day()
    later = replace(
        day.orders["O1"], order_id="OX", due_from=date(2027, 4, 20), due_to=date(2027, 4, 20)
    )
    day = replace(day, workbook=replace(day.workbook, orders={**day.workbook.orders, "OX": later}))
    rows = [
        "truck,does,what,mix,pinned,fill_to_gal",
        "T1,load,1,WEED,",
        "T1,load,2,FEED,",
        "T1,,O1,,",
    ]
    path = tmp_path / "stop-order.csv"
    path.write_text("\n".join(spoil(rows)), encoding="utf-8")
    told, problems = rows_of_sheet(path)
    found = list(problems)
    if not found:
        with pytest.raises(StopOrderError) as raised:
            changed_plan(told, hand_plan(), ready(day), ROADS)
        found = list(raised.value.problems)
    if code == "HAND-2" and "compartment" in words:
        found = [one for one in found if one.code == code]
    assert places(found) == [("stop-order.csv", 5, column, code)]
    assert words in found[0].message
    assert found[0].cure


def test_every_code_is_tried() -> None:
    # HAND-8 in test_again_command.
    tried = {code for code, *_ in BAD if code.startswith("HAND")} | {"HAND-4", "HAND-8"}
    assert tried == set(HAND_CODES)


# ---- commands

DAY = "2027-05-03"


def planner(*words: object) -> Result:
    result = CliRunner().invoke(main, [str(word) for word in words])
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return result


@pytest.fixture(scope="module")
def here(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The starter workbook and its plan."""
    folder = tmp_path_factory.mktemp("hand")
    (folder / "office").mkdir()
    for name, text in starter_files(date.fromisoformat(DAY)).items():
        (folder / "office" / name).write_text(text, encoding="utf-8")
    words = ("--date", DAY, "--out", folder / "day", "--engine", "nearest-fit")
    assert planner("plan", folder / "office", *words).exit_code == 0
    return folder


def rewritten(here: Path, name: str, change: Callable[[list[list[str]]], list[list[str]]]) -> Path:
    """The plan's stop order with changed rows."""
    with (here / "day" / "stop-order.csv").open(encoding="utf-8-sig", newline="") as file:
        head, *rows = csv.reader(file)
    path = here / name
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows([head, *change(rows)])
    return path


def test_a_changed_stop_order_is_audited_and_becomes_a_packet(here: Path) -> None:
    stops = rewritten(here, "without.csv", lambda rows: [r for r in rows if r[2] != "1003"])
    plan = here / "day" / "plan.json"
    found = planner("audit", plan, here / "office", "--stops", stops)
    assert found.exit_code == 0, found.output
    assert "Taken out by hand: 1003." in found.output
    done = planner("packet", plan, here / "office", "--stops", stops, "--out", here / "changed")
    assert done.exit_code == 0, done.output
    raw = json.loads((here / "changed" / "plan.json").read_text(encoding="utf-8"))
    assert raw["engine"] == "nearest-fit, changed by hand"
    assert {row["order_id"]: row["code"] for row in raw["unserved"]} == {"1003": "HAND"}
    assert planner("audit", here / "changed" / "plan.json", here / "office").exit_code == 0
    page = (here / "changed" / "index.html").read_text(encoding="utf-8")
    assert "taken out by hand" in page
    assert "THIS PLAN BREAKS" not in page


def late(rows: list[list[str]]) -> list[list[str]]:
    """Order 1005 must not be done by truck-2: there it goes, with its mix."""
    for row in rows:
        if row[:3] == ["truck-2", "load", "rear"]:
            row[3] = "weeds"
        if row[2] == "1005":
            row[0] = "truck-2"
    return rows


def test_a_packet_with_violations_says_so_on_every_sheet(here: Path) -> None:
    stops = rewritten(here, "pinned.csv", late)
    plan, out = here / "day" / "plan.json", here / "broken"
    words = ("packet", plan, here / "office", "--stops", stops, "--out", out)
    refused = planner(*words)
    assert refused.exit_code == 4
    assert "[TRUCK-PINNED]" in refused.stderr
    assert "nothing was written" in refused.stderr
    assert not out.exists()
    written = planner(*words, "--with-violations")
    assert written.exit_code == 4
    sheets = [file.read_text(encoding="utf-8") for file in out.glob("truck-*.html")]
    for text in sheets:
        if "Route sheet" in text:
            assert text.count("THIS PLAN BREAKS 1 RULE.") >= 1
            assert text.count("THIS PLAN BREAKS") == text.count('class="strip"')
    assert "THIS PLAN BREAKS 1 RULE." in (out / "pick-list.html").read_text(encoding="utf-8")
    page = (out / "index.html").read_text(encoding="utf-8")
    assert "Rules that the plan breaks (1)" in page
    assert "TRUCK-PINNED" in page
    # What was changed can be changed further.
    assert "1005" in (out / "stop-order.csv").read_text(encoding="utf-8")


def test_all_that_is_wrong_is_told_and_nothing_written(here: Path) -> None:
    def spoil(rows: list[list[str]]) -> list[list[str]]:
        return [*rows, rows[-1], ["truck-9", "order", "1001", "", "maybe"], ["truck-1", "", "77"]]

    stops = rewritten(here, "bad.csv", spoil)
    plan = here / "day" / "plan.json"
    for words in (("audit",), ("packet",)):
        more = ("--out", here / "none") if words == ("packet",) else ()
        result = planner(*words, plan, here / "office", "--stops", stops, *more)
        assert result.exit_code == 1
        assert "in the stop order; nothing was written" in result.stderr
        assert "[CHOICE-2]" in result.stderr
    assert not (here / "none").exists()


def swapped(here: Path) -> Path:
    """A plan.json with two stops exchanged by hand, numbers and clocks as they were."""
    raw = json.loads((here / "day" / "plan.json").read_text(encoding="utf-8"))
    stops = next(truck["stops"] for truck in raw["trucks"] if truck["stops"])
    stops[2], stops[3] = stops[3], stops[2]
    path = here / "swapped.json"
    path.write_text(json.dumps(raw), encoding="utf-8")
    return path


def test_stale_clocks_are_told_and_cured(here: Path) -> None:
    plan = swapped(here)
    found = planner("audit", plan, here / "office")
    assert found.exit_code == 4
    assert "Hint: loading and stops are fine" in found.output
    refused = planner("packet", plan, here / "office", "--out", here / "stale")
    assert "Hint: loading and stops are fine" in refused.stderr
    assert planner("audit", plan, here / "office", "--recompute").exit_code == 0
    out = here / "recomputed"
    done = planner("packet", plan, here / "office", "--recompute", "--out", out)
    assert done.exit_code == 0, done.output
    assert planner("audit", out / "plan.json", here / "office").exit_code == 0


def test_no_hint_where_working_it_out_again_would_not_help(here: Path) -> None:
    raw = json.loads((here / "day" / "plan.json").read_text(encoding="utf-8"))
    raw["trucks"][0]["truck_id"] = "truck-7"
    path = here / "no-truck.json"
    path.write_text(json.dumps(raw), encoding="utf-8")
    found = planner("audit", path, here / "office")
    assert found.exit_code == 4
    assert "Hint" not in found.output
    refused = planner(
        *("packet", path, here / "office", "--with-violations", "--out", here / "no-papers")
    )
    assert refused.exit_code == 4
    assert "No sheet can be made" in refused.stderr
    assert not (here / "no-papers").exists()


def test_what_was_pinned_by_hand_stays_when_planned_again(here: Path) -> None:
    """Order 1001 is done by truck-1; by hand it goes to truck-2 and is pinned there."""

    def pin(rows: list[list[str]]) -> list[list[str]]:
        for row in rows:
            if row[:3] == ["truck-2", "load", "front"]:
                row[3] = "spring-feed"
            if row[2] == "1001":
                row[0], row[4] = "truck-2", "yes"
        return rows

    stops = rewritten(here, "pin.csv", pin)
    plan = here / "day" / "plan.json"
    words = ("--stops", stops, "--out", here / "pinned")
    assert planner("packet", plan, here / "office", *words).exit_code == 0
    keep = ("--keep", here / "pinned" / "plan.json", "--out", here / "kept")
    words = ("--date", DAY, "--engine", "nearest-fit", *keep)
    assert planner("plan", here / "office", *words).exit_code == 0
    raw = json.loads((here / "kept" / "plan.json").read_text(encoding="utf-8"))
    truck = next(
        truck["truck_id"]
        for truck in raw["trucks"]
        for stop in truck["stops"]
        for work in stop["orders"]
        if work["order_id"] == "1001"
    )
    assert truck == "truck-2"
    assert raw["pinned"] == ["1001"]
