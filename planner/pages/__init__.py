"""Pages from a state of the day: pure functions to HTML. A bare stand-in: the day as lists."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from dataclasses import dataclass
from html import escape
from pathlib import Path
from typing import Any, Final

from planner.day.clock import clock_text
from planner.office.day import Asked, DayState, TruckFacts

STATIC: Final = Path(__file__).parent / "static"
"""Style sheets, scripts and pictures, served under /static/."""


@dataclass(frozen=True)
class Part:
    """A piece of the page. key: while it stays equal, so does the piece; make: the HTML of the
    element, or for the map what its script draws (plain JSON)."""

    key: Hashable
    make: Callable[[], Any]


def day_page(state: DayState) -> str:
    """The whole page of the day."""
    body = "".join(part.make() for part in day_parts(state).values())
    return (
        "<!doctype html><html lang=en><meta charset=utf-8><title>The day</title>"
        f"<body data-revision={state.revision}>{body}</body></html>"
    )


def day_parts(state: DayState) -> dict[str, Part]:
    """Element id -> piece of the day's page."""

    def sheet(truck: TruckFacts) -> Part:
        return Part((truck.version,), lambda: _sheet(truck))

    def head() -> str:
        return f"<header id=head>{state.cost:,.2f} ({state.cost_change:+,.2f})</header>"

    parts = {"head": Part((state.revision,), head)}
    return parts | {f"sheet-{truck.truck_id}": sheet(truck) for truck in state.trucks}


def day_map(state: DayState) -> dict[str, Part]:
    """Name -> what the map's script draws under it."""

    def way(truck: TruckFacts) -> Part:
        return Part((truck.version,), lambda: [list(point) for point in truck.way])

    return {f"way-{truck.truck_id}": way(truck) for truck in state.trucks}


def asked_parts(asked: Asked, state: DayState) -> dict[str, str]:
    """Element id -> HTML of the trucks' answers to what is lifted."""
    return {}


def search_parts(state: DayState) -> dict[str, str]:
    """Element id -> HTML of planning again: how far it is, better plans to take."""
    return {}


def _sheet(truck: TruckFacts) -> str:
    home = "" if truck.home_min is None else f", home {clock_text(truck.home_min)}"
    rows = "".join(f"<li>{escape(item.name)}</li>" for item in truck.items)
    return (
        f"<section id='sheet-{escape(truck.truck_id)}'><h2>{escape(truck.truck_id)}{home}</h2>"
        f"<ol>{rows}</ol></section>"
    )
