"""Offers of room in the reasons of unserved orders: each is read, made in the tables, and must let
the truck do the order at least when it does nothing else. An offer that would not even do that is
false."""

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

from planner.day.clock import Window
from planner.day.fleet import Compartment, Truck
from planner.plan.audit.alone import Alone, Berth, berths
from planner.plan.audit.rules_loading import loading_rules_broken
from planner.plan.audit.rules_people import lacked
from planner.plan.audit.weather import shared
from planner.plan.model import TruckPlan

ROOM = "; what would make room: "
NUMBER = r"([\d.]+)"
CLOCK = r"(\d+:\d\d [AP]M)"


class Aboard(NamedTuple):
    """What a truck of a plan carries: compartment and mix; mixes that it sprays; whether it stays
    home."""

    loading: tuple[tuple[str, str | None], ...] = ()
    sprays: frozenset[str] = frozenset()
    idle: bool = False


def aboard(planned: TruckPlan) -> tuple[Aboard, frozenset[str]]:
    """Of one truck's day, and the places where it sprays."""
    works = [(stop.place_id, work) for stop in planned.stops for work in stop.orders]
    sprays = frozenset(work.mix_id for _, work in works)
    carried = Aboard(tuple(planned.loading.items()), sprays, not planned.stops)
    return carried, frozenset(place for place, _ in works)


@dataclass(frozen=True)
class PlannedLoads:
    """All that the reason of an order may say of a plan's trucks. of: by truck; here: those that
    spray at its place."""

    of: tuple[tuple[str, Aboard], ...]
    here: frozenset[str]

    def truck(self, name: str) -> Aboard:
        """What it carries; nothing where the plan does not name it."""
        return dict(self.of).get(name, Aboard())

    def gal(self, berth: Berth, mix_id: str) -> float:
        """Gallons of the mix that the pump reaches on that line as the truck is loaded."""
        loading = dict(self.truck(berth.truck.truck_id).loading)
        return sum(
            tank.capacity_gal - tank.heel_gal
            for tank in berth.tanks
            if loading.get(tank.compartment_id) == mix_id
        )


@dataclass
class OfferRead:
    """One offer as it is read. tanks: of the line that would carry the mix, None = as loaded."""

    truck: Truck
    case: Alone
    allowing: bool = False
    one_more: bool = False
    loading: dict[str, str] | None = None
    added: Compartment | None = None


class Unreadable(Exception):
    """Words of an offer that say nothing that can be checked, or something false."""


def check_offers(
    reason: str,
    alone: Mapping[str, Alone],
    allowed: Sequence[Truck],
    loads: PlannedLoads,
    weather: Mapping[str, tuple[Window, ...] | None],
) -> Iterator[tuple[str, str]]:
    """What is false about the rooms that a reason names. alone: the order by truck; allowed: trucks
    that may do it; weather: order id -> what its label leaves of the day."""
    rooms = re.sub(r" \(pinned to .+ by hand\)$", "", reason).partition(ROOM)[2]
    for text in rooms.split(", or ") if rooms else ():
        try:
            _check(text, alone, allowed, loads, weather)
        except Unreadable as error:
            yield "OFFER", f"'{text}': {error}"


def _check(
    text: str,
    alone: Mapping[str, Alone],
    allowed: Sequence[Truck],
    loads: PlannedLoads,
    weather: Mapping[str, tuple[Window, ...] | None],
) -> None:
    offer = _read(text, alone, weather)
    name, order = offer.truck.truck_id, offer.case.order
    may = name in {truck.truck_id for truck in allowed}
    if offer.allowing and lacked(offer.case.day, order, offer.truck):
        raise Unreadable(f"nobody on {name} has the license")
    if may == offer.allowing:
        raise Unreadable(f"{name} may {'do it anyway' if may else 'not do it'}")
    found = list(_berths(offer, loads))
    if not found:
        raise Unreadable(f"{name} would not carry {order.mix_id} then")
    run_ft = offer.case.day.workbook.properties[order.property_id].hose_run_ft
    # Where the truck sprays its mix already, the hose may be full of it by then.
    sprayed = frozenset[str]() if offer.one_more else loads.truck(name).sprays
    full = order.mix_id in sprayed
    offer.case = replace(offer.case, hose_full=full, set_up=name in loads.here, sprayed=sprayed)
    for one in found:
        if one.line.hose_ft < run_ft or not one.holds(offer.case.gal, hose_full=full):
            continue
        if not offer.case.surely_too_late(one) and offer.case.over_lb(one) <= 1.0:
            return
    raise Unreadable(f"{name} could not do it then, even if it did nothing else")


