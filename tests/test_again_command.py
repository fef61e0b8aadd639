"""`planner plan --again` as offices use and misuse it: files, words, exit codes.

The starter's day, planned by the plain engine: truck-1 leaves at 7:30 (450) and does 1001 at P-1
from 7:32 to 7:41, then 1006 and 1007 at P-6 to 7:58, 1005, 1002, 1003 and 1004; truck-2 stays home.
"""

from __future__ import annotations

import csv
import datetime as dt
import json
import math
from pathlib import Path
from typing import Any

import pytest
from click.testing import Result

from planner.day.clock import clock_text
from planner.papers.render import gal_text
from tests.test_plan_command import DAY, clean, edit, plan, planner, workbook

__all__ = ["workbook"]

WEATHER = ("--wind", 4, "--wind-from", "SW", "--temperature", 61)


@pytest.fixture
def earlier(workbook: Path, tmp_path: Path) -> Path:
    assert plan(workbook, tmp_path / "day").exit_code == 0
    return tmp_path / "day" / "plan.json"


def again(workbook: Path, earlier: Path, *more: object) -> Result:
    words = ("--engine", "nearest-fit", "--out", earlier.parents[1] / "noon", *more)
    return clean(planner("plan", workbook, "--again", earlier, *words))


def read(file: Path) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(file.read_text(encoding="utf-8"))
    return found


def orders(plan: dict[str, Any], *, done: bool) -> dict[str, list[str]]:
    return {
        truck["truck_id"]: [
            work["order_id"]
            for stop in truck["stops"]
            if stop.get("done", False) is done
            for work in stop["orders"]
        ]
        for truck in plan["trucks"]
    }


def test_what_is_done_stays_and_the_rest_is_planned(workbook: Path, earlier: Path) -> None:
    result = again(workbook, earlier, "--at", "7:50")
    assert result.exit_code == 0, result.output
    before, after = read(earlier), read(earlier.parents[1] / "noon" / "plan.json")
    # On its way to P-6 from 7:41 on.
    assert orders(after, done=True)["truck-1"] == ["1001", "1006", "1007"]
    old, new = before["trucks"][0]["stops"], after["trucks"][0]["stops"]
    for row in range(3):
        assert {**old[row], "done": True} == new[row]
    assert "done" not in new[3]
    assert after["again"]["at_min"] == 470.0
    assert (
        clean(planner("audit", earlier.parents[1] / "noon" / "plan.json", workbook)).exit_code == 0
    )
    names = {file.name for file in (earlier.parents[1] / "noon").iterdir()}
    assert names == {file.name for file in earlier.parent.iterdir()}


def test_a_truck_that_is_down_drives_home_and_the_other_goes(workbook: Path, earlier: Path) -> None:
    result = again(workbook, earlier, "--at", "7:50", "--truck", "truck-1=down")
    after = read(earlier.parents[1] / "noon" / "plan.json")
    left = {stop["kind"] for stop in after["trucks"][0]["stops"] if not stop.get("done")}
    assert left == {"return"}
    second = after["trucks"][1]["stops"]
    # It had nothing to do until then: 15 minutes to look round it (rule 38).
    assert (second[0]["arrive_min"], second[0]["leave_min"]) == (470.0, 485.0)
    # 1005 may not go on truck-2: it has no truck any more.
    assert result.exit_code == 3
    assert [row["order_id"] for row in after["unserved"]] == ["1005"]
    assert set(orders(after, done=False)["truck-2"]) == {"1002", "1003", "1004"}


def test_orders_said_to_be_open_and_left_out(workbook: Path, earlier: Path) -> None:
    words = ("--at", "7:50", "--open", "1006, 1007", "--skip", "1007")
    assert again(workbook, earlier, *words).exit_code == 0
    after = read(earlier.parents[1] / "noon" / "plan.json")
    assert orders(after, done=True)["truck-1"] == ["1001"]
    assert "1006" in orders(after, done=False)["truck-1"]
    assert "1007" not in [name for names in orders(after, done=False).values() for name in names]
    assert after["again"]["skipped"] == ["1007"]
    # Its papers can be written anew from the plan alone.
    out = earlier.parents[1] / "papers"
    noon = earlier.parents[1] / "noon" / "plan.json"
    assert clean(planner("packet", noon, workbook, "--out", out)).exit_code == 0


