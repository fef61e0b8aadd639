"""Names in the plan that the tables do not know. A truck with such a name is not checked
further: the other rules would only repeat it in worse words. And what only a plan that was made
again in its day can break (rules 20 to 24)."""

from collections.abc import Iterator, Mapping

from planner.day.clock import clock_text
from planner.day.day import Day
from planner.day.fleet import Truck
from planner.plan.audit.case import MINUTE_TOLERANCE, TruckCase, Violation, differs
from planner.plan.audit.strength import Strength
from planner.plan.model import Plan, Stop, TruckPlan
from planner.roads.travel import Travel


def check_names(
    day: Day, truck: Truck, planned: TruckPlan, travel: Travel, strengths: Mapping[str, Strength]
) -> Iterator[Violation]:
    """Places, orders, mixes, compartments and lines that one truck's plan names."""
    name = truck.truck_id
    tanks = {tank.compartment_id for tank in truck.compartments}
    for compartment_id in (one.compartment_id for one in planned.fill_to):
        if compartment_id not in tanks:
            yield _unknown("ID-COMPARTMENT", name, None, "compartment", compartment_id)
    for compartment_id, mix_id in planned.loading.items():
        if compartment_id not in tanks:
            yield _unknown("ID-COMPARTMENT", name, None, "compartment", compartment_id)
        yield from _mix(day, strengths, name, None, mix_id)
    for tank in truck.compartments:
        if tank.compartment_id in planned.loading or tank.leftover_gal > 0:
            yield from _mix(day, strengths, name, None, tank.last_mix)
    for entry in planned.cleaning:
        if entry.compartment_id not in tanks:
            yield _unknown("ID-COMPARTMENT", name, None, "compartment", entry.compartment_id)
    driven = set(travel.place_ids)
    for stop in planned.stops:
        yield from _place(day, driven, name, stop)
        yield from _works(day, truck, tanks, strengths, stop)
        for fill in stop.fills:
            if fill.compartment_id not in tanks:
                yield _unknown("ID-COMPARTMENT", name, stop.seq, "compartment", fill.compartment_id)
            yield from _mix(day, strengths, name, stop.seq, fill.mix_id)


def _place(day: Day, driven: set[str], name: str, stop: Stop) -> Iterator[Violation]:
    book = day.workbook
    known = set(book.properties) if stop.kind == "visit" else set(book.sites)
    if stop.kind == "lunch":
        known |= set(book.properties)
    if stop.place_id not in known:
        yield _unknown("ID-PLACE", name, stop.seq, f"place of a {stop.kind}", stop.place_id)
    elif stop.place_id not in driven:
        yield Violation(
            "ID-PLACE", name, stop.seq, f"the roads give no drive times for '{stop.place_id}'"
        )


def _works(
    day: Day, truck: Truck, tanks: set[str], strengths: Mapping[str, Strength], stop: Stop
) -> Iterator[Violation]:
    lines = {line.line_id for line in truck.lines}
    for work in stop.orders:
        if work.order_id not in day.orders:
            yield _unknown("ID-ORDER", truck.truck_id, stop.seq, "order", work.order_id)
        if work.line_id not in lines:
            yield _unknown("ID-LINE", truck.truck_id, stop.seq, "line", work.line_id)
        yield from _mix(day, strengths, truck.truck_id, stop.seq, work.mix_id)
        for draw in (*work.compartments, *work.hose_compartments):
            if draw.compartment_id not in tanks:
                yield _unknown(
                    "ID-COMPARTMENT", truck.truck_id, stop.seq, "compartment", draw.compartment_id
                )


def _mix(
    day: Day, strengths: Mapping[str, Strength], truck_id: str, seq: int | None, mix_id: str | None
) -> Iterator[Violation]:
    if mix_id is None:
        return
    if mix_id not in day.workbook.mixes:
        yield _unknown("ID-MIX", truck_id, seq, "mix", mix_id)
    elif mix_id not in strengths:
        message = f"the amounts of mix {mix_id} cannot be worked out from the tables"
        yield Violation("MIX-RATE", truck_id, seq, message)


def _unknown(code: str, truck_id: str, seq: int | None, what: str, name: str) -> Violation:
    return Violation(
        code, truck_id, seq, f"{what} '{name}' is not among those of this day and truck"
    )


def check_done_comes_first(case: TruckCase) -> Iterator[Violation]:
    """Stops that are done are the first of a truck's, and stand only in a plan made again."""
    for row, stop in enumerate(case.planned.stops):
        if stop.done and case.again is None:
            yield case.found("AGAIN-DONE", row, "is done, yet the plan was not made again")
        elif stop.done and row >= case.done:
            yield case.found("AGAIN-DONE", row, "is done, yet a stop before it is not")


def check_trucks_that_are_down(case: TruckCase) -> Iterator[Violation]:
    """A truck that is down does nothing more but drive home."""
    if case.again is None or case.truck.truck_id not in case.again.down:
        return
    for row, stop in case.fresh():
        if not case.done or stop.kind != "return":
            yield case.found("AGAIN-DOWN", row, f"a {stop.kind} of a truck that is down")


def check_when_it_is_inspected(case: TruckCase) -> Iterator[Violation]:
    """Papers, and planning the day once more, go by what a plan made again keeps of it."""
    truck = case.truck
    if case.again is None or case.done or not case.planned.stops or not truck.inspection_min:
        return
    morning = truck.shift_start_min + truck.inspection_min
    kept = max(case.depart_min, case.again.inspected_min.get(truck.truck_id, morning))
    right = max(case.depart_min, case.inspected_min)
    if differs(kept, right, MINUTE_TOLERANCE):
        text = f"is inspected at {clock_text(kept)} by the plan, should be {clock_text(right)}"
        yield case.found("CLOCK-DEPART", 0, text)


def check_what_was_skipped(plan: Plan) -> Iterator[Violation]:
    """An order that was left out for the day stands nowhere in the plan."""
    skipped = {*plan.laid_later, *(plan.again.skipped if plan.again is not None else ())}
    found = {work.order_id for truck in plan.trucks for stop in truck.stops for work in stop.orders}
    found |= {row.order_id for row in (*plan.held, *plan.unserved)}
    for order_id in sorted(skipped & found):
        yield Violation(
            "AGAIN-SKIPPED", None, None, f"order {order_id} was to be left out, and is in the plan"
        )
