"""A service container that takes mix out of a hose: what stands on it, and which lawn gets it.

EPA, Secondary Containers and Service Containers for Pesticides, www.epa.gov/pesticide-labels
(archived page, opening read 2026-11-26): it recommends a label and requires none; states may.
The fields here (identity, registration number, signal word, firm) are from memory: verify.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from planner.day.day import Day
from planner.day.fleet import Truck
from planner.mixing.containers import LEAST_GAL, Containers
from planner.papers.lookup import mix_name, works
from planner.papers.render import gal_text
from planner.plan.model import Plan, TruckPlan

NO_LAWN = -1
"""In the place of a stop: kept for another day."""

KEPT, YARD = -2, -3
"""In the place of a stop at which mix was caught: on another day, and in the yard when its line was
rinsed."""


@dataclass
class Catch:
    """Mix that is caught once. seq: stop, KEPT or YARD; order_id: before which, '' = none; line_id:
    of the hose, '' = caught on another day; lawns: gallons by the stop whose lawn takes them."""

    seq: int
    order_id: str
    line_id: str
    mix_id: str
    gal: float
    lawns: dict[int, float] = field(default_factory=dict)

    @property
    def source(self) -> str:
        """'stop 4's', 'the yard's', 'the gallons kept from before'."""
        return {KEPT: "the gallons kept from before", YARD: "the yard's"}.get(
            self.seq, f"stop {self.seq}'s"
        )


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


def rinsed_lines(truck_plan: TruckPlan, truck: Truck) -> frozenset[str]:
    """Lines through whose hose a compartment is rinsed before the truck leaves."""
    return frozenset(truck.compartment(one.compartment_id).line_id for one in truck_plan.cleaning)


def catches(truck_plan: TruckPlan, truck: Truck) -> list[Catch]:
    """Everything that stands in service containers in the morning or is caught in the day, with the
    lawns that take it: the next of the truck's day with an order of that mix, NO_LAWN = none."""
    held, found = Containers[Catch](), list[Catch]()

    def catch(*cells: object) -> None:
        one = Catch(*cells)  # type: ignore[arg-type]
        if one.gal > LEAST_GAL:
            found.append(one)
            held.catch(one.mix_id, one.gal, one)

    for kept in truck.service_containers:
        catch(KEPT, "", "", kept.mix_id, kept.gal)
    rinsed = rinsed_lines(truck_plan, truck)
    for line in truck.lines:
        if line.line_id in rinsed and line.hose_mix is not None:
            catch(YARD, "", line.line_id, line.hose_mix, line.hose_gal)
    for stop, work in works(truck_plan):
        for one, gal in held.spray(work.mix_id, work.gal):
            one.lawns[stop.seq] = one.lawns.get(stop.seq, 0.0) + gal
        # What the yard has rinsed holds no mix at its first use.
        if work.displaced_mix_id is not None and work.line_id not in rinsed:
            catch(stop.seq, work.order_id, work.line_id, work.displaced_mix_id, work.hose_gal)
        rinsed -= {work.line_id}
    for one, _, gal in held.left():
        one.lawns[NO_LAWN] = gal
    return found


def taken_gal(truck_plan: TruckPlan, truck: Truck) -> dict[tuple[int, str], float]:
    """(stop, mix) -> gallons that its lawn takes out of containers."""
    found: dict[tuple[int, str], float] = {}
    for one in catches(truck_plan, truck):
        for lawn, gal in one.lawns.items():
            found[lawn, one.mix_id] = found.get((lawn, one.mix_id), 0.0) + gal
    return found


def taken_texts(truck_plan: TruckPlan, truck: Truck) -> dict[str, str]:
    """By the order whose lawn takes mix that was caught: '3.1 gal of stop 2'."""
    texts: dict[str, list[str]] = {}
    taker = {(s.seq, work.mix_id): work.order_id for s, work in reversed(list(works(truck_plan)))}
    of = {KEPT: "kept from before", YARD: "caught in the yard"}
    for one in catches(truck_plan, truck):
        for lawn, gal in one.lawns.items():
            if (lawn, one.mix_id) in taker:
                text = f"{gal_text(gal)} gal {of.get(one.seq, f'of stop {one.seq}')}"
                texts.setdefault(taker[lawn, one.mix_id], []).append(text)
    return {name: " and ".join(some) for name, some in texts.items()}


def use_text(day: Day, caught: Iterable[Catch]) -> str:
    """'Spray it at its own rate, that much less from the hose: stop 4's at stop 9 (1,530 ft2).'
    caught: all of one mix."""
    parts = []
    for one in caught:
        per_1000 = day.workbook.mixes[one.mix_id].carrier_gal_per_1000_ft2
        for lawn, gal in one.lawns.items():
            what = one.source if len(one.lawns) == 1 else f"{gal_text(gal)} gal of {one.source}"
            at = f"at stop {lawn} ({gal / per_1000 * 1000:,.0f} ft2)"
            parts.append(
                f"{what} {'on another day where the labels allow' if lawn == NO_LAWN else at}"
            )
    return f"Spray it at its own rate, that much less from the hose: {', '.join(parts)}."


def trucks_by_mix(plan: Plan) -> dict[str, list[str]]:
    """Mix -> the trucks that spray it in the plan."""
    found: dict[str, list[str]] = {}
    for truck in plan.trucks:
        for mix_id in dict.fromkeys(work.mix_id for _, work in works(truck)):
            found.setdefault(mix_id, []).append(truck.truck_id)
    return found


def kept_texts(truck_plan: TruckPlan, day: Day, sprayed_by: Mapping[str, list[str]]) -> list[str]:
    """What stands in containers from earlier days, and what becomes of it. sprayed_by: mix -> the
    trucks that spray it today."""
    texts = []
    for one in catches(truck_plan, day.workbook.trucks[truck_plan.truck_id]):
        if one.seq != KEPT:
            continue
        others = [name for name in sprayed_by.get(one.mix_id, ()) if name != truck_plan.truck_id]
        lawns = [f"{gal_text(gal)} gal at stop {s}" for s, gal in one.lawns.items() if s != NO_LAWN]
        if NO_LAWN in one.lawns:
            hand = f": {' and '.join(others)} sprays it, or keep it" if others else ": keep it"
            left = one.lawns[NO_LAWN]
            lawns.append(f"{gal_text(left)} gal find no lawn of this truck{hand}, marked")
        texts.append(f"{gal_text(one.gal)} gal of {mix_name(day, one.mix_id)} ({'; '.join(lawns)})")
    return texts


def containers_tonight(truck_plan: TruckPlan, day: Day) -> str:
    """What stands in containers after the last lawn, '' = nothing."""
    left: dict[str, float] = {}
    for one in catches(truck_plan, day.workbook.trucks[truck_plan.truck_id]):
        left[one.mix_id] = left.get(one.mix_id, 0.0) + one.lawns.get(NO_LAWN, 0.0)
    texts = [f"{gal_text(gal)} gal of {mix_name(day, name)}" for name, gal in left.items() if gal]
    return f"Service containers tonight: {'; '.join(texts)}." if texts else ""
