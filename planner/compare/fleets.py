"""Fleets of a comparison: the workbook's own tables, and others laid over them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from planner.chain import check_workbook
from planner.compare.model import PRESENT
from planner.compare.prices import FleetPrices, read_prices
from planner.day.day import Workbook
from planner.day.fleet import Truck
from planner.problems import Problem, WorkbookError, counted
from planner.tables.fleet_folder import FleetFolder
from planner.tables.office import load_office_file
from planner.tables.read import read_workbook


@dataclass(frozen=True)
class Fleet:
    """Trucks that are compared. kept_as: truck -> truck of the present fleet that it is (the same
    vehicle), so that it is neither bought nor sold; the others are bought. refitted: every truck is
    the present one with other compartments."""

    name: str
    trucks: Mapping[str, Truck]
    prices: FleetPrices
    kept_as: Mapping[str, str]
    refitted: bool = False

    @property
    def words(self) -> str:
        """What it is, in words."""
        tanks = [tank for truck in self.trucks.values() for tank in truck.compartments]
        gal = sum(tank.capacity_gal for tank in tanks)
        return (
            f"{counted(len(self.trucks), 'truck')}, {counted(len(tanks), 'compartment')}, "
            f"{gal:,.0f} gal"
        )


def read_fleets(workbook: Path, folders: Mapping[str, Path]) -> tuple[Workbook, list[Fleet]]:
    """The workbook and its fleets, the present one first: the folder of that name, or the
    workbook's own trucks. Raises WorkbookError with every problem of all of them."""
    reading = check_workbook(workbook)
    problems = list(reading.problems)
    own_folder = workbook if workbook.is_dir() else workbook.parent
    books: dict[str, Workbook] = {}
    if reading.workbook is not None:
        books[PRESENT] = reading.workbook
    known = set(reading.problems)
    mapping = load_office_file(workbook).columns
    for name, folder in folders.items():
        other = read_workbook(workbook, mapping, FleetFolder(name, folder))
        problems += [problem for problem in other.problems if problem not in known]
        if other.workbook is not None:
            books[name] = other.workbook
    places = {PRESENT: own_folder, **folders}
    prices: dict[str, FleetPrices] = {}
    for name, book in books.items():
        place = f"{name}/" if name in folders else ""
        prices[name], found = read_prices(
            place, places[name], list(book.trucks), prices.get(PRESENT)
        )
        problems += found
        if not book.trucks and not found:
            problems.append(_no_truck(name))
    if problems or reading.workbook is None:
        raise WorkbookError(problems)
    present = books[PRESENT].trucks
    fleets = [
        Fleet(name, book.trucks, prices[name], _kept(book.trucks, present))
        for name, book in books.items()
    ]
    return reading.workbook, fleets


def without_yearly_cost(present: Fleet, fleets: Sequence[Fleet]) -> tuple[str, ...]:
    """What is easily forgotten and would make a fleet look cheap, in words."""
    stated = any(one.yearly_fixed for one in present.prices.by_truck.values())
    notes = []
    for fleet in fleets if stated else ():
        bare = [
            name
            for name, one in fleet.prices.by_truck.items()
            if one.purchase is not None and not one.yearly_fixed
        ]
        if bare:
            notes.append(
                f"{fleet.name}: its fleet.toml states no yearly_fixed (insurance, registration) "
                f"for {', '.join(bare)}; it counts as 0."
            )
    return tuple(notes)


def merge_same(fleets: Sequence[Fleet]) -> tuple[list[Fleet], tuple[str, ...]]:
    """The fleets without those whose trucks an earlier one has, at the same prices or at none; and
    in words which were left out for that."""
    found: list[Fleet] = []
    notes = []
    for fleet in fleets:
        same = next((one for one in found if _same(one, fleet)), None)
        if same is None:
            found.append(fleet)
        elif same.name != fleet.name:
            notes.append(f"{fleet.name} has the same trucks as {same.name} and is shown there.")
    return found, tuple(notes)


def _same(one: Fleet, other: Fleet) -> bool:
    first, second = (
        {name: truck.clean for name, truck in fleet.trucks.items()} for fleet in (one, other)
    )
    return first == second and other.prices.by_truck in (one.prices.by_truck, {})


def _kept(trucks: Mapping[str, Truck], present: Mapping[str, Truck]) -> dict[str, str]:
    return {
        truck_id: truck_id
        for truck_id, truck in trucks.items()
        if truck_id in present and _vehicle(truck) == _vehicle(present[truck_id])
    }


def _vehicle(truck: Truck) -> tuple[object, ...]:
    """What makes it this vehicle, whoever drives it and when."""
    size = truck.height_ft, truck.length_ft, truck.width_ft
    return truck.ready_lb, truck.gvwr_lb, size, truck.clean.lines, truck.clean.compartments


def _no_truck(name: str) -> Problem:
    file = "trucks" if name == PRESENT else f"{name}/trucks.csv"
    cure = "write yes under in_service of at least one"
    return Problem(file, None, "in_service", "FLEET-1", "no truck is in service", cure=cure)
