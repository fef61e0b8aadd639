"""What the days of a fleet cost between one another: cleaning, and product that nobody sprays."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from planner.compare.fleets import Fleet
from planner.compare.model import BetweenDays, DayResult
from planner.day.day import Workbook
from planner.mixing.cleaning import cleaning_for
from planner.mixing.recipes import recipes
from planner.mixing.separation import separation
from planner.units import base_amount


def mix_prices(book: Workbook) -> dict[str, float]:
    """Mix -> price of the products in a gallon of it; a product without a price counts nothing."""
    per_base = {
        name: row.price / base_amount(1.0, row.price_unit)
        for name, row in book.products.items()
        if row.price is not None and row.price_unit
    }
    return {
        name: sum(per_base.get(part, 0.0) * amount for part, amount in one.amounts(1.0).items())
        for name, one in recipes(book).items()
    }


def with_days_between(
    fleet: Fleet, book: Workbook, days: Sequence[DayResult]
) -> tuple[DayResult, ...]:
    """The days with what the day before leaves to them, by date (rule 5a).

    Each day was planned from clean, empty compartments. Where another mix comes into a compartment
    than it held last, that day pays its cleaning at the truck's pay (out of minutes that are paid
    anyhow first) and the product of what was left. What is left of the same mix is used up.
    """
    apart, per_gal = separation(book), mix_prices(book)
    held: dict[tuple[str, str], tuple[str, float]] = {}
    found = []
    for day in sorted(days, key=lambda day: day.date):
        cleanings, cleaning_min, paid_min, lost_gal, cost = 0, 0.0, 0.0, 0.0, 0.0
        for row in day.trucks:
            truck = fleet.trucks[row.truck_id]
            minutes = 0.0
            for tank in row.tanks:
                if tank.mix_id is None or not tank.fills:
                    continue
                place = row.truck_id, tank.compartment_id
                before, left_gal = held.get(place, (tank.mix_id, 0.0))
                if before != tank.mix_id:
                    part = truck.compartment(tank.compartment_id)
                    minutes += cleaning_for(book.settings, apart, part, before, tank.mix_id).minutes
                    cleanings += 1
                    lost_gal += left_gal
                    cost += left_gal * per_gal[before]
                held[place] = tank.mix_id, tank.left_gal
            paid = max(0.0, minutes - row.totals.unworked_min)
            cost += paid * truck.pay_per_hour * truck.crew / 60
            cleaning_min, paid_min = cleaning_min + minutes, paid_min + paid
        totals = replace(
            day.totals,
            cleaning_min=day.totals.cleaning_min + cleaning_min,
            paid_min=day.totals.paid_min + paid_min,
            unworked_min=day.totals.unworked_min - (cleaning_min - paid_min),
            cost=day.totals.cost + cost,
        )
        between = BetweenDays(cleanings, cleaning_min, lost_gal, cost)
        found.append(replace(day, totals=totals, between=between))
    return tuple(found)
