"""What a file or a spreadsheet's sheet holds before anything is understood: rows of text."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

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
