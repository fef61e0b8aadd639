"""The first look at an export: what its columns probably are."""

import csv
import re
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import cache, partial
from importlib import resources

from planner.importing.cells import DAY_FIRST, MONTH_FIRST, is_local, split_cell
from planner.importing.mapping import OPEN, PROPERTY, SERVICES, ExportMapping, column_of
from planner.importing.rows import Export, service_words
from planner.tables.cells import YES
from planner.tables.columns import columns_of
from planner.tables.text import CellError, alike, header_name, letters, nearest

KEEP = "keep"
SPAN = ("due_from", "due_to")
BEHIND = 100
"""Added to the rank of a column that is joined behind others."""
ADDRESS_PARTS = ("properties.address", "properties.town", "properties.state", "properties.zip")
GOOD_STATUS = ("active", "current", "customer", "yes", "y", "open", "scheduled")

_ELSEWHERE = frozenset(("billing", "bill", "mailing", "invoice", "payment", "spouse", "emergency"))
_FILLERS = frozenset(
    ("service", "svc", "serv", "site", "property", "prop", "primary", "main", "customer", "cust")
)
_FILLERS |= {
    "job",
    "home",
    "contact",
    "client",
    "the",
    "of",
    "in",
    "est",
    "estimated",
    "measured",
    "approx",
    "total",
    "our",
}
_AREA_WORDS = frozenset(("lot", "yard", "size", "area", "ft", "sqft", "sf", "acres", "feet", "k"))
_UNITS = (
    ("acre", re.compile(r"\b(acres?|acreage|ac)\b")),
    ("K", re.compile(r"\b(k|ksf|m|1000s?|000s?|thousands?)\b")),
    ("sq ft", re.compile(r"\b(sq\s?ft|sqft|sf|square (feet|footage)|ft2)\b")),
)
_BARE = re.compile(r"[\d.,]+")
_SLASHED = re.compile(r"(?<![\d/.-])(\d{1,2})[-/.](\d{1,2})([-/.](\d{4}|\d{2}))?\b")
_HAS_DAY = re.compile(
    r"\d[-/.]\d|\d{5}|\d\W*(jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)|"
    r"\b(jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)[a-z]*\W*\d",
    re.IGNORECASE,
)
_SMALLEST_FT2 = 500
"""Bare numbers from here on are square feet; below, thousands or acres (common practice, no
source)."""


@dataclass
class Guess:
    """mapping: what is probably meant. open_columns: header -> targets that it might be.
    open_units: headers whose bare numbers have no certain unit; needs_area_code: whose phone
    numbers lack one. open_services: words that name no mix surely. asks_dates: whether day and
    month are unclear; asks_year: whether years are missing; asks_due: whether services have no
    day."""

    mapping: ExportMapping
    open_columns: dict[str, list[str]] = field(default_factory=dict)
    open_units: list[str] = field(default_factory=list)
    needs_area_code: list[str] = field(default_factory=list)
    open_services: list[str] = field(default_factory=list)
    asks_dates: bool = False
    asks_year: bool = False
    open_days: list[str] = field(default_factory=list)


@cache
def header_words() -> dict[str, tuple[tuple[str, ...], int]]:
    """A header's letters -> what it names: targets, and its place among words of that name. Targets
    that the planner's tables do not have are left out. 'properties.customer+' is one that is joined
    behind others."""
    text = resources.files("planner.importing").joinpath("header_words.csv")
    words: dict[str, tuple[tuple[str, ...], int]] = {}
    for table in ("orders", "properties"):
        for name in columns_of(table):
            words[_spelling(name.split("_"))] = (f"{table}.{name}",), 0
    for row in csv.DictReader(text.read_text(encoding="utf-8").splitlines()):
        targets = tuple(row["target"].split(", "))
        if all(_exists(target.removesuffix("+")) for target in targets):
            for place, word in enumerate(row["words"].split("|")):
                words[_spelling(word.split())] = targets, place
    return words


def _spelling(words: Iterable[str]) -> str:
    """'type of grass' and 'grass type' are one name."""
    return "".join(sorted(word for word in words if word != "of"))


def is_known_header(text: str) -> bool:
    """Whether a text is a header that says what its column is."""
    return _named(text) is not None


def _exists(target: str) -> bool:
    table, _, name = target.partition(".")
    return not name or name in columns_of(table)


def _words_of(header: str) -> list[str]:
    return header_name(header.replace("#", " no ").replace("?", "")).split("_")


def _named(header: str) -> tuple[tuple[str, ...], int] | None:
    words = _words_of(header)
    if _ELSEWHERE.intersection(words):
        return None
    known = header_words()
    units = {
        "sq",
        "ft",
        "sqft",
        "sf",
        "k",
        "acres",
        "acre",
        "ac",
        "000",
        "1000",
        "lbs",
        "usd",
        "yn",
    }
    for tried in (
        words,
        [word for word in words if word not in _FILLERS],
        [word for word in words if word not in units],
        [word for word in words if word not in _FILLERS | units],
    ):
        found = known.get(_spelling(tried)) or known.get("".join(tried))
        if found:
            return found
    return None


