"""The files in open formats of one day; among them GeoJSON (RFC 7946) and GPX.

GPX 1.1, http://www.topografix.com/GPX/1/1/gpx.xsd, for a navigation device. The stops are a
route, with the turns between them as points of their own (type 'turn'); the way along the roads
is a track with one segment per drive. GPX times are in UTC, and the workbook names no time zone:
clock times therefore stand in the text of the stops.
"""

import json
import xml.etree.ElementTree as ElementTree
from collections.abc import Mapping, Sequence
from dataclasses import asdict

from planner.day.clock import clock_text
from planner.day.day import Day
from planner.exports.icalendar import day_calendar
from planner.exports.rows import (
    DECIMALS_DEG,
    LegRow,
    StopRow,
    TimeRow,
    Worked,
    leg_rows,
    not_done_rows,
    stop_rows,
    time_rows,
)
from planner.exports.text import csv_text, one_line
from planner.papers.packet import truck_files
from planner.plan.model import Plan, Stop, TruckPlan
from planner.roads.travel import Leg

Feature = dict[str, object]


def day_geojson(plan: Plan, day: Day, legs: Mapping[tuple[str, int], Leg], credit: str = "") -> str:
    """A FeatureCollection; `what` tells stop, leg, held and unserved apart. Positions are
    [longitude, latitude]. A drive without a known shape has a null geometry. credit: kept as a
    member of its own, which RFC 7946 section 6.1 allows."""
    features: list[Feature] = []
    for stop in stop_rows(plan, day):
        features.append(
            _feature(f"{stop.truck_id}/{stop.stop}", "stop", _point(stop.lat, stop.lon), stop)
        )
    for leg in leg_rows(plan, legs):
        shape = legs.get((leg.truck_id, leg.to_stop))
        features.append(
            _feature(
                f"{leg.truck_id}/{leg.to_stop}/leg",
                "leg",
                _line(shape.points) if shape is not None else None,
                leg,
            )
        )
    for entry in not_done_rows(plan, day):
        features.append(
            _feature(f"order/{entry.order_id}", entry.status, _point(entry.lat, entry.lon), entry)
        )
    collection: Feature = {"type": "FeatureCollection"}
    if credit:
        collection["credit"] = credit
    collection["features"] = features
    return json.dumps(collection, ensure_ascii=False, separators=(",", ":")) + "\n"


def _feature(name: str, what: str, geometry: object, row: object) -> Feature:
    values = asdict(row)  # type: ignore[call-overload]
    properties = {
        key: one_line(value) if isinstance(value, str) else value
        for key, value in values.items()
        if key not in {"lat", "lon"}
    }
    return {
        "type": "Feature",
        "id": one_line(name),
        "geometry": geometry,
        "properties": {"what": what, **properties},
    }


def _point(lat: float, lon: float) -> dict[str, object]:
    return {"type": "Point", "coordinates": [lon, lat]}


def _line(points: Sequence[tuple[float, float]]) -> dict[str, object] | None:
    """None for fewer than two points, which RFC 7946 section 3.1.4 does not allow in a line."""
    if len(points) < 2:
        return None
    pairs = [[round(lon, DECIMALS_DEG), round(lat, DECIMALS_DEG)] for lat, lon in points]
    return {"type": "LineString", "coordinates": pairs}


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


def open_files(
    plan: Plan, day: Day, legs: Mapping[tuple[str, int], Leg], credit: str = ""
) -> dict[str, str]:
    """File name -> text: stops.csv, legs.csv, times.csv, day.geojson, day.ics and a truck-….gpx for
    each truck that goes out. legs: the way driven to each stop, keyed by truck and stop number.
    credit: the notice that the source of the roads asks for; it goes where road shapes go."""
    crews = {
        truck.truck_id: Worked(truck.applicator, truck.license)
        for truck in day.workbook.trucks.values()
    }
    files = {
        "stops.csv": csv_text(StopRow, stop_rows(plan, day)),
        "legs.csv": csv_text(LegRow, leg_rows(plan, legs)),
        "times.csv": csv_text(TimeRow, time_rows(plan, crews)),
        "day.geojson": day_geojson(plan, day, legs, credit),
        "day.ics": day_calendar(plan, day),
    }
    names = truck_files(truck_plan.truck_id for truck_plan in plan.trucks)
    for truck_plan in plan.trucks:
        if any(stop.kind == "visit" for stop in truck_plan.stops):
            name = names[truck_plan.truck_id].removesuffix(".html") + ".gpx"
            files[name] = truck_gpx(plan, truck_plan, day, legs, credit)
    return files
