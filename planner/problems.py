"""What is wrong in a workbook, and where.

Three kinds of bad are never mixed: a `Problem` (the workbook is wrong), a held or unserved
order (the day does not allow it) and a violation (a plan breaks a rule). This module holds
the first kind only.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

MOST_SHOWN_PER_COLUMN = 20
"""One bad column must not bury the other problems; the rest of it is counted."""


MOST_FOUND = 100
MOST_SAID = 400
"""Letters of a cell, and of a message that names things, that are shown."""


def _one_line(text: str, most: int) -> str:
    plain = "".join(c if c.isprintable() else " " for c in text[: most + 1]).rstrip()
    return plain if len(text) <= most else f"{plain[:most].rstrip()}…"


@dataclass(frozen=True, order=True)
class Problem:
    """One fact that is wrong in a workbook.

    file: file or sheet name. row: as the spreadsheet numbers it (the header is row 1), or None
    for a whole table. column: the planner's column name, or None. code: stable short code.
    found: the text in the cell. message: what is wrong. cure: what to write instead.
    """

    file: str
    row: int | None
    column: str | None
    code: str
    message: str
    found: str = ""
    cure: str = ""

    def __post_init__(self) -> None:
        """Keep what was found to a line, and out of it what would steer a terminal."""
        for name, most in (("found", MOST_FOUND), ("message", MOST_SAID), ("cure", MOST_SAID)):
            text = getattr(self, name)
            if len(text) > most or not text.isprintable():
                # frozen: nobody sees it before.
                object.__setattr__(self, name, _one_line(text, most))

    def __str__(self) -> str:
        place = self.file
        if self.row is not None:
            place += f", row {self.row}"
        if self.column:
            place += f", column '{self.column}'"
        text = f"{place}: {self.message}"
        if self.found:
            text += f" (found '{self.found}')"
        if self.cure:
            text += f"; {self.cure}"
        return f"{text} [{self.code}]"


class Problems:
    """A growing collection of problems, in the order of file, row and column when read."""

    def __init__(self) -> None:
        self._problems: list[Problem] = []

    def add(
        self,
        file: str,
        row: int | None,
        column: str | None,
        code: str,
        message: str,
        found: str = "",
        cure: str = "",
    ) -> None:
        """Record one problem."""
        self._problems.append(Problem(file, row, column, code, message, found, cure))

    def extend(self, problems: Iterable[Problem]) -> None:
        """Record several problems."""
        self._problems.extend(problems)

    def __iter__(self) -> Iterator[Problem]:
        return iter(
            sorted(self._problems, key=lambda p: (p.file, p.row or 0, p.column or "", p.code))
        )

    def __len__(self) -> int:
        return len(self._problems)

    def lines(self) -> list[str]:
        """One line of text per problem, at most MOST_SHOWN_PER_COLUMN per file and column."""
        shown: dict[tuple[str, str | None, str], int] = {}
        lines: list[str] = []
        for problem in self:
            key = (problem.file, problem.column, problem.code)
            shown[key] = shown.get(key, 0) + 1
            if shown[key] <= MOST_SHOWN_PER_COLUMN:
                lines.append(str(problem))
        for (file, column, code), count in shown.items():
            if count > MOST_SHOWN_PER_COLUMN:
                more = count - MOST_SHOWN_PER_COLUMN
                lines.append(f"{file}, column '{column}': and {more} more like it [{code}]")
        return lines


class PlannerError(Exception):
    """What every error of the planner is that a person can do something about: a table, a file, a
    wish that cannot be met. Programming errors are not."""


class WorkbookError(PlannerError):
    """A workbook that cannot be planned; carries every problem found. place: where they are, in
    words."""

    place = "the workbook"

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__(f"{len(self.problems)} problem(s) in {self.place}")
