"""Cases of the office's tables: spoiled files, and odd cells in every column."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from pathlib import Path

from planner.tables.columns import REQUIRED_TABLES, SETTINGS, Column, all_columns, table_names
from tests.fuzz.harm import DIGITS, LINES, READABLE, UNREADABLE, put_cell
from tests.fuzz.look import FINE, REFUSED, Case

CHECK = ("check", "office")
NUMBERS = ("number", "money", "whole", "rate", "amount", "stock")
NO_NUMBER = (
    "nan",
    "inf",
    "-inf",
    "1e400",
    DIGITS,
    "-" + DIGITS,
    "0x10",
    "1_000",
    "½",
    "3,5,7",
    "1e-400x",
)
NO_DAY = ("0001-01-01", "9999-12-31", "0000-00-00", "2027-02-30", "nan", DIGITS, "-1", "1e9")
NO_TIME = ("25:00", "24:01", "-1:00", "nan", DIGITS, "12:60", "7.5.5", "99999999999:00")
ODD_TEXT = ("\x1b[31mred", "a\x00b", "x" * 40_000, "\u202eabc", "a\nb", "=1+1", "<script>", "CON")
LISTED = ("; ; ;", ";" * 3_000, "A;A;A", "nan", "\x07")


def cases() -> Iterator[Case]:
    """All of them."""
    for table in table_names():
        yield from _files(table)
    for column in all_columns():
        yield from _cells(column)
    for table, column, text in (
        ("notify", "state", "ZZ"),  # Nobody of that row would ever be told.
        ("product_rates", "rate_least", "2 lb N/1000 sq ft"),
    ):
        put = partial(_put, table, column, text)
        yield Case(f"{table}.{column} = {text}", CHECK, put, REFUSED, (f"{table}.csv", "row 2"))


def _files(table: str) -> Iterator[Case]:
    file = f"{table}.csv"

    def spoiled(harm: object, home: Path) -> None:
        harm(home / "office" / file)  # type: ignore[operator]

    def lined(change: object, home: Path) -> None:
        place = home / "office" / file
        place.write_text(change(place.read_text()))  # type: ignore[operator]

    needed = table in REQUIRED_TABLES
    for how, harm in UNREADABLE.items():
        may_be_absent = not needed and how in ("is empty", "is a link to nothing")
        codes = FINE | REFUSED if may_be_absent else REFUSED
        yield Case(f"{file} {how}", CHECK, partial(spoiled, harm), codes, (table,))
    for how, harm in READABLE.items():
        yield Case(f"{file} {how}", CHECK, partial(spoiled, harm), FINE)
    for how, change in LINES.items():
        yield Case(f"{file} with {how}", CHECK, partial(lined, change), REFUSED, (file,))


def _cells(column: Column) -> Iterator[Case]:
    """Two odd cells for each column, another pair for the next, so that all meet all kinds."""
    turn = sum(map(ord, column.table + column.column))
    kind, codes = column.kind, FINE | REFUSED
    if kind in NUMBERS:
        pool, codes = NO_NUMBER, REFUSED
    elif kind in ("date", "month_day"):
        pool = NO_DAY
        codes = REFUSED if column.table != "history" else codes
    elif kind == "time":
        pool, codes = NO_TIME, REFUSED
    elif column.is_list or kind in ("windows", "weekdays", "dates"):
        pool = LISTED
    elif kind.startswith("choice:") or kind in ("yes_no", "unit", "phone", "email", "kind"):
        pool, codes = ("nan", "\x1b]0;x\x07", DIGITS), REFUSED
    else:
        pool = ODD_TEXT
    for step in range(2):
        text = pool[(turn + step) % len(pool)]
        shown = text if len(text) < 20 else f"{text[:5]}... of {len(text)} letters"
        name = f"{column.table}.{column.column} = {shown!r}"
        # A name that others refer to is told at the others.
        says: tuple[str, ...] = () if column.key else (f"{column.table}.csv", "row 2")
        put = partial(_put, column.table, column.column, text)
        if column.table == SETTINGS:
            put = partial(_set, column.column, text)
            says = ("settings.csv", "row ")
        yield Case(name, CHECK, put, codes, says)


def _put(table: str, column: str, text: str, home: Path) -> None:
    put_cell(home / "office" / f"{table}.csv", column, text)


def _set(setting: str, text: str, home: Path) -> None:
    file = home / "office" / "settings.csv"
    rows = [line for line in file.read_text().splitlines() if not line.startswith(f"{setting},")]
    file.write_text("\n".join([*rows, f"{setting},"]) + "\n")
    put_cell(file, "value", text, row=len(rows) + 1)
