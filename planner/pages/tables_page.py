"""The tables as a page: what is wrong, each with its cure beside its cell, and a grid to write in.

Every piece is one element with an id of its own: t-head, t-tabs, t-problems, t-grid.
"""

import json
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from planner.office.cures import FoundPlace, cures
from planner.office.tables import TablesState
from planner.pages.words import Ready, fill
from planner.problems import Problem
from planner.roads.address_book import Sureness
from planner.tables.address_rows import DEGREE_DECIMALS
from planner.tables.columns import (
    ROW_IS,
    SETTINGS,
    Column,
    Header,
    columns_of,
    key_columns,
    present_name,
    settings_columns,
    table_names,
)
from planner.tables.read_rows import data_rows, style_of
from planner.tables.sheets import Sheet, column_letters

ROWS_A_PAGE: Final = 100
MOST_PROBLEMS: Final = 200
"""So many stand in the list; the rest is counted."""
MOST_NAMES: Final = 100
"""Names of another table's rows that a form carries in itself; of more it asks while one types."""
MOST_FOUND: Final = 12

_TELLING: Final = ("name", "customer", "address", "town")


@dataclass(frozen=True)
class TablesView:
    """What of the tables is looked at. text: rows that hold every word of it; only: rows with a
    problem; row: the page on which that row, or the last one, stands, 0 = from the row of number
    `first` of those found on."""

    table: str = ""
    text: str = ""
    only: bool = False
    first: int = 0
    row: int = 0


@dataclass(frozen=True)
class GridCell:
    """One cell. index: its place in the row; wrong: something is wrong in it."""

    index: int
    text: str
    wrong: bool


@dataclass(frozen=True)
class Fault:
    """A problem beside its row. offers: (what is written, cells as JSON); place: row of a place
    that has no coordinates, 0 = it is about something else."""

    column: str
    message: str
    found: str
    cure: str
    offers: tuple[tuple[str, str], ...]
    place: int


@dataclass(frozen=True)
class GridRow:
    """One row of the grid with everything that is wrong in it."""

    number: int
    cells: tuple[GridCell, ...]
    faults: tuple[Fault, ...]


def tables_page(state: TablesState, view: TablesView, company: str = "") -> str:
    """The whole page. It asks for nothing but what planner/serve lists under /tables and
    /static."""
    view = seen(state, view)
    parts = tables_parts(state, view)
    return fill(
        "tables.html", parts=parts, state=state, view=view, company=company or state.workbook
    )


def seen(state: TablesState, view: TablesView) -> TablesView:
    """The view with a table that is there: else the first with a problem, else orders."""
    if view.table in state.sheets:
        return view
    table_of = {sheet.name: table for table, sheet in state.sheets.items()}
    wrong = [table_of[one.file] for one in state.problems if one.file in table_of]
    likely = [*wrong, "orders", *state.sheets]
    return TablesView(next((name for name in likely if name in state.sheets), ""))


def tables_parts(state: TablesState, view: TablesView) -> dict[str, Any]:
    """Id of an element -> its HTML."""
    view = seen(state, view)
    counts = Counter(problem.file for problem in state.problems)
    tables = [(name, state.sheets[name]) for name in table_names() if name in state.sheets]
    shown = state.problems[:MOST_PROBLEMS]
    table_of = {sheet.name: name for name, sheet in tables}
    made = {
        "t-head": fill("tables_head.html", state=state, tables=len(counts)),
        "t-tabs": fill("tables_tabs.html", tables=tables, counts=counts, view=view),
        "t-problems": fill(
            "tables_problems.html",
            problems=[(one, table_of.get(one.file, "")) for one in shown],
            rest=len(state.problems) - len(shown),
            state=state,
        ),
        "t-grid": _grid(state, view) if view.table else '<section id="t-grid"></section>',
    }
    return {name: Ready(text) for name, text in made.items()}


def row_form(state: TablesState, table: str) -> str:
    """A form for a new row of a table: a field a column, those that must be filled in first."""
    columns = sorted(columns_of(table).values(), key=lambda one: not one.required)
    header = state.headers.get(table)
    fields = []
    for column in columns:
        if header is None or column.required or column.column in header.index:
            names = named(state, column.ref_table or "", "", MOST_NAMES + 1)
            shown = names if len(names) <= MOST_NAMES else []
            fields.append((column, shown, _proposed(state, column)))
    return fill("tables_form.html", table=table, fields=fields, row_is=ROW_IS[table])


