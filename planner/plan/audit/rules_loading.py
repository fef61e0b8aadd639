"""Loading, separation and cleaning (rules 3 to 7)."""

from collections.abc import Iterable, Iterator, Mapping
from itertools import combinations

import numpy as np

from planner.day.day import Day, Workbook
from planner.day.fleet import Compartment, Truck
from planner.day.products import ANY_OTHER, KeepApart, Scope
from planner.plan.audit.case import (
    GALLON_TOLERANCE,
    MINUTE_TOLERANCE,
    Ledger,
    TruckCase,
    Violation,
    differs,
    over_heel,
)
from planner.plan.model import CleaningEntry, Totals, TruckPlan
from planner.roads.travel import Travel

NO_TOTALS = Totals(*(0,) * 16)
NOWHERE = Travel((), np.zeros((0, 0)), np.zeros((0, 0)))
NO_LEDGER = Ledger({}, (), (), {}, {})


def check_every_compartment_is_named(case: TruckCase) -> Iterator[Violation]:
    """The loading names each compartment of the truck, and no other."""
    missing = sorted(
        {tank.compartment_id for tank in case.truck.compartments} - case.planned.loading.keys()
    )
    if missing:
        yield case.found(
            "LOAD-COMPARTMENTS", None, f"the loading does not say what is in {', '.join(missing)}"
        )


def check_idle_truck_is_not_loaded(case: TruckCase) -> Iterator[Violation]:
    """A truck without stops carries nothing new."""
    if not case.planned.stops:
        for compartment_id, mix_id in case.planned.loading.items():
            if mix_id is not None:
                yield case.found(
                    "LOAD-IDLE",
                    None,
                    f"stays in the yard, yet compartment {compartment_id} is loaded with {mix_id}",
                )


def check_one_line_per_mix(case: TruckCase) -> Iterator[Violation]:
    """All compartments of a mix hang on one line."""
    for mix_id in sorted({m for m in case.planned.loading.values() if m is not None}):
        lines = sorted({tank.line_id for tank in case.loaded(mix_id)})
        if len(lines) > 1:
            yield case.found(
                "LOAD-LINE", None, f"mix {mix_id} is loaded on lines {' and '.join(lines)}"
            )


def check_leftovers_keep_their_mix(case: TruckCase) -> Iterator[Violation]:
    """A compartment with more leftover than its heel takes that mix or stays unused."""
    for tank in case.truck.compartments:
        mix_id = case.planned.loading.get(tank.compartment_id)
        if mix_id is not None and mix_id != tank.last_mix and over_heel(tank):
            yield case.found(
                "LOAD-LEFTOVER",
                None,
                f"compartment {tank.compartment_id} still holds {tank.leftover_gal:.1f} gal of "
                f"{tank.last_mix} (heel {tank.heel_gal:.1f} gal), yet is loaded with {mix_id}",
            )


def check_reserved_compartments(case: TruckCase) -> Iterator[Violation]:
    """A reserved compartment takes only mixes with a product of that group, and a mix with such
    a product goes into no other compartment of a truck that has one for it."""
    book = case.day.workbook
    for tank in case.truck.compartments:
        mix_id = case.planned.loading.get(tank.compartment_id)
        if mix_id is None:
            continue
        if tank.reserved_for is None:
            for other in case.truck.compartments:
                if other.reserved_for is not None and other.reserved_for in groups_of(book, mix_id):
                    yield case.found(
                        "LOAD-RESERVED",
                        None,
                        f"compartment {tank.compartment_id} is loaded with {mix_id}, which has "
                        f"compartment {other.compartment_id} reserved for {other.reserved_for}",
                    )
                    break
            continue
        if tank.reserved_for not in groups_of(book, mix_id):
            yield case.found(
                "LOAD-RESERVED",
                None,
                f"compartment {tank.compartment_id} is reserved for {tank.reserved_for}, yet is "
                f"loaded with {mix_id}",
            )


def check_carried_mixes_may_meet(case: TruckCase) -> Iterator[Violation]:
    """No two carried mixes share a line or a truck that keep_apart denies them."""
    for (one, line_a), (other, line_b) in combinations(sorted(_carried(case)), 2):
        scopes = scopes_apart(case.day.workbook, one, other)
        if Scope.TRUCK in scopes:
            yield case.found(
                "LOAD-APART", None, f"{one} and {other} may not be on one truck, yet both are"
            )
        elif Scope.LINE in scopes and line_a == line_b:
            yield case.found(
                "LOAD-APART",
                None,
                f"{one} and {other} may not share a line, yet both hang on {line_a}",
            )


def check_cleaning(case: TruckCase) -> Iterator[Violation]:
    """Each cleaning that is owed stands in the plan with the right figures, and no other."""
    entries = {entry.compartment_id: entry for entry in case.planned.cleaning}
    if len(entries) < len(case.planned.cleaning):
        yield case.found("CLEAN-EXTRA", None, "a compartment has two cleaning entries")
    for tank in case.truck.compartments:
        entry = entries.get(tank.compartment_id)
        owed, apart = _owed(case, tank)
        if owed and entry is None:
            yield case.found(
                "CLEAN-MISSING",
                None,
                f"compartment {tank.compartment_id} held {tank.last_mix} and must be cleaned "
                "before today's mixes are loaded; no cleaning entry",
            )
        elif not owed and entry is not None:
            yield case.found(
                "CLEAN-EXTRA",
                None,
                f"compartment {tank.compartment_id} has a cleaning entry that nothing asks for",
            )
        elif entry is not None:
            yield from _figures(case, tank, entry, apart)


