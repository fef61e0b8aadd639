"""What a file or a spreadsheet's sheet holds before anything is understood: rows of text. Beyond
limits that no table of an office is near, a file is refused, and says why.

They keep a slip (a stray cell in the last row, the wrong file) or a hostile file from filling
the memory. A company of 20,000 lawns with ten years of history stays far below them.
"""

from __future__ import annotations

import zipfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from planner.problems import PlannerError, Problem


@dataclass(frozen=True)
class Sheet:
    """Rows of text as the spreadsheet shows them.

    name: file or sheet name, for messages. rows: (row number, cells); blank rows are left out but
    counted. separator: of a CSV file, '' for a spreadsheet. epoch_1904: day numbers count from
    1904. faults: (row number, cell index) -> code of what makes the cell unreadable. encoding: of a
    CSV file.
    """

    name: str
    rows: tuple[tuple[int, tuple[str, ...]], ...]
    separator: str = ""
    epoch_1904: bool = False
    faults: Mapping[tuple[int, int], str] = field(default_factory=dict)
    encoding: str = ""


class SheetError(PlannerError):
    """A file that cannot be read at all; carries the problem."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        super().__init__(str(problem))


def column_letters(place: int) -> str:
    """A column's name in a spreadsheet: 0 -> 'A', 27 -> 'AB'."""
    before, last = divmod(place, 26)
    return (column_letters(before - 1) if before else "") + chr(65 + last)


MOST_BYTES: Final = 200_000_000
MOST_UNPACKED_BYTES: Final = 500_000_000
"""Of an .xlsx, which is a packed archive: a few kilobytes of it may unpack to a disk full."""
MOST_PARTS: Final = 5_000
MOST_ROWS: Final = 1_048_576
"""Rows of an Excel sheet (Microsoft, 'Excel specifications and limits', from memory)."""
MOST_COLUMNS: Final = 500
MOST_MERGED: Final = 1_000_000
MOST_LETTERS: Final = 32_767
"""Letters in an Excel cell (ditto)."""


def check_file(path: Path) -> None:
    """Raise SheetError when it is no plain file or too large. Raises OSError as stat() does."""
    if path.exists() and not path.is_file():
        raise _refused(path.name, None, "FILE-1", "it is no plain file", "take it away")
    size = path.stat().st_size
    if size > MOST_BYTES:
        message = f"the file is too large: {size / 1e6:,.0f} MB; at most {MOST_BYTES / 1e6:,.0f}"
        raise _refused(path.name, None, "FILE-6", message, "see that it is the right file")


def check_archive(path: Path) -> None:
    """Raise SheetError when an .xlsx would unpack to too much."""
    with zipfile.ZipFile(path) as archive:
        parts = archive.infolist()
        size = sum(part.file_size for part in parts)
    if size > MOST_UNPACKED_BYTES or len(parts) > MOST_PARTS:
        message = f"the workbook unpacks to {size / 1e6:,.0f} MB in {len(parts):,} parts"
        raise _refused(path.name, None, "FILE-6", message, "see that it is the right file")


def check_place(name: str, row: int, column: int, shown: str) -> None:
    """Raise SheetError for a cell that stands too far out. shown: where, as a spreadsheet says."""
    if row > MOST_ROWS or column > MOST_COLUMNS:
        message = f"a cell stands far outside of the table, at {shown}"
        raise _refused(name, row, "FILE-6", message, "delete the columns and rows out there")


def check_merged(name: str, cells: int, shown: str) -> None:
    """Raise SheetError for a range of merged cells that is as large as a sheet."""
    if cells > MOST_MERGED:
        message = f"{cells:,} cells are merged into one, {shown}"
        raise _refused(name, None, "FILE-6", message, "unmerge the cells")


def check_cells(name: str, row: int, cells: Sequence[str]) -> None:
    """Raise SheetError for a cell that holds more than a spreadsheet can."""
    if sum(map(len, cells)) <= MOST_LETTERS:
        return
    longest = max(cells, key=len)
    if len(longest) > MOST_LETTERS:
        message = f"a cell holds {len(longest):,} letters; a spreadsheet holds {MOST_LETTERS:,}"
        raise _refused(
            name, row, "CELL-5", message, "shorten it, or close its quotation mark", longest
        )


def _refused(
    name: str, row: int | None, code: str, message: str, cure: str, found: str = ""
) -> SheetError:
    return SheetError(Problem(name, row, None, code, message, found, cure))