def named(
    state: TablesState, table: str, text: str, most: int = MOST_FOUND
) -> list[tuple[str, str]]:
    """(short name, the rest of the row that tells it apart) of rows that hold every word."""
    sheet, header = state.sheets.get(table), state.headers.get(table)
    if sheet is None or header is None:
        return []
    key, words = key_columns(table)[0], text.casefold().split()
    found = []
    for _, cells in data_rows(sheet, header):
        more = [header.text(cells, name) for name in _TELLING if name in header.index]
        name, label = header.text(cells, key), ", ".join(filter(None, more))
        if all(word in f"{name} {label}".casefold() for word in words):
            found.append((name, label))
            if len(found) == most:
                break
    return found


def _proposed(state: TablesState, column: Column) -> str:
    """The next number where rows are numbered."""
    if not column.key or key_columns(column.table) != (column.column,):
        return ""
    names = _names_in(state, column.table)
    numbers = [int(name) for name in names if name.isdecimal()]
    return str(max(numbers) + 1) if numbers and len(numbers) == len(names) else ""


def _names(state: TablesState, column: Column) -> list[str]:
    return _names_in(state, column.ref_table) if column.ref_table else []


def _names_in(state: TablesState, table: str) -> list[str]:
    """Short names of a table's rows."""
    sheet, header = state.sheets.get(table), state.headers.get(table)
    key = key_columns(table)[0]
    if sheet is None or header is None or key not in header.index:
        return []
    found = (header.text(cells, key) for _, cells in data_rows(sheet, header))
    return list(dict.fromkeys(filter(None, found)))


def _grid(state: TablesState, view: TablesView) -> str:
    sheet, header = state.sheets[view.table], state.headers.get(view.table)
    wrong: dict[int, list[Problem]] = {}
    whole = []
    for problem in state.problems:
        if problem.file == sheet.name and problem.row is not None:
            wrong.setdefault(problem.row, []).append(problem)
        elif problem.file == sheet.name:
            whole.append(problem)
    head_row = header.row if header else 0
    rows = _rows(sheet, view, wrong, head_row)
    first = max(0, min(view.first, len(rows) - 1))
    if view.row:
        at = next(
            (place for place, (number, _) in enumerate(rows) if number >= view.row), len(rows)
        )
        first = min(at, max(0, len(rows) - 1)) // ROWS_A_PAGE * ROWS_A_PAGE
    page = rows[first : first + ROWS_A_PAGE]
    heads = next((cells for number, cells in sheet.rows if number == head_row), ())
    width = max([len(heads), *(len(cells) for _, cells in page)], default=0)
    column_at = {index: name for name, index in header.index.items()} if header else {}
    columns = columns_of(view.table)
    maker = _Faults(state, view.table, sheet, header) if header else None
    grid = [
        GridRow(
            number,
            tuple(_cells(cells, width, column_at, wrong.get(number, ()))),
            tuple(maker.of(one, cells) for one in wrong.get(number, ())) if maker else (),
        )
        for number, cells in page
    ]
    top = [
        (
            index,
            heads[index] if index < len(heads) else "",
            columns[column_at[index]].meaning if column_at.get(index) in columns else "",
            column_letters(index),
            column_at.get(index, ""),
        )
        for index in range(width)
    ]
    return fill(
        "tables_grid.html",
        view=view,
        sheet=sheet,
        row_is=ROW_IS[view.table],
        top=top,
        head_row=head_row,
        head_faults=tuple(maker.of(one, heads) for one in wrong.get(head_row, ())) if maker else (),
        whole=whole,
        rows=grid,
        first=first,
        last=first + len(page),
        found=len(rows),
        step=ROWS_A_PAGE,
        places=header is not None and {"lat", "lon"} <= header.index.keys(),
        at=[header.index["lat"], header.index["lon"]]
        if header is not None and {"lat", "lon"} <= header.index.keys()
        else [],
    )