def loading_rules_broken(
    day: Day, truck: Truck, loading: Mapping[str, str | None]
) -> Iterator[Violation]:
    """What would be wrong with a loading of a truck that stands in no plan."""
    empty = TruckPlan(truck.truck_id, dict(loading), {}, (), (), {}, NO_TOTALS)
    case = TruckCase(day, truck, empty, NOWHERE, NO_LEDGER, {}, {})
    for check in (
        check_one_line_per_mix,
        check_leftovers_keep_their_mix,
        check_reserved_compartments,
        check_carried_mixes_may_meet,
    ):
        yield from check(case)


def scopes_apart(book: Workbook, one: str, other: str) -> set[Scope]:
    """Scopes that keep_apart denies to two mixes together, the narrower ones included."""
    widest = {row.scope for row in rows_apart(book, one, other)}
    if Scope.TRUCK in widest:
        widest.add(Scope.LINE)
    if Scope.LINE in widest:
        widest.add(Scope.COMPARTMENT)
    return widest


def rows_apart(book: Workbook, one: str, other: str) -> list[KeepApart]:
    """Rows of keep_apart that deny the two mixes each other."""
    if one == other:
        return []
    found = []
    names_one = groups_of(book, one) | {one}
    names_other = groups_of(book, other) | {other}
    for row in book.keep_apart:
        for mine, its in ((names_one, names_other), (names_other, names_one)):
            a = row.a in mine if row.a != ANY_OTHER else row.b not in mine
            b = row.b in its if row.b != ANY_OTHER else row.a not in its
            if a and b:
                found.append(row)
    return found


def groups_of(book: Workbook, mix_id: str) -> set[str]:
    """Groups of the products of a mix."""
    return {book.products[part.product_id].group for part in book.mixes[mix_id].parts}


def _carried(case: TruckCase) -> Iterable[tuple[str, str]]:
    """(mix, line) of everything on board: today's loads and leftovers that ride along."""
    carried: set[tuple[str, str]] = set()
    for tank in case.truck.compartments:
        mix_id = case.planned.loading.get(tank.compartment_id)
        if mix_id is None and over_heel(tank):
            mix_id = tank.last_mix
        if mix_id is not None:
            carried.add((mix_id, tank.line_id))
    return carried


def _owed(case: TruckCase, tank: Compartment) -> tuple[bool, bool]:
    """Whether a cleaning is owed, and whether the two mixes must be kept apart."""
    last, book = tank.last_mix, case.day.workbook
    if last is None or not case.planned.stops:
        return False, False
    today = case.planned.loading.get(tank.compartment_id)
    if today is not None:
        return today != last, bool(scopes_apart(book, last, today))
    if over_heel(tank):
        return False, False
    on_line = {
        case.planned.loading.get(other.compartment_id)
        for other in case.truck.compartments
        if other.line_id == tank.line_id
    }
    owed = any(
        Scope.LINE in scopes_apart(book, last, mix_id) for mix_id in on_line if mix_id is not None
    )
    return owed, owed


def _figures(
    case: TruckCase, tank: Compartment, entry: CleaningEntry, apart: bool
) -> Iterator[Violation]:
    settings = case.day.workbook.settings
    rinses = settings.rinse_count if apart else 1
    water = settings.rinse_water_percent * tank.capacity_gal / 100
    residue = 1.0
    for _ in range(rinses):
        residue *= tank.heel_gal / (tank.heel_gal + water)
    facts = (
        ("last mix", entry.last_mix != tank.last_mix, entry.last_mix, tank.last_mix),
        ("rinses", entry.rinses != rinses, entry.rinses, rinses),
        (
            "gallons of water per rinse",
            differs(entry.water_gal_per_rinse, water, GALLON_TOLERANCE),
            entry.water_gal_per_rinse,
            water,
        ),
        (
            "minutes",
            differs(entry.minutes, rinses * settings.rinse_min_each, MINUTE_TOLERANCE),
            entry.minutes,
            rinses * settings.rinse_min_each,
        ),
        (
            "share of the last mix left",
            differs(entry.residue_share, residue, 0.001 * residue + 1e-6),
            entry.residue_share,
            residue,
        ),
        (
            "place for the rinse water",
            entry.rinsate_goes_to != settings.rinsate_goes_to,
            entry.rinsate_goes_to,
            settings.rinsate_goes_to,
        ),
    )
    for what, wrong, found, right in facts:
        if wrong:
            yield case.found(
                "CLEAN-FIGURES",
                None,
                f"cleaning of compartment {tank.compartment_id}: {what} {found}, should be {right}",
            )
    right_whys = _whys(case, tank)
    if entry.why not in right_whys:
        message = f"'{entry.why}', should be '{right_whys[0] if right_whys else ''}'"
        yield case.found(
            "CLEAN-FIGURES", None, f"why compartment {tank.compartment_id} is cleaned: {message}"
        )


def _whys(case: TruckCase, tank: Compartment) -> list[str]:
    """What may be said of why a compartment is cleaned."""
    book, last = case.day.workbook, tank.last_mix or ""
    today = case.planned.loading.get(tank.compartment_id)
    met = (
        [today]
        if today is not None
        else sorted(
            {
                mix_id
                for other in case.truck.compartments
                if other.line_id == tank.line_id
                and (mix_id := case.planned.loading.get(other.compartment_id)) is not None
            }
        )
    )
    found = []
    for mix_id in met:
        rows = rows_apart(book, last, mix_id)
        if today is None and Scope.LINE not in scopes_apart(book, last, mix_id):
            continue
        head = f"its last mix {last} must not meet {mix_id} on line {tank.line_id}"
        if today is not None:
            head = f"{today} goes in after {last}"
            head += ", and the two must be kept apart" if rows else ""
        found += [f"{head}: {row.why}" if row.why else head for row in rows] or [head]
    return found
