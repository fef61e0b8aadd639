"""An import, wired in one place: export + mapping + last import + tables -> files to write."""

from collections.abc import Callable, Collection, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from planner.importing.cells import is_local
from planner.importing.guess import Guess, guess, is_known_header
from planner.importing.mapping import (
    ExportMapping,
    memory_path,
    memory_text,
    read_mapping,
    read_memory,
)
from planner.importing.mapping_text import mapping_text
from planner.importing.rows import Export, ReadRows, open_export, read_rows
from planner.importing.tables_now import Merged, WorkbookNow, merged, read_tables, recorded_orders
from planner.importing.wanted import WantedRows, named_orders, wanted
from planner.outputs.file import is_open, replace_files
from planner.plain_files import bytes_of
from planner.problems import PlannerError, Problem, WorkbookError, counted
from planner.tables.sheets import SheetError
from planner.tables.text import did_you_mean, header_name

CANCELLED = {"status": "cancelled", "status_reason": "no longer in the export"}

Cells = Mapping[str, str]


class ImportRefused(WorkbookError):
    """An import that cannot be done; carries every problem found."""

    place = "the import"


@dataclass(frozen=True)
class Wishes:
    """What the office asks for beside the import itself. take_export: cells that somebody typed
    give way to the export; bring_back: rows that somebody removed come again; cancel_gone: orders
    that the export no longer has are cancelled; without_refused: rows that cannot be read stay out
    and all others are imported."""

    take_export: bool = False
    bring_back: bool = False
    cancel_gone: bool = False
    without_refused: bool = False


@dataclass(frozen=True)
class FirstLook:
    """text: of the mapping that is to be written. guess: what was found in the export; unread:
    header -> cell that cannot be read as it stands -> why."""

    text: str
    export: Export
    guess: Guess
    unread: Mapping[str, Mapping[str, str]]


@dataclass
class Imported:
    """merged: by table. problems: rows that were refused. notes: in words. cancelled: orders.
    files: path -> content to be written, the memory last; empty = nothing changes. before: what
    those files held when they were read, None = they were not there."""

    export: Export
    read: ReadRows
    merged: dict[str, Merged]
    problems: list[Problem]
    notes: list[str] = field(default_factory=list)
    cancelled: list[str] = field(default_factory=list)
    files: dict[Path, bytes] = field(default_factory=dict)
    before: dict[Path, bytes | None] = field(default_factory=dict)


MOST_OF_A_NAME = 100


def mapping_path(workbook: Path, name: str = "import.toml") -> Path:
    """Where a workbook's mapping lies: in its folder, or beside an Excel file under its name.
    Raises PlannerError for a name that is none of a file there."""
    if len(name) > MOST_OF_A_NAME or not name.isprintable() or Path(name).name != name:
        raise PlannerError(f"--mapping '{name}': name a file beside the workbook, as import.toml")
    return workbook / name if workbook.is_dir() else workbook.with_name(f"{workbook.stem}-{name}")


def look(workbook: Path, export_file: Path, mapping_file: Path, sheet: str) -> FirstLook:
    """The first look at an export, which has no mapping yet. Raises WorkbookError."""
    export = _opened(export_file, sheet, is_known_header)
    mixes = read_tables(workbook).mixes
    found = guess(export, mixes)
    unread: dict[str, dict[str, str]] = {}
    for problem in read_rows(export, found.mapping, mapping_file.name).problems:
        told = problem.code == "IMPORT-4" or (
            problem.column in found.needs_area_code and is_local(problem.found)
        )
        if problem.column in export.headers and not told:
            unread.setdefault(problem.column, {}).setdefault(problem.found, problem.message)
    return FirstLook(mapping_text(export, found, mixes, unread, sheet), export, found, unread)


