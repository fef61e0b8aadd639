"""One truck's route as GPX 1.1 for a navigation device.

Schema: http://www.topografix.com/GPX/1/1/gpx.xsd. The stops are a route, with the turns
between them as points of their own (type 'turn'); the way along the roads is a track with one
segment per drive. GPX times are in UTC, and the workbook names no time zone: clock times therefore
stand in the text of the stops.
"""

from __future__ import annotations

import xml.etree.ElementTree as ElementTree
from collections.abc import Mapping

from planner.day.clock import clock_text
from planner.day.day import Day
from planner.exports.plain_text import one_line
from planner.exports.rows import DECIMALS_DEG, StopRow, stop_rows
from planner.plan.model import Plan, Stop, TruckPlan
from planner.roads.travel import Leg

NAMESPACE = "http://www.topografix.com/GPX/1/1"
CREATOR = "lawn-spray-day-planner"


def truck_gpx(
    plan: Plan,
    truck_plan: TruckPlan,
    day: Day,
    legs: Mapping[tuple[str, int], Leg],
    credit: str = "",
) -> str:
    """The truck's day. credit: the notice that the source of the roads asks for. Raises KeyError
    for a truck that the day does not have."""
    root = ElementTree.Element("gpx", {"xmlns": NAMESPACE, "version": "1.1", "creator": CREATOR})
    title = f"{day.workbook.trucks[truck_plan.truck_id].title}, {plan.date}"
    _text(ElementTree.SubElement(root, "metadata"), "name", title)
    route = ElementTree.SubElement(root, "rte")
    _text(route, "name", title)
    rows = {row.stop: row for row in stop_rows(plan, day) if row.truck_id == truck_plan.truck_id}
    for stop in truck_plan.stops:
        if stop.kind == "lunch":
            continue
        row = rows[stop.seq]
        leg = legs.get((truck_plan.truck_id, stop.seq))
        told = leg.maneuvers if leg is not None else ()
        for one in told[1:-1]:
            point = ElementTree.SubElement(route, "rtept", _position(one.lat, one.lon))
            _text(point, "desc", one.text)
            _text(point, "type", "turn")
        side = told[-1].side if told else ""
        point = ElementTree.SubElement(route, "rtept", _position(stop.lat, stop.lon))
        _text(point, "name", f"{stop.seq} {row.address or row.name}")
        _text(point, "desc", _told(row, stop, side))
        _text(point, "type", stop.kind)
    track = ElementTree.SubElement(root, "trk")
    _text(track, "name", title)
    if credit:
        _text(track, "src", credit)
    for stop in truck_plan.stops:
        leg = legs.get((truck_plan.truck_id, stop.seq))
        if leg is None or len(leg.points) < 2:
            continue
        segment = ElementTree.SubElement(track, "trkseg")
        for lat, lon in leg.points:
            ElementTree.SubElement(segment, "trkpt", _position(lat, lon))
    ElementTree.indent(root)
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{ElementTree.tostring(root, "unicode")}\n'


def _told(row: StopRow, stop: Stop, side: str) -> str:
    told = f"{clock_text(stop.arrive_min)} to {clock_text(stop.leave_min)}"
    if side:
        told += f", on the {side}"
    if row.kind == "visit":
        told += f", {row.name}: {row.mixes}, {row.sprayed_gal:.1f} gal"
    if row.reach:
        told += f"; {row.reach}"
    return f"{told}; {row.fills}" if row.fills else told


def _position(lat: float, lon: float) -> dict[str, str]:
    return {"lat": f"{lat:.{DECIMALS_DEG}f}", "lon": f"{lon:.{DECIMALS_DEG}f}"}


def _text(parent: ElementTree.Element, name: str, text: str) -> None:
    ElementTree.SubElement(parent, name).text = one_line(text)
