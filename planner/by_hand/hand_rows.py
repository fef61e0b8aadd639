"""Rows of a stop order, from the sheet that a person changed or from a plan."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from planner.by_hand.sheet import KIND, LOAD, LUNCH, ORDER, REFILL
from planner.plan.model import Plan, TruckPlan
from planner.problems import Problem
from planner.tables.one_sheet import read_one_sheet


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
