"""What a truck carries of mixes that no mix sheet of its day is about: in hoses, in service
containers, in compartments that are not used. Whoever carries, rinses or sprays it is told what its
labels ask for, as of a mix that is filled. What a rinse takes out is on its compartment's sheet."""

from dataclasses import dataclass

from planner.day.day import Day
from planner.mixing.containers import LEAST_GAL
from planner.papers.label_facts import LabelFacts, label_facts
from planner.papers.lookup import fresh_part, held_gal, mix_name, used_compartments, works
from planner.papers.render import gal_text
from planner.plan.caught import KEPT, NO_LAWN, YARD, catches, rinsed_lines
from planner.plan.model import TruckPlan


@dataclass(frozen=True)
class AlsoOnBoard:
    """One mix. places: where it is, with gallons, in words."""

    mix_id: str
    name: str
    places: tuple[str, ...]
    label: LabelFacts


def also_on_board(truck_plan: TruckPlan, day: Day) -> tuple[AlsoOnBoard, ...]:
    """Mixes on board at the beginning of the day, or of what is left of it, that are neither filled
    nor sprayed from a compartment, in the order of compartments, hoses and containers; () for a
    truck that stays in the yard. Raises KeyError for a truck or mix that the day does not have."""
    fresh, truck = fresh_part(truck_plan), day.workbook.trucks[truck_plan.truck_id]
    used = used_compartments(fresh)
    covered = {truck_plan.loading.get(name) for name in used}
    done = {stop.seq for stop in truck_plan.stops if stop.done}
    places: dict[str, list[str]] = {}

    def put(mix_id: str | None, place: str) -> None:
        if mix_id is not None and mix_id not in covered:
            places.setdefault(mix_id, []).append(place)

    for row in sorted(truck.compartments, key=lambda row: row.position):
        name, gal = row.compartment_id, held_gal(truck_plan, row.compartment_id)
        if name not in used and gal > 0:
            held = truck_plan.loading.get(name) or row.last_mix
            put(held, f"compartment {name} (position {row.position}), {gal_text(gal)} gal")
    hoses = truck.hose_mix
    if done:
        hoses |= dict.fromkeys(rinsed_lines(truck_plan, truck))
        hoses |= {w.line_id: w.mix_id for stop, w in works(truck_plan) if stop.done}
    for line in truck.lines:
        put(hoses[line.line_id], f"hose of line {line.line_id}, {gal_text(line.hose_gal)} gal")
    for one in catches(truck_plan, truck):
        if one.seq == KEPT or one.seq in done or (one.seq == YARD and done):
            gal = sum(g for seq, g in one.lawns.items() if seq == NO_LAWN or seq not in done)
            if gal > LEAST_GAL:
                put(one.mix_id, f"a service container, {gal_text(gal)} gal")
    for taker in day.workbook.trucks.values():
        for kept in taker.service_containers:
            if kept.from_truck == truck_plan.truck_id:
                put(kept.mix_id, f"a service container to hand over, {gal_text(kept.gal)} gal")
    return tuple(
        AlsoOnBoard(mix_id, mix_name(day, mix_id), tuple(some), label_facts(day, (mix_id,)))
        for mix_id, some in places.items()
        if truck_plan.stops
    )
