"""Another program's export as rows below a header, and as the mapping reads them: planner's
columns -> text, and the services due."""

import re
from collections import Counter
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass
from pathlib import Path

from planner.importing.cells import split_cell, table_text
from planner.importing.mapping import PROPERTY, SERVICES, ExportMapping, column_of
from planner.problems import Problem
from planner.tables.cells import NO, YES, Style, shows_decimal_comma
from planner.tables.open_sheets import XLSX_SUFFIXES
from planner.tables.read_rows import cell_fault
from planner.tables.sheets import Sheet, SheetError, column_letters, read_foreign_csv
from planner.tables.text import CellError, clean, did_you_mean, letters
from planner.units import UnitError

ROWS_SEARCHED = 30
"""Titles, filters and dates of printing stand above the header, not more."""

_TOTAL = re.compile(r"(grand |sub)?-?totals?\b|count\b|sum\b|records?\b|average\b", re.IGNORECASE)

_DECIMAL_POINT = re.compile(r"\$?\d+\.(\d{1,2}|\d{4,})\s*[A-Za-z]*")


@dataclass(frozen=True)
class Export:
    """name: of file or sheet, for messages. headers: each once; a blank one is 'column F', a second
    one 'Phone (2)'. places: of each header in the sheet. rows: (row number, cells as they stand),
    as many cells as headers. notes: what was passed over or guessed, in words."""

    name: str
    headers: tuple[str, ...]
    places: tuple[int, ...]
    rows: tuple[tuple[int, tuple[str, ...]], ...]
    style: Style
    notes: tuple[str, ...]
    sheet: Sheet

    def column(self, header: str) -> list[str]:
        """The cells below a header, cleaned, blank ones left out."""
        place = self.headers.index(header)
        return [text for _, cells in self.rows if (text := clean(cells[place]))]


def open_export(path: Path, sheet_name: str, is_known: Callable[[str], bool]) -> Export:
    """Read an export (CSV of any encoding and separator, or Excel). sheet_name: of Excel, '' = the
    one with the most rows; is_known: whether a text looks like a header.

    Raises SheetError.
    """
    sheet = _sheet(path, sheet_name)
    if not sheet.rows:
        message = "the export has no rows"
        raise SheetError(
            Problem(sheet.name, None, None, "TABLE-4", message, cure="export it again")
        )
    number, head = _header_row(sheet, is_known)
    width = max(len(cells) for _, cells in sheet.rows if _ >= number)
    below = [(row, cells) for row, cells in sheet.rows if row > number]
    used = [
        any(clean(cells[place]) for _, cells in below if place < len(cells))
        for place in range(width)
    ]
    headers = _headers(head, width)
    kept = [
        place for place in range(width) if used[place] or (place < len(head) and clean(head[place]))
    ]
    rows, notes = [], []
    if sheet.encoding in ("cp1252", "latin-1"):
        notes.append("It is not UTF-8 and was read as Windows text; look at names with accents.")
    for row, cells in below:
        whole = tuple([*cells, *[""] * (width - len(cells))][place] for place in kept)
        why = _no_data(whole, tuple(head), len(kept))
        if why:
            first = next(clean(cell) for cell in whole if clean(cell))
            notes.append(f"Row {row} was passed over: {why} ('{first}').")
        else:
            rows.append((row, whole))
    return Export(
        sheet.name,
        tuple(headers[place] for place in kept),
        tuple(kept),
        tuple(rows),
        _style(sheet, rows),
        tuple(notes),
        sheet,
    )


def _sheet(path: Path, sheet_name: str) -> Sheet:
    if path.suffix.lower() not in XLSX_SUFFIXES:
        if sheet_name:
            message, cure = "a CSV file has no sheets", "leave --sheet out"
            raise SheetError(Problem(path.name, None, None, "TABLE-1", message, sheet_name, cure))
        return read_foreign_csv(path)
    # Imported here: a quarter of a second that most offices never need.
    from planner.tables.xlsx_files import read_xlsx_file

    sheets = {sheet.name: sheet for sheet in read_xlsx_file(path)}
    if not sheet_name:
        return max(sheets.values(), key=lambda sheet: len(sheet.rows))
    if sheet_name not in sheets:
        cure = did_you_mean(sheet_name, list(sheets), "look at its tabs")
        problem = Problem(
            path.name, None, None, "TABLE-1", "there is no such sheet", sheet_name, cure
        )
        raise SheetError(problem)
    return sheets[sheet_name]


