"""A quick repair of a stop order that just got one order more: a refill or lunch put in, or both.

Placing all refills anew (planner/routing/compiled/refills.py) finds more but costs as much as a few
hundred walks; this looks only where the rule broke, which is enough to know whether an order fits.
"""

from planner.routing.exact.route_cost import LUNCH, TruckDay

MENDABLE = frozenset({"dry", "weight", "lunch", "owed"})
"""Faults that one more refill or another lunch may mend."""


def mend(day: TruckDay, stops: list[int], under_cost: float) -> tuple[float, list[int]] | None:
    """Cost below under_cost and stop order with a refill added, lunch moved, or both; None when
    there is nothing so simple. day.fault must be that of these stops."""
    if day.fault is None or day.fault[0] not in MENDABLE:
        return None
    fault, at = day.fault
    if fault in ("lunch", "owed"):
        return _other_lunch(day, stops, under_cost)
    return _one_refill(day, stops, at, under_cost)


def _other_lunch(
    day: TruckDay, stops: list[int], under_cost: float
) -> tuple[float, list[int]] | None:
    best: tuple[float, list[int]] | None = None
    rest = [stop for stop in stops if stop != LUNCH]
    fitted = 0
    for place in range(_earliest(day), len(rest) + 1):
        trial = [*rest[:place], LUNCH, *rest[place:]]
        cost = day.cost(trial)
        if day.fault is not None:
            if day.fault == ("lunch", place):
                break
            continue
        if cost < under_cost:
            under_cost, best = cost, (cost, trial)
        fitted += 1
        if fitted == day.tuning.repair_mend_lunches:
            break
    return best


def _one_refill(
    day: TruckDay, stops: list[int], at: int, under_cost: float
) -> tuple[float, list[int]] | None:
    """A refill somewhere in the leg whose fill, at stop `at`, is not enough."""
    orders = day.orders
    is_refill = at < len(stops) and stops[at] >= orders
    first = at + 2 if is_refill else _earliest(day)
    last = next((place for place in range(first, len(stops)) if stops[place] >= orders), len(stops))
    ways = []
    for place in range(first, last):
        here, there = _place(day, stops, place - 1), _place(day, stops, place)
        straight = day.minutes[here][there]
        near = sorted(
            (day.minutes[here][site[0]] + day.minutes[site[0]][there] - straight + site[1], row)
            for row, site in enumerate(day.sites)
            if day.makes[row]
        )
        ways += [(minutes, place, row) for minutes, row in near[: day.tuning.repair_mend_sites]]
    ways.sort()
    best: tuple[float, list[int]] | None = None
    for _, place, row in ways[: day.tuning.repair_mend_refills]:
        trial = [*stops[:place], orders + row, *stops[place:]]
        cost = day.cost(trial)
        if cost < under_cost:
            under_cost, best = cost, (cost, trial)
        elif day.fault is not None and day.fault[0] in ("lunch", "owed"):
            # The refill fits; with it the day gets so long that lunch must be put (elsewhere).
            found = _other_lunch(day, trial, under_cost)
            if found is not None:
                under_cost, best = found[0], found
    return best


def _earliest(day: TruckDay) -> int:
    """The first place at which lunch or a refill makes sense: never straight after the departure,
    where the truck was filled and the crew has done nothing yet."""
    return 0 if day.is_out else 1


def _place(day: TruckDay, stops: list[int], at: int) -> int:
    """Place of a stop; lunch is where the stop before is, the ends are start and yard."""
    while at >= 0 and at < len(stops) and stops[at] == LUNCH:
        at -= 1
    if at < 0 or at >= len(stops):
        return day.start_place if at < 0 else day.yard_place
    stop = stops[at]
    return day.place[stop] if stop < day.orders else day.sites[stop - day.orders][0]
