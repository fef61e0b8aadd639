"""What trucks share: what the store gives out (rule 27), all fills of the day together, and who
waits for whom at a site (rule 28). Written apart from `planner.mixing` and `planner.routing`."""

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass

from planner.day.clock import clock_text
from planner.day.day import Day
from planner.day.products import Form, Product
from planner.plan.audit.case import MINUTE_TOLERANCE, TruckCase, Violation
from planner.plan.audit.rules_loading import NO_LEDGER, NOWHERE
from planner.plan.audit.strength import Strength, pounds_per_gal
from planner.plan.model import Plan, Stop

SLACK = 1e-6
"""Gallons or pounds: plan.json keeps six decimals."""


def check_store(plan: Plan, day: Day, strengths: Mapping[str, Strength]) -> Iterator[Violation]:
    """No product is taken out of the store beyond what it holds. Counted is what the gallons of the
    fills hold by the rates of their mixes, whatever amounts the plan writes beside them. Fills that
    are done are facts: what they took beyond it bars all others from taking any."""
    held = held_in_store(day)
    out, done = taken_from_store(plan, held, strengths)
    for name, amount in out.items():
        if amount > max(held[name], done[name]) + SLACK:
            product = day.workbook.products[name]
            yield Violation(
                "STORE-MORE",
                None,
                None,
                f"the fills take {amount:.3f} {product.unit} of {product.name}, the store holds "
                f"{held[name]:.3f}",
            )


def held_in_store(day: Day) -> dict[str, float]:
    """Gallons or pounds of each product that is limited in the store."""
    return {
        name: amount
        for name, product in day.workbook.products.items()
        if (amount := _held(product)) is not None
    }


def taken_from_store(
    plan: Plan, products: Collection[str], strengths: Mapping[str, Strength]
) -> tuple[dict[str, float], dict[str, float]]:
    """Gallons or pounds of these products that the plan's fills take, and of that what is done."""
    out, done = dict.fromkeys(products, 0.0), dict.fromkeys(products, 0.0)
    for truck in plan.trucks:
        for stop in truck.stops:
            for fill in stop.fills:
                mix = strengths.get(fill.mix_id)
                for name, per_gal in mix.product.items() if mix is not None else ():
                    if name in out:
                        out[name] += per_gal * fill.gal
                        done[name] += per_gal * fill.gal if stop.done else 0.0
    return out, done


def _held(product: Product) -> float | None:
    """Gallons of a liquid or pounds of a dry product in the store; None = plenty."""
    stock = product.in_store
    if stock is None:
        return None
    liquid = product.form is Form.LIQUID
    if liquid == (stock.kind == "volume"):
        return stock.base
    per_gal = pounds_per_gal(product) if liquid else None
    return None if per_gal is None else stock.base / per_gal


@dataclass(frozen=True)
class Turn:
    """A refill, or a departure's fill, and whose it is. comes: when it comes, by which those who
    wait are in order; ready_min: it could begin then if nobody was before it."""

    truck_id: str
    stop: Stop
    comes: tuple[float, int, int]
    ready_min: float


def check_queues(plan: Plan, day: Day) -> Iterator[Violation]:
    """At a site that fills only so many trucks at one time, each begins as soon as fewer than that
    are left of those that came before it, and no sooner."""
    turns: dict[str, list[Turn]] = {}
    for truck in plan.trucks:
        for stop in truck.stops:
            if stop.kind == "refill":
                ready = max(stop.arrive_min, _opens(day, stop))
                turn = Turn(truck.truck_id, stop, (round(stop.arrive_min, 6), 1, 0), ready)
                turns.setdefault(stop.place_id, []).append(turn)
    for site_id, loads in _loads(plan, day).items():
        turns.setdefault(site_id, []).extend(loads)
    for site_id, here in turns.items():
        site = day.workbook.sites.get(site_id)
        if site is None or site.trucks_at_once is None:
            continue
        for turn in here:
            if not turn.stop.done:
                yield from _check_turn(turn, here, site.trucks_at_once)


def _opens(day: Day, stop: Stop) -> float:
    site = day.workbook.sites.get(stop.place_id)
    return 0.0 if site is None or site.open_min is None else site.open_min


def _loads(plan: Plan, day: Day) -> dict[str, list[Turn]]:
    """First fills of the morning (rule 38): any order of them is right, so they come as they begin,
    each with the latest of those before it to be ready."""
    found: dict[str, list[tuple[float, float, str, Stop]]] = {}
    for planned in plan.trucks:
        truck = day.workbook.trucks.get(planned.truck_id)
        if truck is None or truck.yard_loading != "morning" or not planned.stops:
            continue
        case = TruckCase(day, truck, planned, NOWHERE, NO_LEDGER, {}, {}, plan.again)
        if case.first_fill_min:
            stop, ready = case.planned.stops[0], case.loads_from_min
            row = (round(stop.begin_min, 6), ready, case.truck.truck_id, stop)
            found.setdefault(stop.place_id, []).append(row)
    turns: dict[str, list[Turn]] = {}
    for site_id, rows in found.items():
        latest = 0.0
        for place, (_, ready, truck_id, stop) in enumerate(sorted(rows, key=lambda row: row[:3])):
            latest = max(latest, round(ready, 6))
            turns.setdefault(site_id, []).append(Turn(truck_id, stop, (latest, 0, place), ready))
    return turns


def _check_turn(turn: Turn, here: list[Turn], at_once: int) -> Iterator[Violation]:
    truck_id, stop, ready = turn.truck_id, turn.stop, turn.ready_min
    first = [
        other.stop for other in here if other.truck_id != truck_id and _goes_first(other, turn)
    ]
    moments = [ready, *(other.leave_min for other in first if other.leave_min > ready)]
    right = min(
        moment for moment in moments if sum(other.leave_min > moment for other in first) < at_once
    )
    if stop.begin_min < right - MINUTE_TOLERANCE:
        yield Violation(
            "SITE-FULL",
            truck_id,
            stop.seq,
            f"begins to fill at {clock_text(stop.begin_min)}; {stop.place_id} fills {at_once} at "
            f"one time, and those that came before leave room at {clock_text(right)}",
        )
    elif stop.begin_min > right + MINUTE_TOLERANCE:
        yield Violation(
            "CLOCK-BEGIN",
            truck_id,
            stop.seq,
            f"the refill begins at minute {stop.begin_min:.2f}, may begin at {right:.2f}",
        )


def _goes_first(other: Turn, turn: Turn) -> bool:
    """Whether the other comes before: what is done does, else who arrives first, else whose name
    comes first (plan.json keeps six digits of a minute)."""
    if other.stop.done:
        return True
    return (*other.comes, other.truck_id) < (*turn.comes, turn.truck_id)
