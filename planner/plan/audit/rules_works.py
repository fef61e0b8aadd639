"""What is sprayed on each order, out of what, through which hose (rules 1, 8, 9 and 18)."""

from collections.abc import Iterator, Sequence

from planner.plan.audit.case import (
    GALLON_TOLERANCE,
    MINUTE_TOLERANCE,
    PRODUCT_LEAST_TOLERANCE,
    PRODUCT_SHARE_TOLERANCE,
    Kind,
    LedgerEntry,
    TruckCase,
    Violation,
    differs,
    exceeds,
)
from planner.plan.model import ProductAmount, Work


def works(case: TruckCase) -> Iterator[tuple[int, int, Work]]:
    """Row of the stop, row in the stop, and work."""
    for row, stop in enumerate(case.planned.stops):
        for number, work in enumerate(stop.orders):
            yield row, number, work


def fresh_works(case: TruckCase) -> Iterator[tuple[int, int, Work]]:
    """Of these, the ones that are not done."""
    for row, number, work in works(case):
        if not case.planned.stops[row].done:
            yield row, number, work


def check_orders_as_ordered(case: TruckCase) -> Iterator[Violation]:
    """Property, mix and area of each work are the order's."""
    for row, _, work in fresh_works(case):
        order = case.day.orders[work.order_id]
        place_id = case.planned.stops[row].place_id
        if order.property_id != place_id:
            yield case.found(
                "WORK-PLACE",
                row,
                f"order {work.order_id} is for {order.property_id}, yet done at {place_id}",
            )
        if order.mix_id != work.mix_id:
            yield case.found(
                "WORK-MIX",
                row,
                f"order {work.order_id} asks for {order.mix_id}, yet gets {work.mix_id}",
            )
        if differs(work.area_ft2, order.area_ft2, 0.5):
            yield case.found(
                "WORK-AREA",
                row,
                f"order {work.order_id}: {work.area_ft2:,.0f} ft2, ordered {order.area_ft2:,.0f}",
            )


def check_gallons_of_orders(case: TruckCase) -> Iterator[Violation]:
    """Gallons = area / 1000 x carrier."""
    for row, _, work in fresh_works(case):
        right = order_gal(case, work.order_id)
        if differs(work.gal, right, GALLON_TOLERANCE):
            yield case.found(
                "WORK-GAL",
                row,
                f"order {work.order_id}: {work.gal:.2f} gal sprayed, its area asks for "
                f"{right:.2f} gal",
            )


def check_products_of_orders(case: TruckCase) -> Iterator[Violation]:
    """Each product of the mix, at its rate for the gallons sprayed."""
    for row, _, work in works(case):
        right = _products(case, work.mix_id, counted_gal(case, row, work))
        for message in product_faults(work.products, right):
            yield case.found("WORK-PRODUCTS", row, f"order {work.order_id}: {message}")


def check_lines_of_orders(case: TruckCase) -> Iterator[Violation]:
    """An order is sprayed by the line that its mix is loaded on."""
    for row, _, work in works(case):
        lines = {tank.line_id for tank in case.loaded(work.mix_id)}
        if work.line_id not in lines:
            where = ", ".join(sorted(lines)) or "no line"
            yield case.found(
                "WORK-LINE",
                row,
                f"order {work.order_id} is sprayed by line {work.line_id}; {work.mix_id} is "
                f"loaded on {where}",
            )


def check_pins_and_bans(case: TruckCase) -> Iterator[Violation]:
    """Only and never trucks are kept."""
    for row, _, work in fresh_works(case):
        order = case.day.orders[work.order_id]
        if order.only_trucks is not None and case.truck.truck_id not in order.only_trucks:
            only = ", ".join(sorted(order.only_trucks))
            yield case.found("TRUCK-PINNED", row, f"order {work.order_id} is only for truck {only}")
        if case.truck.truck_id in order.never_trucks:
            yield case.found("TRUCK-PINNED", row, f"order {work.order_id} is never for this truck")


def check_hose_reaches(case: TruckCase) -> Iterator[Violation]:
    """The hose of the line is at least the property's run."""
    for row, _, work in fresh_works(case):
        run_ft = case.day.workbook.properties[
            case.day.orders[work.order_id].property_id
        ].hose_run_ft
        hose_ft = case.truck.line(work.line_id).hose_ft
        if hose_ft < run_ft:
            yield case.found(
                "HOSE-REACH",
                row,
                f"order {work.order_id} needs {run_ft:.0f} ft of hose, line {work.line_id} has "
                f"{hose_ft:.0f} ft",
            )


def check_draws_add_up(case: TruckCase) -> Iterator[Violation]:
    """What the compartments give is what is sprayed, and what fills the hose."""
    for row, _, work in fresh_works(case):
        for what, draws, gal in (
            ("sprayed", work.compartments, work.gal),
            ("put into the hose", work.hose_compartments, work.hose_gal),
        ):
            drawn = sum(draw.gal for draw in draws)
            if differs(drawn, gal, GALLON_TOLERANCE):
                yield case.found(
                    "DRAW-SUM",
                    row,
                    f"order {work.order_id}: {gal:.2f} gal {what}, yet {drawn:.2f} gal drawn",
                )
            if any(not draw.gal >= 0 for draw in draws):
                yield case.found(
                    "DRAW-SUM", row, f"order {work.order_id}: a draw of less than nothing"
                )


def check_draws_from_own_mix(case: TruckCase) -> Iterator[Violation]:
    """An order draws only from compartments loaded with its mix."""
    for row, _, work in works(case):
        for draw in (*work.compartments, *work.hose_compartments):
            mix_id = case.planned.loading.get(draw.compartment_id)
            if mix_id != work.mix_id:
                yield case.found(
                    "DRAW-MIX",
                    row,
                    f"order {work.order_id} draws {work.mix_id} from compartment "
                    f"{draw.compartment_id}, which holds {mix_id or 'no mix of today'}",
                )


