"""What a crew does in the yard before it leaves and after it is back (rule 38), in words."""

from planner.day.clock import clock_text
from planner.day.fleet import Truck
from planner.plan.model import Again, Stop, TruckPlan

WORTH_SAYING_MIN = 0.5
EVENING = (
    "Loaded the evening before, which only mixes may be whose labels allow it. Read the levels and "
    "agitate before you leave."
)


def yard_text(truck_plan: TruckPlan, stop: Stop, truck: Truck, again: Again | None = None) -> str:
    """The morning at a departure, the end of the day at a return; '' where neither takes time.
    again: of the plan."""
    if stop.kind == "return":
        return _closing(stop, truck)
    if stop.kind != "depart":
        return ""
    steps = []
    kept = again.inspected_min if again is not None else {}
    ready = max(stop.arrive_min, kept.get(truck.truck_id, truck.inspected_min))
    if ready > stop.arrive_min:
        steps.append(f"inspect the truck until {clock_text(ready)}")
    if truck.yard_loading == "morning":
        cleaning = sum(entry.minutes for entry in truck_plan.cleaning)
        if cleaning:
            ready += cleaning
            steps.append(f"clean until {clock_text(ready)}")
        if stop.begin_min > ready + WORTH_SAYING_MIN:
            steps.append(f"wait for the hose until {clock_text(stop.begin_min)}")
        if stop.fills:
            steps.append(f"fill until {clock_text(stop.leave_min)}")
    words = f"Report at {clock_text(stop.arrive_min)}: {', '.join(steps)}." if steps else ""
    if truck.yard_loading == "evening" and stop.fills:
        words = f"{words} {EVENING}".strip()
    return words


def _closing(stop: Stop, truck: Truck) -> str:
    if stop.leave_min <= stop.arrive_min:
        return ""
    steps = [
        f"{what} {minutes:.0f} min"
        for what, minutes in (
            ("wash down and park", truck.washdown_min),
            ("paperwork", truck.paperwork_min),
        )
        if minutes
    ]
    words = ", ".join(steps)
    return f"{words[:1].upper()}{words[1:]}. Released at {clock_text(stop.leave_min)}."
