"""Orders taken on the telephone or made by rounds: rows of the orders table, written as an import
writes them, after the usual checks have found nothing new."""

import shutil
import tempfile
from collections.abc import Mapping, Sequence
from datetime import date
from pathlib import Path
from typing import Any, Final

from planner.chain import check_workbook
from planner.importing.tables_now import WorkbookNow, read_tables
from planner.office.changes import Refused
from planner.outputs.file import replace_unchanged
from planner.outputs.told import OutputError
from planner.problems import Problem
from planner.tables.edits import EditError, PlacedEdit, TableEdit, edited

TEXTS: Final = ("property", "mix", "note", "windows")
FIRST_NUMBER: Final = 1001
"""Of an office whose orders have no numbers."""


def write_order(workbook: Path, when: date, wanted: Mapping[str, Any], again: str = "") -> str:
    """Add an order due on that day; its short name. wanted: property, mix, and area_ft2 (a number),
    priority (1 to 3), note, windows ('8:00-11:30'), or open and close ('08:00') instead; again: the
    short name that it had before it was taken out. Raises Refused with everything that is wrong;
    the table is then as it was."""
    now = _tables(workbook)
    names = now.now["orders"].rows
    numbers = [int(name) for name in names if name.isdecimal()]
    name = again or str(max(numbers, default=FIRST_NUMBER - 1) + 1)
    _add(now, [{"order": name, "date": when.isoformat()} | _cells(wanted)])
    return name


def write_orders(workbook: Path, rows: Sequence[Mapping[str, str]]) -> None:
    """Add rows to the orders table, column -> text; nothing else in it changes. Raises as
    write_order."""
    _add(_tables(workbook), rows)


def _tables(workbook: Path) -> WorkbookNow:
    now = read_tables(workbook)
    if now.problems:
        raise Refused("; ".join(f"{row.message} ({row.cure})" for row in now.problems[:3]))
    return now


def _add(now: WorkbookNow, rows: Sequence[Mapping[str, str]]) -> None:
    written = now.now["orders"].written
    new = [{name: written(name, text) for name, text in row.items()} for row in rows]
    try:
        files = now.files([TableEdit("orders", new_rows=new)])
        before = {file: now.read.get(file) for file in files}
        _check(now.path, files)
        for file, content in files.items():
            replace_unchanged(file, before[file], content, _changed(file))
    except (EditError, OutputError, OSError) as error:
        what = "order was" if len(rows) == 1 else "orders were"
        raise Refused(f"The {what} not written: {error}") from error


def _changed(file: Path) -> Refused:
    return Refused(f"{file.name} was changed in another program; do it again.")


def take_order_out(workbook: Path, when: date, wanted: Mapping[str, Any], name: str) -> str:
    """Take the row of an order that write_order added out of the table again; why it stays, ''
    where it is gone. Raises Refused for a table that cannot be written."""
    now = read_tables(workbook)
    number, texts = now.now["orders"].rows.get(name, (0, {}))
    row = {"order": name, "date": when.isoformat()} | _cells(wanted)
    if not number:
        return ""
    if {column: text for column, text in texts.items() if text} != row:
        return "its row was changed in the orders table since, and stays there"
    sheet = now.sheets["orders"]
    file = workbook / sheet.name if workbook.is_dir() else workbook
    edit = PlacedEdit({}, frozenset(), 0, frozenset({number}))
    try:
        before = file.read_bytes()
        replace_unchanged(file, before, edited(before, sheet, edit), _changed(file))
    except (EditError, OutputError, OSError) as error:
        raise Refused(f"The order was not taken out: {error}") from error
    return ""


def _cells(wanted: Mapping[str, Any]) -> dict[str, str]:
    cells: dict[str, str] = {}
    for key in TEXTS:
        text = wanted.get(key) or ""
        if not isinstance(text, str) or "\n" in text or "\r" in text or len(text) > 500:
            raise Refused(f"{key} is one line of text.")
        cells[key] = text.strip()
    opens, closes = wanted.get("open"), wanted.get("close")
    if opens or closes:
        cells["windows"] = f"{opens or '0:00'}-{closes or '24:00'}"
    for key in ("area_ft2", "priority"):
        number = wanted.get(key)
        if number is None:
            continue
        if isinstance(number, bool) or not isinstance(number, int | float):
            raise Refused(f"{key} is a number.")
        cells[key] = f"{number:g}"
    if not cells["property"] or not cells["mix"]:
        raise Refused("An order needs its property and its mix.")
    return {key: text for key, text in cells.items() if text}


def _check(workbook: Path, files: Mapping[Path, bytes]) -> None:
    """That a copy of the workbook with the new content has no problem that it had not before."""
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / workbook.name
        if workbook.is_dir():
            wanted = [file for file in workbook.iterdir() if file.suffix in (".csv", ".toml")]
            copy.mkdir()
            for file in wanted:
                shutil.copyfile(file, copy / file.name)
        else:
            shutil.copyfile(workbook, copy)
        told = {_words(row) for row in check_workbook(copy).problems}
        for file, content in files.items():
            (copy / file.name if workbook.is_dir() else copy).write_bytes(content)
        found = [row for row in check_workbook(copy).problems if _words(row) not in told]
    if found:
        words = [f"{row.column or row.file}: {row.message}; {row.cure}" for row in found[:5]]
        raise Refused(" ".join(words))


def _words(row: Problem) -> tuple[object, ...]:
    return row.file, row.row, row.column, row.code, row.message
