"""What the tags of OpenStreetMap ways and nodes mean for a spray truck.

Meanings follow the OpenStreetMap wiki (Key:access, Key:oneway, Key:maxspeed, Key:maxheight,
Key:maxweight, Key:barrier; https://wiki.openstreetmap.org), limits read for the United States.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from enum import IntEnum

from planner.roads.speeds import (
    CLASSES,
    LEAST_MPH,
    MOST_MPH,
    SERVICE_CLOSED,
    SERVICE_ENDS_ONLY,
    SERVICE_MPH,
)

KM_PER_MILE = 1.609344
LB_PER_TONNE = 2204.6226218
LB_PER_SHORT_TON = 2000.0
FT_PER_M = 1 / 0.3048

OPEN_VALUES = frozenset({"yes", "permissive", "designated", "public", "hov", "toll", "unknown"})
CLOSED_VALUES = frozenset(
    {
        "no",
        "agricultural",
        "forestry",
        "emergency",
        "psv",
        "bus",
        "military",
        "official",
        "use_sidepath",
        "bicycle",
        "foot",
    }
)
"""Any other value (private, destination, delivery, customers, residents, and words of a mapper's
own) lets a truck with work there in, but not through."""

ACCESS_KEYS = ("motorcar", "motor_vehicle", "vehicle", "access")
"""The most particular key that is present decides."""

BLOCKING_BARRIERS = frozenset(
    {
        "block",
        "bollard",
        "bus_trap",
        "chain",
        "cycle_barrier",
        "debris",
        "ditch",
        "fence",
        "hedge",
        "jersey_barrier",
        "kissing_gate",
        "log",
        "motorcycle_barrier",
        "planter",
        "rope",
        "spikes",
        "stile",
        "sump_buster",
        "turnstile",
        "wall",
    }
)
GATE_BARRIERS = frozenset({"gate", "lift_gate", "swing_gate", "sliding_gate", "wicket_gate"})


class Passage(IntEnum):
    """How a road may be used. ENDS_ONLY: to begin or end a trip, not to shorten one."""

    OPEN = 0
    ENDS_ONLY = 1
    CLOSED = 2


class Control(IntEnum):
    """What stops traffic at a node."""

    NONE = 0
    SIGNAL = 1
    STOP = 2
    GIVE_WAY = 3


@dataclass(frozen=True)
class WayRule:
    """How one way may be driven. mph 0 = closed in that direction. truck_sign: only trucks with
    work there. max_height_ft, max_weight_lb: None = no limit. drawn: on a map's background."""

    road_class: str
    rank: int
    forward_mph: float
    backward_mph: float
    ends_only: bool
    may_stop: bool
    truck_sign: bool
    roundabout: bool
    drawn: bool
    name: str
    max_height_ft: float | None
    max_weight_lb: float | None


@dataclass(frozen=True)
class NodeRule:
    """What stands at a node. direction: +1 / -1 = for traffic along / against the way, 0 = not
    said. minor_only: the sign is for the smaller roads of the junction."""

    control: Control
    direction: int
    minor_only: bool
    barrier: Passage
    max_height_ft: float | None


def way_rule(tags: Mapping[str, str]) -> WayRule | None:
    """The rule of a way, or None when a truck may not drive it at all."""
    road_class = tags.get("highway", "")
    known = CLASSES.get(road_class)
    if known is None or tags.get("area") == "yes" or tags.get("smoothness") == "impassable":
        return None
    service = tags.get("service", "") if road_class == "service" else ""
    passage = access(tags)
    if passage is Passage.CLOSED or (service in SERVICE_CLOSED and not _says_open(tags)):
        return None
    forward, backward = directions(tags)
    if not (forward or backward):
        return None
    truck = tags.get("hgv", "")
    return WayRule(
        road_class=road_class,
        rank=known.rank,
        forward_mph=_way_mph(tags, "maxspeed:forward", service) if forward else 0.0,
        backward_mph=_way_mph(tags, "maxspeed:backward", service) if backward else 0.0,
        ends_only=passage is Passage.ENDS_ONLY or not known.through or service in SERVICE_ENDS_ONLY,
        may_stop=known.may_stop,
        truck_sign=truck != "" and truck not in OPEN_VALUES and truck != "discouraged",
        roundabout=tags.get("junction") in ("roundabout", "circular"),
        drawn=service not in SERVICE_ENDS_ONLY,
        name=tags.get("name") or tags.get("ref") or "",
        max_height_ft=height_ft(tags.get("maxheight") or tags.get("maxheight:physical") or ""),
        max_weight_lb=_least(
            weight_lb(tags.get("maxweight", "")), weight_lb(tags.get("maxweightrating", ""))
        ),
    )


def access(tags: Mapping[str, str]) -> Passage:
    """Whether a motor vehicle may pass, from the access tags of a way or node."""
    for key in ACCESS_KEYS:
        value = tags.get(key)
        if value is None:
            continue
        if value in OPEN_VALUES:
            return Passage.OPEN
        return Passage.CLOSED if value in CLOSED_VALUES else Passage.ENDS_ONLY
    return Passage.OPEN