def test_a_plan_made_again_is_made_again(workbook: Path, earlier: Path) -> None:
    assert again(workbook, earlier, "--at", "7:50", "--skip", "1004").exit_code == 0
    noon = earlier.parents[1] / "noon" / "plan.json"
    words = ("--engine", "nearest-fit", "--out", earlier.parents[1] / "later", "--at", "8:15")
    result = clean(planner("plan", workbook, "--again", noon, *words))
    assert result.exit_code == 0, result.output
    after = read(earlier.parents[1] / "later" / "plan.json")
    assert after["again"]["skipped"] == ["1004"]
    old, new = read(noon)["trucks"][0]["stops"], after["trucks"][0]["stops"]
    assert [row for row in old if row.get("done")] == new[:3]
    assert (
        clean(planner("audit", earlier.parents[1] / "later" / "plan.json", workbook)).exit_code == 0
    )


def test_a_new_order_of_the_day_is_taken_in_by_itself(workbook: Path, earlier: Path) -> None:
    with (workbook / "orders.csv").open("a", encoding="utf-8") as file:
        file.write(f"1008,P-2,weeds,{DAY},,,,,1,,,called at noon\n")
        file.write("1009,P-3,edges,2027-05-05,,,200,,1,,,\n")
    assert again(workbook, earlier, "--at", "7:50", "--add", "1009").exit_code == 0
    after = read(earlier.parents[1] / "noon" / "plan.json")
    assert {"1008", "1009"} <= {
        name for names in orders(after, done=False).values() for name in names
    }
    assert (
        clean(planner("audit", earlier.parents[1] / "noon" / "plan.json", workbook)).exit_code == 0
    )


def with_status(workbook: Path, order: str, status: str) -> None:
    """Say in the tables what the customer told the office."""
    file = workbook / "orders.csv"
    first, *rows = file.read_text(encoding="utf-8").splitlines()
    rows = [row + (f",{status}" if row.startswith(order) else ",") for row in rows]
    file.write_text("\n".join([f"{first},status", *rows]) + "\n", encoding="utf-8")


def test_an_overdue_order_goes_through_noon_and_a_change_by_hand(
    workbook: Path, tmp_path: Path
) -> None:
    for order in ("1001,P-1,spring-feed", "1003,P-3,weeds"):
        edit(workbook / "orders.csv", f"{order},{DAY}", f"{order},2027-04-30")
    result = plan(workbook, tmp_path / "day")
    assert "7 due (4 on their last day, 2 overdue)" in result.output
    line = "1003 C. Cedar, 7 Cedar Court (weeds): overdue by 3 days (due by Fri 2027-04-30); truck"
    assert line in result.output
    late = [{"order_id": name, "days": 3} for name in ("1001", "1003")]
    earlier = tmp_path / "day" / "plan.json"
    sheet = tmp_path / "day" / "stop-order.csv"
    rows = [row for row in sheet.read_text(encoding="utf-8").splitlines() if ",1003," not in row]
    sheet.write_text("\n".join(rows) + "\n", encoding="utf-8")
    assert clean(planner("audit", earlier, workbook, "--stops", sheet)).exit_code == 0
    assert again(workbook, earlier, "--at", "7:50").exit_code == 0
    noon = tmp_path / "noon" / "plan.json"
    assert read(earlier)["overdue"] == read(noon)["overdue"] == late
    assert clean(planner("audit", noon, workbook)).exit_code == 0


