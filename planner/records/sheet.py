"""The actuals sheet: its columns, and the text that is printed ready to fill."""

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

from planner.day.day import Day
from planner.exports.rows import hours_text
from planner.exports.text import table_text
from planner.papers.lookup import mix_name, on_board, place_text
from planner.plan.caught import as_told, with_handed
from planner.plan.model import Plan, Stop, TruckPlan, Work
from planner.problems import Problem
from planner.records.told import calls_about
from planner.tables.columns import Column
from planner.tables.one_sheet import SheetKind, read_one_sheet

FILE_NAME: Final = "actuals.csv"
"""Its name in the day's folder."""

FILL, SPRAY, LEFT = "fill", "spray", "left"
"""What a row tells of: one fill of one compartment, one order, or what is left in a compartment at
the end of the day."""

WIND_FROM: Final = "N|NNE|NE|ENE|E|ESE|SE|SSE|S|SSW|SW|WSW|W|WNW|NW|NNW|calm"
"""Where the wind comes from."""


def _column(
    name: str,
    kind: str,
    meaning: str,
    unit: str = "",
    least: float | None = None,
    most: float | None = None,
) -> Column:
    key = name in ("truck", "what")
    return Column("actuals", name, kind, unit, key, key, "", least, most, meaning)


COLUMNS: Final = {
    column.column: column
    for column in (
        _column("truck", "text", "Truck, as planned"),
        _column("stop", "whole", "Stop number, as planned"),
        _column("what", f"choice:{FILL}|{SPRAY}|{LEFT}", "What the row tells of"),
        _column("order", "text", "Order, as planned (spray)"),
        _column("compartment", "text", "Compartment (fill, left)"),
        _column("done", "yes_no", "yes or no; blank = still open"),
        _column("area_ft2", "number", "Area really treated", "ft2", 0, 5_000_000),
        _column("gal", "number", "Gallons really filled, sprayed or left", "gal", 0, 10_000),
        _column("start", "time", "Time of day that the work began"),
        _column("end", "time", "Time of day that the spraying ended"),
        _column("wind_mph", "number", "Wind on the property", "mph", 0, 150),
        _column("wind_from", f"choice:{WIND_FROM}", "Where the wind came from"),
        _column("temperature_f", "number", "Air temperature", "F", -40, 140),
        _column("applicator", "text", "Who applied; blank = as the truck's row has it"),
        _column("license", "text", "License number; blank = as the truck's row has it"),
        _column("supervisor", "text", "Who supervised, where that was somebody else"),
        _column("sign", "yes_no", "Whether the sign was put up"),
        _column("notice", "yes_no", "Whether the notice of the property's row was given"),
        _column("neighbors", "yes_no", "Whether the registered people to be told were told"),
        _column(
            "level_read_gal",
            "number",
            "Level read on the gauge, before the fill or at the end of the day (left)",
            "gal",
            0,
            10_000,
        ),
        _column("lot", "text", "Lot numbers of the products that went in (fill)"),
        _column("sure", "yes_no", "yes = the figure looks wrong, and is right"),
        _column("note", "text", "Why not done, why otherwise, or anything else"),
        _column("plan", "text", "Plan that the row belongs to; blank = not stated"),
    )
}
"""Columns that are read. The sheet also shows what was planned, for the crew only."""

SHOWN_ONLY: Final = (
    "property",
    "address",
    "mix",
    "planned_area_ft2",
    "planned_gal",
    "planned_start",
    "planned_end",
    "asked",
)
"""Columns that are printed and never read back."""


NAMED_BY: Final = ("truck", "stop", "what", "order", "compartment")
"""Columns that say which step of the plan a row is about."""

_HEADERS: Final = (*NAMED_BY, *SHOWN_ONLY, *(name for name in COLUMNS if name not in NAMED_BY))
"""As they are printed: what the row is about, what was planned, room for what was done."""


@dataclass(frozen=True)
class Actual:
    """A row as it was filled in; None = blank. number: its row in the sheet, None where the plan
    itself speaks (`as planned`). file: the sheet's name."""

    file: str
    number: int | None
    truck: str
    what: str
    stop: int | None = None
    order: str = ""
    compartment: str = ""
    done: bool | None = None
    area_ft2: float | None = None
    gal: float | None = None
    start: float | None = None
    end: float | None = None
    wind_mph: float | None = None
    wind_from: str | None = None
    temperature_f: float | None = None
    applicator: str = ""
    license: str = ""
    supervisor: str = ""
    sign: bool | None = None
    notice: bool | None = None
    neighbors: bool | None = None
    level_read_gal: float | None = None
    lot: str = ""
    sure: bool | None = None
    note: str = ""
    plan: str = ""

    def problem(self, column: str | None, code: str, message: str, cure: str) -> Problem:
        """A problem at this row."""
        found: Any = getattr(self, column) if column else ""
        if column in ("start", "end") and found is not None:
            found = hours_text(found)
        text = "" if found is None else f"{found:g}" if isinstance(found, float) else str(found)
        return Problem(self.file, self.number, column, code, message, text, cure)


