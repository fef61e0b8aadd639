"""An export of another program brought into the tables, step by step: the file, what its columns
are, what would change, written, taken back. The same functions as `planner import`."""

import tempfile
import threading
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from planner.importing.cells import AMBIGUOUS_DAY
from planner.importing.mapping_text import MappingLine, decided, mapping_lines, with_open
from planner.importing.run import Imported, Wishes, look, mapping_path, run, take_back, write
from planner.importing.said import ending, import_lines, look_lines
from planner.importing.tables_now import read_tables
from planner.office.changes import Refused
from planner.outputs.file import replace_file
from planner.plain_files import text_of
from planner.problems import PlannerError, Problem, WorkbookError

USUAL: Final = "import.toml"


@dataclass(frozen=True)
class ImportState:
    """export, mapping: names of the files, '' = none is chosen. lines, text: of the mapping;
    found: of a first look, in words; changes: what an import does, in words; problems: why it does
    not, or what it leaves out; lacking: columns, services and the order of days that
    the mapping has no line for; written: how the last one ended; trouble: why nothing can be looked
    at."""

    export: str = ""
    mapping: str = ""
    lines: tuple[MappingLine, ...] = ()
    text: str = ""
    found: tuple[str, ...] = ()
    changes: tuple[str, ...] = ()
    problems: tuple[Problem, ...] = ()
    lacking: tuple[tuple[str, str], ...] = ()
    ready: bool = False
    written: str = ""
    trouble: str = ""


class Imports:
    """Of one workbook; one export at a time, which is forgotten with the process."""

    def __init__(self, workbook: Path) -> None:
        self.workbook = workbook
        self.wishes = Wishes()
        self._lock = threading.Lock()
        self._folder = tempfile.TemporaryDirectory(prefix="planner-import-")
        self._file: Path | None = None
        self._mapping = Path(USUAL)
        self._sheet = ""
        self._found: tuple[str, ...] = ()
        self._written = ""
        self._done: Imported | None = None

    def mappings(self) -> list[str]:
        """Names of the mapping files that are there."""
        folder = self.workbook if self.workbook.is_dir() else self.workbook.parent
        begin = "" if self.workbook.is_dir() else f"{self.workbook.stem}-"
        names = [file.name.removeprefix(begin) for file in folder.glob(f"{begin}*.toml")]
        return sorted({USUAL, *names} - {"planner.toml"})

    def mixes(self) -> Mapping[str, str]:
        """Short name -> name of the workbook's mixes."""
        return read_tables(self.workbook).mixes

    def take(self, name: str, content: bytes, mapping: str, sheet: str) -> None:
        """Take an export over; a first look writes its mapping where there is none. Raises
        Refused."""
        with self._lock:
            plain = Path(name).name
            if not plain.isprintable() or not 0 < len(plain) <= 100:
                raise Refused("Give the export a shorter name.")
            file = Path(self._folder.name) / plain
            try:
                path = mapping_path(self.workbook, mapping or USUAL)
                if path.name in ("planner.toml", "fleet.toml") or path.suffix != ".toml":
                    raise Refused("Name the mapping as import.toml; planner.toml is another file.")
                replace_file(file, content)
                self._found = ()
                if not path.exists():
                    first = look(self.workbook, file, path, sheet)
                    replace_file(path, first.text)
                    self._found = tuple(look_lines(first, path.name))[:-1]
            except (PlannerError, OSError) as error:
                raise Refused(f"{plain} cannot be read: {_words(error)}") from error
            self._file, self._mapping, self._sheet = file, path, sheet
            self.wishes, self._written = Wishes(), ""

    def state(self) -> ImportState:
        """What there is, and what an import would do now."""
        with self._lock:
            if self._file is None:
                return ImportState(written=self._written)
            text = text_of(self._mapping) if self._mapping.exists() else ""
            problems: tuple[Problem, ...] = ()
            changes: tuple[str, ...] = ()
            trouble = ""
            try:
                done = self._run()
                changes, problems = tuple(import_lines(done)), tuple(done.problems)
            except WorkbookError as error:
                problems = tuple(error.problems)
            except PlannerError as error:
                trouble = str(error)
            return ImportState(
                export=self._file.name,
                mapping=self._mapping.name,
                lines=mapping_lines(text),
                text=text,
                found=self._found,
                changes=changes,
                problems=problems,
                lacking=tuple(dict.fromkeys(filter(all, map(_lacking, problems)))),
                ready=bool(changes),
                written=self._written,
                trouble=trouble,
            )

    def decide(self, values: Mapping[int, str], text: str | None, lacking: bool) -> None:
        """Write the mapping: number of a line -> value, or another text; lacking: lines for all
        that it has none for. Raises Refused."""
        more = self.state().lacking if lacking else ()
        with self._lock:
            if self._file is None:
                raise Refused("Choose an export first.")
            new = decided(text_of(self._mapping), values) if text is None else text
            for part in ("columns", "services", "dates"):
                new = with_open(new, part, [name for kind, name in more if kind == part])
            try:
                replace_file(self._mapping, new)
            except PlannerError as error:
                raise Refused(f"The mapping was not written: {error}") from error
            self._found, self._written = (), ""

    def write(self, wishes: Wishes) -> str:
        """Write the tables. Raises Refused."""
        with self._lock:
            self.wishes = wishes
            try:
                done = self._run()
                write(done)
            except (PlannerError, OSError) as error:
                raise Refused(f"Nothing was written: {_words(error)}") from error
            self._done = done if done.files else self._done
            words = ending(done, self.workbook, False)
            self._written = words if not done.files else "Written into the tables."
            return self._written

    def wish(self, wishes: Wishes) -> None:
        """What would change with other wishes is shown from now on."""
        with self._lock:
            self.wishes = wishes

    @property
    def can_take_back(self) -> bool:
        """Whether an import was written that may be taken back."""
        return self._done is not None

    def take_back(self) -> str:
        """Put the tables back as they were before the last import. Raises Refused."""
        with self._lock:
            if self._done is None:
                raise Refused("There is no import to take back.")
            try:
                take_back(self._done)
            except (PlannerError, OSError) as error:
                raise Refused(f"Not taken back: {_words(error)}") from error
            self._done, self._written = None, "Taken back: the tables are as before the import."
            return self._written

    def _run(self) -> Imported:
        assert self._file is not None
        return run(self.workbook, self._file, self._mapping, self._sheet, self.wishes)


def _lacking(problem: Problem) -> tuple[str, str]:
    """Part of the mapping that lacks a line, and its key."""
    if problem.code == "IMPORT-3" and "lacks a column" in problem.message:
        return "columns", problem.found
    if problem.code == "IMPORT-4":
        return "services", problem.found
    if problem.message == AMBIGUOUS_DAY:
        return "dates", "order"
    return "", ""


def _words(error: Exception) -> str:
    if isinstance(error, WorkbookError):
        return "; ".join(f"{one.message} ({one.cure})" for one in error.problems[:5])
    return str(error)
