"""Which cells the record of a done step needs, and what is wrong with a row that lacks one."""

from collections.abc import Iterable, Iterator, Sequence
from typing import Final

from planner.compliance.registry import attempts_at
from planner.day.day import Workbook
from planner.day.fleet import Called
from planner.problems import Problem
from planner.records.day_log import Step
from planner.records.parts import Body
from planner.records.sheet import SPRAY, Actual
from planner.records.told import NEIGHBORS, NOTICE, SIGN

LONGEST_WORK_MIN: Final = 360.0
"""A span of more than six hours at one property is a slip of the pen (common sense, no source)."""

STATED: Final = (SIGN, NOTICE, NEIGHBORS)
"""Columns that hold what a person states and no plan knows."""

BLANK: Final = "the record needs it and the cell is blank"
UNSAID: Final = "something is written in the row, and not whether it was done"
"""What is blank goes as planned; a row with a time alone may be a stop that was broken off."""


def unlogged(
    row: Actual, told: Iterable[Body], log: Sequence[Called], address: str
) -> Iterator[Problem]:
    """A call that was owed and is not logged: the sheet must say what became of it."""
    names = [one["person"] for one in told if not attempts_at(log, one["person"], address)]
    if names and row.neighbors is None:
        message = f"to be told before the spraying, and no call is logged: {' and '.join(names)}"
        cure = "record the call list first (`--calls`), or write whether they were told: yes or no"
        yield row.problem("neighbors", "REC-3", message, cure)


def blanks(
    row: Actual, step: Step, book: Workbook, open_to: Sequence[str] = ()
) -> Iterator[Problem]:
    """REC-3 for every cell that is needed and blank. open_to: columns that may stay blank."""
    if row.done is None:
        yield row.problem("done", "REC-3", UNSAID, "write yes or no")
        return
    if not row.done:
        if not row.note and step.what == SPRAY:
            message = "it was not done, and nothing says why"
            yield row.problem("note", "REC-3", message, "write why, in a few words")
        return
    for column in needed_columns(step, book, row.wind_mph):
        if column not in open_to and getattr(row, column) in (None, ""):
            cure = _CURES.get(column, "fill it in")
            yield row.problem(column, "REC-3", BLANK, cure)
    if step.what == SPRAY and (row.gal == 0 or row.area_ft2 == 0):
        column = "gal" if row.gal == 0 else "area_ft2"
        message = "marked done, but the amount is zero"
        yield row.problem(column, "REC-3", message, "write no under done, and say why in note")
    if row.sure and not row.note:
        message = "a figure that looks wrong is confirmed without a note"
        yield row.problem("note", "REC-3", message, "write how it came about")


_CURES: Final = {
    "gal": "write the gallons, or record with --as-planned",
    "start": "write the time, or record with --as-planned",
    "end": "write the time, or record with --as-planned",
    "wind_mph": "write it, or give --wind for the whole day, and --wind-from unless it was calm",
    "wind_from": "write it, or give --wind-from for the whole day",
    "temperature_f": "write it, or give --temperature for the whole day",
    "applicator": "write who applied, or fill in applicator of the truck",
    "license": "write the number, or fill in license of applicators",
    "sign": "write yes or no: the property asks for a sign; --signs says it of all",
    "notice": "write yes or no: the property asks for a notice; --notices says it of all",
}


def is_pesticide(step: Step, book: Workbook) -> bool:
    """Whether a product of its mix has a registration number: the record rules are about those."""
    mix = book.mixes.get(step.mix_id)
    return mix is not None and any(
        book.products[part.product_id].registration_no
        for part in mix.parts
        if part.product_id in book.products
    )


def needed_columns(step: Step, book: Workbook, wind_mph: float | None = 1.0) -> list[str]:
    """Columns that the record of a done step needs. wind_mph: that was read; a calm comes from
    nowhere."""
    if step.what != SPRAY:
        return ["gal"]
    columns = ["gal", "start", "end"]
    if is_pesticide(step, book):
        columns += ["wind_mph", "temperature_f", "applicator", "license"]
        if wind_mph:
            columns.append("wind_from")
    home = book.properties.get(step.place_id)
    if home is not None and home.sign:
        columns.append("sign")
    if home is not None and home.notice:
        columns.append("notice")
    return columns


def spans(row: Actual) -> Iterator[Problem]:
    """REC-4 for a work that ends before it begins or takes too long."""
    if not row.done or row.start is None or row.end is None:
        return
    if row.end < row.start:
        yield row.problem("end", "REC-4", "it ends before it begins", "look at AM and PM")
    elif row.end - row.start > LONGEST_WORK_MIN:
        yield row.problem("end", "REC-4", "it takes more than six hours", "look at AM and PM")