def guess(export: Export, mixes: dict[str, str]) -> Guess:
    """What the columns of an export probably are. mixes: short name -> name of the workbook's."""
    found = Guess(ExportMapping({}))
    columns: dict[str, tuple[str, ...]] = {header: () for header in export.headers}
    keep: dict[str, tuple[str, ...]] = {}
    ranked: dict[str, int] = {}
    for header in export.headers:
        named = _named(header)
        if named is None:
            _perhaps(header, export, found)
        elif named[0] == (KEEP,):
            kept = _kept_words(export.column(header))
            keep |= {header: kept} if kept else {}
        else:
            columns[header], ranked[header] = named
    _settle(columns, ranked, export, found)
    ordered = _in_order_of_names(columns, ranked)
    services, between = _services(ordered, export, mixes, found)
    units = _units(ordered, export, found)
    order = _date_order(ordered, export, found)
    targets = {target for one in ordered.values() for target in one}
    if SERVICES in targets and "orders.date" not in targets:
        found.open_days = [
            day for day in ("orders.due_from", "orders.due_to") if day not in targets
        ]
    found.mapping = ExportMapping(
        ordered, keep, units=units, date_order=order, services=services, between=between
    )
    return found


def _perhaps(header: str, export: Export, found: Guess) -> None:
    """A header that is nearly a known one is asked about; others are not for the planner."""
    near = nearest("".join(_words_of(header)), header_words())
    if near is None or not export.column(header) or _ELSEWHERE.intersection(_words_of(header)):
        return
    targets = header_words()[near][0]
    if alike(near, "".join(_words_of(header))) and targets != (KEEP,):
        found.open_columns[header] = [target.removesuffix("+") for target in targets]


def _settle(
    columns: dict[str, tuple[str, ...]], ranked: dict[str, int], export: Export, found: Guess
) -> None:
    """Of several columns for one target: parts are joined, a second phone is phone_2, and of others
    the one with more cells is taken."""
    whole_name = ("properties.customer",) in columns.values()
    for header, targets in list(columns.items()):
        if targets and targets[0].endswith("+"):
            base = targets[0].removesuffix("+")
            # 'Customer' beside 'First' and 'Last' says it all; 'Unit' goes behind 'Street'.
            columns[header] = () if whole_name and base == "properties.customer" else (base,)
            ranked[header] += BEHIND
    if ("properties.phone_2",) not in columns.values() and _exists("properties.phone_2"):
        phones = [header for header, one in columns.items() if one == ("properties.phone",)]
        for header in phones[1:2]:
            columns[header] = ("properties.phone_2",)
    for target in {one for targets in columns.values() for one in targets}:
        headers = [header for header, targets in columns.items() if target in targets]
        rivals = [header for header in headers if ranked.get(header, 0) < BEHIND]
        if len(rivals) > 1 and target not in (SERVICES, "orders.note"):
            cells = {header: len(export.column(header)) for header in rivals}
            for header in rivals:
                if header != max(rivals, key=cells.__getitem__):
                    columns[header] = ()
                    found.open_columns[header] = [target]
    _split_addresses(columns, export)
    for header, targets in columns.items():
        # 'Svc Due' is a day in one program and a service in another.
        if targets == ("orders.date",) and (SERVICES,) not in columns.values():
            days = export.column(header)
            if days and not any(map(_HAS_DAY.search, days)):
                columns[header] = (SERVICES,)
    for header, targets in columns.items():
        is_day = targets in (("orders.date",), ("orders.due_to",))
        if is_day and any(map(_is_span, export.column(header))):
            columns[header] = tuple(f"orders.{name}" for name in SPAN)
    if not any("properties.lawn_ft2" in targets for targets in columns.values()):
        for header, targets in columns.items():
            if not targets and _AREA_WORDS.intersection(_words_of(header)):
                found.open_columns[header] = ["properties.lawn_ft2"]


def _in_order_of_names(
    columns: dict[str, tuple[str, ...]], ranked: dict[str, int]
) -> dict[str, tuple[str, ...]]:
    """First names go before last names, wherever the export has them."""
    joined = [
        header
        for header, targets in columns.items()
        if targets == ("properties.customer",) and ranked[header] >= BEHIND
    ]
    joined.sort(key=ranked.__getitem__)
    order = []
    for header in columns:
        if header not in joined:
            order.append(header)
        elif joined[0] not in order:
            order += joined
    return {header: columns[header] for header in order}