def test_an_order_that_is_cancelled_at_noon(workbook: Path, earlier: Path) -> None:
    """1004 is still to be done at 7:50, 1001 is done."""
    as_it_was = (workbook / "orders.csv").read_text(encoding="utf-8")
    with_status(workbook, "1004", "canceled")
    result = again(workbook, earlier, "--at", "7:50", "--add", "1004")
    assert "order '1004' is cancelled in the tables" in result.stderr
    assert again(workbook, earlier, "--at", "7:50").exit_code == 0
    noon = earlier.parents[1] / "noon" / "plan.json"
    assert all("1004" not in names for names in orders(read(noon), done=False).values())
    assert clean(planner("audit", noon, workbook)).exit_code == 0
    (workbook / "orders.csv").write_text(as_it_was, encoding="utf-8")
    with_status(workbook, "1001", "cancelled")
    result = again(workbook, earlier, "--at", "7:50")
    assert result.exit_code == 1
    assert "write --open 1001 if it was not done" in result.stderr
    assert again(workbook, earlier, "--at", "7:50", "--open", "1001").exit_code == 0


def test_at_six_nothing_is_done_unless_the_trucks_stand_filled(
    workbook: Path, earlier: Path
) -> None:
    assert again(workbook, earlier, "--at", "6:00").exit_code == 0
    noon = earlier.parents[1] / "noon" / "plan.json"
    assert "done" not in json.dumps(read(noon)["trucks"])
    assert again(workbook, earlier, "--at", "6:00", "--filled").exit_code == 0
    first = read(noon)["trucks"][0]["stops"][0]
    assert first == {**read(earlier)["trucks"][0]["stops"][0], "done": True}


def test_what_cannot_be_is_told_at_once_and_nothing_is_written(
    workbook: Path, earlier: Path
) -> None:
    result = again(
        workbook,
        earlier,
        *("--date", "2027-05-04", "--at", "7:50"),
        *("--done", "1001,1O02", "--open", "1001", "--skip", "9", "--add", "77"),
        *("--truck", "truck-3=down", "--truck", "truck-2=soon", "--truck", "truck-1"),
    )
    assert result.exit_code == 1
    found = sorted(line.rsplit("[", 1)[1][:7] for line in result.stderr.splitlines()[:-1])
    # Date; 1O02, 9, 77 and truck-3 unknown; 1001 done and open; 'soon' and nothing are no states.
    assert found == sorted(["AGAIN-2", *4 * ["AGAIN-1"], "AGAIN-4", *2 * ["AGAIN-3"]])
    assert "did you mean '1002'?" in result.stderr
    assert "in the re-plan options; nothing was written" in result.stderr
    assert not (earlier.parents[1] / "noon").exists()


def test_a_plan_is_named_by_its_folder_and_what_is_none_is_named(
    workbook: Path, earlier: Path
) -> None:
    folder = again(workbook, earlier.parent, "--at", "half past")
    assert "not a time of day" in folder.stderr
    other = again(workbook, workbook, "--at", "7:50")
    assert other.exit_code == 2
    assert "holds no plan.json" in other.stderr
    table = again(workbook, workbook / "orders.csv", "--at", "7:50")
    assert table.exit_code == 1
    assert "orders.csv: no plan, as it is not JSON" in table.stderr


@pytest.mark.parametrize(
    ("words", "code", "told"),
    [
        (("--at", "20:00"), "AGAIN-3", "nothing is left to plan"),
        (("--at", "7:50", "--skip", "1001"), "AGAIN-5", "write --open 1001"),
        (("--at", "6:00", "--done", "1001"), "AGAIN-5", "leaves at 7:30 AM"),
        (("--at", "7:50", "--truck", "truck-1=7:00"), "AGAIN-3", "free before the day"),
        (("--at", "half past"), "AGAIN-3", "not a time of day"),
    ],
)
def test_what_the_clock_contradicts(
    workbook: Path, earlier: Path, words: tuple[str, ...], code: str, told: str
) -> None:
    result = again(workbook, earlier, *words)
    assert result.exit_code == 1
    assert f"[{code}]" in result.stderr
    assert told in result.stderr
    assert len(result.stderr.splitlines()) == 2


