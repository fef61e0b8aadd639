"""How much goes into the compartments, and what it weighs (rules 2, 10 and 11)."""

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from planner.day.fleet import Compartment
from planner.plan.audit.case import (
    COUNTING_TOLERANCE,
    GALLON_TOLERANCE,
    POUND_TOLERANCE,
    Kind,
    TruckCase,
    Violation,
    differs,
    exceeds,
    unloaded_lb,
)
from planner.plan.audit.rules_works import counted_gal, product_faults
from planner.plan.model import Fill


@dataclass(frozen=True)
class FillSpan:
    """A mix from one place where it may be made to the next. row: of that first stop; spray_gal,
    hose_gal: what is drawn in between; before, after: levels of all compartments when the truck
    comes to the place and when it leaves. may_fill: False for the way from a yard where the mix
    may not be made, when only its leftover is on board, and for the way from the last stop that is
    done (rule 23)."""

    row: int
    mix_id: str
    tanks: list[Compartment]
    spray_gal: float
    hose_gal: float
    before: Mapping[str, float]
    after: Mapping[str, float]
    may_fill: bool

    def reach_gal(self, levels: Mapping[str, float]) -> float:
        """What the pump can get at."""
        return sum(max(0.0, levels[t.compartment_id] - t.heel_gal) for t in self.tanks)


def fills(case: TruckCase) -> Iterator[tuple[int, Fill, float]]:
    """Row of the stop, fill, and level in the compartment before it by the ledger."""
    for row, stop in enumerate(case.planned.stops):
        levels = dict(_before(case, row))
        for fill in stop.fills:
            yield row, fill, levels[fill.compartment_id]
            levels[fill.compartment_id] += fill.gal


def check_fills_of_the_loaded_mix(case: TruckCase) -> Iterator[Violation]:
    """A compartment is filled with what it is loaded with, at a place where that may be made."""
    for row, fill, _ in fills(case):
        loaded = case.planned.loading.get(fill.compartment_id)
        if fill.mix_id != loaded:
            yield case.found(
                "FILL-MIX",
                row,
                f"compartment {fill.compartment_id} is filled with {fill.mix_id}, loaded with "
                f"{loaded or 'nothing'}",
            )
        place_id = case.planned.stops[row].place_id
        if place_id in case.day.workbook.sites and not case.made_at(place_id, fill.mix_id):
            yield case.found("FILL-SITE", row, f"{fill.mix_id} may not be made at {place_id}")


def check_one_fill_per_stop(case: TruckCase) -> Iterator[Violation]:
    """A compartment is filled once at a stop."""
    for row, stop in enumerate(case.planned.stops):
        names = [fill.compartment_id for fill in stop.fills]
        for name in sorted({name for name in names if names.count(name) > 1}):
            yield case.found("FILL-TWICE", row, f"compartment {name} is filled twice")


def check_levels(case: TruckCase) -> Iterator[Violation]:
    """Levels before and after each fill are those of the ledger."""
    for row, fill, before in fills(case):
        for what, found, right in (
            ("before", fill.level_before_gal, before),
            ("after", fill.level_after_gal, before + fill.gal),
        ):
            if differs(found, right, GALLON_TOLERANCE):
                yield case.found(
                    "FILL-LEVEL",
                    row,
                    f"compartment {fill.compartment_id} {what} the fill: {found:.2f} gal, "
                    f"by the ledger {right:.2f} gal",
                )


def check_capacity(case: TruckCase) -> Iterator[Violation]:
    """No compartment is filled over its full mark."""
    for row, fill, before in fills(case):
        if case.planned.stops[row].done:
            continue
        brim = case.brim_gal(case.truck.compartment(fill.compartment_id))
        if exceeds(before + fill.gal, brim, GALLON_TOLERANCE):
            words = (
                "the office set" if fill.compartment_id in case.planned.fill_to_gal else "it holds"
            )
            yield case.found(
                "FILL-CAPACITY",
                row,
                f"compartment {fill.compartment_id} is filled to {before + fill.gal:.2f} gal, "
                f"{words} {brim:.2f} gal",
            )