def check_drawing_order(case: TruckCase) -> Iterator[Violation]:
    """A compartment gives only when those of its mix ahead of it are down to their heels."""
    for group in _draw_groups(case.ledger.entries):
        last = group[-1]
        mix_id = case.planned.loading.get(last.compartment_id)
        if mix_id is None:
            continue
        tanks = case.loaded(mix_id)
        given = {entry.compartment_id for entry in group if -entry.gal > GALLON_TOLERANCE}
        for number, tank in enumerate(tanks):
            behind = {other.compartment_id for other in tanks[number + 1 :]}
            left = last.levels[tank.compartment_id] - tank.heel_gal
            if behind & given and exceeds(left, 0.0, GALLON_TOLERANCE):
                yield case.found(
                    "DRAW-ORDER",
                    last.stop,
                    f"order {last.order_id} draws from compartment "
                    f"{', '.join(sorted(behind & given))} while {tank.compartment_id}, ahead of "
                    f"it, still has {left:.2f} gal over its heel",
                )


def check_pump_stays_wet(case: TruckCase) -> Iterator[Violation]:
    """No draw takes a compartment below its heel."""
    for entry in case.ledger.entries:
        if entry.kind is Kind.FILL or not -entry.gal > 0:
            continue
        if case.planned.stops[entry.stop].done:
            continue
        tank = case.truck.compartment(entry.compartment_id)
        level = entry.levels[entry.compartment_id]
        if exceeds(tank.heel_gal - level, 0.0, GALLON_TOLERANCE):
            yield case.found(
                "DRAW-HEEL",
                entry.stop,
                f"order {entry.order_id} takes compartment {tank.compartment_id} down to "
                f"{level:.2f} gal; the pump cannot reach the last {tank.heel_gal:.2f} gal",
            )


def check_hose_fills(case: TruckCase) -> Iterator[Violation]:
    """The hose is filled at its first use and at each change of mix, and never else."""
    for row, number, work in works(case):
        duty = case.ledger.hose[row, number]
        if differs(work.hose_gal, duty.hose_gal, GALLON_TOLERANCE):
            yield case.found(
                "HOSE-DRAW",
                row,
                f"order {work.order_id}: {work.hose_gal:.2f} gal for the hose of line "
                f"{work.line_id}, should be {duty.hose_gal:.2f} gal",
            )


def check_changeovers(case: TruckCase) -> Iterator[Violation]:
    """A changeover stands where the hose held another mix, with its minutes."""
    for row, number, work in works(case):
        duty = case.ledger.hose[row, number]
        gun = case.truck.line(work.line_id).gun_gal_per_min
        minutes = 0.0 if duty.displaced_mix_id is None else duty.hose_gal / gun
        if work.displaced_mix_id != duty.displaced_mix_id:
            yield case.found(
                "HOSE-CHANGEOVER",
                row,
                f"order {work.order_id}: the hose of line {work.line_id} held "
                f"{duty.displaced_mix_id or 'no other mix'}, the plan says "
                f"{work.displaced_mix_id or 'no other mix'}",
            )
        if differs(work.changeover_min, minutes, MINUTE_TOLERANCE):
            yield case.found(
                "HOSE-CHANGEOVER",
                row,
                f"order {work.order_id}: changeover of {work.changeover_min:.2f} min, should be "
                f"{minutes:.2f} min",
            )


def order_gal(case: TruckCase, order_id: str) -> float:
    """Gallons of an order by its area and carrier (rule 1)."""
    order = case.day.orders[order_id]
    return case.day.workbook.mixes[order.mix_id].carrier_gal_per_1000_ft2 * order.area_ft2 / 1000


def counted_gal(case: TruckCase, row: int, work: Work) -> float:
    """Gallons that a work stands for: those of its order, or what was sprayed where it is done."""
    return work.gal if case.planned.stops[row].done else order_gal(case, work.order_id)


def product_faults(
    found: Sequence[ProductAmount], right: dict[str, tuple[float, str]]
) -> Iterator[str]:
    """What is wrong in a list of product amounts, in words."""
    seen = {row.product_id: row for row in found}
    if len(seen) < len(found):
        yield "a product is listed twice"
    for product_id in sorted(seen.keys() - right.keys()):
        yield f"{product_id} is not in the mix"
    for product_id, (amount, unit) in right.items():
        row = seen.get(product_id)
        if row is None:
            yield f"{product_id} is missing ({amount:.4f} {unit})"
        elif row.unit != unit:
            yield f"{product_id} is counted in {row.unit}, should be {unit}"
        elif differs(
            row.amount, amount, PRODUCT_SHARE_TOLERANCE * amount + PRODUCT_LEAST_TOLERANCE
        ):
            yield f"{row.amount:.4f} {unit} of {product_id}, should be {amount:.4f} {unit}"


def _products(case: TruckCase, mix_id: str, gal: float) -> dict[str, tuple[float, str]]:
    one = case.strengths[mix_id]
    return {name: (per_gal * gal, one.units[name]) for name, per_gal in one.product.items()}


def _draw_groups(entries: Sequence[LedgerEntry]) -> Iterator[list[LedgerEntry]]:
    """Draws that happen together: the same stop, order and purpose."""
    group: list[LedgerEntry] = []
    for entry in entries:
        if entry.kind is Kind.FILL:
            continue
        same = group and (group[-1].stop, group[-1].order_id, group[-1].kind) == (
            entry.stop,
            entry.order_id,
            entry.kind,
        )
        if group and not same:
            yield group
            group = []
        group.append(entry)
    if group:
        yield group
