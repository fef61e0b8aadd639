"""What a violation is, every code there is, and how far a figure may be off."""

from __future__ import annotations

from dataclasses import dataclass

MINUTE_TOLERANCE = 0.01
GALLON_TOLERANCE = 0.01
POUND_TOLERANCE = 0.05
MILE_TOLERANCE = 0.005
MONEY_TOLERANCE = 0.02
DEGREE_TOLERANCE = 1e-5
"""About a yard on the ground."""
PRODUCT_SHARE_TOLERANCE = 0.0005
"""Of the amount of a product."""
PRODUCT_LEAST_TOLERANCE = 1e-5
"""Gallons or pounds; below what a jug or a scale shows, so that tiny amounts do not alarm."""
COUNTING_TOLERANCE = 5e-7
"""Half the last decimal of plan.json; for comparisons where whole gallons are counted."""

VIOLATION_CODES: dict[str, str] = {
    "PLAN-VERSION": "the plan was written in another version of the format",
    "PLAN-DATE": "the plan is for another date",
    "PLAN-WORKBOOK": "the plan was made from other tables",
    "PLAN-MADE": "what the plan says of how it was made is not so",
    "PLAN-FIGURE": "a figure of the plan is no number",
    "ID-TRUCK": "a truck that is not in the tables or not in service",
    "ID-PLACE": "a place that is not in the tables",
    "ID-ORDER": "an order that is not due on this day",
    "ID-MIX": "a mix that is not in the tables",
    "ID-COMPARTMENT": "a compartment that the truck does not have",
    "ID-LINE": "a line that the truck does not have",
    "MIX-RATE": "the amounts of a mix cannot be worked out from the tables",
    "TRUCK-TWICE": "a truck is planned twice",
    "ORDER-MISSING": "a due order is neither done nor held nor unserved",
    "ORDER-NOT-DUE": "an order is in the plan that the tables keep out of this day",
    "AHEAD": "an order is done before its first day that the settings or the tables keep out",
    "OVERDUE": "what the plan says of overdue orders is wrong",
    "NOT-TODAY": "what the plan says of orders that are kept out of the day is wrong",
    "GIVEN-UP": "what the plan says of orders that are given up is wrong",
    "ORDER-TWICE": "an order stands in the plan more than once",
    "PARTS": "an order of several parts is done in part, or they are not the whole of it",
    "ORDER-HELD": "an order is planned although a rule holds it back",
    "ORDER-NOT-HELD": "an order is held although no rule holds it back",
    "PIN-UNKNOWN": "an order is pinned to its truck and no truck does it",
    "REASON-CODE": "an order is unserved with a code that the tables refute",
    "REASON-FIGURE": "a figure or a name in a reason is not that of the tables",
    "OFFER": "what is said to make room for an order would not",
    "REASON-MISSING": "an order is held or unserved without a reason",
    "STOP-SEQ": "the stops are not numbered in order",
    "STOP-KIND": "a stop of an unknown kind",
    "STOP-ENDS": "a truck's day does not begin and end in its yard",
    "STOP-CONTENT": "a stop holds work or fills that do not belong to its kind",
    "STOP-PLACE": "a stop's position is not that of its place",
    "STOP-JOIN": "two visits in a row at one property, which are one visit",
    "WORK-PLACE": "an order is done at another property than its own",
    "WORK-MIX": "an order gets another mix than the one ordered",
    "WORK-AREA": "an order's area is not the one ordered",
    "WORK-GAL": "an order's gallons are not its area times the carrier of its mix",
    "WORK-PRODUCTS": "an order's product amounts are not its gallons at the rates of its mix",
    "WORK-LINE": "an order is sprayed by a line on which its mix does not run",
    "TRUCK-PINNED": "an order is done by a truck that it excludes",
    "TRUCK-PAPERS": "a truck goes out that a license, a card or its inspection keeps in the yard",
    "TRUCK-LICENSE": "a restricted-use product goes out without a licensed person",
    "HOSE-REACH": "the hose does not reach",
    "LOAD-COMPARTMENTS": "the loading does not name every compartment of the truck once",
    "LOAD-IDLE": "a truck that stays in the yard is loaded",
    "LOAD-LINE": "a mix is loaded on two lines of one truck",
    "LOAD-LEFTOVER": "a compartment gets another mix on top of its leftover",
    "LOAD-RESERVED": "a reserved compartment gets another mix, or its mix another compartment",
    "LOAD-APART": "mixes that must be kept apart share a line or a truck",
    "CLEAN-MISSING": "a cleaning that is owed is missing",
    "CLEAN-EXTRA": "a cleaning that nothing asks for",
    "CLEAN-FIGURES": "a cleaning entry with wrong figures",
    "DRAW-SUM": "what is drawn from the compartments is not what is sprayed",
    "DRAW-MIX": "an order draws from a compartment with another mix",
    "DRAW-ORDER": "a later compartment is drawn before the one ahead of it is down to its heel",
    "DRAW-HEEL": "a compartment is drawn below its heel: the pump runs dry",
    "HOSE-DRAW": "the gallons that fill the hose are wrong",
    "HOSE-CHANGEOVER": "a changeover is wrong or missing",
    "FILL-SITE": "a fill with a mix that may not be made at that place",
    "FILL-MIX": "a compartment is filled with another mix than it is loaded with",
    "FILL-TWICE": "a compartment is filled twice at one stop",
    "FILL-GAL": "a fill is not a whole number of gallons (or to the full mark)",
    "FILL-LEVEL": "levels before and after a fill do not add up",
    "FILL-CAPACITY": "a compartment is filled over its capacity",
    "FILL-ORDER": "a later compartment is filled before the one ahead of it is full",
    "FILL-SHORT": "a fill does not last until the next refill of that mix",
    "FILL-UNNEEDED": "a fill although what is on board lasts",
    "FILL-TOO-MUCH": "more is filled than needed with the margin",
    "FILL-MARGIN": "the margin is left out although there is room for it",
    "FILL-WATER": "the water of a fill is wrong",
    "FILL-PRODUCTS": "the products of a fill are not its gallons at the rates of its mix",
    "FILL-WEIGHT": "the weight of a fill is wrong",
    "FILL-ORDERS": "the orders that a fill names are not the ones sprayed from it",
    "MEASURE-PRODUCTS": "what is measured for a fill is not what its mix holds",
    "MEASURE-WATER": "the gallons on the meter are not the water of the fill",
    "MEASURE-LABEL": "a mix can come out over a label's most within the error of meter and gauge",
    "MEASURE-RATE": "rounding makes a fill more than 5 % stronger than its mix",
    "MEASURE-LESS": "less of a product is measured than the mix needs",
    "MEASURE-MORE": "more of a product is measured than the mix needs",
    "WEIGHT-GVWR": "the truck is heavier than its rating",
    "WEIGHT-FIGURE": "the truck's weight after a stop is wrong",
    "CLOCK-DEPART": "the truck does not depart at the start of its shift",
    "CLOCK-DRIVE": "drive minutes or miles are not those of the roads",
    "CLOCK-ARRIVE": "an arrival is not the departure before it plus the drive",
    "CLOCK-BEGIN": "work does not begin as early as it may",
    "CLOCK-WORK": "the minutes of an order do not add up",
    "CLOCK-LEAVE": "a stop does not last as long as its work",
    "WINDOW": "an order is done outside its windows",
    "SITE-HOURS": "a refill outside the hours of the place",
    "LUNCH-OWED": "the crew is owed a lunch",
    "LUNCH-PLACE": "lunch stands at the wrong point of the day",
    "LUNCH-TIME": "lunch begins too late",
    "LUNCH-EXTRA": "more lunches than the truck's crew has",
    "RETURN-LATE": "the truck is back too late",
    "AGAIN-DONE": "a stop is marked as done that cannot be",
    "AGAIN-DOWN": "a truck that is down gets more to do",
    "AGAIN-SKIPPED": "an order that was to be left out for the day is in the plan",
    "START-LEVEL": "what is in a compartment before the first fill is wrong",
    "END-LEVEL": "what is left at the end of the day is wrong",
    "TOTAL-TRUCK": "a total of a truck is wrong",
    "SITE-FULL": "a truck fills while a site is taken by those that came before",
    "STORE-MORE": "the day's fills take more of a product than the store holds",
    "TOTAL-DAY": "a total of the day is wrong",
}
"""Code of every violation -> what it means."""


@dataclass(frozen=True)
class Violation:
    """One rule that a plan breaks. truck_id, seq: None where it concerns the whole day or truck.
    message: in plain words, with the numbers."""

    code: str
    truck_id: str | None
    seq: int | None
    message: str

    def __str__(self) -> str:
        place = "" if self.truck_id is None else f"truck {self.truck_id}"
        if self.seq is not None:
            place += f", stop {self.seq}"
        return (
            f"{place}: {self.message} [{self.code}]" if place else f"{self.message} [{self.code}]"
        )


def differs(found: float, right: float, tolerance: float) -> bool:
    """Whether two figures are further apart than the tolerance; a figure that is no number is."""
    return not abs(found - right) <= tolerance


def exceeds(found: float, most: float, tolerance: float) -> bool:
    """Whether a figure is over its most by more than the tolerance; one that is no number is."""
    return not found <= most + tolerance
