"""Why an order is not served, in words, and what would make room for it.

Found by asking again: could any truck carry it, could a truck do it if it did nothing else, what
would a truck loaded for it leave out instead, and what would let it into the day as planned.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from math import floor, inf

from planner.day.clock import clock_text
from planner.routing.compiled.python_api import place_refills
from planner.routing.exact.route_cost import TruckDay
from planner.routing.exact.walk import full_walk
from planner.routing.problem import Loading, OrderTask, TruckSpec
from planner.routing.repair.draft import Draft
from planner.routing.repair.improve import loaded_for
from planner.routing.unserved.offers import (
    LATER,
    SITES,
    WEIGHT,
    WINDOW,
    Relaxation,
    most_of_mix,
    relaxation_text,
)
from planner.routing.unserved.relax import (
    FREE,
    FoundRoom,
    Stands,
    as_planned,
    day_with,
    one_more_truck,
    rooms,
)

UNSERVED_CODES = {
    "NO-TRUCK": "No truck may do it",
    "NO-HOSE": "No hose is long enough",
    "NO-MIX": "No truck can carry its mix",
    "TOO-LARGE": "More gallons than any truck can spray from one fill",
    "TOO-HEAVY": "Its gallons alone pass the weight rating",
    "NEVER-OPEN": "No time of the day is allowed",
    "WINDOW": "Its window closes before a truck can be done",
    "SITE": "Its mix cannot be made in time",
    "SHIFT": "It does not fit a whole shift",
    "LOADING": "The trucks that could carry its mix carry others",
    "FULL": "The day is full",
    "PRICE": "Serving it costs more than leaving it out",
    "STORE": "The store does not hold enough of a product",
    "HAND": "It was taken out by hand",
    "STOPPED": "Planning was stopped before a reason was looked for",
    "WHOLE": "Another part of the same order has no room",
}
"""Codes of unserved orders -> title."""

NAMED = 4
"""Orders named in one reason."""
HINTS = 3
"""Rooms named for one order."""


@dataclass(frozen=True)
class Reason:
    """Why an order is not served: code, words, and the rooms that the words name."""

    code: str
    text: str
    rooms: tuple[FoundRoom, ...] = ()


STOPPED = Reason(
    "STOPPED", "planning was stopped before a reason was looked for; plan again to see one"
)


def reasons(draft: Draft) -> dict[str, tuple[str, str]]:
    """Code and words for every unserved order of a draft, by order id."""
    return {order_id: (found.code, found.text) for order_id, found in explained(draft).items()}


def explained(
    draft: Draft, rows: Iterable[int] | None = None, stands: Stands = lambda order, found: True
) -> dict[str, Reason]:
    """The reason for every unserved order of a draft (or those in `rows`), by order id. Each room
    that is named was built beside the draft: it serves the order and all that the draft serves.
    stands: whether it also keeps the limits that trucks share."""
    orders = draft.tables.problem.orders
    given: dict[str, Reason] = {}
    tuned = draft.tuning
    for asked, row in enumerate(draft.unserved if rows is None else rows):
        found = (
            None
            if draft.stop.is_set
            else _reason(
                draft,
                row,
                stands,
                in_detail=asked < tuned.unserved_in_detail,
                # A truck with other rules looks at the whole day: for hundreds that takes minutes.
                looked=asked < tuned.unserved_tried,
            )
        )
        # What was looked for when the stop came may have been found wanting for want of time.
        given[orders[row].order_id] = STOPPED if found is None or draft.stop.is_set else found
    return given


def _reason(draft: Draft, row: int, stands: Stands, *, in_detail: bool, looked: bool) -> Reason:
    code, text = (
        impossible(draft, row)
        or _too_dear(draft, row, in_detail=in_detail)
        or _not_loaded(draft, row, in_detail=in_detail)
        or ("FULL", "; ".join(["the day is full", *_idle(draft, row)]))
    )
    found: tuple[FoundRoom, ...] = ()
    if not looked:
        text += "; what would make room was looked for at other orders only"
    elif code != "PRICE":
        look = rooms if in_detail else one_more_truck
        found = tuple(look(draft, row, stands))
        found = (
            *[one for one in found if not one.room.one_more][: HINTS - 1],
            *[one for one in found if one.room.one_more],
        )
        text += "; " + _rooms_text(draft, row, found)
    return Reason(code, text, found)


def impossible(draft: Draft, row: int) -> tuple[str, str] | None:
    """Code and words for an order that no truck could do if it did nothing else."""
    return _no_truck(draft, draft.tables.problem.orders[row]) or _not_even_alone(draft, row)


def _rooms_text(draft: Draft, row: int, found: tuple[FoundRoom, ...]) -> str:
    if not found:
        return "nothing that was tried would make room for it"
    problem = draft.tables.problem
    hints = [
        relaxation_text(one.room, problem.trucks[one.row], problem.orders[row]) for one in found
    ]
    return "what would make room: " + ", or ".join(hints)


def _names(names: list[str]) -> str:
    """`T1`, `T1 and T2`, `T1, T2 and T3`."""
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _few(names: list[str]) -> list[str]:
    """At most NAMED of the names, and how many others there are."""
    others = len(names) - NAMED
    return names if others <= 1 else [*names[:NAMED], f"{others} others"]


def _allowed(draft: Draft, order: OrderTask) -> list[TruckSpec]:
    return [
        truck for truck in draft.tables.problem.trucks if truck.truck_id in order.allowed_trucks
    ]


def _line_and_gal(truck: TruckSpec, loading: Loading, mix_id: str) -> tuple[float, float]:
    """Hose ft and usable gallons that a loading has for a mix."""
    hose = {line.line_id: line.hose_ft for line in truck.lines}
    carrying = [
        part
        for part, loaded in zip(truck.compartments, loading.mix_of, strict=True)
        if loaded == mix_id
    ]
    usable = sum(part.capacity_gal - part.heel_gal for part in carrying)
    return (hose[carrying[0].line_id] if carrying else 0.0), usable


def _no_truck(draft: Draft, order: OrderTask) -> tuple[str, str] | None:
    """What rules out every truck before any clock is looked at."""
    trucks = _allowed(draft, order)
    if not trucks:
        return "NO-TRUCK", f"no truck in service may do it{_ruled_out(draft, order)}"
    found = no_tank(trucks, order)
    # What stays in the yard might have had the tank or the hose.
    return (found[0], "; ".join([found[1], *(why for _, why in order.shut)])) if found else None


def _ruled_out(draft: Draft, order: OrderTask) -> str:
    """Papers first: whoever reads of the table's columns alone looks in the wrong place."""
    if not order.shut:
        return " (only/never trucks)"
    trucks = [truck.truck_id for truck in draft.tables.problem.trucks]
    others = [name for name in trucks if name not in dict(order.shut)]
    ruled = [f"only/never trucks rule out {_names(_few(others))}"] if others else []
    return f": {'; '.join([*(why for _, why in order.shut), *ruled])}"


