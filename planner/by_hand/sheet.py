"""The stop order sheet: its columns, its text in the day's folder, its rows as a person changed
them or as a plan has them, and the codes of what can be wrong.

The order of the rows is the order of the day. Only COLUMNS are read back.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from planner.day.day import Day
from planner.day.fleet import Compartment
from planner.exports.rows import hours_text
from planner.exports.text import csv_text
from planner.papers.lookup import place_text
from planner.plan.model import NotDone, Plan, Stop, TruckPlan
from planner.problems import Problem, WorkbookError
from planner.tables.columns import Column
from planner.tables.one_sheet import SheetKind, read_one_sheet

OUT_BY_HAND: Final = "HAND"
"""Code of an unserved order that a person took out of the day."""


class StopOrderError(WorkbookError):
    """A stop order from which no plan can be worked out; carries every problem found."""

    place = "the stop order"


FILE_NAME: Final = "stop-order.csv"
"""Its name in the day's folder."""

LOAD, ORDER, REFILL, LUNCH = "load", "order", "refill", "lunch"
"""What a row tells: what a compartment is loaded with, or one thing that the truck does."""


def _column(name: str, kind: str, meaning: str, unit: str = "") -> Column:
    least, most = (0.0, 5000.0) if unit else (None, None)
    return Column("stop_order", name, kind, unit, False, False, "", least, most, meaning)


COLUMNS: Final = {
    column.column: column
    for column in (
        _column("truck", "text", "Truck; blank = nobody does the order today"),
        _column(
            "does", f"choice:{LOAD}|{ORDER}|{REFILL}|{LUNCH}", "What the row tells; blank = order"
        ),
        _column("what", "text", "Order, site of a refill, or compartment that is loaded"),
        _column("mix", "text", "Mix that the compartment is loaded with; blank = nothing"),
        _column("pinned", "yes_no", "yes = the order stays on this truck when planned again"),
        _column("fill_to_gal", "number", "Most in the compartment; blank = all it holds", "gal"),
    )
}
"""Columns that are read."""

SHOWN_ONLY: Final = ("planned_stop", "planned_begin", "planned_gal", "name", "address", "note")
"""Columns that are printed and never read back."""

KIND: Final = SheetKind(
    "stop_order",
    "stop order",
    COLUMNS,
    SHOWN_ONLY,
    f"take the {FILE_NAME} of the plan's folder and change that one",
)


@dataclass(frozen=True)
class ByHandRow:
    """A row as it is printed; the names are the headers."""

    truck: str
    does: str
    what: str
    mix: str
    pinned: str
    fill_to_gal: float | str = ""
    planned_stop: int | str = ""
    planned_begin: str = ""
    planned_gal: float | str = ""
    name: str = ""
    address: str = ""
    note: str = ""


def stop_order_sheet(plan: Plan, day: Day) -> str:
    """The CSV text: each truck's loading and stops in the order of the day, then the orders that
    nobody does. What was done when the day was planned again is not in it."""
    rows: list[ByHandRow] = []
    for truck_plan in plan.trucks:
        rows += _loads(truck_plan, day)
        for stop in truck_plan.stops:
            if stop.done:
                continue
            rows += _stop(truck_plan.truck_id, stop, plan, day)
    rows += [_left_out(entry, day) for entry in plan.unserved]
    return csv_text(ByHandRow, rows)


def _loads(truck_plan: TruckPlan, day: Day) -> Iterator[ByHandRow]:
    truck = day.workbook.trucks.get(truck_plan.truck_id)
    tanks = {one.compartment_id: one for one in truck.compartments} if truck is not None else {}
    most = truck_plan.fill_to_gal
    for name, mix_id in truck_plan.loading.items():
        note, gal = _tank_note(tanks[name]) if name in tanks else "", most.get(name, "")
        yield ByHandRow(truck_plan.truck_id, LOAD, name, mix_id or "", "", gal, note=note)


def _tank_note(tank: Compartment) -> str:
    note = f"{tank.capacity_gal:g} gal, line {tank.line_id}"
    if tank.reserved_for:
        note += f", only {tank.reserved_for}"
    if tank.last_mix:
        note += f"; {tank.leftover_gal:g} gal of {tank.last_mix} in it"
    return note


