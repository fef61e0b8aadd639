"""What a file or a spreadsheet's sheet holds before anything is understood: rows of text; a CSV
file read into them. Beyond limits that no table of an office is near, a file is refused, and
says why.

They keep a slip (a stray cell in the last row, the wrong file) or a hostile file from filling
the memory. A company of 20,000 lawns with ten years of history stays far below them.
"""

import contextlib
import csv
import io
import zipfile
from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from planner.problems import PlannerError, Problem
from planner.tables.text import header_name


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


SEPARATORS = (",", ";", "\t")
FOREIGN_SEPARATORS = (*SEPARATORS, "|")

_END = "end"
csv.field_size_limit(MOST_BYTES)
"""What is too large for a cell is told with its row (CELL-5), not by the csv module."""

UTF_16_MARKS = (b"\xff\xfe", b"\xfe\xff")
LINES_LOOKED_AT = 200

ROWS_SEARCHED_FOR_HEADER = 10
"""A title or a few notes may stand above the header, not more."""


def read_csv_file(path: Path, known_headers: Collection[str]) -> Sheet:
    """The rows of a comma-, semicolon- or tab-separated file in UTF-8 (or UTF-16 with its mark).

    known_headers: headers in the planner's spelling; the separator that finds most of them is
    taken. Raises SheetError when the file cannot be opened, is not UTF-8 or has an open quote.
    """
    data = _bytes_of(path)
    # Excel's 'Unicode Text' is UTF-16 with a mark.
    encoding = "utf-16" if data[:2] in UTF_16_MARKS else "utf-8-sig"
    text = _decoded(path, data, encoding)
    separator, text = _told_separator(text)
    return _sheet(path, text, separator or _likely_separator(text, known_headers), encoding)


def read_foreign_csv(path: Path) -> Sheet:
    """The rows of another program's export: also separated by |, and in UTF-16 without its mark or
    in the Windows code page; the sheet says in which. Raises SheetError as read_csv_file does."""
    data = _bytes_of(path)
    encoding = _foreign_encoding(data)
    text = _decoded(path, data, encoding)
    separator, text = _told_separator(text)
    return _sheet(path, text, separator or _steadiest_separator(text), encoding)


class _Same(dict[str, str]):
    def __missing__(self, cell: str) -> str:
        self[cell] = cell
        return cell


def _sheet(path: Path, text: str, separator: str, encoding: str) -> Sheet:
    rows: list[tuple[int, tuple[str, ...]]] = []
    # A last line of its own, which an open quotation mark would swallow.
    lines = csv.reader(io.StringIO(f"{text}\n{_END}"), delimiter=separator)
    same = _Same()
    number, cells = 0, [""]
    for number, cells in enumerate(lines, start=1):
        if any(map(str.strip, cells)):
            if len(cells) > MOST_COLUMNS:
                check_place(path.name, number, len(cells), f"row {number}, column {len(cells)}")
            # Equal cells are kept once: a large office has millions.
            rows.append((number, tuple(map(same.__getitem__, cells))))
    if cells != [_END]:
        raise SheetError(
            Problem(
                path.name,
                None,
                None,
                "FILE-3",
                "a quotation mark is opened and never closed",
                cure='look for a cell that begins with one " and close it, or remove it',
            )
        )
    rows.pop()
    if max(map(len, same)) > MOST_LETTERS:
        for number, cells_of_row in rows:
            check_cells(path.name, number, cells_of_row)
    return Sheet(path.name, tuple(rows), separator, encoding=encoding)


def _bytes_of(path: Path) -> bytes:
    try:
        check_file(path)
        return path.read_bytes()
    except OSError as error:
        raise SheetError(
            Problem(
                path.name,
                None,
                None,
                "FILE-1",
                f"the file cannot be opened: {error.strerror or error}",
                cure="close it in other programs and check that you may read it",
            )
        ) from error


def _decoded(path: Path, data: bytes, encoding: str) -> str:
    try:
        text = data.decode(encoding)
    except UnicodeDecodeError as error:
        # Its object is the data without a mark.
        before = error.object[: error.start].decode(encoding, "replace")
        found = repr(error.object[error.start : error.start + 1])[2:-1]
        raise _not_utf8(path, before, found) from error
    if "\0" in text:
        raise _not_utf8(path, text[: text.index("\0")], "\\x00")
    return _lines(text)


def _lines(text: str) -> str:
    return text.replace("\r\n", "\n").replace("\r", "\n")


def _foreign_encoding(data: bytes) -> str:
    if data[:2] in UTF_16_MARKS:
        return "utf-16"
    sample = data[:10_000]
    for encoding, zeros in (("utf-16-le", sample[1::2]), ("utf-16-be", sample[::2])):
        if zeros and zeros.count(0) > len(zeros) / 2:
            return encoding
    for encoding in ("utf-8-sig", "cp1252"):
        with contextlib.suppress(UnicodeDecodeError):
            data.decode(encoding)
            return encoding
    return "latin-1"


def _not_utf8(path: Path, before: str, found: str) -> SheetError:
    # As the spreadsheet counts: a quoted cell may hold line ends, and a first line 'sep=;' is none.
    separator, lines = _told_separator(_lines(before) + _END)
    separator = separator or _steadiest_separator(lines)
    rows = csv.reader(io.StringIO(lines), delimiter=separator)
    return SheetError(
        Problem(
            path.name,
            sum(1 for _ in rows),
            None,
            "FILE-2",
            "the file is not UTF-8 text",
            found,
            "save it again as 'CSV UTF-8 (Comma delimited)'",
        )
    )


def _told_separator(text: str) -> tuple[str, str]:
    """The separator of a first line 'sep=;', which Excel obeys and does not show."""
    first, _, rest = text.partition("\n")
    told = first.strip().strip('"')
    if told.casefold().startswith("sep=") and len(told) == 5:
        return told[4], rest
    if first.strip() == "sep=" and "\t" in first:
        return "\t", rest
    return "", text


def _likely_separator(text: str, known_headers: Collection[str]) -> str:
    known = set(known_headers)
    lines = [line for line in text.split("\n") if line.strip()][:ROWS_SEARCHED_FOR_HEADER]

    def score(separator: str) -> tuple[int, int]:
        heads = [[header_name(cell) for cell in line.split(separator)] for line in lines]
        found = max((sum(head in known for head in row) for row in heads), default=0)
        return found, max((len(row) for row in heads), default=0)

    return max(SEPARATORS, key=score)


def _steadiest_separator(text: str) -> str:
    """The one that cuts most lines into the same number of cells, the more the better."""
    lines = [line for line in text.split("\n") if line.strip()][:LINES_LOOKED_AT]

    def score(separator: str) -> int:
        widths = Counter(len(row) for row in csv.reader(lines, delimiter=separator))
        return max((count * (width - 1) for width, count in widths.items()), default=0)

    return max(FOREIGN_SEPARATORS, key=score)