def test_a_truck_of_the_morning_that_is_out_of_service_is_named(
    workbook: Path, earlier: Path
) -> None:
    edit(workbook / "trucks.csv", "truck-1,Big truck,yard,yes", "truck-1,Big truck,yard,no")
    result = again(workbook, earlier, "--at", "7:50")
    assert result.exit_code == 1
    assert "--truck truck-1=down [AGAIN-6]" in result.stderr


def test_a_truck_that_is_in_the_shop_since_gets_its_own_cure(workbook: Path, earlier: Path) -> None:
    """The dates are those of the shop, not of a table that lacks the truck; said down or not."""
    file = workbook / "trucks.csv"
    head, *rows = file.read_text(encoding="utf-8").splitlines()
    date = json.loads(earlier.read_text(encoding="utf-8"))["date"]
    rows = [f"{row},{date if row.startswith('truck-1') else ''}" for row in rows]
    file.write_text("\n".join([f"{head},out_on", *rows]) + "\n", encoding="utf-8")
    for words in ((), ("--truck", "truck-1=down")):
        result = again(workbook, earlier, "--at", "7:50", *words)
        assert result.exit_code == 1
        assert "truck 'truck-1' went out, and stays in the yard by now: out of ser" in result.stderr
        assert "out_on from tomorrow), and --truck truck-1=down [AGAIN-6]" in result.stderr
        assert len(result.stderr.splitlines()) == 2
    # As the cure has it: the shop from tomorrow on, and down for the rest of today.
    tomorrow = dt.date.fromisoformat(date) + dt.timedelta(days=1)
    edit(file, f",{date}", f",{tomorrow}")
    assert clean(again(workbook, earlier, "--at", "7:50", "--truck", "truck-1=down")).exit_code in (
        0,
        3,
    )


@pytest.mark.parametrize(
    "words",
    [
        ("--at", "7:50"),
        ("--skip", "1001"),
        ("--again", "EARLIER"),
        ("--again", "EARLIER", "--at", "8"),
    ],
)
def test_options_that_go_together(workbook: Path, earlier: Path, words: tuple[str, ...]) -> None:
    named = [str(earlier) if word == "EARLIER" else word for word in words]
    assert clean(planner("plan", workbook, *named)).exit_code == 2


def test_a_plan_made_again_is_changed_by_hand_but_not_what_is_done(
    workbook: Path, earlier: Path
) -> None:
    assert again(workbook, earlier, "--at", "7:50").exit_code == 0
    noon = earlier.parents[1] / "noon"
    assert clean(planner("audit", noon, workbook, "--recompute")).exit_code == 0
    sheet = noon / "stop-order.csv"
    rows = list(csv.DictReader(sheet.read_text(encoding="utf-8-sig").splitlines()))

    def write() -> None:
        with sheet.open("w", encoding="utf-8", newline="") as file:
            out = csv.DictWriter(file, list(rows[0]))
            out.writeheader()
            out.writerows(rows)

    stops = [row for row in rows if row["does"] == "order"]
    assert "1001" not in {row["what"] for row in stops}  # done
    first = stops[0]
    first["truck"] = ""
    write()
    result = clean(planner("audit", noon, workbook, "--stops", sheet))
    assert f"Taken out by hand: {first['what']}." in result.stdout
    next(row for row in rows if row["does"] == "load")["mix"] = ""
    first.update(truck="truck-1", what="1001")
    write()
    result = clean(planner("audit", noon, workbook, "--stops", sheet))
    assert result.exit_code == 1
    assert result.stderr.count("HAND-8") == 2


