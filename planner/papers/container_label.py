"""A service container that takes mix out of a hose: what stands on it, and which lawn gets it.

EPA, Secondary Containers and Service Containers for Pesticides, www.epa.gov/pesticide-labels
(archived page, opening read 2026-11-26): it recommends a label and requires none; states may.
Its list of what should stand there (firm with address and phone, product, registration number,
active ingredient with percentage, that it is diluted, signal word, precautions with first aid,
follow the label) is from memory: verify. Restricted use: 40 CFR 156.10(j)(2), from memory: verify.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable
from enum import Enum
from typing import Final

from planner.compliance.duties import is_pesticide
from planner.day.day import Day
from planner.day.fleet import Truck
from planner.day.products import Product
from planner.mixing.addition import formulation_code
from planner.mixing.containers import LEAST_GAL
from planner.papers.label_facts import label_facts
from planner.papers.lookup import mix_name, works
from planner.papers.render import gal_text
from planner.plan.caught import KEPT, NO_LAWN, YARD, Catch, catches
from planner.plan.model import Fill, TruckPlan
from planner.plan.off_rate import measured_share


class Mixed(Enum):
    """When a mix was made; the value is for a label, with the day's date."""

    TODAY = "Mixed {}"
    PARTLY_BEFORE = "Mixed {}, some of it before"
    BEFORE = "Mixed on ____________, before {}"


def mixed_when(truck_plan: TruckPlan, truck: Truck, mix_id: str) -> Mixed:
    """Of what the day draws from the compartments of a mix."""
    kept = any(
        tank.last_mix == mix_id == truck_plan.loading.get(tank.compartment_id)
        and truck_plan.start_gal[tank.compartment_id] > LEAST_GAL
        for tank in truck.compartments
    )
    filled = any(fill.mix_id == mix_id for stop in truck_plan.stops for fill in stop.fills)
    return Mixed.TODAY if not kept else Mixed.PARTLY_BEFORE if filled else Mixed.BEFORE


def container_label(
    day: Day, truck: Truck, mix_id: str, gal: float, mixed: Mixed, fills: Collection[Fill] = ()
) -> tuple[str, ...]:
    """What to write on a container with a mix, a text a line: what it is, what its labels warn of,
    what the tables do not have of them, and whose it is. Raises KeyError for a mix that the day
    does not have. fills: of the day that made it."""
    book, facts = day.workbook, label_facts(day, (mix_id,))
    parts, lacking = [], []
    for part in book.mixes[mix_id].parts:
        one = book.products[part.product_id]
        share = measured_share(fills, one.product_id)
        number = f", EPA reg. no. {one.registration_no}" if one.registration_no else ""
        percent = "" if one.ai_percent is None else f" {one.ai_percent:g} % before it was diluted"
        active = f" ({one.active_ingredient}{percent})" if one.active_ingredient else ""
        parts.append(f"{one.name}{number}{active}, {part.rate.text}{share}")
        if missing := _missing(one):
            lacking.append(
                f"Copy from the label of {one.name}, the table has none: {', '.join(missing)}."
            )
    site = book.sites.get(truck.yard_id)
    firm = book.settings.company, site.address if site else "", book.settings.phone
    names = ", ".join(facts.restricted)
    aid = " ".join(f"{name}: {text.rstrip('.')}." for name, text in facts.first_aid)
    pesticide = any(map(is_pesticide, facts.products))
    lines = (
        f"SPRAY MIX, DILUTED, READY TO SPRAY: {mix_name(day, mix_id)}, about {gal_text(gal)} gal. "
        f"{mixed.value.format(f'{day.date:%Y-%m-%d}')}.",
        facts.signal_word and f"{facts.signal_word}.",
        names
        and f"RESTRICTED USE PESTICIDE, only for certified applicators and people under "
        f"their direct supervision: {names}.",
        f"{'; '.join(parts)}.",
        facts.ppe and f"Wear: {', '.join(facts.ppe)}.",
        f"Re-entry: {facts.keep_off}.",
        aid and f"First aid: {aid}",
        pesticide
        and f"Poison center {book.settings.poison_center_phone}. Copy what the labels "
        "say of hazards to people, animals and water.",
        *lacking,
        f"{', '.join(filter(None, firm))}. {truck.signature}".rstrip(". ") + ".",
        "Follow the label of every product. Keep out of reach of children.",
    )
    return tuple(line for line in lines if line)


