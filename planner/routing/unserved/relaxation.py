"""Relaxations: what would have to be otherwise in the day, so that an order that is not served
fits, and how a person would say it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from math import inf

from planner.day.clock import Window, clock_text, intersect
from planner.routing.problem import CompartmentSpec, Loading, OrderTask, RoutingProblem, TruckSpec

ALWAYS = Window(-inf, inf)
"""No limit at all, not even the weather's: for finding out what bars an order."""
ANY_HOUR = Window(0.0, 2880.0)
"""Whatever hour the customer would have to name; the weather keeps its limits."""


@dataclass(frozen=True)
class Relaxation:
    """Changes to a day that belong together.

    truck_id: the truck that would do the order. one_more: not that truck but one more like it,
    with nothing else to do. loading: how it is then loaded, None = as it is. later_min: back so
    much later. payload_lb: so much more weight rating. window: a span added to those in which the
    order may be done. sites_open: sites fill at any hour. allowed: the order may be done by this
    truck. hose: a line of the truck and how long its hose is then, ft. compartment: one more, like
    the truck's compartment of that name (and reserved like it) but of so many gallons. parts: the
    order in so many equal orders.
    """

    truck_id: str
    one_more: bool = False
    loading: Loading | None = None
    later_min: float = 0.0
    payload_lb: float = 0.0
    window: Window | None = None
    sites_open: bool = False
    allowed: bool = False
    hose: tuple[str, float] | None = None
    compartment: tuple[str, float] | None = None
    parts: int = 1

    @property
    def kind(self) -> tuple[str, ...]:
        """Names of what is changed."""
        changed = {
            "one_more": self.one_more,
            "compartment": self.compartment is not None,
            "loading": self.loading is not None
            and not (self.one_more or self.compartment is not None),
            "allowed": self.allowed,
            "hose": self.hose is not None,
            "parts": self.parts > 1,
            "later_min": self.later_min > 0.0,
            "window": self.window is not None,
            "payload_lb": self.payload_lb > 0.0,
            "sites_open": self.sites_open,
        }
        return tuple(name for name, is_changed in changed.items() if is_changed)


def relaxed(problem: RoutingProblem, order: OrderTask, room: Relaxation) -> RoutingProblem:
    """The day with that room. The truck of `one_more` is not added: whoever asks takes the truck
    it is like with an empty day."""
    orders = problem.orders
    if room.window is not None or room.allowed or room.parts > 1:
        changed = replace(
            order,
            windows=_wider(order, room.window),
            allowed_trucks=order.allowed_trucks | ({room.truck_id} if room.allowed else set()),
            gal=order.gal / room.parts,
        )
        orders = tuple(changed if other is order else other for other in orders)
    sites = problem.sites
    if room.sites_open:
        sites = tuple(replace(site, open_min=None, close_min=None) for site in sites)
    trucks = tuple(
        _roomier(truck, room) if truck.truck_id == room.truck_id else truck
        for truck in problem.trucks
    )
    return replace(problem, orders=orders, sites=sites, trucks=trucks)


def _wider(order: OrderTask, added: Window | None) -> tuple[Window, ...] | None:
    """A customer's longer hours make no weather: what its label's limits close stays closed."""
    wider = joined(order.windows, added)
    return wider if added in (None, ALWAYS) else intersect(wider, order.weather)


def joined(windows: tuple[Window, ...] | None, added: Window | None) -> tuple[Window, ...] | None:
    """Windows with one more, those that touch made one; None stands for 'any time'."""
    if windows is None or added is None:
        return windows
    if added == ALWAYS:
        return None
    apart = []
    for window in windows:
        if window.close_min < added.open_min or window.open_min > added.close_min:
            apart.append(window)
        else:
            added = Window(
                min(added.open_min, window.open_min), max(added.close_min, window.close_min)
            )
    return tuple(sorted([*apart, added]))


def _roomier(truck: TruckSpec, room: Relaxation) -> TruckSpec:
    lines = truck.lines
    if room.hose is not None:
        line_id, hose_ft = room.hose
        # What a hose holds grows with its length.
        lines = tuple(
            replace(line, hose_ft=hose_ft, hose_gal=line.hose_gal * hose_ft / line.hose_ft)
            if line.line_id == line_id
            else line
            for line in lines
        )
    compartments = truck.compartments
    if room.compartment is not None:
        like_id, capacity_gal = room.compartment
        like = next(part for part in compartments if part.compartment_id == like_id)
        compartments = (*compartments, _one_more_compartment(compartments, like, capacity_gal))
    return replace(
        truck,
        latest_return_min=truck.latest_return_min + room.later_min,
        payload_lb=truck.payload_lb + room.payload_lb,
        lines=lines,
        compartments=compartments,
    )


def _one_more_compartment(
    parts: Iterable[CompartmentSpec], like: CompartmentSpec, capacity_gal: float
) -> CompartmentSpec:
    taken = {part.compartment_id for part in parts}
    number = len(taken) + 1
    while str(number) in taken:
        number += 1
    return replace(
        like,
        compartment_id=str(number),
        capacity_gal=capacity_gal,
        position=max(part.position for part in parts) + 1,
        start_gal=0.0,
        start_mix=None,
    )


def relaxation_text(room: Relaxation, truck: TruckSpec, order: OrderTask) -> str:
    """A room in words, to stand after 'what would make room: '."""
    if room.one_more:
        return f"one more truck like {room.truck_id}"
    words = []
    if room.parts > 1:
        words.append(f"{room.parts} equal orders instead of one")
    if room.hose is not None:
        words.append(f"{room.hose[1]:g} ft of hose on line {room.hose[0]}")
    if room.compartment is not None:
        like_id, capacity_gal = room.compartment
        like = next(part for part in truck.compartments if part.compartment_id == like_id)
        reserved = f", reserved for {like.reserved_for}," if like.reserved_for else ""
        words.append(
            f"one more compartment of {capacity_gal:g} gal{reserved} for {order.mix_id} on line "
            f"{like.line_id}"
        )
    elif room.loading is not None:
        words.append(f"another loading ({_loaded(truck, room.loading)})")
    if room.window is not None:
        words.append(_window_text(room.window, order))
    if room.payload_lb > 0.0:
        words.append(f"{room.payload_lb:.0f} lb more weight rating")
    if room.sites_open:
        words.append("water points open at any hour")
    if room.later_min > 0.0:
        words.append(f"{room.later_min:.0f} more minutes")
    changes = " and ".join(words)
    if room.allowed:
        return f"allowing truck {room.truck_id}" + (f" and giving it {changes}" if words else "")
    if room.kind == ("sites_open",):
        return f"{changes} for truck {room.truck_id}"
    of_line = " on line " in words[-1]
    return f"{changes} {'of' if of_line else 'on'} truck {room.truck_id}"


def _loaded(truck: TruckSpec, loading: Loading) -> str:
    return ", ".join(
        f"{part.compartment_id}: {mix_id}"
        for part, mix_id in zip(truck.compartments, loading.mix_of, strict=True)
        if mix_id is not None
    )


def _window_text(window: Window, order: OrderTask) -> str:
    """What of a window is new to an order."""
    known = order.windows or ()
    if any(old.open_min == window.open_min for old in known):
        return f"a window until {clock_text(window.close_min)}"
    if any(old.close_min == window.close_min for old in known):
        return f"a window from {clock_text(window.open_min)}"
    return f"a window from {clock_text(window.open_min)} to {clock_text(window.close_min)}"
