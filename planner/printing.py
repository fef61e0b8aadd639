"""Writing a day's papers, wired: they carry the number of their print, and the records keep the
plan as its day's plan of record."""

from __future__ import annotations

import contextlib
import getpass
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Generic, TypeVar

from planner.chain import PlannedDay
from planner.day_files import day_files
from planner.plan.document import to_json
from planner.records.plans import KeptPlan, note_print, plan_of_record, withdraw
from planner.records.sealed import plan_checksum
from planner.records.store import StoreError
from planner.tables.office import load_office_file

DEMO_DATA = Path(__file__).resolve().parents[1] / "demo_data"
"""Nothing is ever written there: what is planned of it is not kept."""

NO_PAPERS = ("ID-", "PLAN-FIGURE", "MIX-RATE", "TRUCK-TWICE", "ORDER-TWICE", "STOP-SEQ")
"""Violations after which there is nothing to print and nothing to record: names and figures that
nobody knows, the same thing twice, stops without an order."""

Result = TypeVar("Result")


@dataclass(frozen=True)
class Printed(Generic[Result]):
    """kept: the plan as the records have it now, None = they do not; said: about that, '' = there
    is nothing to say; written: what writing the files gave."""

    kept: KeptPlan | None
    said: str
    written: Result


def user_name() -> str:
    """Who uses this machine."""
    try:
        return getpass.getuser()
    except (KeyError, ImportError, OSError):  # a user without an entry, as in containers
        return "unknown"


def print_day(
    planned: PlannedDay,
    workbook: Path,
    folder: Path,
    write: Callable[[dict[str, str]], Result],
    *,
    draft: bool = False,
) -> Printed[Result]:
    """Make the plan its day's plan of record and write its papers. write: puts the files (name ->
    text) into the folder; when it fails, the plan of record stays what it was. When the records
    cannot be written, the papers are, without a number. draft: nothing is kept."""
    plan, tiles = planned.plan, load_office_file(workbook).tiles
    if draft:
        mark = f"{plan_checksum(to_json(plan))}, draft"
        said = (
            f"A draft: it is not the plan of record of {plan.date}. "
            f"`planner days WORKBOOK --use {folder}` makes it that."
        )
        return Printed(None, said, write(day_files(planned, tiles, mark)))
    if DEMO_DATA in workbook.resolve().parents:
        return Printed(None, "", write(day_files(planned, tiles)))
    broken = [violation.code for violation in planned.violations]
    try:
        before = plan_of_record(workbook, plan.date)
        kept = note_print(workbook, plan, folder, broken, user_name())
    except StoreError as error:
        said = f"Note: the records do not know that this plan was printed. {error}"
        return Printed(None, said, write(day_files(planned, tiles)))
    try:
        written = write(day_files(planned, tiles, kept.mark))
    except BaseException:
        with contextlib.suppress(StoreError):
            withdraw(workbook, kept, kept.by)
        raise
    said = f"Plan of record of {plan.date}: plan {kept.mark}."
    if before is not None and before.sha256 != kept.sha256:
        said += f" It replaces plan {before.mark}: take the sheets of that one back."
    elif before is not None:
        said += f" It is the same as plan {before.mark}; sheets of both are good."
    return Printed(kept, said, written)
