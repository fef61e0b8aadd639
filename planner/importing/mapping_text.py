"""A guess as the text of a mapping file, with what an office needs to edit it. And a mapping
file as lines that a person decides one by one; all else in it stays as it is."""

import json
import re
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Final

from planner.importing.guess import Guess
from planner.importing.mapping import OPEN, PROPERTY, SERVICES
from planner.importing.rows import Export
from planner.tables.columns import IGNORE
from planner.tables.text import clean

SAMPLES = 3
SAMPLE_LETTERS = 28
MOST_WORDS = 40
"""Cells that are listed under [words]; an export that needs more of them needs another column."""

_HEAD = """\
# What the columns of {name} are. `planner import` reads them by this file.
# Edit it, then run the same command again. Replace every "?"; delete the file to start over.
"""
_COLUMNS = """
# Every column of the export, and what it is:
#   "properties.NAME" or "orders.NAME"   a column of that table (`planner columns properties`)
#   "services"                           what is due there; its words stand under [services]
#   "ignore"                             not for the planner
#   ["properties.town", "properties.zip"] the cell holds both (parts of an address; lat and lon;
#                                        due_from and due_to; phone and phone_2)
# Columns that are the same thing are joined in the order of these lines (first + last name).
"""
_KEEP = """
# Only rows with one of these words in each of these columns are read; under [leave_out] the same
# for rows that are not. Example:  "Status" = ["Active", "Current"]
"""
_UNITS = """
# Unit of numbers that stand alone: "sq ft", "K" (thousands of sq ft) or "acre". For phone numbers
# without one, the area code.
"""
_DATES = """
# 3/4/27 is March 4 in "month first" and April 3 in "day first". A year for dates without one:
# year = 2027
"""
_SERVICES = """
# Which mixes the export's services are, ["MIX1", "MIX2"] for several; "ignore" = not sprayed by
# these trucks. The workbook's mixes:
"""
_OTHERWISE = """
# What holds where the export says nothing. Example:  "properties.state" = "OH"
"""
_WORDS = """
# Cells that cannot be read as they stand = what to write into the table for them; "" = blank.
"""


def mapping_text(
    export: Export,
    guess: Guess,
    mixes: Mapping[str, str],
    unread: Mapping[str, Mapping[str, str]],
    sheet: str,
) -> str:
    """The whole file. unread: header -> cell -> why it cannot be read; sheet: of Excel that was
    asked for."""
    mapping = guess.mapping
    lines = [_HEAD.format(name=export.name)]
    if sheet or mapping.between != ";,|":
        lines += ["[export]", *([f"sheet = {quoted(sheet)}"] if sheet else [])]
        lines += [f"between_services = {quoted(mapping.between)}"]
    lines += [_COLUMNS, "[columns]"]
    if not mapping.headers_of(PROPERTY):
        lines.append("# No column numbers the customers: short names are made of their addresses.")
    lines += [_column(header, export, guess) for header in mapping.columns]
    lines += [
        _KEEP,
        "[keep]",
        *(_kept(header, words, export) for header, words in mapping.keep.items()),
    ]
    lines += ["", "[leave_out]"]
    lines += [_UNITS, "[units]", *(_line(*item) for item in mapping.units.items())]
    lines += [_line(header, OPEN) + _note(_samples(export, header)) for header in guess.open_units]
    lines += [_line(header, OPEN) + "  # the area code" for header in guess.needs_area_code]
    lines += [_DATES, "[dates]"]
    lines += [f"order = {quoted(mapping.date_order)}"] if mapping.date_order else []
    lines += [f'year = "{OPEN}"'] if guess.asks_year else []
    if mapping.headers_of(SERVICES):
        named = [f"#   {mix}: {name}" for mix, name in mixes.items()] or ["#   none yet"]
        lines += [_SERVICES.rstrip("\n"), *named, "", "[services]"]
        lines += [_line(word, found[0]) for word, found in mapping.services.items()]
        lines += [_line(word, OPEN) for word in guess.open_services]
    lines += [_OTHERWISE, "[otherwise]"]
    for target in guess.open_days:
        end = "first" if target.endswith("from") else "last"
        lines.append(_line(target, OPEN) + f"  # the {end} day for work of this export: 2027-05-03")
    lines += [_WORDS.rstrip("\n")] if unread else []
    for header, cells in unread.items():
        lines += ["", f"[words.{quoted(header)}]"]
        for cell, why in list(cells.items())[:MOST_WORDS]:
            lines.append(_line(cell, OPEN) + f"  # {why}")
    return "\n".join(lines).rstrip() + "\n"