def _split_addresses(columns: dict[str, tuple[str, ...]], export: Export) -> None:
    """A column of whole addresses is cut, unless town, state and ZIP code have their own."""
    for header, targets in columns.items():
        if targets != ("properties.address",):
            continue
        given = {target for other in columns.values() for target in other}
        parts = tuple(part for part in ADDRESS_PARTS if part not in given or part == targets[0])
        names = tuple(part.split(".")[1] for part in parts)
        place = export.headers.index(header)
        cells = [cells[place] for _, cells in export.rows if cells[place].strip()]
        if len(parts) > 1 and sum(_has_place(cell, names) for cell in cells) > len(cells) / 2:
            columns[header] = parts


def _is_span(cell: str) -> bool:
    try:
        return len(set(split_cell(cell, SPAN).values())) == 2
    except CellError:
        return False


def _has_place(cell: str, names: tuple[str, ...]) -> bool:
    try:
        return bool({"state", "zip"} & set(split_cell(cell, names)))
    except CellError:
        return False


def _kept_words(cells: list[str]) -> tuple[str, ...]:
    counted = Counter(cells)
    if len(counted) > 12:
        return ()
    good = [word for word in counted if word.casefold() in YES or word.casefold() in GOOD_STATUS]
    return tuple(good) if len(good) < len(counted) or good else ()


def _services(
    columns: dict[str, tuple[str, ...]], export: Export, mixes: dict[str, str], found: Guess
) -> tuple[dict[str, tuple[str, ...]], str]:
    cells = [
        cells[export.headers.index(header)].strip()
        for header, targets in columns.items()
        if targets == (SERVICES,)
        for _, cells in export.rows
    ]
    between = ";,|"
    alone = {letters(word) for cell in cells for word in service_words(cell, "") if word}
    alone |= {letters(word) for names in mixes.items() for word in names}
    for mark in "+/&":
        # A name may hold the mark itself: it separates only what also stands alone.
        with_it = [cell for cell in cells if mark in cell]
        parts = {letters(part) for cell in with_it for part in service_words(cell, between + mark)}
        if with_it and parts <= alone:
            between += mark
    words = Counter(word for cell in cells for word in service_words(cell, between))
    services: dict[str, tuple[str, ...]] = {}
    for word in words:
        mix = _mix_of(word, mixes)
        if mix:
            services[word] = (mix,)
        else:
            found.open_services.append(word)
    return services, between


def _mix_of(word: str, mixes: dict[str, str]) -> str:
    """The one mix whose short name or name is the word, is like it, or begins like it."""
    said = letters(word)

    def begins(name: str) -> bool:
        return min(len(said), len(name)) > 2 and (name.startswith(said) or said.startswith(name))

    for test in (said.__eq__, partial(alike, word), begins):
        fitting = [mix for mix, name in mixes.items() if test(letters(mix)) or test(letters(name))]
        if len(fitting) == 1:
            return fitting[0]
    return ""


def _units(columns: dict[str, tuple[str, ...]], export: Export, found: Guess) -> dict[str, str]:
    units = {}
    for header, targets in columns.items():
        for target in targets if targets != (SERVICES,) else ():
            column = column_of(target)
            cells = export.column(header)
            if column.unit == "ft2":
                unit = _area_unit(header, [cell for cell in cells if _BARE.fullmatch(cell)])
                if unit:
                    units[header] = unit
                elif unit is None:
                    found.open_units.append(header)
            elif column.kind == "phone" and any(map(is_local, cells)):
                found.needs_area_code.append(header)
    return units


def _area_unit(header: str, bare: list[str]) -> str | None:
    """Unit of bare numbers; '' = there are none, None = not clear."""
    if not bare:
        return ""
    words = " ".join(_words_of(header))
    for unit, pattern in _UNITS:
        if pattern.search(words):
            return unit
    values = [float(cell.replace(",", "")) for cell in bare if cell.count(".") < 2]
    return "sq ft" if all(value >= _SMALLEST_FT2 for value in values) else None


def _date_order(columns: dict[str, tuple[str, ...]], export: Export, found: Guess) -> str:
    pairs = []
    for header, targets in columns.items():
        if any("." in target and column_of(target).kind == "date" for target in targets):
            for cell in export.column(header):
                for match in _SLASHED.finditer(cell):
                    pairs.append((int(match[1]), int(match[2])))
                    found.asks_year |= not match[3]
    month_first = any(second > 12 for _, second in pairs)
    day_first = any(first > 12 for first, _ in pairs)
    if month_first != day_first:
        return MONTH_FIRST if month_first else DAY_FIRST
    found.asks_dates = bool(pairs) and (month_first or any(a != b for a, b in pairs))
    return OPEN if found.asks_dates else ""


__all__ = ["PROPERTY", "Guess", "guess", "header_words", "is_known_header"]
