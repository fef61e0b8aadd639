"""Cases of places to write to, of Excel files and of records that a second reviewer tried."""

from __future__ import annotations

import datetime as dt
import sqlite3
import zipfile
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path

import openpyxl

from tests.fuzz.cases_options import USUAL
from tests.fuzz.look import FINE, NOT_WRITTEN, Case
from tests.fuzz.office import ALWAYS, DAY

BOOK = ("check", "book.xlsx")
STRICT = (
    b"http://schemas.openxmlformats.org/spreadsheetml/2006/main",
    b"http://purl.oclc.org/ooxml/spreadsheetml/main",
)
"""Names of ISO/IEC 29500-1, transitional and strict."""
OWN = ("kept/orders.csv", "kept/sums.csv", "kept/planner.toml", "kept/records.sqlite")
WRITERS: dict[str, tuple[str, ...]] = {
    "export": ("export", "kept", "--force", "--out"),
    "rounds": ("rounds", "kept", "--date", DAY, "--force", "--csv"),
    "days": ("days", "kept", "--date", DAY, "--save"),
    "record": ("record", "kept", "--force", "--backup"),
}
RESULTS = {
    "plan": ("plan", "office", "--date", DAY, *ALWAYS, "--out"),
    "phone": ("phone", "office", "day", "--out"),
    "weeks": ("weeks", "office", "--from", DAY, "--days", "2", *ALWAYS, "--out"),
    "compare": ("compare", *USUAL["compare"][:-1]),
}

NODES = "".join(f'<node id="{number}" lat="40.5{number}" lon="-83.50"/>' for number in range(1, 5))
WAY = '<way id="{0}"><nd ref="{1}"/><nd ref="{2}"/><tag k="highway" v="{3}"/></way>'
ROADS = {
    "is blank": "  ",
    "is a page": "<html><body>Not found</body></html>",
    "is cut": f'<osm version="0.6">{NODES}<way id="1"><nd re',
    "holds nothing": '<osm version="0.6"/>',
    "holds no ways": f'<osm version="0.6">{NODES}</osm>',
    "holds no nodes": f'<osm version="0.6">{WAY.format(1, 1, 2, "residential")}</osm>',
    "holds paths": f'<osm version="0.6">{NODES}{WAY.format(1, 1, 2, "footway")}</osm>',
    "has a place that is no number": f'<osm version="0.6">{NODES}</osm>'.replace("-83.50", "nan"),
    "has an id too large": f'<osm version="0.6">{NODES}</osm>'.replace('="1"', f'="{10**19}"'),
}
"""Extracts without a road, as XML (https://wiki.openstreetmap.org/wiki/OSM_XML)."""


def cases() -> Iterator[Case]:
    """All of them."""
    for command, words in WRITERS.items():
        for place in OWN:
            yield Case(f"{command} into {place} of a workbook", (*words, place), says=(place,))
        yield Case(
            f"{command} into what is printed", (*words, "/dev/stdout"), says=("/dev/stdout",)
        )
    for command, words in RESULTS.items():
        for mark in ("plan.json", "comparison.json", "links.html", "weeks.html"):
            own = {"plan": "plan.json", "compare": "comparison.json", "phone": "links.html"}
            if own.get(command, "weeks.html") != mark:
                other = partial(_other_results, mark)
                name = f"{command} over a folder with {mark}"
                yield Case(name, (*words, "there"), other, says=("another kind",))
    for time in (7, 7.5, 1.04, dt.datetime(1900, 1, 7, 7, 30)):
        typed = partial(_typed, "trucks", "shift_start", time)
        yield Case(f"book.xlsx: a truck begins at {time}", BOOK, typed, says=("trucks", "row 2"))
    typed = partial(_typed, "sites", "close", 1)
    yield Case("book.xlsx: a site closes at 24:00", BOOK, typed, FINE)
    yield Case("book.xlsx saved as Strict", BOOK, partial(_parts, _strict), says=("Strict",))
    for part in ("xl/styles.xml", "[Content_Types].xml", "xl/workbook.xml"):
        yield Case(f"book.xlsx without {part}", BOOK, partial(_parts, lambda it, p=part: it.pop(p)))
    for how, text in {"null": "null", "another's": '{"a": [1]}', "a list": "[]"}.items():
        write = partial(_text, "office/import-memory.json", text)
        words = ("import", "office", "export.csv")
        yield Case(
            f"import with a memory that is {how}", words, write, says=("no import's memory",)
        )
    for name, words in {
        "--verify": ("record", "kept", "--verify"),
        "plan": ("plan", "kept", "--date", DAY, *ALWAYS, "--out", "new"),
        "export": ("export", "kept"),
    }.items():
        empty = partial(_text, "kept/records.sqlite", "")
        yield Case(f"{name}: records of no bytes", words, empty, says=("the file is empty",))
        gone = partial(_statements, ("DROP TRIGGER event_is_never_erased",
                                     "DELETE FROM event WHERE seq = 5"))  # fmt: skip
        yield Case(f"{name}: the last record is gone", words, gone, says=("records",))
    yield Case(
        "orders.csv: an order without a name", ("check", "office"), _no_name, says=("CELL-1",)
    )
    for how, text in ROADS.items():
        for words in (("roads", "town.osm"), (*RESULTS["plan"], "new", "--roads", "town.osm")):
            write = partial(_text, "town.osm", text)
            yield Case(f"{words[0]}: town.osm {how}", words, write, says=("town.osm",))
    for words in (("new", "fresh.xlsx"), ("record", "kept", "--backup", "copy.sqlite"),
                  ("rounds", "office", "--date", DAY), (*RESULTS["compare"], "there")):  # fmt: skip
        full = {"file_bytes": 300}
        asked = (".there-asked.json",)
        name = f"{words[0]} {words[1]} where no file may be larger than 300 bytes"
        yield Case(name, words, codes=NOT_WRITTEN, writes=asked, how=full)


def _other_results(mark: str, home: Path) -> None:
    (home / "there").mkdir()
    (home / "there" / mark).write_text("{}")


def _typed(sheet: str, column: str, value: object, home: Path) -> None:
    """Typed into a cell that shows times."""
    book = openpyxl.load_workbook(home / "book.xlsx")
    names = [cell.value for cell in book[sheet][1]]
    cell = book[sheet].cell(2, names.index(column) + 1)
    cell.value, cell.number_format = value, "h:mm"
    book.save(home / "book.xlsx")


def _parts(change: Callable[[dict[str, bytes]], object], home: Path) -> None:
    with zipfile.ZipFile(home / "book.xlsx") as book:
        parts = {name: book.read(name) for name in book.namelist()}
    change(parts)
    with zipfile.ZipFile(home / "book.xlsx", "w") as book:
        for name, data in parts.items():
            book.writestr(name, data)


def _strict(parts: dict[str, bytes]) -> None:
    for name, data in parts.items():
        parts[name] = data.replace(*STRICT)


def _text(file: str, text: str, home: Path) -> None:
    (home / file).write_text(text)


def _statements(statements: tuple[str, ...], home: Path) -> None:
    store = sqlite3.connect(home / "kept" / "records.sqlite", isolation_level=None)
    for statement in statements:
        store.execute(statement)
    store.close()


def _no_name(home: Path) -> None:
    file = home / "office" / "orders.csv"
    file.write_text(file.read_text().replace("\n1,A,", "\n,A,"))
