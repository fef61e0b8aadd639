"""People who asked to be told before a spray nearby: who is near which stop, and by when to call.

A person's row gives a point with a radius, or the addresses that are listed, or both. The distance
counts from the edge of a circle as large as the lawn around the property's point: a lawn reaches
toward the neighbor, and it is better to call one person too many.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Final

import numpy as np

from planner.compliance.applied import parts_of
from planner.compliance.duties import in_place, is_pesticide, latest_moment, rules_for
from planner.day.clock import clock_text
from planner.day.day import Day
from planner.day.fleet import Called, Registered
from planner.day.places import Property
from planner.roads.addresses import street_key
from planner.roads.sphere import great_circle_ft
from planner.rules.data import duty_rules_of

USUAL_LEAD_H: Final = 24.0
"""Where neither the row nor the state says how long before (common practice, no source)."""

SPHERE_SLACK: Final = 1.005
"""The globe is no sphere: distances on one are off by up to half a percent."""


TOLD_BY: Final = ("reached", "message left", "refused")
"""Outcomes of an attempt after which nobody calls once more."""


@dataclass(frozen=True)
class Visit:
    """A planned stop at a property. begin: when the work begins; order_ids: done there."""

    truck_id: str
    seq: int
    property_id: str
    begin: datetime
    order_ids: tuple[str, ...]


@dataclass(frozen=True)
class Call:
    """One call that is owed. at: (visit, how it matches: 'listed', '320 ft away'); due: the last
    moment, earliest: the first, None = any time before."""

    person: Registered
    due: datetime
    earliest: datetime | None
    at: tuple[tuple[Visit, str], ...]

    @property
    def order_ids(self) -> tuple[str, ...]:
        """Of all its visits."""
        return tuple(name for visit, _ in self.at for name in visit.order_ids)

    @property
    def span(self) -> str:
        """'Tue Apr 13, 8:10 AM' with the earliest moment before it where there is one."""
        return " to ".join(moment_text(one) for one in (self.earliest, self.due) if one is not None)


def moment_text(moment: datetime) -> str:
    """'Tue Apr 13, 8:10 AM'."""
    return f"{moment:%a %b} {moment.day}, {clock_text(moment.hour * 60.0 + moment.minute)}"


def calls(day: Day, visits: Iterable[Visit]) -> tuple[Call, ...]:
    """Every call that the visits owe, the most urgent first. Stops of one person are one call where
    a moment suits all of them. Visits without a pesticide owe none, but where a rule says so."""
    single: dict[Registered, list[Call]] = {}
    for visit in visits:
        for call in calls_at(day, visit):
            single.setdefault(call.person, []).append(call)
    found = [
        call for some in single.values() for call in _joined(sorted(some, key=lambda one: one.due))
    ]
    return tuple(sorted(found, key=lambda one: (one.due, one.person.name)))


def calls_at(day: Day, visit: Visit) -> tuple[Call, ...]:
    """The calls that one visit owes, the most urgent first."""
    if not day.workbook.notify or not _owes_calls(day, visit):
        return ()
    home, office_state = day.workbook.properties[visit.property_id], day.workbook.settings.state
    found = [
        _call(day, person, visit, how)
        for person in day.workbook.notify
        if (how := match(person, home, office_state))
    ]
    return tuple(sorted(found, key=lambda one: (one.due, one.person.name)))


def product_words(day: Day, order_ids: Iterable[str]) -> str:
    """The products of all these orders, each once, as a caller names them: brand, registration
    number, active ingredients."""
    orders = [day.workbook.orders[name] for name in order_ids if name in day.workbook.orders]
    found = {
        product.product_id: product
        for order in orders
        for _, product in parts_of(day.workbook, order)
    }
    told = []
    for one in found.values():
        number = f"reg. no. {one.registration_no}" if one.registration_no else ""
        facts = ", ".join(filter(None, (number, one.active_ingredient)))
        told.append(f"{one.name} ({facts})" if facts else one.name)
    return "; ".join(told)


def attempts_at(log: Iterable[Called], person: str, address: str) -> tuple[Called, ...]:
    """The attempts to tell a person about a lawn. A call about other lawns alone is none."""
    return tuple(
        one
        for one in log
        if one.person.strip().casefold() == person.strip().casefold()
        and (not one.stops or address.casefold() in one.stops.casefold())
    )


def match(person: Registered, home: Property, office_state: str = "") -> str:
    """How a property is one that the person must be told of, '' = it is not."""
    state = (home.state or office_state).upper()
    if person.state and person.state.upper() != state:
        return ""
    if any(_same_address(listed, home) for listed in person.listed_addresses):
        return "listed address"
    if person.lat is None or person.lon is None or person.radius_ft is None:
        return ""
    here = [np.array(value) for value in (person.lat, person.lon, home.lat, home.lon)]
    away_ft = float(great_circle_ft(*here))
    reach_ft = math.sqrt(home.lawn_ft2 / math.pi)
    if away_ft > (person.radius_ft + reach_ft) * SPHERE_SLACK:
        return ""
    return f"about {max(0.0, away_ft - reach_ft):,.0f} ft away"


def _same_address(listed: str, home: Property) -> bool:
    """'12 Oak St., Alder Mills OH' is the property 12 Oak Street in Alder Mills."""
    street, _, rest = listed.partition(",")
    if not street.strip() or street_key(street) != street_key(home.address.partition(",")[0]):
        return False
    known = street_key(f"{home.town} {home.state} {home.zip_code}").split()
    return not home.town or all(word in known for word in street_key(rest).split())


def _owes_calls(day: Day, visit: Visit) -> bool:
    """A spray does; fertilizer alone where a rule on notices is about any application."""
    orders = [day.workbook.orders[n] for n in visit.order_ids if n in day.workbook.orders]
    return visit.property_id in day.workbook.properties and any(
        any(is_pesticide(product) for _, product in parts_of(day.workbook, one))
        or any(rule.kind == "notice" for rule in rules_for(day, one))
        for one in orders
    )


def _call(day: Day, person: Registered, visit: Visit, how: str) -> Call:
    home = day.workbook.properties[visit.property_id]
    state = (home.state or day.workbook.settings.state).upper()
    rules = [
        rule
        for rule in duty_rules_of(day.workbook)
        if rule.state == state
        and (not rule.local or in_place(rule, home))
        and rule.kind == "notice"
        and (rule.lead_hours or rule.lead_business_days)
    ]
    if person.lead_least_h is not None:
        due = visit.begin - timedelta(hours=person.lead_least_h)
    else:
        usual = visit.begin - timedelta(hours=USUAL_LEAD_H)
        due = min((latest_moment(rule, visit.begin) for rule in rules), default=usual)
    most_h = person.lead_most_h
    if most_h is None:
        most_h = min((one.lead_most_hours for one in rules if one.lead_most_hours), default=None)
    earliest = None if most_h is None else visit.begin - timedelta(hours=most_h)
    if earliest is not None and earliest > due and person.lead_most_h is None:
        earliest = None  # The person asks for more notice than the state lets anybody give.
    return Call(person, due, earliest, ((visit, how),))


def _joined(single: list[Call]) -> list[Call]:
    """Calls of one person by due time; those that one moment suits become one."""
    result: list[Call] = []
    for call in single:
        last = result[-1] if result else None
        earliest = max(
            (one.earliest for one in (last, call) if one is not None and one.earliest), default=None
        )
        if last is not None and (earliest is None or earliest <= last.due):
            result[-1] = replace(last, earliest=earliest, at=(*last.at, *call.at))
        else:
            result.append(call)
    return result
