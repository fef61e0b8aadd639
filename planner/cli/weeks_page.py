"""The page of `planner weeks` with its CSV and iCalendar files: written, or refused in time."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import click

from planner.cli.outputs import deliver

if TYPE_CHECKING:
    from planner.day.day import Workbook
    from planner.weeks.model import Calendar

CHANGED = "Tables or records have changed since: run planner weeks again"


def show_calendar(
    out: Path, calendar: Calendar, book: Workbook, force: bool, answer: Sequence[str] = ()
) -> None:
    """Write the page and its files into a folder and say where. book: the tables with the records
    before the calendar's first day laid over them; answer: as of planner.weeks.page."""
    stale = "" if calendar.workbook_sha256 == book.sha256 else CHANGED
    deliver(out, _files(calendar, book, stale, answer), force)
    click.echo(f"Page: {out / 'weeks.html'}", err=True)


def show_standing(out: Path, workbook: Path, force: bool) -> None:
    """The same for the calendar that stands. Raises WorkbookError, StoreError, CalendarError,
    WeeksError, OutputError."""
    from planner.chain import open_day
    from planner.outputs.folder import check_folder
    from planner.weeks.lay import WeeksError
    from planner.weeks.model import calendar_path, read_calendar

    check_folder(out, force=force, marks=("weeks.html",))
    path = calendar_path(workbook)
    calendar = read_calendar(path)
    if calendar is None:
        raise WeeksError(f"{path} is not there yet; run `planner weeks` without --show first")
    day = open_day(workbook, date.fromisoformat(calendar.days[0]))
    show_calendar(out, calendar, day.workbook, force)


def _files(
    calendar: Calendar, book: Workbook, stale: str, answer: Sequence[str]
) -> Mapping[str, str]:
    from planner.weeks.page import weeks_page
    from planner.weeks.weeks_files import weeks_files

    page = weeks_page(calendar, book, stale, answer)
    return {"weeks.html": page, **weeks_files(calendar, book)}
