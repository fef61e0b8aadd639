"""A day's records as the office completes and corrects them: every row of the actuals sheet as it
is known, and rows written on the page, recorded as `planner record` records a sheet."""

import csv
import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date as Date
from pathlib import Path
from typing import Any, Final

from planner.day.clock import clock_text
from planner.day_files import user_name
from planner.exports.rows import TimeRow
from planner.exports.text import csv_text
from planner.office.changes import Refused
from planner.phone_day import PhoneDay, SheetRow
from planner.problems import PlannerError, Problem, WorkbookError
from planner.recording import Recorded, record_day
from planner.records import reports, sums
from planner.records.entries import Conditions, Manner
from planner.records.outcome import store_path
from planner.records.plans import DayOfRecord, plans_of_record
from planner.records.sheet import COLUMNS, FILE_NAME
from planner.records.store import Store
from planner.records.ticks import lacking_of
from planner.records.times import recorded_times

Row = Mapping[str, str]
"""Column of the actuals sheet -> text, and 'key': which row of the page it is."""

PLACES: Final = ("truck", "stop", "what", "order", "compartment")


@dataclass(frozen=True)
class Wrong:
    """What keeps rows from being recorded. key, truck: of the row, '' = of none; column: of the
    cell."""

    key: str
    column: str
    words: str
    truck: str = ""


class NotRecorded(Exception):
    """Nothing was recorded, and everything that is wrong."""

    def __init__(self, wrong: Sequence[Wrong]) -> None:
        self.wrong = tuple(wrong)
        super().__init__(wrong[0].words if wrong else "Nothing was recorded.")


class DayRecords:
    """Of one workbook, for any number of threads. extract: roads instead of planner.toml's."""

    def __init__(self, workbook: Path, extract: Path | None = None) -> None:
        self.workbook, self._extract = workbook, extract
        self._days: dict[str, PhoneDay] = {}

    def days(self) -> list[DayOfRecord]:
        """Dates with a plan of record, the last one first. Raises StoreError."""
        found = plans_of_record(self.workbook).values()
        return [day for day in reversed(list(found)) if day.of_record is not None]

    def rows(self, date: str) -> tuple[SheetRow, ...]:
        """Every row of the date's actuals sheet. Raises as `planner record` does."""
        if date not in self._days:
            self._days = {date: PhoneDay(self.workbook, date, self._extract)}
        return self._days[date].sheet()

    def asked_by_law(self, date: str) -> dict[str, str]:
        """Order -> columns that its state's rules ask for and that its record leaves blank."""
        file = store_path(self.workbook)
        if not file.exists():
            return {}
        with Store(file) as store:
            events = store.events(date, f"{date}~")
        return {
            row.order: row.missing for row in reports.application_rows(events, "") if row.missing
        }

    def times(self, date: str) -> tuple[TimeRow, ...]:
        """The crews' time record of the date. Raises StoreError."""
        return recorded_times(self.workbook, date)

    def record(
        self,
        date: str,
        rows: Sequence[Row],
        *,
        as_planned: bool = False,
        correct: bool = False,
        why: str = "",
        weather: Row | None = None,
    ) -> Recorded:
        """Record rows, or correct what is recorded. as_planned: what is blank went as planned, on
        all trucks; weather: wind_mph, wind_from and temperature_f of the whole day, and sign and
        notice (yes, no) of all that were asked for. Nothing is written unless all
        is right. Raises NotRecorded, Refused."""
        if correct and not why.strip():
            raise NotRecorded([Wrong("", "why", "Say why you correct it.")])
        if not rows and not as_planned:
            raise Refused("Nothing is written yet.")
        with tempfile.TemporaryDirectory() as folder:
            sheet = Path(folder) / FILE_NAME
            with sheet.open("w", encoding="utf-8", newline="") as file:
                out = csv.DictWriter(file, list(COLUMNS), extrasaction="ignore")
                out.writeheader()
                out.writerows(rows)
            try:
                return record_day(
                    self.workbook,
                    None,
                    sheet if rows else None,
                    Manner(
                        as_planned,
                        correct,
                        _conditions(weather or {}),
                        sign=_YES_NO.get((weather or {}).get("sign", "")),
                        notice=_YES_NO.get((weather or {}).get("notice", "")),
                    ),
                    recorded_by=user_name(),
                    why=why.strip(),
                    date=date,
                    extract=self._extract,
                )
            except WorkbookError as error:
                raise NotRecorded([_wrong(one, rows) for one in error.problems]) from error
            except PlannerError as error:
                raise Refused(f"Nothing was recorded: {error}") from error

    def export(self, what: str, period: str) -> str:
        """'applications', 'sums' or 'times' of a year or a month, as `planner export` writes them.
        Raises StoreError."""
        if what == "times":
            return csv_text(TimeRow, recorded_times(self.workbook, period))
        with Store(store_path(self.workbook)) as store:
            wanted = (sums.APPLIED_KINDS, sums.ASKED_OF_SUMS) if what == "sums" else ((), ())
            events = store.events(period, f"{period}-~", *wanted)
        if what == "sums":
            return csv_text(sums.YearRow, sums.year_rows(events, period, ""))
        return csv_text(reports.ApplicationRow, reports.application_rows(events, ""))


_YES_NO: Final = {"yes": True, "no": False}


def _wrong(problem: Problem, rows: Sequence[Row]) -> Wrong:
    column, number = problem.column or "", problem.row
    if number is not None and 0 <= number - 2 < len(rows):
        row = rows[number - 2]
        return Wrong(row["key"], column, lacking_of("", problem).words, row.get("truck", ""))
    if problem.code == "REC-3" and column:
        # The same blank in many rows is told once.
        name, many = column.replace("_", " "), problem.message.split(" ")[0]
        words = f"{name} not written in {many} rows: write it there, or for the whole day."
        return Wrong("", column, words)
    # A row that went as planned stands in no sheet: its file names the step of the plan.
    step = problem.file.partition(", ")[2]
    words = f"{problem.message}; {problem.cure}".strip("; ")
    return Wrong("", column, f"{step}: {words}" if step else words)


def _conditions(weather: Row) -> Conditions:
    """Raises NotRecorded."""
    found: dict[str, Any] = {}
    for name in ("wind_mph", "temperature_f"):
        column, text = COLUMNS[name], weather.get(name, "").strip()
        if text:
            try:
                value = float(text)
            except ValueError:
                value = float("nan")
            if not (column.least or 0.0) <= value <= (column.most or 0.0):
                raise NotRecorded([Wrong("", name, f"{text} is no {name.replace('_', ' ')}.")])
            found[name] = value
    wind = weather.get("wind_from", "")
    if wind and wind not in COLUMNS["wind_from"].choices:
        raise NotRecorded([Wrong("", "wind_from", f"{wind} is none of the compass.")])
    return Conditions(wind_from=wind or None, **found)


def cell_text(column: str, value: object) -> str:
    """A value as it is written into the sheet."""
    if value is None or value == "":
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if column in ("start", "end", "arrived") and isinstance(value, int | float):
        return clock_text(value)
    return f"{value:g}" if isinstance(value, float) else str(value)


def is_date(text: str) -> bool:
    """Whether it is a date as records name them."""
    try:
        return Date.fromisoformat(text).isoformat() == text
    except ValueError:
        return False
