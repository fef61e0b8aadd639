"""Published instances as RoutingProblems; distances are 'miles' at one money each.

A visit's length is part of the leg to it and windows begin and end later by it, because an order of
ours has minutes by its gallons and published ones have both apart.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from planner.day.clock import Window
from planner.routing.problem import (
    CompartmentSpec,
    LineSpec,
    Loading,
    OrderTask,
    RoutingProblem,
    SiteTask,
    TruckSpec,
)

FILES = Path(__file__).resolve().parents[3] / "shared" / "benchmarks"
MIX = "LOAD"
AT_ONCE = 1e12
"""Gallons a minute: no time is told by gallons."""
LEFT_OUT = 1e5
UNITS_PER_MIN = 4.0
"""Solomon's times have no unit and go up to 3,390; a day of ours has 1,440 minutes."""
FEET_PER_MILE, MPH = 5280.0, 40.0


@dataclass(frozen=True)
class Published:
    """Rows: the depot, facilities, customers. minutes: between them; distance likewise. load,
    service_min, window_min: of each row. capacity, trucks: of the fleet. lunch_min: length, and
    when it may begin (None = no lunch). service_min of facilities is what emptying takes."""

    name: str
    distance: NDArray[np.float64]
    minutes: NDArray[np.float64]
    load: NDArray[np.float64]
    service_min: NDArray[np.float64]
    window_min: NDArray[np.float64]
    facilities: int
    capacity: float
    trucks: int
    lunch: tuple[float, float, float] | None = None


def solomon(name: str, folder: Path = FILES) -> Published:
    """An instance of Solomon (1987): straight-line distance in double precision."""
    lines = (folder / f"solomon-{name.lower()}.txt").read_text(encoding="utf-8").split("\n")
    trucks, capacity = lines[4].split()
    rows = np.array([line.split() for line in lines[9:] if line.strip()], dtype=np.float64)
    xy = rows[:, 1:3]
    away = np.hypot(*(xy[:, None] - xy[None]).transpose(2, 0, 1))
    return Published(
        name=name,
        distance=away,
        minutes=away / UNITS_PER_MIN,
        load=rows[:, 3],
        service_min=rows[:, 6] / UNITS_PER_MIN,
        window_min=rows[:, 4:6] / UNITS_PER_MIN,
        facilities=0,
        capacity=float(capacity),
        trucks=int(trucks),
    )


def facilities_102(folder: Path = FILES, *, trucks: int = 6, lunch: bool = True) -> Published:
    """Kim, Kim and Sahoo (2006), 102 places: vehicles that are emptied at facilities, the mirror
    image of refilling; a vehicle is emptied before it goes home. Whole feet and seconds.

    The day's limit of 400 yards a vehicle is not in our model (the bench tells what it would say).
    """
    text = (folder / "intermediate-facilities-102.txt").read_text(encoding="utf-8")
    lines = [line.split() for line in text.splitlines()]
    rows = [line for line in lines[6:] if line]
    depot = [row for row in rows if row[7] == "0"]
    facilities = [row for row in rows if row[7] == "2"]
    places = [*depot, *facilities, *(row for row in rows if row[7] == "1")]
    xy = np.array([row[1:3] for row in places], dtype=np.float64)
    feet = np.rint(np.hypot(*(xy[:, None] - xy[None]).transpose(2, 0, 1)))
    minutes = np.rint(feet / FEET_PER_MILE / MPH * 3600) / 60
    service_min = np.array([row[5] for row in places], dtype=np.float64) / 60
    first = 1 + len(facilities)
    # Home from a customer is by a facility.
    by_facility = feet[first:, 1:first] + feet[1:first, 0]
    best = by_facility.argmin(axis=1)
    feet[first:, 0] = by_facility.min(axis=1)
    minutes[first:, 0] = (minutes[first:, 1:first] + minutes[1:first, 0] + service_min[1:first])[
        np.arange(len(best)), best
    ]
    return Published(
        name="facilities 102",
        distance=feet,
        minutes=minutes,
        load=np.array([0.0] * first + [float(row[6]) for row in places[first:]]),
        service_min=service_min,
        window_min=np.array([[_clock(row[3]), _clock(row[4])] for row in places]),
        facilities=len(facilities),
        capacity=float(lines[0][0]),
        trucks=trucks,
        lunch=(60.0, 11 * 60.0, 12 * 60.0) if lunch else None,
    )


