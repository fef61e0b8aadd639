"""What the figures of a comparison rest on, in words; what days cost between one another:
cleaning, and product that nobody sprays."""

from collections.abc import Sequence
from dataclasses import replace

from planner.compare.days import Season
from planner.compare.fleets import Fleet
from planner.compare.model import BetweenDays, DayResult, Spread
from planner.day.day import Workbook
from planner.mixing.recipes import recipes
from planner.mixing.separation import cleaning_for, separation
from planner.units import base_amount


def assumptions(
    season: Season, count: int, spread: Spread | None, days: int, *, own_calendars: bool = False
) -> tuple[str, ...]:
    """Every assumption, the weightiest first. count: effort of each plan and calendar."""
    same = f"Days: {season.words}. The same {days} days, with the same orders, for every fleet."
    compared = (
        "Cost is compared over days on which two fleets do the same orders; the other days are "
        "named with the orders that one of them leaves out."
    )
    if own_calendars:
        same = (
            f"Days: {season.words}, over the same {days} working days and open orders. A day on "
            "which a fleet has nothing to do counts as one without cost. No order is put off "
            "beyond the last day while a truck has room. An order without a day is left out on the "
            "last day that would be in time, and what a day's plan leaves out does not go to the "
            "next. Being late counts as each calendar prices it, by priority with the chance of "
            "lost days (unserved_price, rule 31): not in cost, but in running, saving, gain and "
            "place. Days that "
            "customers were told bind no fleet. A tie takes no account of how well each calendar "
            "was laid."
        )
        compared = "Cost is compared over all days, between fleets that do the same orders in all."
    return (
        same,
        f"Every day of every fleet is planned with the same effort (count {count}) and one seed. "
        "A plan is good, not proved best.",
        _spread_words(spread),
        f"{compared} Orders held by a rule are held for every fleet.",
        "A truck stays in the yard on the days of its out_on, and does only what somebody on it is "
        "licensed for by the table applicators. Licenses, training, cards and inspections that run "
        "out count as renewed; whether the crew may drive the truck is not looked at.",
        "A fleet that leaves out orders which another does stands below one that serves more days, "
        "however cheap it is; but one that does not pay back what it costs within the life of its "
        "trucks never stands above the present one. A fleet whose price is not known has no place.",
        "Every day is planned from clean, empty compartments. Where another mix comes into one "
        "than it held last, the day pays its cleaning and the product of what was left in it "
        "(products without a price count nothing); this takes no time from the day's orders.",
        "Each day stands for itself: what an earlier compared day puts on a lawn does not count "
        "against the label on a later one.",
        "The store holds enough of every product.",
        "An order that only certain trucks may do is free for all trucks of a fleet that has none "
        "of them. A property's usual truck is not looked at.",
        "Costs are pay (the yard's minutes and hours paid at least included), overtime, miles, the "
        "trucks' cost_per_day and what lies between days, without the product sprayed. Leave out "
        "of cost_per_day what fleet.toml tells as purchase or yearly_fixed, or it counts twice.",
        "A year is the mean cost a day times working_days of the present fleet's fleet.toml, as if "
        "all days of the year were like the compared ones. Money that is laid out costs "
        "interest_percent a year; no tax or inflation.",
        "Verdict and place ask whether to change over now, with what present trucks fetch, as if "
        "they would last as long as the new ones. Owning a year asks what a fleet costs in the "
        "long run, as if each truck were bought new.",
        "A truck with the short name, weights, lines and compartments of one of the present fleet "
        "is the same truck: neither bought nor sold. Others are bought at purchase; present trucks "
        "that a fleet does without are sold for sells_for (resale at the end is lost with them).",
        "A compartment counts as the one that bound a day when it was filled to its full mark and "
        "had to be filled again the same day. A bigger one may still save nothing.",
        "Weight thresholds are published figures beside each truck's heaviest planned weight, no "
        "legal advice.",
    )


def _spread_words(spread: Spread | None) -> str:
    if spread is None:
        return "The planner's own spread was not measured, so that small differences may be chance."
    return (
        f"Planner's own spread: {len(spread.sample)} days planned with {len(spread.seeds)} seeds "
        "by every fleet. Differences of the mean that two equal fleets would show by it in 19 of "
        "20 cases are ties. Other days of the year would differ by more: that is not in it."
    )


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