def test_what_is_recorded_of_the_day_is_done(workbook: Path, earlier: Path) -> None:
    """1001 took half a gallon more than planned and ended five minutes later; 1006 was skipped."""
    work = read(earlier)["trucks"][0]["stops"][1]["orders"][0]
    columns = "truck,stop,what,order,compartment,done,gal,start,end,wind_mph,wind_from,"
    lines = [
        f"{columns}temperature_f,sign,note",
        *(
            f"truck-1,0,fill,,{fill['compartment_id']},yes,{fill['gal']},,,,,,,"
            for fill in read(earlier)["trucks"][0]["stops"][0]["fills"]
        ),
        f"truck-1,1,spray,1001,,yes,{work['gal'] + 0.5},7:36 AM,7:46 AM,3,SW,60,yes,",
        "truck-1,2,spray,1006,,no,,,,,,,,gate locked",
    ]
    sheet = earlier.parents[1] / "done.csv"
    sheet.write_text("\n".join(lines) + "\n", encoding="utf-8")
    result = clean(planner("record", workbook, earlier, sheet))
    assert result.exit_code == 0, result.output
    assert again(workbook, earlier, "--at", "8:00").exit_code in (0, 3)
    noon = earlier.parents[1] / "noon" / "plan.json"
    after = read(noon)
    first = after["trucks"][0]["stops"][1]
    assert first["orders"][0]["gal"] == pytest.approx(work["gal"] + 0.5)
    assert (first["orders"][0]["begin_min"], first["leave_min"]) == (456.0, 466.0)
    # Skipped, so still to do; 1007 at the same lawn is done by the clock.
    done = orders(after, done=True)["truck-1"]
    assert "1006" not in done
    assert "1007" in done
    assert clean(planner("audit", noon, workbook)).exit_code == 0
    # In the evening the rest is recorded from the noon plan; what is recorded already stands.
    result = clean(planner("record", workbook, noon, "--as-planned", *WEATHER))
    assert result.exit_code == 0, result.output
    fresh = sum(
        len(stop["fills"])
        for truck in after["trucks"]
        for stop in truck["stops"]
        if not stop.get("done")
    )
    filled = f"{fresh} filled" if fresh else "Recorded for 2027-05-03: 5 sprayed"
    assert filled in result.output


def test_a_fill_that_was_not_made_is_not_on_board(workbook: Path, earlier: Path) -> None:
    """The compartment of a mix that comes later was not filled in the morning."""
    fills = read(earlier)["trucks"][0]["stops"][0]["fills"]
    first = read(earlier)["trucks"][0]["stops"][1]["orders"][0]
    spared = next(fill for fill in fills if fill["mix_id"] != first["mix_id"])
    lines = ["truck,stop,what,order,compartment,done,gal,note"]
    for fill in fills:
        made = "no,,pump stuck" if fill is spared else f"yes,{fill['gal']},"
        lines.append(f"truck-1,0,fill,,{fill['compartment_id']},{made}")
    sheet = earlier.parents[1] / "done.csv"
    sheet.write_text("\n".join(lines) + "\n", encoding="utf-8")
    result = clean(planner("record", workbook, earlier, sheet))
    assert result.exit_code == 0, result.output
    assert again(workbook, earlier, "--at", "7:35").exit_code in (0, 3)
    noon = earlier.parents[1] / "noon" / "plan.json"
    after = {fill["compartment_id"]: fill for fill in read(noon)["trucks"][0]["stops"][0]["fills"]}
    assert spared["gal"] > 0
    for fill in fills:
        made_gal = 0.0 if fill is spared else fill["gal"]
        assert after[fill["compartment_id"]]["gal"] == pytest.approx(made_gal)
    assert clean(planner("audit", noon, workbook)).exit_code == 0