def no_tank(trucks: list[TruckSpec], order: OrderTask) -> tuple[str, str] | None:
    """Code and words of what of tanks and hoses rules out every truck that may do it."""
    offers = [
        (truck, *_line_and_gal(truck, loading, order.mix_id))
        for truck in trucks
        for loading in truck.loadings
        if order.mix_id in loading.mix_of
    ]
    names = _names([truck.truck_id for truck in trucks])
    if not offers and any(truck.start is not None for truck in trucks):
        return "NO-MIX", f"{names} cannot be loaded with {order.mix_id} any more today"
    if not offers:
        why = "; ".join(["see keep apart, reserved", *_left_in(trucks, order.mix_id)])
        return "NO-MIX", f"{names} cannot be loaded with {order.mix_id} ({why})"
    reach = [offer for offer in offers if offer[1] >= order.hose_run_ft]
    if not reach:
        longest = max(offer[1] for offer in offers)
        words = (
            f"needs {order.hose_run_ft:g} ft of hose; the longest that can carry "
            f"{order.mix_id} has {longest:g} ft"
        )
        # Whose tanks are taken is not without a hose.
        held = [
            f"{truck.truck_id} would reach, and {left}"
            for truck in trucks
            if all(truck is not one for one, _, _ in offers)
            and any(line.hose_ft >= order.hose_run_ft for line in truck.lines)
            for left in _left_in([truck], order.mix_id)
        ]
        return "NO-HOSE", "; ".join([words, *held])
    truck, _, most = max(reach, key=lambda offer: offer[2])
    if most < order.gal:
        words = (
            f"needs {order.gal:.1f} gal of {order.mix_id}; the most a truck can pump from one "
            f"fill is {most:g} gal ({truck.truck_id})"
        )
        able = list({one.truck_id: one for one, _, _ in reach}.values())
        return "TOO-LARGE", "; ".join([words, *_left_in(able, order.mix_id)])
    return None


