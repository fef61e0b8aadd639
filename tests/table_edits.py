"""Random edits of single cells, CSV and Excel: everything else must stay as it was.

`python -m tests.table_edits 200` makes 200 of each in the demo's tables. Judged by the csv module
of the standard library and by openpyxl, which share no code with what writes the cells.
"""

from __future__ import annotations

import csv
import io
import random
import sys
import zipfile
from pathlib import Path

import openpyxl
from openpyxl.chart import BarChart, Reference
from openpyxl.styles import Font, PatternFill

from planner.tables.edits import PlacedEdit, edited_csv, edited_xlsx
from planner.tables.sheets import read_csv_file
from planner.tables.xlsx_files import read_xlsx_file

DEMO = Path(__file__).resolve().parents[1] / "demo_data" / "spring_day"
NOTHING = (None, "General False 00000000")
TEXTS = ("", "7", "-83.5", "a, b", 'say "so"', "=1+1", "Zoë; d'été", "<b>&amp;</b>", " two  words ")


def csv_faults(folder: Path, count: int, seed: int = 1) -> list[str]:
    """Edits of CSV files in several dialects after which another byte or cell was other."""
    rng, found = random.Random(seed), []
    files = sorted(DEMO.glob("*.csv"))
    for number in range(count):
        rows = list(csv.reader(rng.choice(files).open(encoding="utf-8", newline="")))
        separator, end = rng.choice(",;\t"), rng.choice(("\n", "\r\n"))
        text = io.StringIO(newline="")
        quoting = rng.choice((csv.QUOTE_MINIMAL, csv.QUOTE_ALL))
        csv.writer(text, delimiter=separator, lineterminator=end, quoting=quoting).writerows(rows)
        code, mark = rng.choice(
            (("utf-8", b""), ("utf-8", b"\xef\xbb\xbf"), ("utf-16-be", b"\xfe\xff"))
        )
        before = mark + text.getvalue().encode(code)
        if rng.random() < 0.5:
            before = before[: -len(end.encode(code))]
        file = folder / "table.csv"
        file.write_bytes(before)
        sheet = read_csv_file(file, rows[0])
        row = rng.randrange(len(rows))
        place, wanted = rng.randrange(len(rows[row])), rng.choice(TEXTS)
        edit = PlacedEdit({row + 1: {place: wanted}}, frozenset(), 0)
        after = edited_csv(before, sheet, edit)
        expected = [list(cells) for cells in rows]
        expected[row][place] = wanted
        read = after[len(mark) :].decode(code)
        if list(csv.reader(io.StringIO(read, newline=""), delimiter=separator)) != expected:
            found.append(f"CSV edit {number}: a cell is other")
        # What is other is one stretch: the cell that was written, with its quotation marks.
        same = next(
            (i for i, pair in enumerate(zip(before, after, strict=False)) if pair[0] != pair[1]),
            None,
        )
        if same is not None:
            tail = 0
            while (
                tail < min(len(before), len(after)) - same and before[-1 - tail] == after[-1 - tail]
            ):
                tail += 1
            longest = max(len(wanted), len(rows[row][place])) * 2 + 4
            if max(len(before), len(after)) - same - tail > longest * (
                2 if mark[:1] == b"\xfe" else 1
            ):
                found.append(f"CSV edit {number}: bytes beside the cell are other")
    return found


def excel_book(file: Path, tables: Path) -> None:
    """A folder's tables as an Excel workbook with looks, formulas, notes and a chart."""
    book = openpyxl.Workbook()
    book.remove(book.worksheets[0])
    for source in sorted(tables.glob("*.csv")):
        sheet = book.create_sheet(source.stem)
        for cells in csv.reader(source.open(encoding="utf-8", newline="")):
            sheet.append(
                [float(cell) if cell.replace(".", "", 1).isdigit() else cell for cell in cells]
            )
        for cell in sheet[1]:
            cell.font, cell.fill = Font(bold=True), PatternFill("solid", fgColor="DDEEFF")
        sheet.column_dimensions["B"].width = 31
        sheet.freeze_panes = "B2"
    money = book.create_sheet("_money")
    money["A1"], money["A2"] = "=SUM(properties!I2:I99)", "=A1*2"
    money["A2"].number_format = '"$"#,##0.00'
    chart = BarChart()
    chart.add_data(Reference(book["properties"], min_col=9, min_row=1, max_row=9))
    money.add_chart(chart, "D2")
    book["properties"]["B2"].number_format = "@"
    book.save(file)


def xlsx_faults(folder: Path, count: int, seed: int = 1) -> list[str]:
    """Edits of Excel cells, one after another, after which another cell, look, formula or part of
    the file was other."""
    rng, found = random.Random(seed), []
    file = folder / "book.xlsx"
    excel_book(file, DEMO)
    sheets = [one for one in read_xlsx_file(file) if not one.name.startswith("_")]
    before, wanted = file.read_bytes(), {}
    whole = _cells(before)
    for _ in range(count):
        sheet = rng.choice(sheets)
        row, cells = rng.choice(sheet.rows)
        place, text = rng.randrange(len(cells)), rng.choice(TEXTS)
        edit = PlacedEdit({row: {place: text}}, frozenset(), 0)
        after = edited_xlsx(file.read_bytes(), {sheet.name: edit})
        file.write_bytes(after)
        wanted[sheet.name, row, place + 1] = text or None
    now = _cells(file.read_bytes())
    for key in whole.keys() | now.keys():
        value, look = whole.get(key, NOTHING)
        expected = (wanted.get(key, value), look)
        if isinstance(value, (int, float)) and wanted.get(key) in ("7", "-83.5"):
            # What was a number stays one, unless it was a text in between.
            expected = (type(now[key][0])(wanted[key]), look)
        if now.get(key, NOTHING) != expected:
            found.append(f"{key}: {now.get(key)} where {expected} was expected")
    old, new = (zipfile.ZipFile(io.BytesIO(data)) for data in (before, file.read_bytes()))
    touched = {name for name in old.namelist() if old.read(name) != new.read(name)}
    names = openpyxl.load_workbook(io.BytesIO(before), read_only=True).sheetnames
    allowed = {f"xl/worksheets/sheet{names.index(name) + 1}.xml" for name, _, _ in wanted}
    if old.namelist() != new.namelist() or touched - allowed - {"xl/workbook.xml"}:
        found.append(f"parts of the file are other: {sorted(touched - allowed)}")
    return found


def _cells(data: bytes) -> dict[tuple[str, int, int], tuple[object, str]]:
    """(sheet, row, column) -> value or formula, and its looks."""
    book = openpyxl.load_workbook(io.BytesIO(data))
    return {
        (sheet.title, cell.row, cell.column): (
            cell.value,
            f"{cell.number_format} {cell.font.b} {cell.fill.fgColor.rgb}",
        )
        for sheet in book
        for line in sheet.iter_rows()
        for cell in line
        if cell.value is not None or cell.has_style
    }


if __name__ == "__main__":
    import tempfile

    with tempfile.TemporaryDirectory() as place:
        many = int(sys.argv[1]) if len(sys.argv) > 1 else 200
        faults = csv_faults(Path(place), many) + xlsx_faults(Path(place), many)
    print("\n".join(faults) or f"{many} edits of each kind: everything else is as it was")
    sys.exit(1 if faults else 0)
