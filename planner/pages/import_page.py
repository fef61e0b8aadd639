"""An import as a page: the file, what its columns are, what is wrong, what would change."""

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import groupby
from typing import Final

from planner.importing.cells import DAY_FIRST, MONTH_FIRST
from planner.importing.mapping import OPEN, SERVICES, TABLES, column_of
from planner.importing.mapping_text import SEVERAL, MappingLine
from planner.office.imports import Imports, ImportState
from planner.pages.words import Ready, fill
from planner.tables.columns import IGNORE, columns_of

MOST_SHOWN: Final = 200
"""Problems that stand on the page; the rest is counted."""
TITLES: Final = {
    "columns": "What each column of the export is",
    "services": "Which mixes its services are",
    "units": "Units of numbers that stand alone, area codes of phone numbers",
    "dates": "How its days are written",
    "keep": "Only rows with these words are read",
    "leave_out": "Rows with these words are left out",
    "otherwise": "What holds where the export says nothing",
    "words": "Cells that cannot be read as they stand",
    "glue": "What stands between joined columns",
    "export": "The export's sheet, and what separates its services",
}
MAPPING: Final = "step 2 above, what the columns are"
"""How the page calls the mapping, whose file only the command names."""
_PART: Final = re.compile(r"\[(" + "|".join(TITLES) + r")\]")
CUT: Final = (
    ("properties.town", "properties.state", "properties.zip"),
    ("properties.address", "properties.town", "properties.state", "properties.zip"),
    ("properties.lat", "properties.lon"),
    ("properties.phone", "properties.phone_2"),
    ("orders.due_from", "orders.due_to"),
)
"""Columns that one cell of an export often holds together."""


@dataclass(frozen=True)
class MappingField:
    """One line with what may stand in it: (value, words), none = any text."""

    line: MappingLine
    choices: tuple[tuple[str, str], ...]

    @property
    def listed(self) -> bool:
        """Whether several of the mixes may stand there."""
        return self.line.part == "services"

    @property
    def title(self) -> str:
        """What stands before it."""
        dates = (self.line.part, self.line.key) == ("dates", "order")
        return "3/4/27 in the export" if dates else self.line.key


def import_page(imports: Imports) -> str:
    """The whole page."""
    return fill("import.html", workbook=imports.workbook.name, main=Ready(import_main(imports)))


def import_main(imports: Imports) -> str:
    """What changes in it: the element i-main."""
    state = imports.state()
    mixes = imports.mixes() if state.export else {}
    return fill(
        "import_main.html",
        state=state,
        mappings=imports.mappings(),
        mixes=[(IGNORE, "not sprayed by these trucks"), *mixes.items()],
        parts=list(_parts(state)),
        undecided=sum(line.is_open for line in state.lines),
        shown=[
            replace(
                one,
                file=MAPPING if one.file == state.mapping else one.file,
                message=_in_titles(one.message),
                cure=_in_titles(one.cure),
            )
            for one in state.problems[:MOST_SHOWN]
        ],
        wishes=imports.wishes,
        back=imports.can_take_back,
        several=SEVERAL.strip(),
    )


def _in_titles(text: str) -> str:
    """Parts of the mapping file, as [words], by the titles under which the page shows them."""
    return _PART.sub(lambda part: f"“{TITLES.get(part[1], part[1])}”", text)


def _parts(state: ImportState) -> Iterator[tuple[str, int, list[MappingField]]]:
    """Title, how many are to be decided, and fields of each part."""
    for (part, of), lines in groupby(state.lines, key=lambda line: (line.part, line.of)):
        fields = [MappingField(line, _choices(line)) for line in lines]
        title = TITLES.get(part, part) + (f": {of}" if of else "")
        yield title, sum(field.line.is_open for field in fields), fields


def _choices(line: MappingLine) -> tuple[tuple[str, str], ...]:
    found: dict[str, str] = {}
    if line.part == "columns":
        found = {IGNORE: "not for the planner", SERVICES: "services that are due"}
        for table in TABLES:
            for name in columns_of(table):
                target = f"{table}.{name}"
                found[target] = f"{target} ({column_of(target).meaning[:60]})"
        found |= {SEVERAL.join(names): " + ".join(names) for names in CUT}
    elif (line.part, line.key) == ("dates", "order"):
        found = {
            MONTH_FIRST: "March 4, 2027: the month stands first",
            DAY_FIRST: "April 3, 2027: the day stands first",
        }
    if not found:
        return ()
    found = {OPEN: "? to be decided"} | found if line.is_open else found
    return tuple({line.value: line.value.replace(SEVERAL, " + "), **found}.items())