def _column(header: str, export: Export, guess: Guess) -> str:
    targets = guess.mapping.columns[header]
    note = _samples(export, header)
    if header in guess.open_columns:
        perhaps = " or ".join(guess.open_columns[header])
        return _line(header, OPEN) + _note(f"perhaps {perhaps}: {note}")
    if header in guess.mapping.keep:
        note += " (see [keep])"
    value = targets[0] if len(targets) == 1 else list(targets) if targets else IGNORE
    return _line(header, value) + _note(note)


def _kept(header: str, words: tuple[str, ...], export: Export) -> str:
    counted = Counter(export.column(header))
    found = ", ".join(f"{word} {count}" for word, count in counted.most_common(8))
    return _line(header, list(words)) + _note(f"found: {found}")


def _samples(export: Export, header: str) -> str:
    cells = dict.fromkeys(export.column(header))
    return "; ".join(_shortened(cells, SAMPLES)) or "blank"


def _shortened(cells: Iterable[str], most: int) -> list[str]:
    texts = [clean(cell) for cell in list(cells)[:most]]
    return [
        text if len(text) <= SAMPLE_LETTERS else f"{text[: SAMPLE_LETTERS - 1]}…" for text in texts
    ]


def _line(key: str, value: str | list[str]) -> str:
    return f"{quoted(key)} = {quoted(value)}"


def _note(text: str) -> str:
    return f"  # {text}" if text else ""


def quoted(value: str | list[str]) -> str:
    """As TOML has it."""
    # A JSON text or list of texts is one of TOML, too, but for DEL.
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007F")


SEVERAL: Final = " | "
"""Between values of a line that has several."""

_QUOTED = r'"(?:[^"\\]|\\.)*"'
_LINE: Final = re.compile(
    rf"(?P<key>{_QUOTED}|\w+) *= *(?P<value>{_QUOTED}|\[[^\]]*\]|\d+)[ \t]*(# ?(?P<note>.*))?"
)
_PART: Final = re.compile(rf"\[(\w+)(?:\.({_QUOTED}))?\]")


@dataclass(frozen=True)
class MappingLine:
    """number: of the line in the text, from 0. part, of: 'words' of a header, or a part alone.
    value: as text, several with SEVERAL between; note: what stands behind it."""

    number: int
    part: str
    of: str
    key: str
    value: str
    note: str

    @property
    def is_open(self) -> bool:
        """Whether it is still to be decided."""
        return self.value == OPEN


def mapping_lines(text: str) -> tuple[MappingLine, ...]:
    """The lines of a mapping's text that hold a value on one line."""
    found, part, of = [], "", ""
    for number, line in enumerate(text.split("\n")):
        if head := _PART.match(line):
            part, of = head[1], json.loads(head[2]) if head[2] else ""
        elif row := _LINE.fullmatch(line.rstrip("\r")):
            key, value = (_plain(row[name]) for name in ("key", "value"))
            found.append(MappingLine(number, part, of, key, value, row["note"] or ""))
    return tuple(found)


def decided(text: str, values: Mapping[int, str]) -> str:
    """The text with other values: number of a line -> value."""
    lines = text.split("\n")
    for one in mapping_lines(text):
        value = values.get(one.number, one.value).strip()
        if value != one.value:
            row = _LINE.match(lines[one.number])
            assert row is not None
            told = _told(one, value)
            begin, end = row.span("value")
            lines[one.number] = lines[one.number][:begin] + told + lines[one.number][end:]
    return "\n".join(lines)


def with_open(text: str, part: str, keys: Iterable[str]) -> str:
    """The text with further lines of a part, each to be decided."""
    lines = text.split("\n")
    new = [f"{quoted(key)} = {quoted(OPEN)}" for key in keys]
    at = next((row for row, line in enumerate(lines) if line.startswith(f"[{part}]")), None)
    if at is None:
        return "\n".join([*lines, f"[{part}]", *new, ""])
    return "\n".join([*lines[: at + 1], *new, *lines[at + 1 :]])


def _plain(text: str) -> str:
    if not text.startswith(('"', "[")):
        return text
    try:
        value = json.loads(text)
    except ValueError:
        return text
    return SEVERAL.join(map(str, value)) if isinstance(value, list) else str(value)


def _told(line: MappingLine, value: str) -> str:
    if line.part == "dates" and line.key == "year" and value.isdecimal():
        return value
    several = value.split(SEVERAL)
    return quoted(several if len(several) > 1 else value)