def actuals_sheet(plan: Plan, day: Day, checksum: str) -> str:
    """The CSV text to print and fill in: each truck's fills, orders and end levels in the order of
    the day. checksum: of the plan's text; every row names it, for rows get sorted and copied."""
    told = as_told(plan, with_handed(plan, day.workbook))
    rows = [row for truck_plan in told.trucks for row in _truck_rows(truck_plan, day)]
    marked = (row | {"plan": plan_mark(checksum)} for row in rows)
    return table_text(_HEADERS, ([row.get(name, "") for name in _HEADERS] for row in marked))


def plan_mark(checksum: str) -> str:
    """How a row names its plan: text that no spreadsheet takes for a number."""
    return f"plan {checksum}"


def _truck_rows(truck_plan: TruckPlan, day: Day) -> list[dict[str, object]]:
    name = truck_plan.truck_id
    rows: list[dict[str, object]] = []
    for stop in truck_plan.stops:
        rows += _stop_rows(name, stop, day)
    if rows:
        last = truck_plan.stops[-1].seq
        rows += [
            _row(name, last, LEFT, day, mix_id, gal, compartment=compartment)
            for compartment, mix_id in on_board(truck_plan).items()
            if (gal := truck_plan.end_gal.get(compartment)) is not None
        ]
    return rows


def _stop_rows(truck_id: str, stop: Stop, day: Day) -> list[dict[str, object]]:
    at = {"property": stop.place_id}
    if stop.place_id:
        at["address"] = place_text(day, stop.place_id).address
    fills = [
        _row(truck_id, stop.seq, FILL, day, fill.mix_id, fill.gal, **at)
        | {"compartment": fill.compartment_id, "planned_start": hours_text(stop.begin_min)}
        for fill in stop.fills
    ]
    works = [
        _row(truck_id, stop.seq, SPRAY, day, work.mix_id, work.gal, **at, order=work.order_id)
        | {
            "planned_area_ft2": round(work.area_ft2, 1),
            "planned_start": hours_text(work.begin_min),
            "planned_end": hours_text(work.end_min),
            "asked": _asked(day, work, stop.place_id),
        }
        for work in stop.orders
    ]
    return fills + works


def _asked(day: Day, work: Work, place_id: str) -> str:
    """What the crew or the office is asked about: sign, notice, people to be told."""
    home = day.workbook.properties.get(place_id)
    texts = [name for name in ("sign", "notice") if home is not None and getattr(home, name)]
    date = day.date.isoformat()
    texts += [
        f"neighbors: {call.person.name}"
        for call in calls_about(day.workbook, date, work.order_id, place_id, work.begin_min)
    ]
    return "; ".join(texts)


def _row(
    truck_id: str, seq: int, what: str, day: Day, mix_id: str, gal: float, **more: str
) -> dict[str, object]:
    planned = {"mix": mix_name(day, mix_id), "planned_gal": round(gal, 2)}
    return {"truck": truck_id, "stop": seq, "what": what, **planned, **more}


KIND: Final = SheetKind(
    "actuals",
    "actuals sheet",
    COLUMNS,
    SHOWN_ONLY,
    "print the sheet again with `planner packet`, and fill that one in",
)


def read_actuals(path: Path) -> tuple[list[Actual], list[Problem]]:
    """The rows of a filled-in sheet (CSV, or an .xlsx with one sheet or one named 'actuals'), and
    everything in it that cannot be read."""
    rows, problems = read_one_sheet(path, KIND)
    values: list[dict[str, Any]] = [dict(row.values) for row in rows]
    found = [Actual(row.file, row.number, **cells) for row, cells in zip(rows, values, strict=True)]
    for row in found:
        if row.what == LEFT and row.level_read_gal not in (None, row.gal) and row.gal is not None:
            message = f"the same row has {row.gal:g} gal left: one level, told twice"
            cure = "write the level that was read, under gal alone"
            problems.append(row.problem("level_read_gal", "REC-13", message, cure))
    return [_levelled(row) for row in found], problems


def _levelled(row: Actual) -> Actual:
    """What is left in the evening is a level that was read: it may stand in either column."""
    if row.what != LEFT or row.gal is not None:
        return row
    return replace(row, gal=row.level_read_gal)