def run(
    workbook: Path, export_file: Path, mapping_file: Path, sheet: str, wishes: Wishes
) -> Imported:
    """Everything that an import does; nothing is written. Raises WorkbookError with every problem,
    or another PlannerError."""
    mapping, problems = read_mapping(mapping_file)
    if any(problem.code == "FILE-4" for problem in problems):
        raise ImportRefused(problems)
    headers = {header_name(header) for header in mapping.columns}
    export = _opened(export_file, sheet or mapping.sheet, lambda text: header_name(text) in headers)
    book = read_tables(workbook)
    problems += [*book.problems, *_columns_differ(export, mapping, mapping_file.name)]
    problems += _unknown_mixes(mapping, book, mapping_file.name)
    if problems:
        raise ImportRefused(problems)
    read = read_rows(export, mapping, mapping_file.name)
    rows = wanted(read.rows, mapping, export.name)
    result = Imported(export, read, {}, [*read.problems, *rows.problems])
    if rows.unpriced:
        result.notes.append(
            f"Row {rows.unpriced[0]}: one price for several services is taken for none of them "
            f"({counted(len(rows.unpriced), 'row')})."
        )
    memory_file = memory_path(mapping_file)
    before = _content(memory_file)
    memory, done = read_memory(memory_file), recorded_orders(workbook)
    _merge(book, rows, memory, done, wishes, result)
    result.problems += _lacking(rows, mapping, mapping_file.name, result)
    result.problems += _unknown_trucks(rows, mapping, book, export.name)
    if result.problems and not wishes.without_refused:
        raise ImportRefused(result.problems)
    _settle_gone(book, done, wishes, result)
    result.files = book.files([one.edit for one in result.merged.values()])
    text = memory_text({table: one.memory for table, one in result.merged.items()}).encode()
    result.before = {file: book.read.get(file) for file in result.files} | {memory_file: before}
    if text != before:
        result.files[memory_file] = text
    return result


def write(done: Imported) -> None:
    """Tables first and the memory last: an import that is cut off is done again by the next one.
    Raises PlannerError, OutputError."""
    for file in done.before:
        _unchanged(done, file)
    named = {file.resolve(): file for file in done.files}
    replace_files(
        {real: done.files[file] for real, file in named.items()},
        lambda real: _unchanged(done, named[real]),
    )


def take_back(done: Imported) -> None:
    """Put back what stood in the files before write; nothing where one was changed since. The
    memory first and the tables in turn: where it is cut off, nothing counts as typed, and the next
    import is done whole. Raises as write."""
    for file in done.files:
        _as_written(done, file)
    named = {file.resolve(): file for file in reversed(done.files)}
    replace_files(
        {real: done.before[file] for real, file in named.items()},
        lambda real: _as_written(done, named[real]),
    )


def _as_written(done: Imported, file: Path) -> None:
    if _content(file) != done.files[file]:
        raise PlannerError(f"{file.name} was changed since; it is left as it is")
    _not_open(file)


def _unchanged(done: Imported, file: Path) -> None:
    if _content(file) != done.before[file]:
        raise PlannerError(f"{file} was changed meanwhile; run the import again")
    if file in done.files:
        _not_open(file)


def _not_open(file: Path) -> None:
    if is_open(file):
        raise PlannerError(f"{file} is open in another program; save and close it there")


def _content(file: Path) -> bytes | None:
    return bytes_of(file) if file.exists() else None


def _opened(file: Path, sheet: str, is_known: Callable[[str], bool]) -> Export:
    try:
        return open_export(file, sheet, is_known)
    except SheetError as error:
        raise ImportRefused([error.problem]) from error


def _columns_differ(export: Export, mapping: ExportMapping, file: str) -> Iterator[Problem]:
    used = {header for header, targets in mapping.columns.items() if targets}
    used |= {*mapping.keep, *mapping.leave_out}
    if used and not used.intersection(export.headers):
        cure = f"take the export that {file} is for, or give this one --mapping of its own"
        message = f"{export.name} has none of its columns"
        yield Problem(file, None, None, "IMPORT-3", f"[columns] {message}", "", cure)
        return
    for header in sorted(used.difference(export.headers)):
        free = [name for name in export.headers if name not in mapping.columns]
        cure = did_you_mean(
            header, free, f"remove its line, or take another export than {file} is for"
        )
        message = f"{export.name} has no such column"
        yield Problem(file, None, None, "IMPORT-3", f"[columns] {message}", header, cure)
    for header in export.headers:
        if header not in mapping.columns:
            cure = f'add a line: "{header}" = "ignore", or what it is'
            message = f"[columns] lacks a column of {export.name}"
            yield Problem(file, None, None, "IMPORT-3", message, header, cure)


