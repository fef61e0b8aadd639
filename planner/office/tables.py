"""The tables of a workbook as the office edits them: cells and rows written into its files, checked
again, taken back. Several people may: a cell is written only over what its writer saw."""

import hashlib
import threading
import time
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

from planner.chain import check_with_roads
from planner.day.day import Workbook
from planner.office.changes import Refused
from planner.office.journal import FIRST_DRAFT, Journal, JournalStep, Lines
from planner.outputs.file import is_open, replace_unchanged
from planner.outputs.told import OutputError
from planner.problems import Problem
from planner.tables.columns import Header, columns_of, known_headers, read_header
from planner.tables.edits import EditError, PlacedEdit, TableEdit, edited, placed
from planner.tables.office import OFFICE_FILE, load_office_file
from planner.tables.open_sheets import CSV_SUFFIXES, open_sheets
from planner.tables.read import WorkbookReading
from planner.tables.sheets import Sheet, SheetError, read_csv_file

LONGEST_CELL: Final = 2_000

Place = tuple[int, int]
"""Row as the spreadsheet numbers it, and cell index."""


class TablesStale(Exception):
    """The cell is no longer as its writer saw it; in words."""


@dataclass(frozen=True)
class TablesState:
    """revision: grows with everything that changes here. reading: grows when a file was changed in
    another program, for then rows may have moved. problems: of the last check; checking: another
    one is under way. book: of the rows that read well. sound: fingerprint of tables without a
    problem, '' = there is one, or it is not known yet."""

    revision: int
    reading: int
    workbook: str
    sheets: Mapping[str, Sheet]
    headers: Mapping[str, Header]
    problems: tuple[Problem, ...] = ()
    notes: tuple[str, ...] = ()
    checking: bool = True
    book: Workbook | None = None
    sound: str = ""
    undo: str = ""
    redo: str = ""
    said: str = ""

    def text(self, table: str, row: int, index: int) -> str:
        """What stands in a cell; '' where nothing does."""
        sheet = self.sheets[table]
        cells = next((cells for number, cells in sheet.rows if number == row), ())
        return cells[index] if 0 <= index < len(cells) else ""


