"""What a newer plan changes for one truck, told before the crew takes it."""

from planner.day.clock import clock_text
from planner.day.day import Day
from planner.papers.lookup import mix_name, place_text, works
from planner.plan.model import Stop, TruckPlan, Work

WORTH_TELLING_MIN = 5.0
"""Times move by minutes with every change; a crew is told of more (common practice, no source)."""


def change_words(before: TruckPlan | None, after: TruckPlan | None, day: Day) -> tuple[str, ...]:
    """One sentence a change: orders that came, went, or are done at another time, fills that are
    new, gone or of other gallons. None = nothing is planned for the truck."""
    old, new = _orders(before), _orders(after)
    words = [_gone(*old[name], day) for name in old if name not in new]
    for name, (stop, work) in new.items():
        if name not in old:
            words.append(f"New: {_named(stop, work, day)}, {clock_text(work.begin_min)}.")
            continue
        was = old[name][1].begin_min
        if abs(was - work.begin_min) >= WORTH_TELLING_MIN:
            times = f"{clock_text(was)} becomes {clock_text(work.begin_min)}"
            words.append(f"Other time: {_named(stop, work, day)}, {times}.")
    fills_before, fills_after = _fills(before), _fills(after)
    if fills_before != fills_after:
        words.append("Fills are other: look at the yard and the refills before you mix.")
    if [name for name in old if name in new] != [name for name in new if name in old]:
        words.append("The order of the stops is another.")
    return tuple(words) or ("Nothing on this truck but clock times by a few minutes.",)


def _orders(truck_plan: TruckPlan | None) -> dict[str, tuple[Stop, Work]]:
    if truck_plan is None:
        return {}
    return {work.order_id: (stop, work) for stop, work in works(truck_plan)}


def _fills(truck_plan: TruckPlan | None) -> list[tuple[str, str, str]]:
    return [
        (stop.place_id, fill.compartment_id, f"{fill.mix_id} {fill.gal:.1f}")
        for stop in (truck_plan.stops if truck_plan is not None else ())
        for fill in stop.fills
    ]


def _named(stop: Stop, work: Work, day: Day) -> str:
    place = place_text(day, stop.place_id)
    return f"{place.address or place.title} ({mix_name(day, work.mix_id)})"


def _gone(stop: Stop, work: Work, day: Day) -> str:
    return f"No longer on this truck: {_named(stop, work, day)}."
