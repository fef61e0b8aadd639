"""The crews' time record, worked by hand from the plan's clock and from recorded times.

49 CFR 395.1(e)(1)(v)(A) to (C) names what it must show: time of reporting, hours on duty, time of
release (wording as of the 2022 copy filed with OMB, ICR 202206-2126-005, and FMCSA's guidance on
395.1, question 29, read 2026)."""

from __future__ import annotations

from pathlib import Path

import pytest

from planner.exports.rows import (
    PLANNED,
    RECORDED,
    TimeRow,
    Worked,
    hours_text,
    time_rows,
    with_weeks,
)
from planner.plan.model import Plan
from planner.records.current import CORRECTED, SPRAYED
from planner.records.store import Event
from planner.records.times import recorded_times, worked_of
from planner.tables.read import read_workbook
from tests.phone_walk import DAY, office_with_a_plan
from tests.test_yard_clock import checked, yard_day


@pytest.fixture(scope="module")
def plan() -> Plan:
    return checked(yard_day(1, inspection_min=15.0, washdown_min=20.0, paperwork_min=10.0))


def only(plan: Plan, **worked: object) -> TimeRow:
    (row,) = time_rows(plan, {"T1": Worked(**worked)})  # type: ignore[arg-type]
    return row


def test_a_crew_is_on_duty_from_report_to_release(plan: Plan) -> None:
    stops = plan.trucks[0].stops
    row = only(plan, driver="Kim Example", license="L-1")
    # The tests' shift begins at 7:30 (450); 20 and 10 min follow the return.
    assert (row.report, row.release) == ("07:30", hours_text(stops[-1].arrive_min + 30))
    lunch = sum(stop.leave_min - stop.begin_min for stop in stops if stop.kind == "lunch")
    on_duty_min = stops[-1].arrive_min + 30 - 450 - lunch
    assert row.hours_on_duty == pytest.approx(on_duty_min / 60, abs=0.01)
    assert row.hours_driving == pytest.approx(sum(s.drive_min for s in stops) / 60, abs=0.01)
    assert (row.driver, row.license, row.basis) == ("Kim Example", "L-1", PLANNED)


def test_recorded_times_move_report_and_release(plan: Plan) -> None:
    visit = next(stop for stop in plan.trucks[0].stops if stop.kind == "visit")
    planned, leave = only(plan), visit.leave_min
    late = only(plan, first_min=visit.begin_min, last_min=leave + 12, ended=frozenset({"O1"}))
    assert (late.report, late.basis) == (planned.report, RECORDED)
    assert late.hours_on_duty == pytest.approx(planned.hours_on_duty + 0.2, abs=0.01)
    early = only(plan, first_min=visit.arrive_min - 6, last_min=leave - 6, ended=frozenset({"O1"}))
    assert early.report == "07:24"
    assert early.hours_on_duty == planned.hours_on_duty
    # Somebody's earlier order says nothing of when the last one ended.
    half = only(plan, last_min=leave - 40, ended=frozenset({"O9"}))
    assert half.release == planned.release


def _worked(day: str, hours: float, driver: str = "Ann", truck: str = "T1") -> TimeRow:
    """On duty from 6:00 on, without lunch."""
    release = hours_text(360 + hours * 60)
    return TimeRow(day, truck, driver, "", "06:00", release, 0.0, hours, 1.0, "", "", PLANNED)


def test_the_week_s_hours_by_hand() -> None:
    """49 CFR 395.3(b): 60 h in 7 days, 70 h in 8; (c): 34 h off start anew (FMCSA's safety planner,
    read 2026-11-27)."""
    days = [f"2027-05-{day:02d}" for day in range(3, 12)]
    rows = with_weeks([_worked(day, 9.0) for day in days])
    assert [row.hours_7_days for row in rows] == [9, 18, 27, 36, 45, 54, 63, 63, 63]
    assert [row.hours_8_days for row in rows[-2:]] == [72, 72]
    assert [row.over for row in rows[5:8]] == [
        "",
        "over 60 h in 7 days",
        "over 60 h in 7 days; over 70 h in 8 days",
    ]
    # Home at 16:00, out again at 6:00 of the second day after: 38 h. At 20:30: 33.5 h.
    rested = with_weeks([_worked("2027-05-03", 10.0), _worked("2027-05-05", 8.0)])
    assert rested[1].hours_7_days == 8.0
    late = with_weeks([_worked("2027-05-03", 14.5), _worked("2027-05-05", 8.0)])
    assert late[1].hours_7_days == 22.5
    # A person counts on whatever truck, and alone or with another.
    shared = with_weeks(
        [_worked("2027-05-03", 9.0, "Bo"), _worked("2027-05-04", 9.0, "Ann and bo", "T2")]
    )
    assert [row.hours_7_days for row in shared] == [9.0, 18.0]
    assert with_weeks([_worked("2027-05-03", 9.0, "")])[0].hours_7_days == 9.0


def test_the_last_word_on_each_order_counts() -> None:
    def event(seq: int, order: str, start: float, end: float | None, kind: str = SPRAYED) -> Event:
        body = {"is": SPRAYED, "order_id": order, "truck_id": "T1", "start_min": start,
                "end_min": end, "applicator": "Kim Example", "license": "L-1"}  # fmt: skip
        return Event(seq, kind, "2027-05-03", f"order {order}", "", "", "", body)

    events = [event(1, "O1", 450.0, 470.0), event(2, "O2", 480.0, None),
              event(3, "O1", 440.0, 475.0, CORRECTED)]  # fmt: skip
    found = worked_of(events)["T1"]
    assert (found.first_min, found.last_min, found.ended) == (440.0, 475.0, frozenset({"O1"}))
    assert (found.driver, found.license) == ("Kim Example", "L-1")


def test_a_planned_day_counts_for_the_driver_of_its_truck(tmp_path: Path) -> None:
    """A printed day without records had no driver, so that a week half recorded and half planned
    counted as two people's. Without tables that can be read the truck stands alone, as before."""
    office = office_with_a_plan(tmp_path)
    book = read_workbook(office).workbook
    assert book is not None
    rows = recorded_times(office, DAY)
    assert rows
    for row in rows:
        truck = book.trucks[row.truck]
        assert row.driver == truck.applicator != ""
        assert row.license == truck.license
    (office / "trucks.csv").unlink()
    assert [row.driver for row in recorded_times(office, DAY)] == [""] * len(rows)
