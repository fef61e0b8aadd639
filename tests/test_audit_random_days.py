"""The audit finds nothing over 200 random days, planned by the engines and written out by the
schedule: two derivations of every rule, made apart, that must agree."""

from __future__ import annotations

import copy
import functools
import json
import random
from dataclasses import replace
from typing import Any

import pytest

from planner.day.day import Day
from planner.day.products import ProductRate
from planner.plan.audit import audit
from planner.plan.document import from_json, to_json
from planner.plan.model import Plan
from planner.units import Rate, parse_amount, parse_rate
from tests.own_cache import made_once
from tests.random_days import random_day, straight_travel
from tests.random_plans import plan_random
from tests.test_audit_every_figure import Path, leaves, value_at

pytestmark = pytest.mark.usefixtures("machine_code")


@functools.cache
def planned(seed: int) -> tuple[Day, Plan]:
    """A day of mixed size (every twelfth is large) with its plan by the plain engine."""
    size = "large" if seed % 12 == 0 else ("small", "medium")[seed % 2]
    day = random_day(seed, size)
    return day, made_once(f"random day {seed}", lambda: plan_random(day))


@pytest.mark.parametrize("seed", range(200))
def test_audit_finds_nothing_on_a_random_day(seed: int) -> None:
    day, plan = planned(seed)
    travel = straight_travel(day)
    assert [str(row) for row in audit(plan, day, travel)] == []
    # And as the file keeps it, rounded.
    assert [str(row) for row in audit(from_json(to_json(plan)), day, travel)] == []


@pytest.mark.parametrize("seed", range(300, 324))
def test_audit_finds_nothing_where_grasses_bear_less_and_products_come_in_packets(
    seed: int,
) -> None:
    """And nothing is measured over a most that the mix's rate keeps: rate and most are in the same
    unit here, so that one times the other's share is product to the gallon."""
    day, rng = random_day(seed, "small" if seed % 2 else "medium"), random.Random(seed)
    book, rows = day.workbook, []
    products, parts = dict(book.products), [p for one in book.mixes.values() for p in one.parts]
    for part in {part.product_id: part for part in parts}.values():
        for grass in ("tall fescue", "zoysiagrass", "Kentucky bluegrass"):
            times = rng.choice((0.8, 1.0, 1.03, 1.1, 1.3))
            most = scaled(part.rate, times)
            rows.append(ProductRate(part.product_id, grass, rng.choice(("", "sedge")), most))
        if rng.random() < 0.5:
            one = products[part.product_id]
            small = "fl oz" if one.unit == "gal" else "oz wt"
            packet = parse_amount(f"{rng.choice((1, 4, 16, 40))} {small}")
            products[part.product_id] = replace(one, packet=packet)
    day = replace(day, workbook=replace(book, products=products, product_rates=tuple(rows)))
    plan = plan_random(day)
    assert [str(row) for row in audit(plan, day, straight_travel(day))] == []
    assert [str(row) for row in audit(from_json(to_json(plan)), day, straight_travel(day))] == []
    fills = [fill for truck in plan.trucks for stop in truck.stops for fill in stop.fills]
    for fill in fills:
        sure = 1 - day.workbook.settings.meter_error_percent / 100
        gal = fill.metered_water_gal * sure
        gal += sum(one.amount for one in fill.measured if one.unit == "gal")
        for told, exact in zip(fill.measured, fill.products, strict=True):
            mixed = next(
                part.rate
                for part in day.workbook.mixes[fill.mix_id].parts
                if part.product_id == told.product_id
            )
            for row in rows:
                share = row.rate_most.most / mixed.most
                if (row.product_id, row.target) == (told.product_id, "") and share >= 1:
                    assert row.rate_most.unit == mixed.unit
                    assert told.amount / gal <= share * exact.amount / fill.gal * (1 + 1e-5)


def scaled(rate: Rate, times: float) -> Rate:
    """A rate so many times as high, as its text says it."""
    return parse_rate(rate.text.replace(f"{rate.most:g}", f"{rate.most * times:.4g}", 1))


@pytest.mark.parametrize("seed", range(200, 212))
def test_audit_finds_nothing_in_the_plans_of_the_other_engine(seed: int) -> None:
    pytest.importorskip("planner.routing.engines.ortools_engine")
    day = random_day(seed, "small" if seed % 2 else "medium")
    plan = plan_random(day, "ortools", count=3)
    assert [str(row) for row in audit(plan, day, straight_travel(day))] == []


def test_the_random_days_hold_what_makes_a_day_hard() -> None:
    """Else 'nothing found' would say little."""
    seen: dict[str, int] = {}

    def count(what: str, times: int) -> None:
        seen[what] = seen.get(what, 0) + times

    for seed in range(80):
        day, plan = planned(seed)
        count("held", len(plan.held))
        count("unserved", len(plan.unserved))
        for truck in plan.trucks:
            works = [work for stop in truck.stops for work in stop.orders]
            count("refill stops", truck.totals.refills)
            count("lunches", sum(stop.kind == "lunch" for stop in truck.stops))
            count("waits", sum(stop.begin_min > stop.arrive_min for stop in truck.stops))
            count("cleanings", len(truck.cleaning))
            count("changeovers", sum(work.displaced_mix_id is not None for work in works))
            count("orders from two compartments", sum(len(w.compartments) > 1 for w in works))
            count("visits with two orders", sum(len(stop.orders) > 1 for stop in truck.stops))
            count("overtime", truck.totals.overtime_min > 0)
            gvwr_lb = day.workbook.trucks[truck.truck_id].gvwr_lb
            count("near the rating", sum(gvwr_lb - s.weight_lb_after < 15 for s in truck.stops))
            count(
                "refills of a part",
                sum(fill.level_before_gal > 3 for stop in truck.stops[1:] for fill in stop.fills),
            )
    assert all(times >= 3 for times in seen.values()), seen


@pytest.mark.parametrize("seed", range(1, 41))
def test_a_change_anywhere_in_a_random_plan_is_caught(seed: int) -> None:
    day, plan = planned(seed)
    raw, rng = json.loads(to_json(plan)), random.Random(seed)
    figures = [path for path in leaves(raw["trucks"]) if isinstance(at(raw, path), float)]
    for path in rng.sample(figures, min(6, len(figures))):
        worse = copy.deepcopy(raw)
        old = at(worse, path)
        at(worse, path[:-1])[path[-1]] = old + rng.choice((-1, 1)) * max(0.05, 0.01 * abs(old))
        assert audit(from_json(json.dumps(worse)), day, straight_travel(day)), (path, old)


def at(raw: Any, path: Path) -> Any:
    """What stands at a place among the trucks of a raw plan."""
    return value_at(raw["trucks"], path)