def _unknown_mixes(mapping: ExportMapping, book: WorkbookNow, file: str) -> Iterator[Problem]:
    for word, mixes in mapping.services.items():
        for mix in mixes:
            if mix not in book.mixes:
                cure = did_you_mean(mix, list(book.mixes), "add it to the table mixes")
                message = f"[services] '{word}': the workbook has no such mix"
                yield Problem(file, None, None, "IMPORT-2", message, mix, cure)


def _unknown_trucks(
    rows: WantedRows, mapping: ExportMapping, book: WorkbookNow, export: str
) -> Iterator[Problem]:
    header = " + ".join(mapping.headers_of("properties.usual_truck"))
    for number, cells in rows.properties.values():
        truck = cells.get("usual_truck", "")
        if truck and truck not in book.trucks:
            cure = did_you_mean(truck, book.trucks, "add it to the table trucks")
            cure += f' Or say what it means under [words."{header}"]'
            message = "the workbook has no such truck"
            yield Problem(export, number, header, "REF-1", message, truck, cure)


def _merge(
    book: WorkbookNow,
    rows: WantedRows,
    memory: Mapping[str, Mapping[str, Cells]],
    done: Collection[str],
    wishes: Wishes,
    result: Imported,
) -> None:
    def lay(table: str, wanted_rows: Mapping[str, Cells]) -> Merged:
        return merged(
            book.now[table],
            memory[table],
            wanted_rows,
            tell_gone=not result.problems,
            take_export=wishes.take_export,
            bring_back=wishes.bring_back,
        )

    homes = lay("properties", {key: cells for key, (_, cells) in rows.properties.items()})
    orders = {
        name: _reopened({"order": name, **due.cells}, memory["orders"].get(name, {}))
        for name, due in named_orders(rows.dues, memory["orders"], done)
        if due.cells["property"] not in homes.lacking
    }
    result.merged = {"properties": homes, "orders": lay("orders", orders)}


def _reopened(cells: Cells, before: Cells) -> Cells:
    """An order that an import cancelled is open again when the export has it again."""
    if before.get("status") == CANCELLED["status"]:
        return {**dict.fromkeys(CANCELLED, ""), **cells}
    return cells


def _lacking(
    rows: WantedRows, mapping: ExportMapping, file: str, result: Imported
) -> Iterator[Problem]:
    """IMPORT-6: what new customers lack; once, where no column of the export gives it."""
    without: dict[str, int] = {}
    for key, names in result.merged["properties"].lacking.items():
        for name in names:
            if f"properties.{name}" not in mapping.targets():
                without[name] = without.get(name, 0) + 1
                continue
            header = " + ".join(mapping.headers_of(f"properties.{name}")) or None
            message = f"the new customer '{key}' has no {name}"
            cure = "fill it in, or leave the row out by its number under [leave_out]"
            number = rows.properties[key][0]
            yield Problem(result.export.name, number, header, "IMPORT-6", message, "", cure)
    for name, count in without.items():
        message = f"[columns] no column gives properties.{name}, which {count} new customers need"
        cure = "map one, or give one text for all under [otherwise]"
        yield Problem(file, None, None, "IMPORT-6", message, "", cure)


def _settle_gone(
    book: WorkbookNow, done: Collection[str], wishes: Wishes, result: Imported
) -> None:
    """Orders that are done or cancelled are not told as gone; the others are cancelled on wish."""
    orders = result.merged["orders"]
    rows = book.now["orders"].rows
    orders.gone = [
        key
        for key in orders.gone
        if key not in done and rows[key][1].get("status", "").casefold() != CANCELLED["status"]
    ]
    if wishes.cancel_gone:
        for key in orders.gone:
            orders.cells.setdefault(rows[key][0], {}).update(CANCELLED)
            orders.memory[key].update(CANCELLED)
        result.cancelled, orders.gone = orders.gone, []
