"""Fleets of a comparison: the workbook's own tables, and others laid over them; fleet.toml
beside them: what their trucks cost to buy and to keep."""

import tomllib
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, fields, replace
from pathlib import Path
from types import MappingProxyType
from typing import Any, Final

from planner.chain import check_workbook
from planner.compare.model import PRESENT
from planner.day.day import Workbook
from planner.day.fleet import Truck
from planner.plain_files import bytes_of, why
from planner.problems import Problem, WorkbookError, counted
from planner.tables.office import load_office_file
from planner.tables.open_sheets import FleetFolder
from planner.tables.read import read_workbook

FLEET_FILE: Final = "fleet.toml"
MOST_MONEY: Final = 1e8
MOST_YEARS: Final = 50.0
DAYS_OF_A_YEAR: Final = 366.0


@dataclass(frozen=True)
class TruckPrices:
    """What a truck costs to own; None = not told. purchase: as it stands in the yard, fitted out;
    yearly_fixed: insurance, registration, parking; resale: at the end of life_years; sells_for:
    what it fetches now, for trucks of the present fleet that another fleet does without; refit: to
    change its compartments (sweeps of compartments and gallons)."""

    purchase: float | None = None
    yearly_fixed: float = 0.0
    resale: float = 0.0
    life_years: float | None = None
    sells_for: float = 0.0
    refit: float | None = None


@dataclass(frozen=True)
class FleetPrices:
    """working_days: a year; interest_percent: a year; None = not told. by_truck: trucks
    whose prices are told; named: those that have a section of their own."""

    working_days: float | None = None
    interest_percent: float | None = None
    by_truck: Mapping[str, TruckPrices] = field(default_factory=lambda: MappingProxyType({}))
    named: frozenset[str] = frozenset()


NO_PRICES: Final = FleetPrices()

_OF_A_YEAR: Final = {"working_days": (1.0, DAYS_OF_A_YEAR), "interest_percent": (0.0, 50.0)}
_KEYS: Final = tuple(entry.name for entry in fields(TruckPrices))


def read_prices(
    place: str, folder: Path, trucks: Collection[str], present: FleetPrices | None = None
) -> tuple[FleetPrices, list[Problem]]:
    """The fleet.toml of a folder (no prices without one), and everything that is wrong in it.
    place: what stands before the file's name in messages; trucks: that the fleet has; present: of
    the fleet whose working days and interest count, None = it is this one."""
    path = folder / FLEET_FILE
    if not path.exists():
        return NO_PRICES, []
    reader = _PriceReader(f"{place}{FLEET_FILE}")
    try:
        content = tomllib.loads(bytes_of(path).decode("utf-8-sig"))
    except (OSError, ValueError, RecursionError) as error:
        reader.tell("", f"cannot be read: {why(error)}", "", "a line looks like purchase = 96000")
        return NO_PRICES, reader.problems
    prices = reader.prices(content, trucks)
    for key in _OF_A_YEAR if present is not None else ():
        own, counts = getattr(prices, key), getattr(present, key)
        if own not in (None, counts):
            cure = "write it once, with the present fleet, and remove it here"
            reader.tell(key, "the present fleet's number counts for all fleets", f"{own:g}", cure)
    return prices, reader.problems


class _PriceReader:
    def __init__(self, file: str) -> None:
        self.file = file
        self.problems: list[Problem] = []

    def prices(self, content: dict[str, Any], trucks: Collection[str]) -> FleetPrices:
        for key in content:
            if key not in (*_OF_A_YEAR, "each_truck", "truck"):
                cure = f"write {', '.join(_OF_A_YEAR)}, [each_truck] or [truck.NAME], or remove it"
                self.tell(key, "there is no such key", key, cure)
        days, interest = (
            self.number(key, content[key], *span) if key in content else None
            for key, span in _OF_A_YEAR.items()
        )
        each = self.truck("each_truck", content.get("each_truck", {}), TruckPrices())
        told = content.get("truck", {})
        if not isinstance(told, dict):
            self.tell("truck", "this is no section", str(told), "write [truck.NAME] above its keys")
            told = {}
        for truck_id in told:
            if truck_id not in trucks:
                cure = f"the trucks in service are {', '.join(trucks)}"
                self.tell(truck_id, "the fleet has no such truck", truck_id, cure, "FLEET-3")
        by_truck = {
            truck_id: self.whole(
                truck_id, self.truck(f"truck.{truck_id}", told.get(truck_id, {}), each)
            )
            for truck_id in trucks
            if truck_id in told or "each_truck" in content
        }
        return FleetPrices(days, interest, by_truck, frozenset(told))

    def truck(self, place: str, content: object, base: TruckPrices) -> TruckPrices:
        if not isinstance(content, dict):
            self.tell(place, "this is no section", str(content), f"write [{place}] above its keys")
            return base
        good: dict[str, float] = {}
        for key, value in content.items():
            if key not in _KEYS:
                cure = f"the keys of a truck are {', '.join(_KEYS)}"
                self.tell(f"{place}.{key}", "there is no such key", key, cure)
                continue
            least, most = (0.25, MOST_YEARS) if key == "life_years" else (0.0, MOST_MONEY)
            number = self.number(f"{place}.{key}", value, least, most)
            if number is not None:
                good[key] = number
        return replace(base, **good)

    def whole(self, truck_id: str, prices: TruckPrices) -> TruckPrices:
        """What must stand together does."""
        if prices.purchase is not None and prices.life_years is None and not self.problems:
            cure = "write life_years, the years that the truck is kept"
            self.tell(f"truck.{truck_id}", "there is a purchase but no life_years", "", cure)
        if prices.purchase is not None and prices.resale > prices.purchase:
            cure = "resale is what the truck fetches at the end of life_years"
            self.tell(f"truck.{truck_id}", "resale is above purchase", f"{prices.resale:g}", cure)
        return prices

    def number(self, place: str, value: object, least: float, most: float) -> float | None:
        good = isinstance(value, (int, float)) and not isinstance(value, bool)
        if good and least <= float(value) <= most:  # type: ignore[arg-type]
            return float(value)  # type: ignore[arg-type]
        cure = f"write a number from {least:g} to {most:,.0f}, without quotes or a currency"
        self.tell(place, "the value cannot be", str(value), cure)
        return None

    def tell(self, place: str, message: str, found: str, cure: str, code: str = "FLEET-2") -> None:
        self.problems.append(Problem(self.file, None, place or None, code, message, found, cure))


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
        _fleet(name, book.trucks, prices[name], present, prices[PRESENT])
        for name, book in books.items()
    ]
    return reading.workbook, fleets


def _fleet(
    name: str,
    trucks: Mapping[str, Truck],
    own: FleetPrices,
    book: Mapping[str, Truck],
    present: FleetPrices,
) -> Fleet:
    """A present truck that a fleet keeps costs there what it costs now, unless the fleet's own file
    has a section for it: else its insurance would count as saved, or as that of a bought truck."""
    kept_as = _kept(trucks, book)
    kept = {
        truck_id: present.by_truck[was]
        for truck_id, was in kept_as.items()
        if was in present.by_truck
    }
    # A vehicle that is in the shop is there whichever trucks are beside it.
    trucks = {
        truck_id: replace(one, out_on=one.out_on or book[kept_as[truck_id]].out_on)
        if truck_id in kept_as
        else one
        for truck_id, one in trucks.items()
    }
    told = {
        truck_id: one
        for truck_id, one in own.by_truck.items()
        if truck_id in own.named or truck_id not in kept
    }
    return Fleet(name, trucks, replace(own, by_truck={**kept, **told}), kept_as)


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
