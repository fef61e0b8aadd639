"""What the tags of OpenStreetMap ways and nodes mean for a spray truck.

Meanings follow the OpenStreetMap wiki (Key:access, Key:oneway, Key:maxspeed, Key:hgv,
Key:barrier, Key:vehicle, Tag:highway=pedestrian; https://wiki.openstreetmap.org).
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from enum import IntEnum
from typing import NamedTuple

from planner.roads.limits import NO_LIMITS, Limits, closed_by_day, hours_of, is_timed, limits_of
from planner.roads.speeds import (
    CLASSES,
    LEAST_MPH,
    MOST_MPH,
    SERVICE_CLOSED,
    SERVICE_ENDS_ONLY,
    SERVICE_MPH,
)

KM_PER_MILE = 1.609344

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

TRUCK_KEYS = ("hgv", "hgv:forward", "hgv:backward")
"""A sign for one direction is taken for both: a longer way at worst."""

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


class RoadLabel(NamedTuple):
    """What signs and maps say of a road, '' where nothing. refs: numbers of routes, parted by ';',
    toward: what the sign before a ramp names; exit: its number."""

    name: str
    refs: str
    road_class: str
    toward: str = ""
    exit: str = ""

    @property
    def shown(self) -> str:
        """The name, or else the number, of the street."""
        return self.name or self.refs


@dataclass(frozen=True)
class WayRule:
    """How one way may be driven. mph 0 = closed in that direction. truck_sign: only trucks with
    work there. drawn: on a map's background. limits: one per kind, see KINDS; unread: limits that
    cannot be read; timed: it has rules of some cases, which are left out; hours: conditions of its
    limits and closures of some hours, which count all day."""

    road_class: str
    rank: int
    forward_mph: float
    backward_mph: float
    ends_only: bool
    may_stop: bool
    truck_sign: bool
    roundabout: bool
    drawn: bool
    label: RoadLabel
    limits: Limits = NO_LIMITS
    unread: tuple[str, ...] = ()
    timed: bool = False
    hours: tuple[str, ...] = ()


@dataclass(frozen=True)
class NodeRule:
    """What stands at a node. direction: +1 / -1 = for traffic along / against the way, 0 = not
    said. minor_only: the sign is for the smaller roads of the junction. exit: number of a
    motorway's exit. limits, unread, timed, hours: as of a way."""

    control: Control
    direction: int
    minor_only: bool
    barrier: Passage
    limits: Limits = NO_LIMITS
    unread: tuple[str, ...] = ()
    timed: bool = False
    hours: tuple[str, ...] = ()
    exit: str = ""

    @property
    def names_exit_only(self) -> bool:
        """Whether it tells drivers something and changes nothing."""
        return self == NodeRule(Control.NONE, self.direction, False, Passage.OPEN, exit=self.exit)


def way_rule(tags: Mapping[str, str]) -> WayRule | None:
    """The rule of a way, or None when a truck may not drive it at all."""
    road_class = tags.get("highway", "")
    known = CLASSES.get(road_class)
    if road_class == "pedestrian" and _is_about_vehicles(tags):
        # A street for people on foot is closed to trucks unless its tags let vehicles in.
        known = CLASSES["living_street"]
    if known is None or tags.get("area") == "yes" or tags.get("smoothness") == "impassable":
        return None
    service = tags.get("service", "") if road_class == "service" else ""
    passage = access(tags)
    if passage is Passage.CLOSED or (service in SERVICE_CLOSED and not _says_open(tags)):
        return None
    forward, backward = directions(tags)
    if not (forward or backward):
        return None
    limits, unread = limits_of(tags)
    return WayRule(
        road_class=road_class,
        rank=known.rank,
        forward_mph=_way_mph(tags, "maxspeed:forward", service) if forward else 0.0,
        backward_mph=_way_mph(tags, "maxspeed:backward", service) if backward else 0.0,
        ends_only=passage is Passage.ENDS_ONLY
        or not known.through
        or service in SERVICE_ENDS_ONLY
        or road_class == "pedestrian",
        may_stop=known.may_stop,
        truck_sign=any(
            tags.get(key, "discouraged") not in (*OPEN_VALUES, "discouraged") for key in TRUCK_KEYS
        )
        or closed_by_day(tags, TRUCK_KEYS, CLOSED_VALUES),
        roundabout=tags.get("junction") in ("roundabout", "circular"),
        drawn=service not in SERVICE_ENDS_ONLY,
        label=_label(tags),
        limits=limits,
        unread=unread,
        timed=is_timed(tags),
        hours=hours_of(tags, CLOSED_VALUES),
    )


