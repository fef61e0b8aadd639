"""A small workbook to start from: invented rows that pass the check, with notes on how to fill."""

import csv
import datetime as dt
import io
from importlib import resources
from typing import Final

from planner.tables.cells import NUMBER_KINDS
from planner.tables.clock_cells import read_date, read_time
from planner.tables.columns import SETTINGS, Column, columns_of, settings_columns, table_names

HOW_TO_FILL: Final = (
    "How to fill this workbook",
    "",
    "1. All rows are invented. Replace them by your own, table by table: settings, sites, trucks,",
    "   lines, compartments, products, mixes, mix_products, keep_apart, properties, orders.",
    "2. Rows whose only cell begins with # are notes; they are not read and may be deleted.",
    "3. `planner columns` explains every column; columns that you do not need may be deleted if",
    "   they are not required. Your own extra columns and sheets are passed over when their names",
    "   begin with _.",
    "4. Your own headers may stay: planner.toml beside the workbook maps them, for example",
    "       [columns.properties]",
    '       "Sq Ft" = "lawn_ft2"',
    "   and names your road extract:",
    '       roads = "county.osm.pbf"',
    "5. `planner check` names everything that is wrong, with row, column and cure.",
    "6. `planner plan` plans a day.",
    "",
    "The product's label is the law and local rules come first. A licensed applicator checks the",
    "figures before anything is mixed.",
)
"""Text of the notes, line by line."""

OFFICE_FILE_TEXT: Final = """\
# Road extract for true drive times, relative to this folder; without it straight lines are used.
# roads = "county.osm.pbf"

# Your own headers: one section per table, your header on the left. Two of one column are joined;
# "*" stands for every other header.
# [columns.properties]
# "Sq Ft" = "lawn_ft2"
# "First name" = "customer"
# "Last name" = "customer"
# "Balance" = "ignore"
"""


def starter_tables(day: dt.date, *, with_customers: bool = True) -> dict[str, list[list[str]]]:
    """Table -> rows of text, the header first. Orders and weather are for `day`. with_customers:
    whether properties, orders and history hold invented rows."""
    dates = {
        "{day}": day,
        "{year_after}": day + dt.timedelta(days=365),
        "{week_after}": day + dt.timedelta(days=7),
        "{six_weeks_before}": day - dt.timedelta(days=42),
    }
    tables: dict[str, list[list[str]]] = {}
    folder = resources.files("planner.tables").joinpath("starter")
    for name in table_names():
        text = folder.joinpath(f"{name}.csv").read_text(encoding="utf-8")
        for token, date in dates.items():
            text = text.replace(token, date.isoformat())
        rows = list(csv.reader(text.splitlines()))
        is_customers = name in (
            "properties",
            "edges",
            "notify",
            "property_programs",
            "orders",
            "history",
        )
        tables[name] = rows if with_customers or not is_customers else rows[:1]
    return tables


def starter_files(day: dt.date, *, with_customers: bool = True) -> dict[str, str]:
    """File name -> text of a starter folder: CSV files, notes and a planner.toml without effect."""
    files: dict[str, str] = {}
    for name, rows in starter_tables(day, with_customers=with_customers).items():
        text = io.StringIO(newline="")
        csv.writer(text, lineterminator="\n").writerows(rows)
        files[f"{name}.csv"] = text.getvalue()
    files["how-to-fill.txt"] = "\n".join(HOW_TO_FILL) + "\n"
    files["planner.toml"] = OFFICE_FILE_TEXT
    return files


def starter_xlsx(day: dt.date, *, with_customers: bool = True) -> bytes:
    """One Excel workbook: a sheet per table with each column's meaning as a comment on its header,
    and a sheet of notes."""
    from planner.tables.xlsx_files import xlsx_bytes

    sheets: dict[str, list[list[object]]] = {"_how to fill": [[line] for line in HOW_TO_FILL]}
    comments: dict[str, dict[str, str]] = {}
    for name, rows in starter_tables(day, with_customers=with_customers).items():
        columns = columns_of(name)
        header = rows[0]
        kinds = [columns[cell] for cell in header]
        typed = [_typed_row(row, kinds) for row in rows[1:]]
        sheets[name] = [list(header), *typed]
        comments[name] = {column.column: explanation(column) for column in kinds}
    return xlsx_bytes(sheets, comments)


def explanation(column: Column) -> str:
    """What goes into a column, in one or two sentences."""
    unit = f" [{column.unit}]" if column.unit else ""
    need = "Required." if column.required else "May be blank."
    default = f" Blank = {column.default}." if column.default else ""
    return f"{column.meaning}{unit}. {need}{default}"


def _typed_row(row: list[str], columns: list[Column]) -> list[object]:
    if row[0].startswith("#"):
        return [row[0]]
    setting = settings_columns().get(row[0])
    if columns[0].table == SETTINGS and setting is not None:
        return [row[0], _typed(row[1], setting), *row[2:]]
    return [_typed(cell, column) for cell, column in zip(row, columns, strict=True)]


def _typed(cell: str, column: Column) -> object:
    if not cell:
        return None
    if column.kind in NUMBER_KINDS:
        value = float(cell)
        return int(value) if value == int(value) else value
    if column.kind == "date":
        return read_date(cell)
    if column.kind == "time":
        hour, minute = divmod(int(read_time(cell)), 60)
        return dt.time(hour, minute)
    return cell
