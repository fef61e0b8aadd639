"""The crews' time records of the days that were recorded or printed."""

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import replace
from pathlib import Path

from planner.exports.rows import WEEKS, TimeRow, Worked, time_rows, with_weeks
from planner.plan.document import from_json
from planner.records.current import SPRAYED, current, kind_of
from planner.records.outcome import store_path
from planner.records.plans import plans_of_record
from planner.records.store import Event, Store
from planner.tables.read import read_workbook

LOOK_BACK_DAYS = max(days for days, _ in WEEKS) - 1


def recorded_times(workbook: Path, period: str) -> tuple[TimeRow, ...]:
    """Rows of every date of a year or month ('' = all) with a plan of record, by that plan and by
    what is recorded, with each driver's sums of the week. Where no record names the driver, the
    trucks table does: the hours of a person are those of recorded days and of planned ones. Raises
    StoreError, PlanFileError."""
    until = f"{period}-~" if period else "9999"
    first = period
    if period:
        # A week's sum reaches back over the period's first day.
        begin = dt.date.fromisoformat(f"{period}-01-01"[:10])
        first = (begin - dt.timedelta(days=LOOK_BACK_DAYS)).isoformat()
    rows: list[TimeRow] = []
    for date, day in plans_of_record(workbook, first, until).items():
        if day.of_record is None:
            continue
        with Store(store_path(workbook)) as store:
            text = store.plan_text(day.of_record.sha256)
            worked = worked_of(store.events(date, f"{date}~"))
        rows += time_rows(from_json(text), worked)
    if not all(row.driver for row in rows):
        rows = _named(rows, workbook)
    return tuple(row for row in with_weeks(rows) if row.date.startswith(period))


def _named(rows: Sequence[TimeRow], workbook: Path) -> list[TimeRow]:
    """With drivers of the tables as they are now; as they are where these cannot be read."""
    book = read_workbook(workbook).workbook
    trucks = {} if book is None else book.out_of_service | book.trucks
    return [
        replace(row, driver=trucks[row.truck].applicator, license=trucks[row.truck].license)
        if not row.driver and row.truck in trucks
        else row
        for row in rows
    ]


def worked_of(events: Iterable[Event]) -> dict[str, Worked]:
    """Truck -> what the records of one day tell of its crew."""
    found: dict[str, Worked] = {}
    for event in current(events).values():
        body = event.body
        if kind_of(event) != SPRAYED:
            continue
        before = found.get(str(body["truck_id"]), Worked())
        firsts = [m for m in (before.first_min, body.get("start_min")) if m is not None]
        lasts = [m for m in (before.last_min, body.get("end_min")) if m is not None]
        ended = {str(body["order_id"])} if body.get("end_min") is not None else set()
        found[str(body["truck_id"])] = Worked(
            driver=before.driver or str(body.get("applicator") or ""),
            license=before.license or str(body.get("license") or ""),
            first_min=min(firsts, default=None),
            last_min=max(lasts, default=None),
            ended=before.ended | ended,
        )
    return found