def check_whole_gallons(case: TruckCase) -> Iterator[Violation]:
    """Each fill is a whole number of gallons, or what the full mark leaves."""
    for row, fill, before in fills(case):
        if case.planned.stops[row].done:
            continue
        brim = case.brim_gal(case.truck.compartment(fill.compartment_id))
        whole = not differs(fill.gal, round(fill.gal) if math.isfinite(fill.gal) else 0.0, 1e-4)
        full = not differs(before + fill.gal, brim, GALLON_TOLERANCE)
        if not fill.gal > 0 or not (whole or full):
            yield case.found(
                "FILL-GAL",
                row,
                f"compartment {fill.compartment_id}: {fill.gal:.2f} gal is not a whole number of "
                "gallons and does not reach the full mark",
            )


def check_contents_of_fills(case: TruckCase) -> Iterator[Violation]:
    """Water, products and weight of each fill follow from its gallons."""
    for row, fill, _ in fills(case):
        one = case.strengths[fill.mix_id]
        water = fill.gal - sum(
            per_gal * fill.gal for name, per_gal in one.product.items() if one.units[name] == "gal"
        )
        if differs(fill.water_gal, water, GALLON_TOLERANCE):
            yield case.found(
                "FILL-WATER",
                row,
                f"compartment {fill.compartment_id}: {fill.water_gal:.2f} gal of water, should "
                f"be {water:.2f} gal",
            )
        right = {n: (per_gal * fill.gal, one.units[n]) for n, per_gal in one.product.items()}
        for message in product_faults(fill.products, right):
            yield case.found("FILL-PRODUCTS", row, f"compartment {fill.compartment_id}: {message}")
        if differs(fill.weight_lb, fill.gal * one.weight_lb, POUND_TOLERANCE):
            yield case.found(
                "FILL-WEIGHT",
                row,
                f"compartment {fill.compartment_id}: {fill.weight_lb:.1f} lb, should be "
                f"{fill.gal * one.weight_lb:.1f} lb",
            )


def check_orders_of_fills(case: TruckCase) -> Iterator[Violation]:
    """A fill names the orders sprayed from its compartment until that is filled again."""
    entries = case.ledger.entries
    starts = [number for number, entry in enumerate(entries) if entry.kind is Kind.FILL]
    plain = [(row, fill) for row, stop in enumerate(case.planned.stops) for fill in stop.fills]
    for start, (row, fill) in zip(starts, plain, strict=True):
        if case.planned.stops[row].done:
            # It names what it was meant for when it was poured.
            continue
        served: list[str] = []
        for entry in entries[start + 1 :]:
            if entry.compartment_id != fill.compartment_id:
                continue
            if entry.kind is Kind.FILL:
                break
            if entry.kind is Kind.SPRAY and entry.order_id not in served:
                served.append(entry.order_id)
        if list(fill.order_ids) != served:
            yield case.found(
                "FILL-ORDERS",
                row,
                f"compartment {fill.compartment_id} serves {', '.join(served) or 'no order'} "
                f"until its next fill; the plan says {', '.join(fill.order_ids) or 'no order'}",
            )


def check_fills_last(case: TruckCase) -> Iterator[Violation]:
    """What the pump can reach lasts until the next place where the mix may be made."""
    for leg in legs(case):
        need = leg.spray_gal + leg.hose_gal
        have = leg.reach_gal(leg.after)
        if exceeds(need - have, 0.0, GALLON_TOLERANCE):
            yield case.found(
                "FILL-SHORT",
                leg.row,
                f"{leg.mix_id}: {have:.2f} gal can be pumped, {need:.2f} gal are needed until the "
                "next refill of it",
            )


