"""Days of tests with a yard clock (rule 38)."""

from __future__ import annotations

import random
from dataclasses import replace

from planner.day.day import Day


def with_yard_clock(day: Day, seed: int) -> Day:
    """The day with inspection, loading, wash-down, paperwork and paid hours of its trucks, and
    with few hoses in its yards."""
    rng = random.Random(f"yard {seed}")
    loading = rng.choice(("morning", "morning", "evening", "mixed"))
    trucks = {
        name: replace(
            truck,
            inspection_min=rng.choice((0.0, 10.0, 15.5)),
            yard_loading=rng.choice(("morning", "evening", None))
            if loading == "mixed"
            else loading,
            washdown_min=rng.choice((0.0, 12.0)),
            paperwork_min=rng.choice((0.0, 7.5)),
            paid_hours_least=rng.choice((0.0, 0.0, 4.0, 9.0)),
        )
        for name, truck in day.workbook.trucks.items()
    }
    sites = {
        name: replace(site, trucks_at_once=rng.choice((1, 1, 2, None)))
        for name, site in day.workbook.sites.items()
    }
    return replace(day, workbook=replace(day.workbook, trucks=trucks, sites=sites))
