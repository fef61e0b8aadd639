"""Recording a planned day, wired: read the sheet, lay it over plan and tables, check, append."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path

from planner.chain import checked_workbook, read_plan
from planner.plan.document import to_json
from planner.problems import WorkbookError
from planner.records.entries import Manner
from planner.records.outcome import store_path, with_records
from planner.records.read_sheet import read_actuals
from planner.records.record import recording
from planner.records.sealed import plan_checksum
from planner.records.store import Event, Store


@dataclass(frozen=True)
class Recorded:
    """What was added to the records. still_open: what of the plan has no record yet."""

    date: str
    events: tuple[Event, ...]
    still_open: tuple[str, ...]


def record_day(
    path: Path,
    plan_file: Path,
    sheet: Path | None,
    manner: Manner,
    *,
    recorded_by: str,
    why: str = "",
) -> Recorded:
    """Put what was really done on a planned day into the records of the workbook. sheet: the
    filled-in actuals, None = only what `manner` says. why: of a correction.

    Nothing is written unless everything is right. Raises WorkbookError with every problem,
    PlanFileError, StoreError.
    """
    plan, when = read_plan(plan_file)
    table = checked_workbook(path)
    rows, problems = read_actuals(sheet) if sheet is not None else ([], [])
    seen = with_records(path, table, when).workbook
    day_after = (when + timedelta(days=1)).isoformat()
    file = store_path(path)
    known: tuple[Event, ...] = ()
    if file.exists():
        with Store(file) as store:
            known = store.events(plan.date, day_after)
    checksum = plan_checksum(to_json(plan))
    found = recording(plan, checksum, rows, known, seen, table, manner, why)
    problems += found.problems
    if problems:
        raise WorkbookError(problems)
    if not found.drafts:
        return Recorded(plan.date, (), found.still_open)
    # Only now is a store made: a sheet with problems leaves nothing behind. What another office
    # records meanwhile shows as a conflict inside the transaction.
    with Store(file, create=True) as store:
        events = store.append(found.drafts, recorded_by)
    return Recorded(plan.date, events, found.still_open)