def check_fills_are_needed(case: TruckCase) -> Iterator[Violation]:
    """A mix is topped up only when what is on board does not last."""
    for leg in legs(case):
        need = leg.spray_gal + leg.hose_gal
        have = leg.reach_gal(leg.before)
        added = sum(leg.after[t.compartment_id] - leg.before[t.compartment_id] for t in leg.tanks)
        if added > GALLON_TOLERANCE and have >= need + GALLON_TOLERANCE:
            yield case.found(
                "FILL-UNNEEDED",
                leg.row,
                f"{leg.mix_id}: {added:.2f} gal added although the {have:.2f} gal on board last "
                f"for the {need:.2f} gal until its next refill",
            )


def check_fills_are_not_too_big(case: TruckCase) -> Iterator[Violation]:
    """No more than the target, rounded up to whole gallons."""
    margin = case.day.workbook.settings.fill_margin_percent
    for leg in legs(case):
        last = None
        for tank in leg.tanks:
            if leg.after[tank.compartment_id] - leg.before[tank.compartment_id] > GALLON_TOLERANCE:
                last = tank
        if last is None:
            continue
        target = leg.spray_gal * (100 + margin) / 100 + leg.hose_gal
        others = leg.reach_gal(leg.after) - max(0.0, leg.after[last.compartment_id] - last.heel_gal)
        # The last one filled must reach this level, and may pass it by less than a gallon.
        wanted = last.heel_gal + target - others
        add = leg.after[last.compartment_id] - leg.before[last.compartment_id]
        most = math.ceil(wanted - leg.before[last.compartment_id] - COUNTING_TOLERANCE)
        if exceeds(add, most, 10 * COUNTING_TOLERANCE):
            yield case.found(
                "FILL-TOO-MUCH",
                leg.row,
                f"{leg.mix_id}: {leg.reach_gal(leg.after):.2f} gal can be pumped after the fill, "
                f"{add - most:.2f} gal more than {target:.2f} gal (need and margin) rounded up",
            )


def check_margin_is_kept(case: TruckCase) -> Iterator[Violation]:
    """The margin gives way only to full compartments or to the weight rating."""
    margin = case.day.workbook.settings.fill_margin_percent
    for leg in legs(case):
        need = leg.spray_gal + leg.hose_gal
        if not leg.may_fill or leg.reach_gal(leg.before) >= need - GALLON_TOLERANCE:
            continue
        target = leg.spray_gal * (100 + margin) / 100 + leg.hose_gal
        missing = target - leg.reach_gal(leg.after)
        room = sum(max(0.0, case.brim_gal(t) - leg.after[t.compartment_id]) for t in leg.tanks)
        if missing <= GALLON_TOLERANCE or room <= GALLON_TOLERANCE:
            continue
        gallon_lb = min(1.0, room) * case.strengths[leg.mix_id].weight_lb
        loaded_lb = unloaded_lb(case.truck) + case.load_lb(leg.after)
        if loaded_lb + gallon_lb <= case.truck.gvwr_lb - POUND_TOLERANCE:
            yield case.found(
                "FILL-MARGIN",
                leg.row,
                f"{leg.mix_id}: {missing:.2f} gal of the margin are left out although "
                f"{room:.2f} gal of room and {case.truck.gvwr_lb - loaded_lb:.0f} lb are free",
            )


def check_filling_order(case: TruckCase) -> Iterator[Violation]:
    """A compartment is filled only when those of its mix ahead of it are full."""
    for leg in legs(case):
        for number, tank in enumerate(leg.tanks):
            short = case.brim_gal(tank) - leg.after[tank.compartment_id]
            behind = [
                other.compartment_id
                for other in leg.tanks[number + 1 :]
                if leg.after[other.compartment_id] - leg.before[other.compartment_id]
                > GALLON_TOLERANCE
            ]
            if behind and short > GALLON_TOLERANCE:
                yield case.found(
                    "FILL-ORDER",
                    leg.row,
                    f"compartment {', '.join(behind)} is filled with {leg.mix_id} while "
                    f"{tank.compartment_id}, ahead of it, still has {short:.2f} gal of room",
                )


