"""The mapping file: which column of an export is what. Read here, written in mapping_text.py.
What the last import wrote is kept beside the mapping, so that typed cells can be told from it."""

import json
import tomllib
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from planner.importing.cells import DAY_FIRST, MONTH_FIRST, can_split
from planner.plain_files import bytes_of, text_of, why
from planner.problems import PlannerError, Problem
from planner.tables.cells import NUMBER_KINDS
from planner.tables.columns import IGNORE, Column, columns_of
from planner.tables.text import did_you_mean

OPEN: Final = "?"
SERVICES: Final = "services"
TABLES: Final = ("properties", "orders")
PROPERTY: Final = "properties.property"
JOINED_KINDS: Final = ("text", "id", "ref:properties")


@dataclass(frozen=True)
class ExportMapping:
    """columns: header -> targets ('properties.customer', SERVICES); none = ignored, several = the
    cell is cut. keep, leave_out: header -> words. units: header -> unit of its bare numbers, or
    area code of its phone numbers. date_order: MONTH_FIRST, DAY_FIRST or ''. words: header -> cell
    -> what it means. services: word -> mixes; none = no order. between: what separates services in
    a cell. glue: target -> what stands between the columns joined in it. otherwise: target -> text
    where the export says nothing. sheet: of an Excel export."""

    columns: Mapping[str, tuple[str, ...]]
    keep: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    leave_out: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    units: Mapping[str, str] = field(default_factory=dict)
    date_order: str = ""
    year: int | None = None
    words: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    services: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    between: str = ";,|"
    glue: Mapping[str, str] = field(default_factory=dict)
    otherwise: Mapping[str, str] = field(default_factory=dict)
    sheet: str = ""

    def headers_of(self, target: str) -> list[str]:
        """The headers that fill a target, in the mapping's order."""
        return [header for header, targets in self.columns.items() if target in targets]

    def targets(self) -> list[str]:
        """Every target that some column or value fills, tables in their own order."""
        named = {target for targets in self.columns.values() for target in targets}
        return [target for target in _all_targets() if target in named | set(self.otherwise)]


def column_of(target: str) -> Column:
    """The planner's column of a target such as 'orders.due_to'."""
    table, _, name = target.partition(".")
    return columns_of(table)[name]


def _all_targets() -> list[str]:
    return [f"{table}.{name}" for table in TABLES for name in columns_of(table)]


def read_mapping(path: Path) -> tuple[ExportMapping, list[Problem]]:
    """The mapping in a file, and everything in it that is wrong or not decided."""
    try:
        content = tomllib.loads(bytes_of(path).decode("utf-8-sig"))
    except (OSError, ValueError, RecursionError) as error:
        cure = 'a line looks like "Lawn size" = "properties.lawn_ft2"'
        reason = f"cannot be read: {why(error)}"
        return ExportMapping({}), [Problem(path.name, None, None, "FILE-4", reason, cure=cure)]
    return _MappingReader(path.name).read(content)


