"""What the records of a running day say of it."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from pathlib import Path

from planner.again.said import Said
from planner.day.day import Day
from planner.plan.document import to_json
from planner.plan.done_replay import Sprayed, Told
from planner.plan.model import Plan
from planner.records.current import FILLED, SKIPPED, SPRAYED, current, kind_of
from planner.records.outcome import store_path
from planner.records.sealed import plan_checksum
from planner.records.store import Event, Store


def told_of(path: Path, day: Day, earlier: Plan, said: Said) -> Told:
    """Done and open orders as the office says and the records of the day have it; what is said
    now goes before what was recorded as skipped. Raises StoreError."""
    told = Told(done=frozenset(said.done), open=frozenset(said.opened), filled=said.filled)
    file = store_path(path)
    if not file.exists():
        return told
    with Store(file) as store:
        events = store.events(day.date.isoformat(), (day.date + timedelta(days=1)).isoformat())
    return _with_events(told, tuple(current(events).values()), earlier)


def _with_events(told: Told, events: tuple[Event, ...], earlier: Plan) -> Told:
    planned = {
        work.order_id for truck in earlier.trucks for stop in truck.stops for work in stop.orders
    }
    sprayed: dict[str, Sprayed] = {}
    skipped: set[str] = set()
    fill_gal: dict[tuple[str, int, str], float] = {}
    checksum = plan_checksum(to_json(earlier))
    for event in events:
        body, kind = event.body, kind_of(event)
        order_id = body.get("order_id", "")
        if kind == SPRAYED and order_id in planned:
            sprayed[order_id] = Sprayed(
                body["gal"], body["area_ft2"], body["start_min"], body["end_min"]
            )
        elif kind == SKIPPED and order_id in planned:
            skipped.add(order_id)
        elif kind == FILLED and event.plan == checksum:
            # Stop numbers are those of one plan only.
            fill_gal[body["truck_id"], body["stop"], body["compartment_id"]] = body["gal"]
    return replace(
        told,
        done=told.done | sprayed.keys(),
        open=(told.open | (skipped - told.done)) - sprayed.keys(),
        sprayed=sprayed,
        fill_gal=fill_gal,
    )