def _says_open(tags: Mapping[str, str]) -> bool:
    return any(tags.get(key) in OPEN_VALUES for key in ACCESS_KEYS)


def directions(tags: Mapping[str, str]) -> tuple[bool, bool]:
    """Whether a way may be driven along and against its drawing. Reversible lanes are closed both
    ways: nobody can tell in the evening which way they will run."""
    value = tags.get("oneway:motor_vehicle") or tags.get("oneway") or ""
    if not value and (
        tags.get("highway") == "motorway" or tags.get("junction") in ("roundabout", "circular")
    ):
        value = "yes"
    if value in ("yes", "true", "1"):
        return True, False
    if value in ("-1", "reverse"):
        return False, True
    if value == "reversible":
        return False, False
    return True, True


def _way_mph(tags: Mapping[str, str], key: str, service: str) -> float:
    known = CLASSES[tags["highway"]]
    limit = speed_mph(tags.get(key) or tags.get("maxspeed") or "")
    unposted = SERVICE_MPH.get(service, known.mph)
    if limit is None:
        return unposted
    driven = limit * known.share_of_limit
    return min(driven, unposted) if service else driven


def speed_mph(text: str) -> float | None:
    """Miles per hour of a maxspeed value; a bare number is km/h. The least of a list; None when
    it names no number or an impossible one."""
    speeds = []
    for part in text.split(";"):
        match = re.fullmatch(r"\s*(\d+(?:\.\d+)?)\s*(mph|km/h|kmh|kph)?\s*", part, re.IGNORECASE)
        if match is None:
            continue
        value = float(match[1])
        if (match[2] or "").lower() != "mph":
            value /= KM_PER_MILE
        if LEAST_MPH <= value <= MOST_MPH:
            speeds.append(value)
    return min(speeds, default=None)


def height_ft(text: str) -> float | None:
    """Feet of a maxheight value: 13'6", 13 ft, 13'; a bare number is metres. None when it names
    no number (default, none, below_default)."""
    text = text.strip().replace("’", "'").replace("”", '"').replace("''", '"')
    match = re.fullmatch(r"(\d+(?:\.\d+)?)\s*(?:'|ft\b)\s*(?:(\d+(?:\.\d+)?)\s*(?:\"|in)?)?", text)
    if match is not None:
        return float(match[1]) + float(match[2] or 0) / 12
    match = re.fullmatch(r"(\d+(?:\.\d+)?)\s*m?", text)
    return float(match[1]) * FT_PER_M if match is not None else None


def weight_lb(text: str) -> float | None:
    """Pounds of a maxweight value: 20000 lbs, 10 st (short tons), 10 tons; a bare number or 't'
    is metric tonnes. None when it names no number."""
    match = re.fullmatch(r"\s*(\d[\d,]*(?:\.\d+)?)\s*([a-zA-Z]*)\.?\s*", text)
    if match is None:
        return None
    per_unit = {
        "": LB_PER_TONNE,
        "t": LB_PER_TONNE,
        "st": LB_PER_SHORT_TON,
        "ton": LB_PER_SHORT_TON,
        "tons": LB_PER_SHORT_TON,
        "lb": 1.0,
        "lbs": 1.0,
        "kg": LB_PER_TONNE / 1000,
    }.get(match[2].lower())
    return None if per_unit is None else float(match[1].replace(",", "")) * per_unit


def node_rule(tags: Mapping[str, str]) -> NodeRule | None:
    """What stands at a node, or None when nothing there matters to a driver."""
    control = {
        "traffic_signals": Control.SIGNAL,
        "stop": Control.STOP,
        "give_way": Control.GIVE_WAY,
    }.get(tags.get("highway", ""), Control.NONE)
    side = (
        tags.get("traffic_signals:direction") or tags.get("stop:direction") or tags.get("direction")
    )
    max_height_ft = height_ft(tags.get("maxheight", ""))
    barrier = _barrier(tags)
    if control is Control.NONE and barrier is Passage.OPEN and max_height_ft is None:
        return None
    return NodeRule(
        control=control,
        direction={"forward": 1, "backward": -1}.get(side or "", 0),
        minor_only=tags.get("stop") == "minor",
        barrier=barrier,
        max_height_ft=max_height_ft,
    )


def _barrier(tags: Mapping[str, str]) -> Passage:
    """A gate that says nothing may be locked: good enough for a customer behind it, not for a
    short cut. A bollard closes the street unless it says that vehicles may pass."""
    kind = tags.get("barrier", "")
    if kind in BLOCKING_BARRIERS:
        return Passage.OPEN if _says_open(tags) else Passage.CLOSED
    if kind in GATE_BARRIERS:
        return access(tags) if any(key in tags for key in ACCESS_KEYS) else Passage.ENDS_ONLY
    return access(tags) if kind not in ("", "no") else Passage.OPEN


def _least(a: float | None, b: float | None) -> float | None:
    return b if a is None else a if b is None else min(a, b)
