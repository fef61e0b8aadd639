"""An export's rows -> the properties and orders that it tells of; short names of orders stay the
same from one import to the next."""

import datetime as dt
import itertools
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field

from planner.importing.mapping import PROPERTY, SERVICES, ExportMapping
from planner.importing.rows import ExportRow
from planner.problems import Problem
from planner.tables.text import header_name

MOVED_DAYS = 21
"""An order that is due within this many days of where the last import had it is the same order,
moved; rounds of one service lie farther apart (common practice, no source)."""

Cells = Mapping[str, str]


@dataclass(frozen=True)
class Due:
    """A service that is due. number: row of the export. own: order number that the export gives, ''
    = none. cells: column -> text, property, mix and days among them."""

    number: int
    own: str
    cells: Cells

    @property
    def what(self) -> tuple[str, str]:
        """Property and mix."""
        return self.cells["property"], self.cells["mix"]


def named_orders(
    dues: list[Due], before: Mapping[str, Cells], done: Collection[str]
) -> list[tuple[str, Due]]:
    """Each with its order's short name. before: orders of the last import by name; done:
    orders that something is recorded of: they are never moved.

    A name that the export does not give is made of property, mix and last day; it is kept when the
    days move a little.
    """
    named: dict[int, str] = {id(due): due.own for due in dues if due.own}
    own = set(named.values())
    free: dict[tuple[str, str], dict[str, Cells]] = {}
    for name, cells in before.items():
        if name not in own:
            free.setdefault((cells.get("property", ""), cells.get("mix", "")), {})[name] = cells
    rest = sorted(
        (due for due in dues if not due.own), key=lambda due: (due.what, _days(due.cells))
    )
    for due in rest:
        same = free.get(due.what, {})
        exact = [name for name in same if _days(same[name]) == _days(due.cells)]
        if exact:
            named[id(due)] = exact[0]
            del same[exact[0]]
    known = {*before, *own}
    for due in rest:
        if id(due) in named:
            continue
        same = free.get(due.what, {})
        apart = [(_apart(same[name], due.cells), name) for name in same if name not in done]
        if apart and min(apart)[0] <= MOVED_DAYS:
            named[id(due)] = min(apart)[1]
            del same[min(apart)[1]]
        else:
            named[id(due)] = _new_name(due, known)
            known.add(named[id(due)])
    return [(named[id(due)], due) for due in dues]


def _days(cells: Cells) -> tuple[str, str]:
    day = cells.get("date", "")
    return cells.get("due_from") or day, cells.get("due_to") or day


def _apart(one: Cells, other: Cells) -> int:
    try:
        first, second = (dt.date.fromisoformat(_days(cells)[1]) for cells in (one, other))
    except ValueError:
        return 10 * MOVED_DAYS
    return abs((first - second).days)


def _new_name(due: Due, known: Collection[str]) -> str:
    day = "".join(_days(due.cells)[1].split("-"))[2:]
    name = "-".join(filter(None, (*due.what, day)))
    numbered = (f"{name}-{number}" for number in itertools.count(2))
    return next(one for one in itertools.chain([name], numbered) if one not in known)


@dataclass
class WantedRows:
    """properties: short name -> (row of the export, column -> text). dues: services due. problems:
    rows that contradict each other or say too little; they are in neither. seen: services due by
    what makes them the same. unpriced: rows with one price for several services, which is not
    taken."""

    properties: dict[str, tuple[int, dict[str, str]]] = field(default_factory=dict)
    dues: list[Due] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    seen: dict[tuple[str | None, ...], Due] = field(default_factory=dict)
    unpriced: list[int] = field(default_factory=list)


def wanted(rows: tuple[ExportRow, ...], mapping: ExportMapping, export: str) -> WantedRows:
    """What the rows say. Rows of one property tell of it together: an export may have a row for
    each service."""
    found = WantedRows()
    for row in rows:
        home = _of_table("properties", row.cells)
        key = home.get("property") or _name_of_address(home)
        if not key:
            message = "the row names no property: short name and address are blank"
            cure = "fill one in, or leave the row out"
            found.problems.append(Problem(export, row.number, None, "IMPORT-6", message, "", cure))
            continue
        home["property"] = key
        clash = _clash(found.properties.get(key), home, mapping)
        if clash:
            found.problems.append(Problem(export, row.number, *clash))
            continue
        _, known = found.properties.setdefault(key, (row.number, home))
        known.update({name: text for name, text in home.items() if text})
        _add_dues(row, key, mapping, export, found)
    return found


def _of_table(table: str, cells: Mapping[str, str]) -> dict[str, str]:
    return {
        target.split(".")[1]: text
        for target, text in cells.items()
        if target.split(".")[0] == table
    }


def _name_of_address(home: Mapping[str, str]) -> str:
    return header_name(home.get("address", "")).replace("_", "-")


def _clash(
    before: tuple[int, dict[str, str]] | None, home: Mapping[str, str], mapping: ExportMapping
) -> tuple[str | None, str, str, str, str] | None:
    """Column, code, message, found and cure where two rows of a property say different things."""
    if before is None:
        return None
    number, known = before
    for name, text in home.items():
        if text and known.get(name) and known[name] != text:
            headers = mapping.headers_of(f"properties.{name}")
            message = f"row {number} says '{known[name]}' of the same property"
            cure = "correct one"
            if mapping.headers_of(PROPERTY):
                cure += (
                    f", or, if they are two places, map one more column to {PROPERTY}, which then "
                    "joins into its short name"
                )
            return " + ".join(headers) or None, "IMPORT-5", message, text, cure
    return None


def _add_dues(
    row: ExportRow, key: str, mapping: ExportMapping, export: str, found: WantedRows
) -> None:
    common = {**_of_table("orders", row.cells), "property": key}
    mixes = row.mixes
    if not mapping.headers_of(SERVICES):
        mixes = tuple(filter(None, [common.get("mix", "")]))
    if not mixes:
        return
    if not (common.get("date") or (common.get("due_from") and common.get("due_to"))):
        message = "the row has services and no day, or only one end of a span, for them"
        cure = (
            'fill it in, or give one for all such rows under [otherwise]: "orders.due_to" = "..."'
        )
        found.problems.append(Problem(export, row.number, None, "IMPORT-6", message, "", cure))
        return
    if common.get("date"):
        # A day of its own goes before a span for all.
        common = {**common, "due_from": "", "due_to": ""}
    if len(mixes) > 1 and common.pop("revenue", ""):
        # One price for several services says nothing of each.
        found.unpriced.append(row.number)
    own = common.pop("order", "")
    for mix in mixes:
        name = f"{own}-{mix}" if own and len(mixes) > 1 else own
        due = Due(row.number, name, {**common, "mix": mix})
        twin = found.seen.setdefault(_identity(due), due)
        if twin is due:
            found.dues.append(due)
        elif twin.cells != due.cells:
            message = f"row {twin.number} has the same order with other cells"
            cure = "leave one of the two rows out"
            found.problems.append(
                Problem(export, row.number, None, "IMPORT-5", message, own or mix, cure)
            )


def _identity(due: Due) -> tuple[str | None, ...]:
    if due.own:
        return (due.own,)
    return (*due.what, *(due.cells.get(name) for name in ("date", "due_from", "due_to")))