def _label(tags: Mapping[str, str]) -> RoadLabel:
    toward = [tags.get(key, "") for key in ("destination:ref", "destination", "destination:street")]
    return RoadLabel(
        tags.get("name", ""),
        tags.get("ref", ""),
        tags["highway"],
        ";".join(dict.fromkeys(text for text in toward if text)),
        tags.get("junction:ref", ""),
    )


def access(tags: Mapping[str, str]) -> Passage:
    """Whether a motor vehicle may pass, from the access tags of a way or node. What is closed for
    some hours of the day is no short cut at any; a customer on it is still reached."""
    found = Passage.OPEN
    for key in ACCESS_KEYS:
        value = tags.get(key)
        if value is not None:
            if value not in OPEN_VALUES:
                found = Passage.CLOSED if value in CLOSED_VALUES else Passage.ENDS_ONLY
            break
    if found is Passage.OPEN and closed_by_day(tags, ACCESS_KEYS, CLOSED_VALUES):
        return Passage.ENDS_ONLY
    return found


def _says_open(tags: Mapping[str, str]) -> bool:
    return any(tags.get(key) in OPEN_VALUES for key in ACCESS_KEYS)


def _is_about_vehicles(tags: Mapping[str, str]) -> bool:
    """Whether a tag is about vehicles; `access` alone is about people on foot as well."""
    return any(key in tags for key in ACCESS_KEYS if key != "access")


def directions(tags: Mapping[str, str]) -> tuple[bool, bool]:
    """Whether a way may be driven along and against its drawing. Reversible lanes are closed both
    ways: nobody can tell in the evening which way they will run."""
    forward, backward = _oneway(tags)
    return forward and _side_open(tags, "forward"), backward and _side_open(tags, "backward")


def _side_open(tags: Mapping[str, str], side: str) -> bool:
    """Whether the access tags of one direction let a truck in; the most particular decides."""
    values = (tags.get(f"{key}:{side}") for key in ACCESS_KEYS)
    return next((value for value in values if value is not None), "yes") not in CLOSED_VALUES


def _oneway(tags: Mapping[str, str]) -> tuple[bool, bool]:
    keys = ("oneway:motorcar", "oneway:motor_vehicle", "oneway:vehicle", "oneway")
    value = next((tags[key] for key in keys if tags.get(key)), "")
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
    known = CLASSES.get(tags["highway"], CLASSES["living_street"])
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
    if tags.get("barrier") == "height_restrictor" and "maxheight" not in tags:
        # Only its own height is drawn: what passes under it is lower still.
        tags = {**tags, "maxheight": tags.get("height", "not told")}
    limits, unread = limits_of(tags)
    barrier, timed = _barrier(tags), is_timed(tags)
    exit_number = tags.get("ref", "") if tags.get("highway") == "motorway_junction" else ""
    plain = control is Control.NONE and barrier is Passage.OPEN and not exit_number
    hours = hours_of(tags, CLOSED_VALUES)
    if plain and limits == NO_LIMITS and not (unread or timed or hours):
        return None
    return NodeRule(
        control=control,
        direction={"forward": 1, "backward": -1}.get(side or "", 0),
        minor_only=tags.get("stop") == "minor",
        barrier=barrier,
        exit=exit_number,
        limits=limits,
        unread=unread,
        timed=timed,
        hours=hours,
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
