"""A mapping file as lines that a person decides one by one; all else in it stays as it is."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Final

from planner.importing.mapping import OPEN
from planner.importing.mapping_text import quoted

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