def _left_in(trucks: list[TruckSpec], mix_id: str) -> Iterator[str]:
    """What takes up compartments since the day before: no table says it."""
    left = [
        f"{part.start_gal:.4g} gal of {part.start_mix} in {part.compartment_id} of {one.truck_id}"
        for one in trucks
        for part in one.compartments
        if part.start_mix not in (None, mix_id) and part.start_gal > part.heel_gal
    ]
    if left:
        yield f"what is left in it takes no other mix: {_names(_few(left))}"


def _candidates(draft: Draft, row: int) -> Iterator[tuple[int, Loading]]:
    """Every allowed truck with the loadings that carry the most of the order's mix, at least one of
    each line: a faster gun may do what a larger compartment cannot."""
    order, most = draft.tables.problem.orders[row], draft.tuning.unserved_loadings
    for place, truck in enumerate(draft.tables.problem.trucks):
        if truck.truck_id in order.allowed_trucks:
            loadings = most_of_mix(truck, order, set())
            of_line: dict[str, Loading] = {}
            for loading in loadings:
                at = loading.mix_of.index(order.mix_id)
                of_line.setdefault(truck.compartments[at].line_id, loading)
            for loading in dict.fromkeys([*loadings[:most], *of_line.values()]):
                yield place, loading


def _alone(draft: Draft, row: int, place: int, loading: Loading, *rules: str) -> TruckDay:
    """A truck with that loading and some rules set aside."""
    room = Relaxation(draft.tables.problem.trucks[place].truck_id, loading=loading)
    free = {rule: FREE[rule] for rule in rules}
    return day_with(draft, row, place, replace(room, **free))  # type: ignore[arg-type]


def _not_even_alone(draft: Draft, row: int) -> tuple[str, str] | None:
    """Which rule stops every truck even when it does nothing else all day."""
    order = draft.tables.problem.orders[row]
    if order.windows == ():
        return "NEVER-OPEN", "its customer's times and the weather leave no time"
    blocked: dict[str, TruckDay] = {}
    for place, loading in _candidates(draft, row):
        if draft.stop.is_set:
            return None
        if place_refills(_alone(draft, row, place, loading), [row]) is not None:
            return None
        for rule in (WINDOW, WEIGHT, SITES, LATER):
            free = _alone(draft, row, place, loading, rule)
            if place_refills(free, [row]) is not None:
                blocked.setdefault(rule, free)
                break
    if WINDOW in blocked:
        return "WINDOW", _window_text(blocked[WINDOW], row, order)
    if WEIGHT in blocked:
        return (
            "TOO-HEAVY",
            f"its {order.gal:.1f} gal of {order.mix_id} with what the truck must carry anyway "
            "pass the weight rating of every truck that could take it",
        )
    sites = draft.tables.problem.sites
    made = any(site.mixes is None or order.mix_id in site.mixes for site in sites)
    if SITES in blocked or not made:
        return "SITE", f"no site that is open in time makes {order.mix_id}"
    if not blocked and _several_limits(draft, row):
        return (
            "SHIFT",
            "no truck could do it even alone: more than one of shift, windows, weight rating and "
            "hours of the water points is in the way",
        )
    if not blocked:
        return (
            "TOO-LARGE",
            f"its {order.gal:.1f} gal of {order.mix_id} and filling the hose first take more than "
            "any truck can pump from one fill",
        )
    if any(draft.days[place].is_out for place, _ in _candidates(draft, row)):
        return "SHIFT", "driving and spraying it alone take longer than what is left of the day"
    return "SHIFT", "driving and spraying it alone take longer than any truck's day"