def _stop(truck_id: str, stop: Stop, plan: Plan, day: Day) -> Iterator[ByHandRow]:
    if stop.kind == "lunch":
        yield ByHandRow(truck_id, LUNCH, "", "", "", "", stop.seq, hours_text(stop.begin_min))
    elif stop.kind == "refill":
        place = place_text(day, stop.place_id)
        gal = round(sum(fill.gal for fill in stop.fills), 2)
        yield ByHandRow(
            *(truck_id, REFILL, stop.place_id, "", "", "", stop.seq, hours_text(stop.begin_min)),
            *(gal, place.title, place.address),
        )
    for work in stop.orders:
        place = place_text(day, stop.place_id)
        yield ByHandRow(
            truck=truck_id,
            does=ORDER,
            what=work.order_id,
            mix=work.mix_id,
            pinned="yes" if work.order_id in plan.pinned else "",
            planned_stop=stop.seq,
            planned_begin=hours_text(work.begin_min),
            planned_gal=round(work.gal, 2),
            name=place.title,
            address=place.address,
        )


def _left_out(entry: NotDone, day: Day) -> ByHandRow:
    order = day.workbook.orders.get(entry.order_id)
    if order is None:
        return ByHandRow("", ORDER, entry.order_id, "", "", note=entry.reason)
    place = place_text(day, order.property_id)
    return ByHandRow(
        "",
        ORDER,
        entry.order_id,
        order.mix_id,
        "",
        name=place.title,
        address=place.address,
        note=entry.reason,
    )


@dataclass(frozen=True)
class HandRow:
    """One row. file: its sheet; number: its row there, None in a plan; truck: '' = nobody does it;
    what: order, site or compartment; place: where it stands in a plan, in words, '' in a sheet;
    fill_to_gal: the most gallons in a compartment, None = as many as it holds."""

    file: str
    number: int | None
    truck: str
    does: str
    what: str
    mix: str
    pinned: bool
    place: str = ""
    fill_to_gal: float | None = None

    def problem(self, column: str | None, code: str, message: str, cure: str) -> Problem:
        """A problem at this row."""
        found = str(getattr(self, column)) if column else ""
        if self.number is None:
            return Problem(self.file, None, None, code, f"{self.place}: {message}", found, cure)
        return Problem(self.file, self.number, column, code, message, found, cure)

    @property
    def where(self) -> str:
        """'row 12', or its place in the plan."""
        return self.place if self.number is None else f"row {self.number}"


def rows_of_sheet(path: Path) -> tuple[list[HandRow], list[Problem]]:
    """The rows of a changed stop order (CSV or .xlsx), and every cell that cannot be read."""
    found, problems = read_one_sheet(path, KIND)
    rows = []
    for row in found:
        text = {name: str(row.values.get(name, "")) for name in ("truck", "what", "mix")}
        does = str(row.values.get("does", ORDER))
        pinned, most = bool(row.values.get("pinned", False)), row.values.get("fill_to_gal")
        gal = most if isinstance(most, float) else None
        rows.append(
            HandRow(row.file, row.number, **text, does=does, pinned=pinned, fill_to_gal=gal)
        )
    return rows, problems


def rows_of_plan(plan: Plan, file: str = "plan.json") -> list[HandRow]:
    """A plan's loading and stops as rows; its clock times and gallons are not among them, nor is
    what was done when the day was planned again."""
    return [row for truck_plan in plan.trucks for row in _truck_rows(truck_plan, plan, file)]


def _truck_rows(truck_plan: TruckPlan, plan: Plan, file: str) -> Iterator[HandRow]:
    name = truck_plan.truck_id
    most = truck_plan.fill_to_gal
    for compartment_id, mix_id in truck_plan.loading.items():
        place, gal = f"truck {name}, loading", most.get(compartment_id)
        yield HandRow(file, None, name, LOAD, compartment_id, mix_id or "", False, place, gal)
    for stop in truck_plan.stops:
        if stop.done:
            continue
        place = f"truck {name}, stop {stop.seq}"
        if stop.kind == "refill":
            yield HandRow(file, None, name, REFILL, stop.place_id, "", False, place)
        elif stop.kind == "lunch":
            yield HandRow(file, None, name, LUNCH, "", "", False, place)
        for work in stop.orders:
            pinned = work.order_id in plan.pinned
            yield HandRow(file, None, name, ORDER, work.order_id, work.mix_id, pinned, place)
