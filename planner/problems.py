"""What is wrong in a workbook, and where.

Three kinds of bad are never mixed: a `Problem` (the workbook is wrong), a held or unserved
order (the day does not allow it) and a violation (a plan breaks a rule). This module holds
the first kind only.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

MOST_SHOWN_PER_COLUMN = 20
"""One bad column must not bury the other problems; the rest of it is counted."""


MOST_ROWS_NAMED = 10
"""Rows with the same fault that are named; the others are counted."""

MOST_FOUND = 100
MOST_SAID = 400
"""Letters of a cell, and of a message that names things, that are shown."""


MOST_OF_A_LINE = 1_000
"""Letters of a line of any other message."""


def said(text: str) -> str:
    """A message as it may be printed: lines that end, and nothing that steers a terminal."""
    return "\n".join(_one_line(line, MOST_OF_A_LINE) for line in text.split("\n"))


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
        return self.line([] if self.row is None else [self.row])

    def line(self, rows: Sequence[int]) -> str:
        """The problem in words, found in these rows."""
        place = self.file
        if rows:
            named = ", ".join(map(str, rows[:MOST_ROWS_NAMED]))
            more = len(rows) - MOST_ROWS_NAMED
            place += f", row{'s' if rows[1:] else ''} {named}"
            place += f" and {more} more" if more > 0 else ""
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
        """One line of text for problems that differ in nothing but the row, at most
        MOST_SHOWN_PER_COLUMN per file, column and code."""
        same: dict[Problem, list[int]] = {}
        for problem in self:
            rows = same.setdefault(replace(problem, row=None), [])
            if problem.row is not None:
                rows.append(problem.row)
        shown: dict[tuple[str, str | None, str], int] = {}
        hidden: dict[tuple[str, str | None, str], int] = {}
        lines: list[str] = []
        for problem, rows in same.items():
            key = (problem.file, problem.column, problem.code)
            shown[key] = shown.get(key, 0) + 1
            if shown[key] <= MOST_SHOWN_PER_COLUMN:
                lines.append(problem.line(list(dict.fromkeys(rows))))
            else:
                hidden[key] = hidden.get(key, 0) + max(1, len(rows))
        for (file, column, code), more in hidden.items():
            place = f"{file}, column '{column}'" if column else file
            lines.append(f"{place}: and {more} more like it [{code}]")
        return lines


def counted(number: int, noun: str, plural: str = "") -> str:
    """'1 order', '1,200 orders'. plural: where an s does not make it."""
    return f"{number:,} {noun if number == 1 else plural or noun + 's'}"


def few(names: Sequence[str], most: int, rest: str = "") -> str:
    """The first names, and how many more there are. rest: said after that."""
    more = f" and {len(names) - most} more{rest}" if len(names) > most else ""
    return ", ".join(names[:most]) + more


class PlannerError(Exception):
    """What every error of the planner is that a person can do something about: a table, a file, a
    wish that cannot be met. Programming errors are not."""


class WorkbookError(PlannerError):
    """A workbook that cannot be planned, with every problem. place: where they are, in words."""

    place = "the workbook"

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__(f"{len(self.problems)} problem(s) in {self.place}")
