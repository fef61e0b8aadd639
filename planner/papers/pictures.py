"""Geometry of the drawings on the sheets: level gauge, time bar, levels over the day.

Only numbers; the templates turn them into inline SVG. Units of the drawings are SVG user units.
"""

from dataclasses import dataclass

from planner.day.fleet import Compartment
from planner.papers.lookup import drawn_gal
from planner.plan.model import Plan, Stop, TruckPlan

GAUGE_HEIGHT = 150.0
"""Drawn height of a full compartment."""

BAR_WIDTH = 1000.0
"""Drawn width of the whole day."""

CHART_HEIGHT = 46.0
"""Drawn height of a full compartment in the chart of levels."""


@dataclass(frozen=True)
class Gauge:
    """A compartment's level before and after a fill. y values grow downward from the full mark;
    ticks: (y, gallons)."""

    height: float
    before_y: float
    after_y: float
    ticks: tuple[tuple[float, float], ...]


def gauge(capacity_gal: float, before_gal: float, after_gal: float) -> Gauge:
    """A gauge with a tick at each quarter of the capacity."""

    def y(gal: float) -> float:
        share = min(1.0, max(0.0, gal / capacity_gal))
        return round(GAUGE_HEIGHT * (1.0 - share), 1)

    ticks = tuple((y(capacity_gal * part / 4), capacity_gal * part / 4) for part in range(5))
    return Gauge(GAUGE_HEIGHT, y(before_gal), y(after_gal), ticks)


@dataclass(frozen=True)
class TimeAxis:
    """The hours that all bars of a day share. hours: (x, text) of the ticks."""

    open_min: float
    close_min: float
    hours: tuple[tuple[float, str], ...]

    def x(self, minute: float) -> float:
        """Where a minute of the day is drawn."""
        return round((minute - self.open_min) / (self.close_min - self.open_min) * BAR_WIDTH, 1)


def time_axis(plan: Plan) -> TimeAxis:
    """Whole hours around every truck's day; 8 to 16 o'clock when no truck goes out."""
    times = [
        minute
        for truck in plan.trucks
        for stop in truck.stops
        for minute in (stop.arrive_min, stop.leave_min)
    ] or [480.0, 960.0]
    first = int(min(times) // 60)
    last = max(first + 1, int(-(-max(times) // 60)))
    axis = TimeAxis(first * 60.0, last * 60.0, ())
    hours = tuple(
        (axis.x(hour * 60.0), f"{(hour + 11) % 12 + 1}{'a' if hour % 24 < 12 else 'p'}")
        for hour in range(first, last + 1)
    )
    return TimeAxis(axis.open_min, axis.close_min, hours)


@dataclass(frozen=True)
class Segment:
    """One piece of a time bar. kind: drive, wait, visit, refill or lunch; text: for a hover."""

    kind: str
    x: float
    width: float
    text: str


def time_bar(stops: tuple[Stop, ...], axis: TimeAxis) -> tuple[Segment, ...]:
    """What a truck does all day, in the order of the clock; pieces of no length are left out."""
    spans: list[tuple[str, float, float, str]] = []
    for stop in stops:
        number = f"stop {stop.seq}"
        spans.append(
            ("drive", stop.arrive_min - stop.drive_min, stop.arrive_min, f"drive to {number}")
        )
        if stop.kind in {"depart", "return"}:
            spans.append(("yard", stop.arrive_min, stop.leave_min, "in the yard"))
            continue
        spans.append(("wait", stop.arrive_min, stop.begin_min, f"wait at {number}"))
        if stop.kind in {"visit", "refill", "lunch"}:
            spans.append((stop.kind, stop.begin_min, stop.leave_min, f"{stop.kind}, {number}"))
    return tuple(
        Segment(kind, axis.x(begin), round(axis.x(end) - axis.x(begin), 1), text)
        for kind, begin, end, text in spans
        if end - begin > 0.05
    )


def level_line(truck_plan: TruckPlan, compartment: Compartment, axis: TimeAxis) -> str:
    """Points ('x,y x,y ...') of the gallons in a compartment over the day."""
    level = truck_plan.start_gal[compartment.compartment_id]
    points: list[tuple[float, float]] = []

    def note(minute: float) -> None:
        share = min(1.0, max(0.0, level / compartment.capacity_gal))
        points.append((axis.x(minute), round(CHART_HEIGHT * (1.0 - share), 1)))

    for stop in truck_plan.stops:
        added = sum(
            fill.gal for fill in stop.fills if fill.compartment_id == compartment.compartment_id
        )
        note(stop.begin_min)
        level += added
        note(stop.leave_min if stop.kind == "refill" else stop.begin_min)
        for work in stop.orders:
            sprayed, hose = drawn_gal(work, compartment.compartment_id)
            if sprayed or hose:
                note(work.begin_min)
                level -= sprayed + hose
                note(work.end_min)
    kept = [point for row, point in enumerate(points) if row == 0 or point != points[row - 1]]
    return " ".join(f"{x:g},{y:g}" for x, y in kept)