def _berths(offer: OfferRead, loads: PlannedLoads) -> Iterator[Berth]:
    """Where the mix would be on the truck with the room made."""
    truck, case = offer.truck, offer.case
    mix_id, name = case.order.mix_id, truck.truck_id
    possible = list(berths(case.day.workbook, truck, mix_id))
    if offer.one_more or (offer.loading is None and offer.added is None and loads.truck(name).idle):
        yield from possible
        return
    loading: dict[str, str] = offer.loading or {
        key: mix for key, mix in loads.truck(name).loading if mix is not None
    }
    if offer.added is not None:
        loading = loading | {offer.added.compartment_id: mix_id}
    lacking = loads.truck(name).sprays - set(loading.values())
    if lacking:
        raise Unreadable(f"{name} sprays {', '.join(sorted(lacking))} and would not carry it")
    if offer.loading is not None or offer.added is not None:
        for broken in loading_rules_broken(case.day, truck, loading):
            raise Unreadable(broken.message)
    for one in possible:
        tanks = tuple(tank for tank in one.tanks if loading.get(tank.compartment_id) == mix_id)
        if tanks:
            yield replace(one, tanks=tanks)


def _read(
    text: str, alone: Mapping[str, Alone], weather: Mapping[str, tuple[Window, ...] | None]
) -> OfferRead:
    more = re.fullmatch(r"one more truck and crew like (.+)", text)
    if more is not None:
        return OfferRead(_truck(more[1], alone), alone[more[1]], one_more=True)
    allowing = re.fullmatch(r"allowing truck (.+?)(?: and giving it (.+))?", text)
    if allowing is not None:
        name, words = allowing[1], allowing[2] or ""
    else:
        found = re.fullmatch(r"(.+) (?:on|of|for) truck (.+)", text)
        if found is None:
            raise Unreadable("it cannot be read")
        words, name = found[1], found[2]
    offer = OfferRead(_truck(name, alone), alone[name], allowing=allowing is not None)
    for one in re.split(r" and (?=\d|a window|another|one more|water)", words) if words else ():
        _add(offer, one, weather)
    return offer


def _truck(name: str, alone: Mapping[str, Alone]) -> Truck:
    if name not in alone:
        raise Unreadable(f"there is no truck {name} in service")
    return alone[name].day.workbook.trucks[name]


def _add(offer: OfferRead, words: str, weather: Mapping[str, tuple[Window, ...] | None]) -> None:
    case = offer.case
    if found := re.fullmatch(rf"{NUMBER} more minutes", words):
        offer.case = replace(case, later_min=float(found[1]))
    elif found := re.fullmatch(rf"{NUMBER} lb more weight rating", words):
        offer.case = replace(case, more_lb=float(found[1]))
    elif found := re.fullmatch(r"(\d+) equal orders instead of one", words):
        offer.case = replace(case, gal=case.gal / int(found[1]))
    elif words == "water points open at any hour":
        offer.case = replace(case, sites_open=True)
    elif found := re.fullmatch(rf"{NUMBER} ft of hose on line (.+)", words):
        offer.truck = _longer_hose(offer.truck, found[2], float(found[1]))
    elif found := re.fullmatch(r"another loading \((.+)\)", words):
        offer.loading = _loading(offer, found[1])
    elif words.startswith("a window "):
        offer.case = replace(case, windows=_wider(case, words, weather))
    elif found := re.fullmatch(
        rf"one more compartment of {NUMBER} gal(?:, reserved for (.+),)? for (.+) on line (.+)",
        words,
    ):
        if found[3] != case.order.mix_id:
            raise Unreadable(f"the order is {case.order.mix_id}")
        _one_more_tank(offer, float(found[1]), found[2], found[4])
    else:
        raise Unreadable(f"'{words}' cannot be read")