def _header_row(sheet: Sheet, is_known: Callable[[str], bool]) -> tuple[int, tuple[str, ...]]:
    """The row with the most known headers, else the first with the most cells in words."""

    def score(row: tuple[int, tuple[str, ...]]) -> tuple[int, int]:
        texts = {clean(cell) for cell in row[1] if clean(cell)}
        words = sum(not re.fullmatch(r"[\d.,:/$%+-]+", text) for text in texts)
        return sum(map(is_known, texts)), words

    return max(sheet.rows[:ROWS_SEARCHED], key=score)


def _headers(head: tuple[str, ...], width: int) -> list[str]:
    names: list[str] = []
    seen: Counter[str] = Counter()
    for place in range(width):
        name = clean(head[place]) if place < len(head) else ""
        name = name or f"column {column_letters(place)}"
        seen[name] += 1
        names.append(name if seen[name] == 1 else f"{name} ({seen[name]})")
    return names


def _no_data(cells: tuple[str, ...], head: tuple[str, ...], width: int) -> str:
    """Why a row is none of the export's data; '' if it is."""
    filled = [clean(cell) for cell in cells if clean(cell)]
    if not filled:
        return "it is blank"
    if len(filled) <= width / 2 and any(_TOTAL.match(text) for text in filled[:2]):
        return "it is a total"
    if filled == [clean(cell) for cell in head if clean(cell)]:
        return "it is the header again"
    if width >= 4 and len(filled) == 1:
        return "a single cell is no customer"
    return ""


def _style(sheet: Sheet, rows: list[tuple[int, tuple[str, ...]]]) -> Style:
    """Semicolons alone do not make a comma a decimal one, where numbers show a decimal point."""
    texts = {clean(cell) for _, cells in rows for cell in cells if "," in cell or "." in cell}
    commas = sheet.separator == ";" and any(map(shows_decimal_comma, texts))
    points = any(map(_DECIMAL_POINT.fullmatch, texts))
    semicolons = sheet.separator == ";" and (commas or not points)
    return Style(semicolons, commas, sheet.epoch_1904)


LOST_DIGITS = "PHONE-2"
"""A phone number that a spreadsheet has cut is worth nothing: it is left out, and said."""


@dataclass(frozen=True)
class ExportRow:
    """number: as the spreadsheet shows it. cells: target -> text for the table, of every column
    that the mapping names; mixes: of the services that are due."""

    number: int
    cells: dict[str, str]
    mixes: tuple[str, ...]


@dataclass(frozen=True)
class ReadRows:
    """rows: that were kept and read well. problems: of the others. left_out: by what the mapping
    says, 'Active is N' -> rows. notes: in words."""

    rows: tuple[ExportRow, ...]
    problems: tuple[Problem, ...]
    left_out: Counter[str]
    notes: tuple[str, ...]


def read_rows(export: Export, mapping: ExportMapping, file: str) -> ReadRows:
    """Every row of the export. file: the mapping's name, for cures."""
    reader = _RowReader(export, mapping, file)
    rows = [row for number, cells in export.rows if (row := reader.row(number, cells))]
    return ReadRows(tuple(rows), tuple(reader.problems), reader.left_out, tuple(reader.notes))


def service_words(text: str, between: str) -> list[str]:
    """The words of a cell that names several services; a line end always separates them."""
    parts = re.split(f"[{re.escape(between)}\n]" if between else "\n", text)
    return [word for part in parts if (word := clean(part))]


