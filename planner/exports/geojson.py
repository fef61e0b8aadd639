"""The day as GeoJSON (RFC 7946): stops and orders not done as points, drives as lines."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict

from planner.day.day import Day
from planner.exports.plain_text import one_line
from planner.exports.rows import DECIMALS_DEG, leg_rows, not_done_rows, stop_rows
from planner.plan.model import Plan
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
