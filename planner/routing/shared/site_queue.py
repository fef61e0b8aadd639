"""Trucks that queue where a site fills only so many at one time (rule 28): who arrives first fills
first, and of two that arrive together the one whose name comes first."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

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


Waits = Mapping[int, float]
"""Refill's number -> minute before which it does not begin."""


def queue_waits(
    refills_of: Callable[[str, Waits], Sequence[Refill]],
    truck_ids: Sequence[str],
    at_once: Mapping[str, int],
    busy_until: Mapping[str, Sequence[float]],
) -> dict[str, dict[int, float]]:
    """Which refills of which trucks wait for others, and until when.

    refills_of: a truck's refills at limited sites, in order, when it waits so; waiting moves only
    what comes later. at_once: by site. busy_until: by site, when trucks leave that go first in any
    case.
    """
    waits: dict[str, dict[int, float]] = {name: {} for name in truck_ids}
    ahead = {name: list(refills_of(name, {})) for name in truck_ids}
    leaving = {site_id: list(busy_until.get(site_id, ())) for site_id in at_once}
    next_of = dict.fromkeys(truck_ids, 0)
    while True:
        arriving = [
            (round(ahead[name][at].arrive_min, ARRIVAL_DIGITS), name)
            for name, at in next_of.items()
            if at < len(ahead[name])
        ]
        if not arriving:
            return {name: found for name, found in waits.items() if found}
        name = min(arriving)[1]
        refill = ahead[name][next_of[name]]
        begin = _room_at(leaving[refill.site_id], at_once[refill.site_id], refill.ready_min)
        if begin > refill.ready_min:
            waits[name][refill.number] = begin
            ahead[name] = list(refills_of(name, waits[name]))
        leaving[refill.site_id].append(begin + refill.lasts_min)
        next_of[name] += 1


def _room_at(leaving: list[float], at_once: int, ready_min: float) -> float:
    """The first minute from ready_min on at which fewer than at_once of those that came before are
    still there."""
    still_there = sorted(minute for minute in leaving if minute > ready_min)
    surplus = len(still_there) - at_once
    return still_there[surplus] if surplus >= 0 else ready_min