def container_labels(truck_plan: TruckPlan, day: Day) -> tuple[tuple[str, ...], ...]:
    """Of everything that stands in containers in the morning or is caught at a stop to come, alike
    ones once."""
    truck = day.workbook.trucks[truck_plan.truck_id]
    todo = {stop.seq for stop in truck_plan.stops if not stop.done}
    # Until its first use a hose holds what an earlier day mixed.
    first = {work.line_id: work.order_id for _, work in reversed(list(works(truck_plan)))}
    labels = []
    fills_of: dict[str, list[Fill]] = defaultdict(list)
    for fill in (fill for stop in truck_plan.stops for fill in stop.fills):
        fills_of[fill.mix_id].append(fill)
    for one in catches(truck_plan, truck):
        old = one.seq == KEPT or one.seq == YARD or first[one.line_id] == one.order_id
        if (
            one.seq in todo
            or one.seq == KEPT
            or (one.seq == YARD and truck_plan.stops[0].seq in todo)
        ):
            mixed = Mixed.BEFORE if old else mixed_when(truck_plan, truck, one.mix_id)
            fills = () if old else fills_of[one.mix_id]
            labels.append(container_label(day, truck, one.mix_id, one.gal, mixed, fills))
    return tuple(dict.fromkeys(labels))


UNREGISTERED: Final = ("FERT", "ADJ", "NIS", "COC", "MSO", "COND", "DEFOAM", "DYE")
"""Formulation codes of what EPA does not register as a pesticide."""


def _missing(product: Product) -> list[str]:
    """What its label says and the table does not have."""
    if not is_pesticide(product):
        return []
    registered = formulation_code(product.formulation) not in UNREGISTERED
    return [
        words
        for words, known in (
            ("EPA reg. no.", product.registration_no or not registered),
            ("active ingredient", product.active_ingredient or not registered),
            ("percentage", product.ai_percent is not None or not registered),
            ("what to wear", product.ppe),
            ("first aid", product.first_aid),
            ("re-entry", product.reentry),
        )
        if not known
    ]


def taken_texts(truck_plan: TruckPlan, truck: Truck) -> dict[str, str]:
    """By the order whose lawn takes mix that was caught: '3.1 gal caught at stop 2'."""
    texts: dict[str, list[str]] = {}
    taker = {(s.seq, work.mix_id): work.order_id for s, work in reversed(list(works(truck_plan)))}
    for one in catches(truck_plan, truck):
        for lawn, gal in one.lawns.items():
            if (lawn, one.mix_id) in taker:
                text = f"{gal_text(gal)} gal {_source(one)}"
                texts.setdefault(taker[lawn, one.mix_id], []).append(text)
    return {name: " and ".join(some) for name, some in texts.items()}


def _source(one: Catch) -> str:
    if one.from_truck:
        return f"from {one.from_truck}"
    said = {KEPT: "kept from before today", YARD: "caught in the yard"}
    return said.get(one.seq, f"caught at stop {one.seq}")


def use_text(day: Day, caught: Iterable[Catch]) -> str:
    """'Spray 4.1 gal first at stop 9 (2,050 ft² of it), then the hose.' caught: all of
    one mix."""
    some, said = list(caught), []
    for one in some:
        per_1000 = day.workbook.mixes[one.mix_id].carrier_gal_per_1000_ft2
        of = f" {_source(one)}" if len(some) > 1 else ""
        for lawn, gal in one.lawns.items():
            what = f"{gal_text(gal)} gal{of}"
            if lawn == NO_LAWN:
                said.append(f"Keep {what} in the container for another day, if the labels allow.")
            else:
                on = f"{gal / per_1000 * 1000:,.0f} ft² of it"
                said.append(f"Spray {what} first at stop {lawn} ({on}), then the hose.")
    return " ".join(said)


def kept_texts(truck_plan: TruckPlan, day: Day) -> list[str]:
    """What stands in containers in the morning, what becomes of it, and what changes trucks.
    Workbook of the day: as with_handed gives it."""
    trucks, texts = day.workbook.trucks, []
    for one in catches(truck_plan, trucks[truck_plan.truck_id]):
        if one.seq != KEPT:
            continue
        lawns = [f"spray {gal_text(gal)} gal first at stop {s}" for s, gal in one.lawns.items()]
        if NO_LAWN in one.lawns:
            lawns[-1] = f"keep {gal_text(one.lawns[NO_LAWN])} gal, marked: no lawn here takes it"
        if one.from_truck:
            giver = trucks[one.from_truck].title
            lawns = [f"take the container over from {giver} before both leave", *lawns]
        texts.append(f"{gal_text(one.gal)} gal of {mix_name(day, one.mix_id)}: {'; '.join(lawns)}")
    return texts + [
        f"{gal_text(one.gal)} gal of {mix_name(day, one.mix_id)}: hand the container over to "
        f"{taker.title} before both leave"
        for taker in trucks.values()
        for one in taker.service_containers
        if one.from_truck == truck_plan.truck_id
    ]


def containers_tonight(truck_plan: TruckPlan, day: Day) -> str:
    """What stands in containers after the last lawn, '' = nothing."""
    left: dict[str, float] = {}
    for one in catches(truck_plan, day.workbook.trucks[truck_plan.truck_id]):
        left[one.mix_id] = left.get(one.mix_id, 0.0) + one.lawns.get(NO_LAWN, 0.0)
    texts = [f"{gal_text(gal)} gal of {mix_name(day, name)}" for name, gal in left.items() if gal]
    return f"Service containers tonight: {'; '.join(texts)}." if texts else ""