def _rows(
    sheet: Sheet, view: TablesView, wrong: Mapping[int, object], head_row: int
) -> list[tuple[int, tuple[str, ...]]]:
    """Rows below the header that are looked at."""
    words = view.text.casefold().split()
    return [
        (number, cells)
        for number, cells in sheet.rows
        if number > head_row
        and (not view.only or number in wrong)
        and (not words or all(word in " ".join(cells).casefold() for word in words))
    ]


def _cells(
    cells: tuple[str, ...], width: int, column_at: Mapping[int, str], wrong: Any
) -> Iterator[GridCell]:
    bad = {problem.column for problem in wrong}
    for index in range(width):
        text = cells[index] if index < len(cells) else ""
        yield GridCell(index, text, column_at.get(index, "?") in bad)


class _Faults:
    """Problems of a table's rows with what may be written instead."""

    def __init__(self, state: TablesState, table: str, sheet: Sheet, header: Header) -> None:
        self._state, self._table, self._header = state, table, header
        self._style = style_of(table, sheet, header)

    def of(self, problem: Problem, cells: tuple[str, ...]) -> Fault:
        """The problem as the page shows it."""
        row = {name: self._header.text(cells, name) for name in self._header.index}
        column = self._column(problem, row)
        offers: list[tuple[str, str]] = []
        if column is not None and problem.row != self._header.row:
            known = _names(self._state, column)
            formulation = row.get("formulation") or self._formulation(row.get("product", ""))
            for wanted in cures(problem, column, row, known, self._style, formulation):
                if not all(name in self._header.index for name in wanted):
                    continue
                told = [
                    [problem.row, index, cells[index] if index < len(cells) else "", text]
                    for name, text in wanted.items()
                    for index in [self._header.index[name]]
                ]
                words = ", ".join(
                    wanted.values() if len(wanted) == 1 else map(" ".join, wanted.items())
                )
                offers.append((words, json.dumps(told)))
        name = self._header.office.get(problem.column or "", problem.column or "")
        blank = problem.column in ("lat", "lon") and not row.get(problem.column)
        place = problem.row or 0 if blank else 0
        return Fault(name, problem.message, problem.found, problem.cure, tuple(offers), place)

    def _column(self, problem: Problem, row: Mapping[str, str]) -> Column | None:
        if self._table == SETTINGS and problem.column == "value":
            name = row.get("setting", "").casefold().replace(" ", "_")
            return settings_columns().get(present_name(name))
        return columns_of(self._table).get(problem.column or "")

    def _formulation(self, product: str) -> str | None:
        sheet, header = self._state.sheets.get("products"), self._state.headers.get("products")
        if not product or sheet is None or header is None:
            return None
        for _, cells in data_rows(sheet, header):
            if header.text(cells, "product") == product:
                return header.text(cells, "formulation") or None
        return None


def located(state: TablesState, found: Sequence[FoundPlace]) -> str:
    """What was found for addresses, each with the buttons that write it."""
    rows, exact = [], []
    for one in found:
        offers = []
        if one.point is not None:
            cells = _point_cells(state, one, one.point)
            offers.append(("write it", json.dumps(cells)))
            if one.sure == Sureness.EXACT and one.table == "properties":
                exact += cells
        offers += [
            (text, json.dumps(_point_cells(state, one, point)))
            for text, point in one.offers
            if point != one.point
        ]
        rows.append((one, offers))
    count = len(exact) // 2
    return fill(
        "tables_located.html", rows=rows, exact=json.dumps(exact) if exact else "", count=count
    )


def _point_cells(
    state: TablesState, one: FoundPlace, point: tuple[float, float]
) -> list[list[object]]:
    sheet, header = state.sheets[one.table], state.headers[one.table]
    comma = style_of(one.table, sheet, header).decimal_commas
    cells: list[list[object]] = []
    for name, value in zip(("lat", "lon"), point, strict=True):
        if name in header.index:
            index = header.index[name]
            text = f"{value:.{DEGREE_DECIMALS}f}".replace(".", "," if comma else ".")
            cells.append([one.row, index, state.text(one.table, one.row, index), text])
    return cells
