"""Which cell of a row is which column."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from planner.problems import Problem
from planner.tables.columns import EVERY_OTHER, FORMER_NAMES, IGNORE, columns_of, table_names
from planner.tables.csv_files import ROWS_SEARCHED_FOR_HEADER
from planner.tables.sheets import Sheet, column_letters
from planner.tables.text import clean, did_you_mean, header_name

ColumnMapping = Mapping[str, Mapping[str, str]]
"""Table -> the office's own header -> the planner's column, or IGNORE. Several headers of one
column are joined, in this order; EVERY_OTHER may be ignored."""


@dataclass(frozen=True)
class Header:
    """row: its row number. index: column -> cell index (the first of several that are joined).
    office: column -> the office's header, where it has another name. missing: required columns that
    are not there. width: cells up to the last header. joined: column -> its cell indexes, where it
    has several. ignored: headers that planner.toml says to pass over."""

    row: int
    index: Mapping[str, int]
    office: Mapping[str, str]
    missing: tuple[str, ...]
    width: int
    joined: Mapping[str, tuple[int, ...]] = field(default_factory=dict)
    ignored: tuple[str, ...] = ()

    def text(self, cells: Sequence[str], column: str) -> str:
        """A row's text of a column; '' where the row or the table has none."""
        places = self.joined.get(column)
        if places is None:
            place = self.index.get(column, len(cells))
            return cells[place] if place < len(cells) else ""
        return " ".join(cells[place] for place in places if place < len(cells) and cells[place])


def known_headers(mapping: ColumnMapping) -> frozenset[str]:
    """Every header that may stand in some table, in the planner's spelling."""
    own = {name for table in table_names() for name in columns_of(table)}
    office = {header_name(header) for table in mapping.values() for header in table}
    return frozenset(own | office | set(FORMER_NAMES.values()))


def read_header(
    table: str, sheet: Sheet, renamed: Mapping[str, str]
) -> tuple[Header | None, list[Problem]]:
    """The header of a sheet, and what is wrong in it: unknown, double and missing columns.

    None when the sheet has no rows at all."""
    if not sheet.rows:
        return None, []
    names = _names(table, renamed)
    number, cells = _header_row(sheet, names)
    parts = _parts(renamed)
    index: dict[str, int] = {}
    joined: dict[str, dict[str, int]] = {column: {} for column in parts}
    office: dict[str, str] = {}
    problems: list[Problem] = []
    unknown: list[str] = []
    ignored: list[str] = []
    for place, cell in enumerate(cells):
        shown = clean(cell)
        if not shown or shown.startswith("_"):
            continue
        if sheet.faults.get((number, place)) == "CELL-4":
            cure = "unmerge them, and give each column its own header"
            message = "the header is merged with other cells, whose column or row is not read"
            problems.append(Problem(sheet.name, number, None, "CELL-4", message, shown, cure))
        word = header_name(shown)
        column = names.get(word, names.get(EVERY_OTHER))
        if column is None:
            unknown.append(shown)
        elif column == IGNORE:
            ignored.append(shown)
        elif word in parts.get(column, ()) and word not in joined[column]:
            joined[column][word] = place
            index.setdefault(column, place)
            office[column] = f"{office[column]} + {shown}" if column in office else shown
        elif column in index:
            problems.append(
                Problem(
                    sheet.name,
                    number,
                    column,
                    "COL-3",
                    "the column is there twice; the first was read",
                    shown,
                    "remove one, or name it with _ in front",
                )
            )
        else:
            index[column] = place
            if header_name(shown) != column:
                office[column] = shown
    problems += [_unknown(table, sheet, number, shown, index) for shown in unknown]
    missing = tuple(
        name for name, column in columns_of(table).items() if column.required and name not in index
    )
    width = max((place + 1 for place, cell in enumerate(cells) if clean(cell)), default=0)
    problems += [_missing(table, sheet, number, name, cells) for name in missing]
    if names.get(EVERY_OTHER) != IGNORE:
        blank = [place for place in range(width) if not clean(cells[place])]
        problems += filter(None, (_nameless(sheet, number, place) for place in blank))
    places = {
        column: tuple(found[word] for word in parts[column] if word in found)
        for column, found in joined.items()
    }
    return Header(number, index, office, missing, width, places, tuple(ignored)), problems


def _parts(renamed: Mapping[str, str]) -> dict[str, list[str]]:
    """Columns that the office fills from several of its own -> those headers in its order."""
    parts: dict[str, list[str]] = {}
    for header, column in renamed.items():
        parts.setdefault(column, []).append(header_name(header))
    return {column: words for column, words in parts.items() if len(words) > 1 and column != IGNORE}


def _names(table: str, renamed: Mapping[str, str]) -> dict[str, str]:
    names = {name: name for name in columns_of(table)}
    names |= {FORMER_NAMES[name]: name for name in names.keys() & FORMER_NAMES}
    # The office's own word goes first: an office may call another thing by one of our names.
    names.update({header_name(header) or header: column for header, column in renamed.items()})
    return names


def _header_row(sheet: Sheet, names: Mapping[str, str]) -> tuple[int, tuple[str, ...]]:
    """The first row that names at least two columns (titles may stand above it), else the first."""
    for number, cells in sheet.rows[:ROWS_SEARCHED_FOR_HEADER]:
        if sum(header_name(cell) in names for cell in cells) >= 2:
            return number, cells
    return sheet.rows[0]


def _unknown(
    table: str, sheet: Sheet, number: int, shown: str, found: Mapping[str, int]
) -> Problem:
    free = [name for name in columns_of(table) if name not in found]
    cure = did_you_mean(header_name(shown), free, f"`planner columns {table}` lists them")
    stop = "" if cure.endswith("?") else "."
    return Problem(
        sheet.name,
        number,
        None,
        "COL-1",
        f"the table {table} has no such column",
        shown,
        f"{cure}{stop} Or map it in planner.toml under [columns.{table}], to 'ignore' if it is "
        "not for the planner, or name it with _ in front",
    )


def _nameless(sheet: Sheet, number: int, place: int) -> Problem | None:
    """A column with cells under a blank header; a merged header says so itself."""
    below = (row[place] for at, row in sheet.rows if at > number and place < len(row))
    found = next(filter(None, map(clean, below)), "")
    if not found or sheet.faults.get((number, place - 1)) == "CELL-4":
        return None
    message = f"column {column_letters(place)} has cells and no header; it is not read"
    cure = "give it a header, or name it with _ in front"
    return Problem(sheet.name, number, None, "COL-1", message, found, cure)


def _missing(table: str, sheet: Sheet, number: int, name: str, cells: tuple[str, ...]) -> Problem:
    column = columns_of(table)[name]
    meaning = column.meaning[:1].lower() + column.meaning[1:]
    return Problem(
        sheet.name,
        number,
        name,
        "COL-2",
        "the column is missing",
        cure=f"add it ({meaning}), or map your own header to it in planner.toml",
    )