def _loading(offer: OfferRead, words: str) -> dict[str, str]:
    """Compartment -> mix of '1: WEED, 2: FEED'; names may hold commas and colons."""
    tanks = [tank.compartment_id for tank in offer.truck.compartments]
    pairs = [f"{tank}: {mix_id}" for tank in tanks for mix_id in offer.case.day.workbook.mixes]
    found: dict[str, str] = {}
    left = words
    while left:
        pair = max((one for one in pairs if left.startswith(one)), key=len, default="")
        if not pair:
            raise Unreadable(f"'{left}' names no compartment with a mix")
        name = max((one for one in tanks if pair.startswith(f"{one}: ")), key=len)
        found[name] = pair[len(name) + 2 :]
        left = left[len(pair) :].removeprefix(", ")
    return found


def _longer_hose(truck: Truck, line_id: str, hose_ft: float) -> Truck:
    known = {line.line_id: line.hose_ft for line in truck.lines}
    if known.get(line_id, hose_ft) >= hose_ft:
        raise Unreadable(f"{truck.truck_id} has no line {line_id} with a shorter hose")
    lines = (
        replace(line, hose_ft=hose_ft) if line.line_id == line_id else line for line in truck.lines
    )
    return replace(truck, lines=tuple(lines))


def _one_more_tank(offer: OfferRead, capacity_gal: float, group: str | None, line_id: str) -> None:
    like = [tank for tank in offer.truck.compartments if tank.line_id == line_id]
    if not like:
        raise Unreadable(f"{offer.truck.truck_id} has no line {line_id}")
    offer.added = replace(
        min(like, key=lambda tank: tank.heel_gal),
        compartment_id="one more",
        capacity_gal=capacity_gal,
        position=max(tank.position for tank in offer.truck.compartments) + 1,
        reserved_for=group,
        last_mix=None,
        leftover_gal=0.0,
    )
    offer.truck = replace(offer.truck, compartments=(*offer.truck.compartments, offer.added))


def _wider(
    case: Alone, words: str, weather: Mapping[str, tuple[Window, ...] | None]
) -> tuple[Window, ...] | None:
    """The order's windows with the one of the words, less what the weather closes."""
    known = case.order.windows
    if known is None:
        raise Unreadable("the customer has no windows: only the weather closes hours")
    if found := re.fullmatch(rf"a window from {CLOCK} to {CLOCK}", words):
        added = (minutes(found[1]), minutes(found[2]))
    elif found := re.fullmatch(rf"a window until {CLOCK}", words):
        until = minutes(found[1])
        added = (max((w.open_min for w in known if w.open_min <= until), default=until), until)
    elif found := re.fullmatch(rf"a window from {CLOCK}", words):
        begin = minutes(found[1])
        added = (begin, min((w.close_min for w in known if w.close_min >= begin), default=begin))
    else:
        raise Unreadable(f"'{words}' cannot be read")
    if added[0] >= added[1] or any(
        w.open_min <= added[0] and added[1] <= w.close_min for w in known
    ):
        raise Unreadable(f"'{words}' adds nothing to its windows")
    merged: list[Window] = []
    for window in sorted([*known, Window(*added)]):
        if merged and window.open_min <= merged[-1].close_min:
            last = merged.pop()
            window = Window(last.open_min, max(last.close_min, window.close_min))
        merged.append(window)
    return shared(tuple(merged), weather[case.order.order_id])


def minutes(clock: str) -> float:
    """Minutes after midnight of '7:05 AM'; -1 where it is no time."""
    found = re.fullmatch(r"(\d+):(\d\d) ([AP])M", clock)
    if found is None:
        return -1.0
    return (int(found[1]) % 12 + 12 * (found[3] == "P")) * 60.0 + int(found[2])
