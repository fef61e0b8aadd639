"""Cells written into a CSV file; every other cell keeps its bytes."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping

from planner.tables.edits import PlacedEdit
from planner.tables.sheets import Sheet

_UTF_8_MARK = b"\xef\xbb\xbf"
_UTF_16_MARKS = {b"\xff\xfe": "utf-16-le", b"\xfe\xff": "utf-16-be"}
_LINE = re.compile(r"[^\r\n]*(?:\r\n|\n|\r|$)")


def edited_csv(data: bytes, sheet: Sheet | None, edit: PlacedEdit) -> bytes:
    """The file with the cells in place. data: of the file as it is, b'' for a new one; sheet: what
    was read from it."""
    encoding = sheet.encoding if sheet else "utf-8"
    if encoding == "utf-8-sig" and not data.startswith(_UTF_8_MARK):
        encoding = "utf-8"
    mark = b""
    if encoding == "utf-16" and data[:2] in _UTF_16_MARKS:
        # Python would write the mark and the order of bytes of this machine.
        mark, encoding = data[:2], _UTF_16_MARKS[data[:2]]
    text = data[len(mark) :].decode(encoding)
    separator = sheet.separator if sheet else ","
    records = list(_records(text, separator))
    end = next(
        (ending for ending in ("\r\n", "\n", "\r") if records and records[0].endswith(ending)), "\n"
    )
    # A first line 'sep=;' is obeyed and not counted.
    told = records[:1] if records and records[0].casefold().lstrip('"').startswith("sep=") else []
    records = records[len(told) :]
    for number, cells in sorted(edit.cells.items()):
        while len(records) < number:
            if records and not records[-1].endswith(("\n", "\r")):
                records[-1] += end
            records.append(end)
        records[number - 1] = _changed(records[number - 1], cells, separator)
    kept = [row for number, row in enumerate(records, start=1) if number not in edit.gone]
    return mark + "".join([*told, *kept]).encode(encoding)


def _records(text: str, separator: str) -> Iterator[str]:
    """The text cut behind each line end that is not inside quotation marks."""
    begun = ""
    for match in _LINE.finditer(text):
        begun += match[0]
        if '"' not in begun or not _pieces(begun, separator)[1]:
            if begun:
                yield begun
            begun = ""
    if begun:
        yield begun


def _pieces(record: str, separator: str) -> tuple[list[str], bool]:
    """The cells of a record as they are written, and whether the last one's quotation marks are
    still open. As in reading, only a mark at the beginning of a cell opens quotes."""
    cells: list[str] = []
    begin, place, quoted, opened = 0, 0, False, False
    while place < len(record):
        letter = record[place]
        if quoted:
            quoted = letter != '"'
        elif letter == '"' and (place == begin or (opened and record[place - 1] == '"')):
            # Behind a closing mark, a second one stands for itself.
            quoted = opened = True
        elif letter == separator:
            cells.append(record[begin:place])
            begin, opened = place + 1, False
        place += 1
    return [*cells, record[begin:]], quoted


def _changed(record: str, cells: Mapping[int, str], separator: str) -> str:
    body = record.rstrip("\r\n")
    row = _pieces(body, separator)[0]
    row += [""] * (max(cells) + 1 - len(row))
    for place, text in cells.items():
        row[place] = _written(text, row[place], separator)
    return separator.join(row) + record[len(body) :]


def _written(text: str, before: str, separator: str) -> str:
    """A cell, in quotation marks where it needs them or had them."""
    if before[:1] == '"' or any(letter in text for letter in (separator, '"', "\r", "\n")):
        return '"' + text.replace('"', '""') + '"'
    return text