def check_weights(case: TruckCase) -> Iterator[Violation]:
    """Weight after each stop is right, and after each fill within the rating."""
    for row, stop in enumerate(case.planned.stops):
        weight = unloaded_lb(case.truck) + case.load_lb(case.ledger.after_stop[row])
        if differs(stop.weight_lb_after, weight, POUND_TOLERANCE):
            yield case.found(
                "WEIGHT-FIGURE",
                row,
                f"weighs {weight:,.1f} lb after the stop, the plan says "
                f"{stop.weight_lb_after:,.1f} lb",
            )
        if (
            not stop.done
            and stop.kind in ("depart", "refill")
            and exceeds(weight, case.truck.gvwr_lb, POUND_TOLERANCE)
        ):
            yield case.found(
                "WEIGHT-GVWR",
                row,
                f"weighs {weight:,.0f} lb when it leaves, its rating is "
                f"{case.truck.gvwr_lb:,.0f} lb",
            )


def check_start_levels(case: TruckCase) -> Iterator[Violation]:
    """What is in each compartment before the first fill."""
    yield from _levels(case, "START-LEVEL", "begins", case.ledger.start, case.planned.start_gal)


def check_end_levels(case: TruckCase) -> Iterator[Violation]:
    """What is left in each compartment at the end of the day."""
    ledger = case.ledger
    right = ledger.after_stop[-1] if ledger.after_stop else ledger.start
    yield from _levels(case, "END-LEVEL", "ends", right, case.planned.end_gal)


def _levels(
    case: TruckCase, code: str, verb: str, right: Mapping[str, float], planned: Mapping[str, float]
) -> Iterator[Violation]:
    for compartment_id, gal in right.items():
        found = planned.get(compartment_id, math.nan)
        if differs(found, gal, GALLON_TOLERANCE):
            yield case.found(
                code,
                None,
                f"compartment {compartment_id} {verb} the day with {gal:.2f} gal, the plan says "
                f"{found:.2f} gal",
            )
    for compartment_id in sorted(planned.keys() - right.keys()):
        yield case.found(code, None, f"no compartment '{compartment_id}' on this truck")


def legs(case: TruckCase) -> Iterator[FillSpan]:
    """Every loaded mix, from each place where it may be made to the next; of a truck that was out
    when its day was planned again, from its last stop that is done on."""
    stops = case.planned.stops
    if not stops or case.done == len(stops):
        return
    for mix_id in sorted({m for m in case.planned.loading.values() if m is not None}):
        places = [
            row
            for row, stop in case.fresh()
            if stop.kind in ("depart", "refill") and case.made_at(stop.place_id, mix_id)
        ]
        first = max(0, case.done - 1)
        filled_first = bool(places) and places[0] == first
        if not filled_first:
            # It cannot be made in the yard, or the truck is out: there is only what is on board.
            places.insert(0, first)
        for start, end in zip(places, [*places[1:], len(stops)], strict=True):
            spray = hose = 0.0
            for row in range(start + (case.done > start), end):
                for number, work in enumerate(stops[row].orders):
                    if work.mix_id == mix_id:
                        spray += counted_gal(case, row, work)
                        hose += case.ledger.hose[row, number].hose_gal
            yield FillSpan(
                row=start,
                mix_id=mix_id,
                tanks=case.loaded(mix_id),
                spray_gal=spray,
                hose_gal=hose,
                before=case.ledger.after_stop[start] if case.done > start else _before(case, start),
                after=case.ledger.after_stop[start],
                may_fill=start > first or filled_first,
            )


def _before(case: TruckCase, row: int) -> Mapping[str, float]:
    return case.ledger.after_stop[row - 1] if row else case.ledger.start