class _MappingReader:
    def __init__(self, file: str) -> None:
        self.file = file
        self.problems: list[Problem] = []

    def read(self, content: dict[str, object]) -> tuple[ExportMapping, list[Problem]]:
        parts = {name: self._part(content, name) for name in PARTS}
        for name in content:
            if name not in PARTS:
                self._wrong(
                    name, "there is no such part", name, did_you_mean(name, PARTS, "remove it")
                )
        columns = {
            header: self._targets(header, value) for header, value in parts["columns"].items()
        }
        dates, export = parts["dates"], parts["export"]
        self._keys("dates", dates, ("order", "year"))
        self._keys("export", export, ("sheet", "between_services"))
        order = self._text("dates", "order", dates.get("order", ""))
        if order not in ("", OPEN, MONTH_FIRST, DAY_FIRST):
            cure = f'write "{MONTH_FIRST}" or "{DAY_FIRST}"'
            self._wrong("dates", "this order is not known", order, cure)
        year = dates.get("year")
        if year is not None and not isinstance(year, int):
            self._wrong("dates", "this is no year", str(year), "write year = 2027")
        found = ExportMapping(
            columns,
            self._lists("keep", parts["keep"]),
            self._lists("leave_out", parts["leave_out"]),
            self._texts("units", parts["units"]),
            "" if order == OPEN else order,
            year if isinstance(year, int) else None,
            {
                header: self._texts(f"words.{header}", self._table(f"words.{header}", cells))
                for header, cells in parts["words"].items()
            },
            self._lists("services", parts["services"], ignore=True),
            self._text("export", "between_services", export.get("between_services", ";,|")),
            self._texts("glue", parts["glue"]),
            self._texts("otherwise", parts["otherwise"]),
            self._text("export", "sheet", export.get("sheet", "")),
        )
        self._check(found)
        return found, self.problems

    def _check(self, found: ExportMapping) -> None:
        for part, targets in (("glue", found.glue), ("otherwise", found.otherwise)):
            for target in targets:
                if target not in _all_targets():
                    self._unknown(part, target)
        named: dict[str, Collection[str]] = {
            "keep": found.keep,
            "leave_out": found.leave_out,
            "units": found.units,
        }
        for part, headers in {**named, "words": found.words}.items():
            for header in headers:
                if header not in found.columns:
                    cure = did_you_mean(header, list(found.columns), "list it under [columns]")
                    self._wrong(part, "[columns] has no such column", header, cure)
        for target in [*_all_targets(), SERVICES]:
            headers = found.headers_of(target)
            if len(headers) > 1 and target != SERVICES and not _can_join(target, found.glue):
                message = f"{target} cannot be joined from several columns"
                cure = "ignore all but one"
                if column_of(target).kind in NUMBER_KINDS:
                    cure += f', or add them up: "{target}" = "+" under [glue]'
                self._wrong("columns", message, " + ".join(headers), cure)

    def _part(self, content: dict[str, object], name: str) -> dict[str, object]:
        part = content.get(name, {})
        return self._table(name, part)

    def _table(self, name: str, found: object) -> dict[str, object]:
        if isinstance(found, dict):
            return found
        self._wrong(
            name, "this is of the wrong kind", str(found), f"write [{name}] and lines below"
        )
        return {}

    def _targets(self, header: str, value: object) -> tuple[str, ...]:
        words = value if isinstance(value, list) else [value]
        if words == [IGNORE]:
            return ()
        if words == [OPEN]:
            self._open("columns", header)
            return ()
        targets = []
        for word in words:
            full = [name for name in (word, *(f"{table}.{word}" for table in TABLES))]
            known = next((name for name in full if name in _all_targets()), None)
            if word == SERVICES and len(words) == 1:
                targets.append(SERVICES)
            elif known is None:
                self._unknown(f"columns, {header}", str(word))
            else:
                targets.append(known)
        names = [target.split(".")[-1] for target in targets]
        if len(targets) > 1 and not can_split(names):
            message = "a cell cannot be cut into these"
            cure = "parts of an address, lat and lon, due_from and due_to, or phone and phone_2 can"
            self._wrong("columns", message, ", ".join(names), cure)
        return tuple(targets)

    def _lists(
        self, part: str, found: dict[str, object], ignore: bool = False
    ) -> dict[str, tuple[str, ...]]:
        good = {}
        for key, value in found.items():
            words = value if isinstance(value, list) else [value]
            if words == [OPEN]:
                self._open(part, key)
            elif not all(isinstance(word, str) for word in words):
                self._wrong(
                    part, "this is of the wrong kind", str(value), f'write "{key}" = ["word"]'
                )
            else:
                good[key] = () if ignore and words == [IGNORE] else tuple(words)
        return good

    def _texts(self, part: str, found: dict[str, object]) -> dict[str, str]:
        return {key: self._text(part, key, value) for key, value in found.items()}

    def _text(self, part: str, key: str, value: object) -> str:
        if value == OPEN:
            self._open(part, key)
        # Dates and numbers may stand without quotation marks.
        return str(value)

    def _keys(self, part: str, found: dict[str, object], known: tuple[str, ...]) -> None:
        for key in found:
            if key not in known:
                self._wrong(
                    part, "there is no such key", key, did_you_mean(key, known, "remove it")
                )

    def _open(self, part: str, key: str) -> None:
        cure = "write what it is in place of the ?; the lines above it say what may stand there"
        self._add("IMPORT-1", part, f"'{key}' is not decided yet", OPEN, cure)

    def _unknown(self, part: str, name: str) -> None:
        cure = did_you_mean(
            name, [*_all_targets(), SERVICES, IGNORE], "`planner columns` lists them"
        )
        self._wrong(part, "the planner has no such column", name, cure)

    def _wrong(self, part: str, message: str, found: str, cure: str) -> None:
        self._add("IMPORT-2", part, message, found, cure)

    def _add(self, code: str, part: str, message: str, found: str, cure: str) -> None:
        self.problems.append(
            Problem(self.file, None, None, code, f"[{part}] {message}", found, cure)
        )


PARTS: Final = (
    "export",
    "columns",
    "keep",
    "leave_out",
    "units",
    "dates",
    "services",
    "glue",
    "otherwise",
    "words",
)


def _can_join(target: str, glue: Mapping[str, str]) -> bool:
    column = column_of(target)
    if column.kind in NUMBER_KINDS:
        return glue.get(target) == "+"
    return column.kind in JOINED_KINDS


Remembered = Mapping[str, Mapping[str, Mapping[str, str]]]
"""Table -> key -> column -> text."""

_ABOUT = (
    "What `planner import` wrote into the tables last, to tell what somebody typed since. "
    "Leave it as it is; without it, every cell that differs from the export counts as typed."
)


def memory_path(mapping: Path) -> Path:
    """Where it lies: 'import-memory.json' beside 'import.toml'."""
    return mapping.with_name(f"{mapping.stem}-memory.json")


def read_memory(path: Path) -> dict[str, dict[str, dict[str, str]]]:
    """Empty when there is none. Raises PlannerError when it cannot be read."""
    if not path.exists():
        return {table: {} for table in TABLES}
    try:
        content = json.loads(text_of(path))
        return {
            table: {
                str(key): {str(name): str(text) for name, text in row.items()}
                for key, row in content[table].items()
            }
            for table in TABLES
        }
    except (OSError, ValueError, KeyError, AttributeError, TypeError, RecursionError) as error:
        said = why(error) if isinstance(error, OSError | ValueError) else "it is no import's memory"
        raise PlannerError(
            f"{path} cannot be read ({said}); put back an older copy, or delete it: every "
            "cell that differs from the export then counts as typed by hand and stays"
        ) from error


def memory_text(memory: Remembered) -> str:
    """The file's text, the same for the same memory."""
    content = {"about": _ABOUT, **memory}
    return json.dumps(content, ensure_ascii=False, indent=1, sort_keys=True) + "\n"
