"""Two pages beside the day's: its records, with a field for what each row still lacks, and the
owner's comparisons."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date as Date

from planner.day.clock import clock_text
from planner.day.parts import whole_ids
from planner.exports.rows import TimeRow
from planner.office.day_records import cell_text
from planner.office.runs import Comparisons
from planner.pages.words import fill
from planner.papers.packet import date_text
from planner.phone_day import SheetRow
from planner.records.plans import DayOfRecord
from planner.records.sheet import COLUMNS, FILL, LEFT, SPRAY
from planner.tables.columns import Column

FIELDS = {
    FILL: ("done", "gal", "start", "level_read_gal", "lot", "note", "sure"),
    SPRAY: (
        *("done", "gal", "area_ft2", "start", "end", "wind_mph", "wind_from", "temperature_f"),
        *("sign", "notice", "neighbors", "applicator", "license", "supervisor", "note", "sure"),
    ),
    LEFT: ("gal", "note", "sure"),
}
"""Columns that are written for each kind of row."""
LABELS = {
    "sign": "sign set",
    "notice": "notice given",
    "neighbors": "neighbors told",
    "area_ft2": "area, ft²",
    "level_read_gal": "level read, gal",
    "wind_mph": "wind, mph",
    "temperature_f": "°F",
    "sure": "odd but right",
}


@dataclass(frozen=True)
class RecordField:
    """One field. text: as it is known; lacks: what is missing here, in words."""

    column: Column
    text: str
    lacks: str

    @property
    def label(self) -> str:
        """What stands before it."""
        name = self.column.column
        return LABELS.get(name, name.replace("_", " "))


@dataclass(frozen=True)
class RecordRow:
    """One row with its fields. planned: in words; law: what its state's rules still ask for; more:
    what is wrong with no field of its own."""

    row: SheetRow
    planned: str
    fields: tuple[RecordField, ...]
    law: str
    more: tuple[str, ...]


def records_page(
    workbook: str,
    days: Sequence[DayOfRecord],
    date: str,
    truck: str,
    rows: Sequence[SheetRow],
    law: Mapping[str, str],
    times: Sequence[TimeRow] = (),
    trouble: str = "",
) -> str:
    """The whole page. truck: whose rows are shown, '' = the first with something open; law: order
    -> what its state asks for; times: of the crews; trouble: why no row can be shown."""
    trucks = list(dict.fromkeys(row.truck_id for row in rows))
    left = {name: sum(not r.recorded for r in rows if r.truck_id == name) for name in trucks}
    first = next((name for name in trucks if left[name]), trucks[0] if trucks else "")
    shown = truck if truck in trucks else first
    return fill(
        "records.html",
        workbook=workbook,
        days=days,
        open_orders={day.date: len(whole_ids({}, day.open_orders)) for day in days},
        date=date,
        date_words=date_text(Date.fromisoformat(date)) if date else "",
        truck=shown,
        left=left,
        times=[
            replace(row, report=_clock(row.report), release=_clock(row.release))
            for row in times
            if row.truck == shown
        ],
        rows=[_row(row, law) for row in rows if row.truck_id == shown],
        open=sum(left.values()),
        waiting=sum(bool(row.lacking) for row in rows),
        winds=COLUMNS["wind_from"].choices,
        trouble=trouble,
    )


def comparisons_page(comparisons: Comparisons) -> str:
    """What was compared, what is under way, and a form for more."""
    return fill(
        "compare.html",
        workbook=comparisons.workbook.name,
        run=comparisons.run.state,
        fleets=list(comparisons.fleets()),
        unfinished=comparisons.unfinished(),
        results=[(name, comparisons.verdict(name)) for name in comparisons.results()],
    )


def _clock(text: str) -> str:
    """A time of the CSV, as papers write it."""
    hours, _, minutes = text.partition(":")
    return clock_text(60 * int(hours) + int(minutes)) if minutes else text


def _row(row: SheetRow, law: Mapping[str, str]) -> RecordRow:
    step = row.step
    planned = f"{step.gal:.1f} gal"
    if step.what == SPRAY:
        span = f"{cell_text('start', step.start_min)} to {cell_text('end', step.end_min)}"
        planned += f", {step.area_ft2:,.0f} ft², {span}"
    lacks = dict(row.lacking)
    names = FIELDS[step.what]
    fields = tuple(
        RecordField(COLUMNS[name], cell_text(name, row.cells.get(name)), lacks.get(name, ""))
        for name in names
    )
    more = tuple(words for column, words in row.lacking if column not in names)
    return RecordRow(row, planned, fields, law.get(step.order_id, "") if row.recorded else "", more)
