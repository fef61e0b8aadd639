"""A folder of CSV files made into an Excel workbook as an office would type it."""

from __future__ import annotations

import csv
import datetime as dt
import re
from pathlib import Path

import openpyxl

from planner.tables.columns import columns_of


def excel_of(folder: Path, path: Path) -> Path:
    """The same tables in one .xlsx: numbers, dates and times as Excel's own, the rest as text."""
    book = openpyxl.Workbook()
    book.remove(book.worksheets[0])
    for file in sorted(folder.glob("*.csv")):
        sheet = book.create_sheet(file.stem)
        rows = list(csv.reader(file.read_text(encoding="utf-8-sig").splitlines()))
        columns = columns_of(file.stem)
        for row in rows:
            sheet.append(
                [
                    typed(cell, columns[head].kind if head in columns else "text")
                    for head, cell in zip(rows[0], row, strict=False)
                ]
            )
    book.save(path)
    return path


def typed(cell: str, kind: str) -> object:
    """The Excel value of a cell's text."""
    if not cell:
        return None
    if kind in ("number", "whole", "money") and re.fullmatch(r"-?\d+(\.\d+)?", cell):
        return float(cell)
    if kind == "date" and re.fullmatch(r"\d{4}-\d\d-\d\d", cell):
        return dt.datetime.fromisoformat(cell)
    if kind == "time" and (match := re.fullmatch(r"(\d{1,2}):(\d\d)", cell)):
        return dt.time(int(match[1]), int(match[2]))
    if kind == "yes_no" and cell in ("yes", "no"):
        return cell == "yes"
    return int(cell) if re.fullmatch(r"[1-9]\d{0,8}", cell) else cell