class _RowReader:
    def __init__(self, export: Export, mapping: ExportMapping, file: str) -> None:
        self.export, self.mapping, self.file = export, mapping, file
        self.problems: list[Problem] = []
        self.notes: list[str] = []
        self.left_out: Counter[str] = Counter()
        self.place = {header: place for place, header in enumerate(export.headers)}
        self.services = {letters(word): mixes for word, mixes in mapping.services.items()}
        self.words = {
            header: {clean(cell).casefold(): text for cell, text in cells.items()}
            for header, cells in mapping.words.items()
        }
        self.named = mapping.targets()

    def row(self, number: int, cells: Sequence[str]) -> ExportRow | None:
        """The row; None when it is left out or something in it cannot be read."""
        if self._is_left_out(cells):
            return None
        before = len(self.problems)
        pieces: dict[str, list[tuple[str, str]]] = {target: [] for target in self.named}
        mixes: list[str] = []
        for header, targets in self.mapping.columns.items():
            text = self._cell(number, header, cells) if targets else ""
            if not clean(text):
                continue
            if targets == (SERVICES,):
                mixes += self._mixes(number, header, text)
            elif len(targets) == 1:
                pieces[targets[0]].append((header, clean(text)))
            else:
                self._split(number, header, text, targets, pieces)
        found = {target: self._joined(number, target, parts) for target, parts in pieces.items()}
        if len(self.problems) > before:
            return None
        return ExportRow(number, found, tuple(dict.fromkeys(mixes)))

    def _is_left_out(self, cells: Sequence[str]) -> bool:
        for named, wanted in ((self.mapping.keep, True), (self.mapping.leave_out, False)):
            for header, words in named.items():
                text = clean(cells[self.place[header]])
                if _says(text, words) != wanted:
                    self.left_out[f"{header} is {text or 'blank'}"] += 1
                    return True
        return False

    def _cell(self, number: int, header: str, cells: Sequence[str]) -> str:
        raw = cells[self.place[header]]
        text = clean(raw)
        place = self.export.places[self.place[header]]
        fault = cell_fault(self.export.sheet, number, place, header, text)
        meant = self.words.get(header, {}).get(text.casefold())
        if meant is not None:
            return meant
        if fault is not None:
            self.problems.append(fault)
            return ""
        return raw

    def _mixes(self, number: int, header: str, text: str) -> list[str]:
        whole = self.services.get(letters(text))
        if whole is not None:
            return list(whole)
        mixes: list[str] = []
        for word in service_words(text, self.mapping.between):
            found = self.services.get(letters(word))
            if found is None:
                near = did_you_mean(word, list(self.mapping.services), "")
                cure = f'write "{word}" = "MIX", or "ignore", under [services] in {self.file}'
                message = f"the service is not in {self.file}"
                cure = f"{near} Or {cure}" if near else cure
                self._problem(number, header, "IMPORT-4", message, word, cure)
            else:
                mixes += found
        return mixes

    def _split(
        self,
        number: int,
        header: str,
        text: str,
        targets: Sequence[str],
        pieces: dict[str, list[tuple[str, str]]],
    ) -> None:
        names = {target.split(".")[1]: target for target in targets}
        try:
            parts = split_cell(text, tuple(names))
        except CellError as error:
            self._refused(number, header, error, clean(text))
            return
        for name, part in parts.items():
            pieces[names[name]].append((header, part))

    def _joined(self, number: int, target: str, parts: list[tuple[str, str]]) -> str:
        column = column_of(target)
        glue = self.mapping.glue.get(target, "-" if target == PROPERTY else " ")
        dates = (self.mapping.date_order, self.mapping.year)
        texts = []
        for header, part in parts:
            # What the mapping says of a cell is said in the table's own unit.
            is_meant = part in self.words.get(header, {}).values()
            unit = "" if is_meant else self.mapping.units.get(header, "")
            try:
                texts.append(table_text(part, column, header, self.export.style, unit, dates))
            except (CellError, UnitError) as error:
                if error.code == LOST_DIGITS:
                    self.notes.append(
                        f"Row {number}, '{header}': {error.message}: no number taken."
                    )
                else:
                    self._refused(number, header, error, part)
                return ""
        texts = [text for text in texts if text]
        if not texts and target in self.mapping.otherwise:
            return self._otherwise(number, target)
        if glue == "+" and len(texts) > 1:
            return f"{sum(map(float, texts)):.10g}"
        return glue.join(texts)

    def _otherwise(self, number: int, target: str) -> str:
        text = self.mapping.otherwise[target]
        try:
            return table_text(text, column_of(target), "", Style(), "", ("", None)) if text else ""
        except (CellError, UnitError) as error:
            place = f"[otherwise] {target}: {error.message}"
            problem = Problem(self.file, None, None, error.code, place, text, error.cure)
            if problem not in self.problems:
                self.problems.append(problem)
            return ""

    def _refused(self, number: int, header: str, error: CellError | UnitError, found: str) -> None:
        said = f'or say what is meant: "{found}" = "..." under [words."{header}"] in {self.file}'
        self._problem(number, header, error.code, error.message, found, f"{error.cure}, {said}")

    def _problem(
        self, number: int, header: str, code: str, message: str, found: str, cure: str
    ) -> None:
        self.problems.append(Problem(self.export.name, number, header, code, message, found, cure))


def _says(text: str, words: Collection[str]) -> bool:
    plain = text.casefold()
    wanted = {word.casefold() for word in words}
    return plain in wanted or any(plain in same and wanted & same for same in (YES, NO))
