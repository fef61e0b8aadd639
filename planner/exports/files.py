"""The files in open formats of one day."""

from __future__ import annotations

from collections.abc import Mapping

from planner.day.day import Day
from planner.exports.csv_text import csv_text
from planner.exports.geojson import day_geojson
from planner.exports.gpx import truck_gpx
from planner.exports.icalendar import day_calendar
from planner.exports.rows import LegRow, StopRow, leg_rows, stop_rows
from planner.exports.times import TimeRow, Worked, time_rows
from planner.papers.packet import truck_files
from planner.plan.model import Plan
from planner.roads.travel import Leg


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