class OfficeTables:
    """For any number of threads. check: finds everything that is wrong in a workbook."""

    def __init__(
        self,
        workbook: Path,
        journal: Journal,
        check: Callable[[Path], tuple[WorkbookReading, tuple[str, ...]]] = check_with_roads,
    ) -> None:
        self.workbook, self._journal, self._check = workbook, journal, check
        self.listeners: list[Callable[[TablesState], None]] = []
        self._lock = threading.RLock()
        steps = journal.steps()
        self._lines = Lines(steps)
        self._bodies = {step.revision: step.body for step in steps if step.body is not None}
        self._step = steps[-1].revision if steps else -1
        if not steps:
            self._keep("open", "opened", {})
        self._again, self._idle = False, threading.Event()
        self._idle.set()
        # Never a number that an earlier run gave to a page that is still open.
        begin = int(time.time() * 1000)
        self._state = TablesState(begin, begin, workbook.name, {}, {})
        self._stamp: object = None
        self._prints: dict[Path, str] = {}
        self._is_checked = False
        self._read(None)

    @property
    def state(self) -> TablesState:
        """The tables as they were last read."""
        return self._state

    @property
    def untouched(self) -> bool:
        """Whether the files are as they were found, and nobody has asked for their check yet."""
        return not self._is_checked and self._stamp == self._stamp_now()

    def look(self) -> TablesState:
        """Read the tables again if a file is other than it was; the first time check them, too."""
        with self._lock:
            if self._stamp_now() != self._stamp:
                self._read(None)
                said = "read again: changed in another program"
                self._changed(said, reading=self._state.reading + 1)
            elif not self._is_checked:
                self._changed("")
            return self._state

    def write(
        self, reading: int, table: str, cells: Mapping[Place, tuple[str, str]]
    ) -> TablesState:
        """Write cells: place -> text that the writer saw, text to be written. Raises TablesStale,
        Refused."""
        with self._lock:
            self._fresh(reading, table)
            there = {}
            for (row, index), (was, text) in cells.items():
                _one_line(text)
                if row < 1 or index < 0:
                    raise Refused("There is no such cell.")
                now = there[row, index] = self._state.text(table, row, index)
                # Browsers know one kind of line break.
                if now.replace("\r\n", "\n") != was.replace("\r\n", "\n"):
                    raise TablesStale(
                        f"Not written: somebody else changed this cell; it is now {now or 'blank'}."
                    )
            name = self._state.sheets[table].name
            (row, index), (was, text) = next(iter(cells.items()))
            what = f"{name}, row {row}: {was or 'blank'} became {text or 'blank'}"
            if len(cells) > 1:
                what += f", and {len(cells) - 1} more"
                if not any(text for _, text in cells.values()):
                    what = f"{name}, row {row} cleared"
            changed = {place: text for place, (_, text) in cells.items()}
            return self._do(table, changed, (), what, there)

    def add_row(self, reading: int, table: str, row: Mapping[str, str]) -> TablesState:
        """Add a row at the end: column -> text. Raises TablesStale, Refused."""
        with self._lock:
            self._fresh(reading, table)
            row = {name: text.strip() for name, text in row.items() if text.strip()}
            unknown = [name for name in row if name not in columns_of(table)]
            if not row or unknown:
                raise Refused("Fill in at least one cell of the row.")
            for text in row.values():
                _one_line(text)
            sheet, header = self._state.sheets[table], self._state.headers[table]
            try:
                edit = placed(TableEdit(table, new_rows=[row]), sheet, header)
            except EditError as error:
                raise Refused(str(error)) from error
            cells = {
                (number, place): text
                for number, line in edit.cells.items()
                for place, text in line.items()
            }
            new = max(number for number, _ in cells)
            old = {place: "" for place in cells}
            return self._do(table, cells, (new,), f"{sheet.name}, row {new} added", old)

    def undo(self, redo: bool = False) -> TablesState:
        """Take the last step back, or do it again. Raises TablesStale, Refused."""
        with self._lock:
            self.look()
            line = self._lines.line
            what = self._lines.redo if redo else self._lines.undo
            if not what:
                raise Refused("There is nothing to do again." if redo else "Nothing to undo.")
            body = self._bodies[line.made[line.at + 1] if redo else line.made[line.at]]
            table = str(body["table"])
            if table not in self._state.sheets:
                raise Refused(f"The table {table} is no longer there.")
            cells, gone = {}, () if redo else tuple(body["new"])
            for row, index, was, text in body["cells"]:
                there, wanted = (was, text) if redo else (text, was)
                if self._state.text(table, row, index) != there:
                    raise Refused(
                        f"{self._state.sheets[table].name}, row {row} was changed since; it is "
                        "left as it is. Write into its cells what you want there."
                    )
                cells[row, index] = wanted
            kept = {place: text for place, text in cells.items() if place[0] not in gone}
            self._put(table, kept, gone)
            said = f"done again: {what}" if redo else f"taken back: {what}"
            self._keep("redo" if redo else "undo", said, None)
            return self._changed(said)

    def check_again(self) -> TablesState:
        """Check everything anew."""
        with self._lock:
            self._read(None)
            return self._changed("")

    def settled(self) -> TablesState:
        """The state once nothing is being checked any more."""
        self.look()
        self._idle.wait()
        return self._state

    @property
    def secret(self) -> bytes:
        """What keys of this office are derived from."""
        return self._journal.secret

    def close(self) -> None:
        """Let the journal go."""
        self._journal.close()

    def _do(
        self,
        table: str,
        cells: Mapping[Place, str],
        new: Sequence[int],
        said: str,
        old: Mapping[Place, str],
    ) -> TablesState:
        self._put(table, cells, ())
        # As it is read: of "7.0" a workbook keeps 7.
        told = [[*place, old[place], self._state.text(table, *place)] for place in cells]
        self._keep("change", said, {"table": table, "cells": told, "new": list(new)})
        return self._changed(said)

    def _put(self, table: str, cells: Mapping[Place, str], gone: Iterable[int]) -> None:
        """Write into the file, if it is still as it was read."""
        sheet, header = self._state.sheets[table], self._state.headers.get(table)
        file = self.workbook / sheet.name if self.workbook.is_dir() else self.workbook
        rows: dict[int, dict[int, str]] = {}
        for (row, index), text in cells.items():
            rows.setdefault(row, {})[index] = text
        like = max((number for number, _ in sheet.rows), default=0)
        edit = PlacedEdit(rows, _numbers(table, header), like, frozenset(gone))
        if is_open(file):
            raise Refused(
                f"{file.name} is open in a spreadsheet program, which would write over this. Save "
                "and close it there, then do this again."
            )
        try:
            before = file.read_bytes()
            if _print_of(before) != self._prints.get(file):
                self.look()
                raise TablesStale(_ELSEWHERE)
            after = edited(before, sheet, edit)
            replace_unchanged(file, before, after, TablesStale(_ELSEWHERE))
        except (EditError, OutputError, OSError) as error:
            raise Refused(f"Not written: {error}") from error
        self._read(table if sheet.separator else None)

    def _fresh(self, reading: int, table: str) -> None:
        self.look()
        if reading != self._state.reading:
            raise TablesStale(_ELSEWHERE)
        if table not in self._state.sheets:
            raise Refused(f"There is no table {table}.")

    def _read(self, only: str | None) -> None:
        """Take in the sheets, of CSV files maybe one alone, and what the files are."""
        office = load_office_file(self.workbook)
        known = known_headers(office.columns)
        # Before the content: what is written meanwhile shows as another stamp or print.
        self._stamp = self._stamp_now()
        files = [file for file in self._files() if file.exists()]
        self._prints = {file: _print_of(file.read_bytes()) for file in files}
        sheets = dict(self._state.sheets)
        if only is not None:
            try:
                sheets[only] = read_csv_file(self.workbook / sheets[only].name, known)
            except SheetError:
                only = None
        if only is None:
            sheets = open_sheets(self.workbook, known)[0]
        headers = {
            name: header
            for name, sheet in sheets.items()
            if (header := read_header(name, sheet, office.columns.get(name, {}))[0]) is not None
        }
        self._state = replace(self._state, sheets=sheets, headers=headers)

    def _files(self) -> list[Path]:
        if not self.workbook.is_dir():
            return [self.workbook, self.workbook.parent / OFFICE_FILE]
        wanted = (*CSV_SUFFIXES, ".toml")
        return sorted(file for file in self.workbook.iterdir() if file.suffix.lower() in wanted)

    def _stamp_now(self) -> object:
        found = [(file, file.stat()) for file in self._files() if file.exists()]
        return [(file, stat.st_mtime_ns, stat.st_size, stat.st_ino) for file, stat in found]

    def _keep(self, does: str, said: str, body: dict[str, Any] | None) -> None:
        self._step += 1
        step = JournalStep(self._step, does, FIRST_DRAFT, said, body)
        self._journal.write(step)
        self._lines.follow(step)
        if body is not None:
            self._bodies[self._step] = body

    def _changed(self, said: str, reading: int | None = None) -> TablesState:
        """The next revision; its check begins."""
        self._is_checked = True
        self._state = replace(
            self._state,
            revision=self._state.revision + 1,
            reading=self._state.reading if reading is None else reading,
            checking=True,
            sound="",
            undo=self._lines.undo,
            redo=self._lines.redo,
            said=said,
        )
        self._again = True
        if self._idle.is_set():
            self._idle.clear()
            threading.Thread(target=self._check_all, daemon=True).start()
        state = self._state
        for tell in list(self.listeners):
            tell(state)
        return state

    def _check_all(self) -> None:
        while True:
            with self._lock:
                if not self._again:
                    self._state = replace(self._state, checking=False)
                    state = self._state
                    self._idle.set()
                    break
                self._again = False
            reading, notes = self._check(self.workbook)
            book = reading.workbook
            sound = book.sha256 if book is not None and not reading.problems else ""
            with self._lock:
                self._state = replace(
                    self._state,
                    revision=self._state.revision + 1,
                    problems=reading.problems,
                    notes=notes,
                    book=book,
                    sound="" if self._again else sound,
                )
        for tell in list(self.listeners):
            tell(state)


_ELSEWHERE: Final = (
    "Not written: the file was changed in another program meanwhile. Here is what stands in it "
    "now; look, and do it again."
)


def _one_line(text: str) -> None:
    if "\n" in text or "\r" in text or "\0" in text or len(text) > LONGEST_CELL:
        raise Refused(f"A cell is one line of at most {LONGEST_CELL:,} letters.")


def _numbers(table: str, header: Header | None) -> frozenset[int]:
    columns = columns_of(table)
    return frozenset(
        index
        for name, index in (header.index if header else {}).items()
        if columns[name].unit or columns[name].kind in ("whole", "number", "money")
    )


def _print_of(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()