def _clock(text: str) -> float:
    """Minutes after midnight of 0730."""
    return int(text[:-2]) * 60.0 + int(text[-2:])


def as_problem(given: Published) -> RoutingProblem:
    """An instance for our engines: one mix in one compartment."""
    first = 1 + given.facilities
    minutes, closes = given.minutes.copy(), given.window_min[0, 1]
    minutes[:, first:] += given.service_min[first:]
    lunch_min, lunch_from, lunch_to = given.lunch or (0.0, 0.0, 0.0)
    trucks = tuple(
        TruckSpec(
            truck_id=f"V{row:02d}",
            yard_id="DEPOT",
            profile=0,
            shift_start_min=float(given.window_min[0, 0]),
            shift_end_min=float(closes),
            latest_return_min=float(closes),
            lunch_min=lunch_min,
            lunch_earliest_min=lunch_from,
            lunch_latest_min=lunch_to,
            payload_lb=1e12,
            pay_per_min=0.0,
            overtime_pay_per_min=0.0,
            cost_per_day=0.0,
            cost_per_mile=1.0,
            lines=(LineSpec("A", 0.0, 0.0, AT_ONCE),),
            compartments=(CompartmentSpec("1", given.capacity, 0.0, "A", 1, 0.0, None),),
            loadings=(Loading((MIX,), ()),),
        )
        for row in range(given.trucks)
    )
    everyone = frozenset(truck.truck_id for truck in trucks)
    return RoutingProblem(
        trucks=trucks,
        orders=tuple(
            OrderTask(
                order_id=str(place),
                place=place,
                mix_id=MIX,
                gal=float(given.load[place]),
                windows=(Window(*(float(end + given.service_min[place]) for end in ends)),),
                hose_run_ft=0.0,
                allowed_trucks=everyone,
                price=LEFT_OUT * given.distance.mean(),
                worth=LEFT_OUT * given.distance.mean(),
            )
            for place, ends in list(enumerate(given.window_min))[first:]
        ),
        sites=(
            # The depot never refills: it closes before anybody could be back.
            SiteTask("DEPOT", 0, 0.0, AT_ONCE, None, float(given.window_min[0, 0]), None),
            *(
                SiteTask(
                    f"F{place}",
                    place,
                    float(given.service_min[place]),
                    AT_ONCE,
                    float(given.window_min[place, 0]),
                    float(given.window_min[place, 1]),
                    None,
                )
                for place in range(1, first)
            ),
        ),
        density_lb_per_gal={MIX: 0.0},
        drive_min=minutes[None],
        drive_miles=given.distance[None],
        setup_min_per_visit=0.0,
        fill_margin_percent=0.0,
    )


def distance_by_the_file(given: Published, tours: list[list[int]]) -> float:
    """Distance of tours of customers by the instance's own rules, worked apart from the planner: no
    facilities, no lunch. Raises ValueError when a rule is broken or a customer is missed."""
    if sorted(stop for tour in tours for stop in tour) != list(range(1, len(given.load))):
        raise ValueError("a customer is missed or visited twice")
    total = 0.0
    for tour in tours:
        if sum(given.load[stop] for stop in tour) > given.capacity:
            raise ValueError("a vehicle is too full")
        now = here = 0
        for stop in [*tour, 0]:
            total += given.distance[here, stop]
            now = max(now + given.minutes[here, stop], given.window_min[stop, 0])
            if now > given.window_min[stop, 1] + 1e-6:
                raise ValueError(f"too late at {stop}")
            now, here = now + given.service_min[stop], stop
    return float(total)
