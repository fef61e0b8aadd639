"""Trucks that queue where a site fills only so many at one time (rule 28): who arrives first fills
first, and of two that arrive together the one whose name comes first."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

DEPART = -1
"""Number of the departure's fill among a truck's refills, where that queues, too (rule 38)."""

ARRIVAL_DIGITS = 6
"""Arrivals are compared as plan.json keeps them, so that a plan read back queues alike."""


@dataclass(frozen=True)
class Refill:
    """A refill stop at a site that fills only so many trucks. number: by which its truck's waits
    are kept; ready_min: arrived, and the site open."""

    number: int
    site_id: str
    arrive_min: float
    ready_min: float
    lasts_min: float


_NO_LOAD = 1_000_000
"""A refill comes after loads that come at the same minute."""

Waits = Mapping[int, float]
"""Refill's number -> minute before which it does not begin."""


def queue_waits(
    refills_of: Callable[[str, Waits], Sequence[Refill]],
    truck_ids: Sequence[str],
    at_once: Mapping[str, int],
    busy_until: Mapping[str, Sequence[float]],
    turns: Mapping[str, int] = MappingProxyType({}),
) -> dict[str, dict[int, float]]:
    """Which refills of which trucks wait for others, and until when.

    refills_of: a truck's refills at limited sites, in order, when it waits so; waiting moves only
    what comes later. at_once: by site. busy_until: by site, when trucks leave that go first in any
    case. turns: in which order trucks are loaded in the morning; equal = who is ready first, then
    who takes less time.
    """
    waits: dict[str, dict[int, float]] = {name: {} for name in truck_ids}
    ahead = {name: list(refills_of(name, {})) for name in truck_ids}
    leaving = {site_id: list(busy_until.get(site_id, ())) for site_id in at_once}
    next_of = dict.fromkeys(truck_ids, 0)
    comes = _load_arrivals(ahead, turns)
    while True:
        arriving = [
            comes[name]
            if ahead[name][at].number == DEPART
            else (round(ahead[name][at].arrive_min, ARRIVAL_DIGITS), _NO_LOAD, name)
            for name, at in next_of.items()
            if at < len(ahead[name])
        ]
        if not arriving:
            return {name: found for name, found in waits.items() if found}
        name = min(arriving)[2]
        refill = ahead[name][next_of[name]]
        begin = _room_at(leaving[refill.site_id], at_once[refill.site_id], refill.ready_min)
        if begin > refill.ready_min:
            waits[name][refill.number] = begin
            ahead[name] = list(refills_of(name, waits[name]))
        leaving[refill.site_id].append(begin + refill.lasts_min)
        next_of[name] += 1


def _load_arrivals(
    ahead: Mapping[str, Sequence[Refill]], turns: Mapping[str, int]
) -> dict[str, tuple[float, int, str]]:
    """Loads come in their turns: each when it and all before it at its yard are ready."""
    loads = {
        name: refills[0]
        for name, refills in ahead.items()
        if refills and refills[0].number == DEPART
    }
    by_turn = sorted(
        (turns.get(name, 0), round(load.ready_min, ARRIVAL_DIGITS), round(load.lasts_min, 6), name)
        for name, load in loads.items()
    )
    latest: dict[str, float] = {}
    comes: dict[str, tuple[float, int, str]] = {}
    for place, (_, ready, _, name) in enumerate(by_turn):
        site_id = loads[name].site_id
        latest[site_id] = max(latest.get(site_id, ready), ready)
        comes[name] = latest[site_id], place, name
    return comes


def _room_at(leaving: list[float], at_once: int, ready_min: float) -> float:
    """First minute from ready_min on at which fewer than at_once that came before are there."""
    still_there = sorted(minute for minute in leaving if minute > ready_min)
    surplus = len(still_there) - at_once
    return still_there[surplus] if surplus >= 0 else ready_min
