"""One CSV file -> rows of text."""

from __future__ import annotations

import contextlib
import csv
import io
from collections import Counter
from collections.abc import Collection
from pathlib import Path

from planner.problems import Problem
from planner.tables.sheets import (
    MOST_BYTES,
    MOST_COLUMNS,
    MOST_LETTERS,
    Sheet,
    SheetError,
    check_cells,
    check_file,
    check_place,
)
from planner.tables.text import header_name

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
