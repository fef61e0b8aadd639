"""What the figures of a comparison rest on, in words, to be printed with them."""

from __future__ import annotations

from planner.compare.days import Season
from planner.compare.model import Spread


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
            "next. Days that customers were told bind no fleet. A tie takes no account of how well "
            "each calendar was laid."
        )
        compared = "Cost is compared over all days, between fleets that do the same orders in all."
    return (
        same,
        f"Every day of every fleet is planned with the same effort (count {count}) and one seed. "
        "A plan is good, not proved best.",
        _spread_words(spread),
        f"{compared} Orders held by a rule are held for every fleet.",
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