def test_a_time_before_what_the_day_has_recorded_is_refused(workbook: Path, earlier: Path) -> None:
    """1001 begins at 7:32 and the last, 1004, ends long after: from 7:40 the rest would have to be
    squeezed between. From 1004's recorded begin on it goes."""
    result = clean(planner("record", workbook, earlier, "--as-planned", *WEATHER))
    assert result.exit_code == 0, result.output
    last = read(earlier)["trucks"][0]["stops"][-2]["orders"][-1]
    begun = math.ceil(last["begin_min"])
    result = again(workbook, earlier, "--at", "7:40")
    assert result.exit_code == 1
    assert result.stderr.startswith(
        f"--at: records of the day tell what was sprayed after it, the last truck-1's order "
        f"{last['order_id']}, begun at {clock_text(last['begin_min'])} (found '7:40 AM'); "
        f"write {clock_text(begun)} or later, or correct the record (planner record --correct) "
        "[AGAIN-3]\n"
    )
    assert not (earlier.parents[1] / "noon").exists()
    result = again(workbook, earlier, "--at", clock_text(begun))
    assert result.exit_code == 0, result.output


def test_the_papers_say_what_changed_and_what_is_on_board(workbook: Path, earlier: Path) -> None:
    words = ("--at", "7:50", "--skip", "1004", "--open", "1006,1007")
    result = again(workbook, earlier, *words)
    assert "Planned again at 7:50 AM: done by then 1, changed since " in result.stdout
    folder = earlier.parents[1] / "noon"
    packet = (folder / "truck-truck-1.html").read_text(encoding="utf-8")
    assert "Planned again at 7:50 AM: truck-1 Big truck" in packet
    # What 'front' held when it left, less the share of 1001 and its hose.
    depart, visit = read(earlier)["trucks"][0]["stops"][:2]
    front = visit["orders"][0]
    on_board = depart["fills"][0]["level_after_gal"] - sum(
        draw["gal"] for draw in front["compartments"] + front["hose_compartments"]
    )
    assert f"<b>{gal_text(on_board)} gal</b>" in packet
    assert "No longer on this truck" in packet
    assert packet.count("done: ") == 2
    day = (folder / "index.html").read_text(encoding="utf-8")
    assert "left out by the office" in day
    assert "Planned again at 7:50 AM" in (folder / "pick-list.html").read_text(encoding="utf-8")
    before = (earlier.parent / "index.html").read_text(encoding="utf-8")
    assert "Planned again" not in before


def test_machines_read_what_changed(workbook: Path, earlier: Path) -> None:
    result = again(workbook, earlier, "--at", "7:50", "--truck", "truck-1=down", "--json")
    told = json.loads(result.stdout)["again"]
    assert told["at_min"] == 470.0
    moved = {row["order_id"]: row for row in told["changes"]}
    assert moved["1004"]["kind"] == "moved"
    assert (moved["1004"]["was_truck"], moved["1004"]["truck_id"]) == ("truck-1", "truck-2")
    assert (moved["1005"]["kind"], moved["1005"]["tell"]) == ("not today", True)


def test_the_wind_comes_up(workbook: Path, earlier: Path) -> None:
    """From eight o'clock on it blows at 25 mph: what has a limit waits, what is done stays done."""
    file = workbook / "weather.csv"
    header, *rows = file.read_text(encoding="utf-8").splitlines()
    columns = header.split(",")
    hour, wind, gust = (columns.index(name) for name in ("hour", "wind_mph", "gust_mph"))
    changed = [header]
    for row in rows:
        cells = row.split(",")
        if cells[hour].isdigit() and int(cells[hour]) >= 8:
            cells[wind], cells[gust] = "25", "25"
        changed.append(",".join(cells))
    file.write_text("\n".join(changed) + "\n", encoding="utf-8")
    assert again(workbook, earlier, "--at", "7:50").exit_code == 3
    noon = earlier.parents[1] / "noon" / "plan.json"
    after = read(noon)
    assert orders(after, done=True)["truck-1"] == ["1001", "1006", "1007"]
    waiting = {row["order_id"] for row in after["held"] + after["unserved"]}
    # The weed mix has a label with a wind limit.
    assert {"1003", "1005"} <= waiting
    assert clean(planner("audit", noon, workbook)).exit_code == 0
