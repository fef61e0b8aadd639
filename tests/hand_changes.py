"""Random changes of a stop order, as a person at a table of trucks makes them."""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import replace

from planner.by_hand.sheet import LOAD, LUNCH, ORDER, REFILL, HandRow, rows_of_plan
from planner.day.day import Day
from planner.plan.model import Plan


def random_change(plan: Plan, day: Day, rng: random.Random) -> list[HandRow]:
    """The plan's rows with one change: an order moved, taken out or put in, a refill or a lunch
    moved, added or deleted, gallons of a load set or cleared. Some break rules or are no plan."""
    rows = rows_of_plan(plan)
    kind = rng.choice(("move", "move", "move", "out", "in", "refill", "delete", "shift", "gallons"))
    if kind == "in":
        return _put_in(rows, day, rng)
    if kind == "refill":
        site, truck = rng.choice(list(day.workbook.sites)), rng.choice(list(day.workbook.trucks))
        rows.insert(rng.randrange(len(rows) + 1), _row(truck, REFILL, site))
        return rows
    if kind == "gallons":
        at = rng.choice([number for number, row in enumerate(rows) if row.does == LOAD])
        tank = day.workbook.trucks[rows[at].truck].compartment(rows[at].what)
        some = (None, float(round(rng.uniform(0.1, 1.0) * tank.capacity_gal)), tank.capacity_gal)
        rows[at] = replace(rows[at], fill_to_gal=rng.choice(some))
        return rows
    of_kind = {"out": (ORDER,), "move": (ORDER,), "delete": (REFILL, LUNCH)}
    wanted = of_kind.get(kind, (ORDER, REFILL, LUNCH))
    at = [number for number, row in enumerate(rows) if row.does in wanted and row.truck]
    if not at:
        return rows
    row = rows.pop(rng.choice(at))
    if kind == "out":
        return [*rows, replace(row, truck="")]
    if kind == "move":
        row = replace(row, truck=rng.choice(list(day.workbook.trucks)))
    if kind != "delete":
        rows.insert(rng.randrange(len(rows) + 1), row)
    return rows


def _put_in(rows: Sequence[HandRow], day: Day, rng: random.Random) -> list[HandRow]:
    served = {row.what for row in rows if row.does == ORDER and row.truck}
    out = [name for name in day.orders if name not in served]
    if not out:
        return list(rows)
    name, truck = rng.choice(out), rng.choice(list(day.workbook.trucks))
    kept = [row for row in rows if not (row.does == ORDER and row.what == name)]
    kept.insert(rng.randrange(len(kept) + 1), _row(truck, ORDER, name))
    return kept


def _row(truck: str, does: str, what: str) -> HandRow:
    return HandRow("stop-order.csv", 2, truck, does, what, "", False)
