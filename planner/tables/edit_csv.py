"""Cells written into a CSV file; records without one keep their bytes."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Mapping

from planner.tables.edits import PlacedEdit
from planner.tables.sheets import Sheet

_UTF_8_MARK = b"\xef\xbb\xbf"


def edited_csv(data: bytes, sheet: Sheet | None, edit: PlacedEdit) -> bytes:
    """The file with the cells in place. data: of the file as it is, b'' for a new one; sheet: what
    was read from it."""
    encoding = sheet.encoding if sheet else "utf-8"
    if encoding == "utf-8-sig" and not data.startswith(_UTF_8_MARK):
        encoding = "utf-8"
    text = data.decode(encoding)
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
        records[number - 1] = _changed(records[number - 1], cells, separator, end)
    return "".join([*told, *records]).encode(encoding)


def _records(text: str, separator: str) -> Iterator[str]:
    """The text cut behind each line end that is not inside quotation marks. As in reading, only a
    mark at the beginning of a cell opens quotes."""
    begin, place = 0, 0
    quoted = opened = False
    at_start = True
    while place < len(text):
        letter = text[place]
        if quoted:
            quoted = letter != '"'
        elif letter == '"' and (at_start or (opened and text[place - 1] == '"')):
            # Behind a closing mark, a second one stands for itself.
            quoted = opened = True
            at_start = False
        elif letter in "\r\n":
            if text[place : place + 2] == "\r\n":
                place += 1
            yield text[begin : place + 1]
            begin, at_start, opened = place + 1, True, False
        else:
            at_start = letter == separator
            opened = opened and not at_start
        place += 1
    if begin < len(text):
        yield text[begin:]


def _changed(record: str, cells: Mapping[int, str], separator: str, end: str) -> str:
    body = record.rstrip("\r\n")
    row = next(csv.reader(io.StringIO(body, newline=""), delimiter=separator), [])
    row += [""] * (max(cells) + 1 - len(row))
    for place, text in cells.items():
        row[place] = text
    out = io.StringIO(newline="")
    # Only what stands in its line end makes the writer quote a line end inside a cell.
    csv.writer(out, delimiter=separator, lineterminator="\r\n").writerow(row)
    return out.getvalue()[:-2] + (record[len(body) :] or end)
