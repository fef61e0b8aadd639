"""A service container that takes mix out of a hose: what stands on it, and which lawn gets it.

EPA, Secondary Containers and Service Containers for Pesticides, www.epa.gov/pesticide-labels
(archived page, opening read 2026-11-26): it recommends a label and requires none; states may.
The fields here (identity, registration number, signal word, firm) are from memory: verify.
"""

from collections.abc import Mapping

from planner.day.day import Day
from planner.papers.lookup import mix_name, works
from planner.papers.render import gal_text
from planner.plan.model import TruckPlan

LEAST_GAL = 0.05
"""Less than a cup is not worth a line."""

NO_LAWN = -1
"""In the place of a stop: kept for another day."""


def container_label(day: Day, mix_id: str, gal: float, *, overnight: bool = False) -> str:
    """Identity, registration numbers, signal words, firm and date of a mix in a container;
    overnight: it hung in the hose since an earlier day. Raises KeyError for a mix that the day does
    not have."""
    book = day.workbook
    parts = []
    for part in book.mixes[mix_id].parts:
        product = book.products[part.product_id]
        number = f", EPA reg. no. {product.registration_no}" if product.registration_no else ""
        actives = f" ({product.active_ingredient})" if product.active_ingredient else ""
        word = f", {product.signal_word}" if product.signal_word != "none" else ""
        parts.append(f"{product.name}{actives}{number}{word}, {part.rate.text}")
    firm = ", ".join(text for text in (book.settings.company, book.settings.phone) if text)
    mixed = f"mixed {'before ' if overnight else ''}{day.date:%Y-%m-%d}"
    return (
        f"SPRAY MIX, READY TO USE: {mix_name(day, mix_id)}, about {gal_text(gal)} gal, {mixed}. "
        f"{'; '.join(parts)}. {firm}. Keep out of reach of children."
    )


def uses(truck_plan: TruckPlan) -> dict[tuple[int, str], dict[int, float]]:
    """Where mix that is caught from a hose goes: (stop, order) at which it is caught -> gallons by
    the stop whose lawn takes it: the next of the truck's day with an order of that mix, NO_LAWN =
    none today."""
    found: dict[tuple[int, str], dict[int, float]] = {}
    held: dict[str, list[tuple[tuple[int, str], float]]] = {}
    for stop, work in works(truck_plan):
        room, waiting = work.gal, held.pop(work.mix_id, [])
        for caught, gal in waiting:
            takes = min(room, gal)
            room -= takes
            if takes > LEAST_GAL:
                found[caught][stop.seq] = found[caught].get(stop.seq, 0.0) + takes
            if gal - takes > LEAST_GAL:
                held.setdefault(work.mix_id, []).append((caught, gal - takes))
        if work.displaced_mix_id is not None:
            caught = (stop.seq, work.order_id)
            found[caught] = {}
            held.setdefault(work.displaced_mix_id, []).append((caught, work.hose_gal))
    for rest in held.values():
        for caught, gal in rest:
            found[caught][NO_LAWN] = gal
    return found


def taken_texts(truck_plan: TruckPlan) -> dict[str, str]:
    """By the order whose lawn takes mix that was caught: '3.1 gal of stop 2'."""
    texts: dict[str, list[str]] = {}
    mix_of = {(s.seq, work.order_id): work.displaced_mix_id for s, work in works(truck_plan)}
    taker = {(s.seq, work.mix_id): work.order_id for s, work in reversed(list(works(truck_plan)))}
    for (seq, order_id), lawns in uses(truck_plan).items():
        for lawn, gal in lawns.items():
            if (lawn, mix_of[seq, order_id]) in taker:
                text = f"{gal_text(gal)} gal of stop {seq}"
                texts.setdefault(taker[lawn, mix_of[seq, order_id] or ""], []).append(text)
    return {name: " and ".join(some) for name, some in texts.items()}


def use_text(day: Day, mix_id: str, caught: Mapping[int, Mapping[int, float]]) -> str:
    """'Spray it at its own rate, that much less from the hose: stop 4's at stop 9 (1,530 ft2).'
    caught: by the stop at which it is caught, what `uses` says."""
    per_1000 = day.workbook.mixes[mix_id].carrier_gal_per_1000_ft2
    parts = []
    for seq, lawns in caught.items():
        for lawn, gal in lawns.items():
            what = f"stop {seq}'s" if len(lawns) == 1 else f"{gal_text(gal)} gal of stop {seq}'s"
            at = f"at stop {lawn} ({gal / per_1000 * 1000:,.0f} ft2)"
            parts.append(
                f"{what} {'on another day where the labels allow' if lawn == NO_LAWN else at}"
            )
    return f"Spray it at its own rate, that much less from the hose: {', '.join(parts)}."