def _several_limits(draft: Draft, row: int) -> bool:
    """Whether a truck could do it alone if no such limit bound it."""
    return any(
        place_refills(_alone(draft, row, place, loading, WINDOW, WEIGHT, SITES, LATER), [row])
        is not None
        for place, loading in _candidates(draft, row)
    )


def _window_text(free: TruckDay, row: int, order: OrderTask) -> str:
    found = place_refills(free, [row])
    assert found is not None
    walk = full_walk(free, found[1])
    timing = next(
        timing for stop, timing in zip(found[1], walk.timings, strict=True) if stop == row
    )
    done = timing.leave_min
    last = order.windows[-1].close_min if order.windows else inf
    name = free.truck.truck_id
    if done <= last:
        windows = order.windows or ()
        longest = max(window.close_min - window.open_min for window in windows)
        if timing.leave_min - timing.begin_min > longest:
            return f"{name} takes longer for it than its longest window of {longest:.0f} min"
        spans = " and ".join(
            f"{clock_text(one.open_min)} to {clock_text(one.close_min)}" for one in windows
        )
        return (
            f"{name} must be back by {clock_text(free.truck.latest_return_min)}, and its windows "
            f"({spans}) do not leave it the time"
        )
    start = "where it stands" if free.is_out else "the yard"
    return (
        f"its last window closes at {clock_text(last)}; {name} straight from "
        f"{start} would be done at {clock_text(done)}"
    )


def _too_dear(draft: Draft, row: int, *, in_detail: bool) -> tuple[str, str] | None:
    """It fits the day as planned, but not for its price."""
    found = as_planned(draft, row) if in_detail else None
    if found is None:
        return None
    return (
        "PRICE",
        f"doing it with {found.room.truck_id} would cost {found.more:.0f} more; leaving it out is "
        f"priced at {_price_text(draft, row)}; a price of {floor(found.more) + 1} would serve it",
    )


def _idle(draft: Draft, row: int) -> Iterator[str]:
    """Trucks that stay at home and could take it, had somebody on them the license."""
    order = draft.tables.problem.orders[row]
    why = dict(order.shut)
    for place, truck in enumerate(draft.tables.problem.trucks):
        idle = not draft.stops[place] and truck.start is None
        if truck.truck_id in why and idle and most_of_mix(truck, order, set()):
            yield f"{truck.truck_id} has nothing to do: {why[truck.truck_id]}"


def _price_text(draft: Draft, row: int) -> str:
    order = draft.tables.problem.orders[row]
    text = f"{order.price:.0f}"
    return (
        text if order.price == order.worth else f"{text} today, {order.worth:.0f} on its last day"
    )


def _not_loaded(draft: Draft, row: int, *, in_detail: bool) -> tuple[str, str] | None:
    """Trucks could carry it, but not as they are loaded in this plan."""
    if any(day.can[row] for day in draft.days):
        return None
    problem = draft.tables.problem
    order = problem.orders[row]
    names = list(
        dict.fromkeys(problem.trucks[place].truck_id for place, _ in _candidates(draft, row))
    )
    verb = "is" if len(names) == 1 else "are"
    text = f"{_names(names)} could carry {order.mix_id} but {verb} loaded with other mixes"
    tried = list(loaded_for(draft, row, lambda: draft.stop.is_set)) if in_detail else []
    best = min(tried, key=lambda trial: trial.total, default=None)
    if best is None or best.total <= draft.total:
        return "LOADING", text
    left = sorted(set(best.unserved) - set(draft.unserved))
    if left:
        orders = _names(_few([problem.orders[other].order_id for other in left]))
        return "LOADING", f"{text}; loading one of them for it would leave out {orders} instead"
    cost = best.total - draft.total + order.price
    return (
        "LOADING",
        f"{text}; loading one of them for it would cost {cost:.0f} more and leaving it out is "
        f"priced at {_price_text(draft, row)}",
    )
