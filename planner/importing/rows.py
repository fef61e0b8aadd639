"""An export's rows as the mapping reads them: planner's columns -> text, and the services due."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from planner.importing.cells import split_cell, table_text
from planner.importing.export_sheet import Export
from planner.importing.mapping import PROPERTY, SERVICES, ExportMapping, column_of
from planner.problems import Problem
from planner.tables.cells import NO, YES, Style
from planner.tables.read_rows import cell_fault
from planner.tables.text import CellError, clean, did_you_mean, letters
from planner.units import UnitError

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
