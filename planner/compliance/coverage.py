"""What the rule tables do not hold for an order, so that silence is not read as "no duty"."""

from typing import Final

from planner.compliance.applied import parts_of
from planner.compliance.state_rules import bare_county, fertilizes
from planner.day.day import Day, Workbook
from planner.day.orders import Order
from planner.day.places import Property
from planner.rules.data import STATE_NAMES, county_name, duty_rules, fertilizer_rules

NO_RULES: Final = "none"
"""Kind of a local rule by which the office says that the place has none of its own."""

_DUTIES: Final = {"sign": "sign", "notice": "notice", "information": "customer information"}
_FEEDING: Final = {
    ("closed season",): "fertilizer season",
    ("most per application", "most per year"): "fertilizer amount",
    ("phosphorus ban",): "phosphorus",
    ("setback",): "distance to water",
}


def not_covered(day: Day, order: Order) -> tuple[str, ...]:
    """Sentences on the rules of the order's state and county that this planner does not have."""
    home = day.workbook.properties[order.property_id]
    state = (home.state or day.workbook.settings.state).strip().upper()
    if not state:
        return (
            "No state is given: no rules on signs, notices or fertilizer were looked up. Fill in "
            "the state of the property or of the settings.",
        )
    feeds = any(fertilizes(product) for _, product in parts_of(day.workbook, order))
    gaps = (_state_gap(state, feeds), _local_gap(day.workbook, home, state, feeds))
    return tuple(gap for gap in gaps if gap)


def _state_gap(state: str, feeds: bool) -> str:
    kinds = {rule.kind for rule in duty_rules() if rule.state == state}
    missing = [words for kind, words in _DUTIES.items() if kind not in kinds]
    if feeds:
        kinds = {rule.kind for rule in fertilizer_rules() if rule.state == state}
        groups = [words for group, words in _FEEDING.items() if kinds.isdisjoint(group)]
        missing += groups if kinds else ["fertilizer"]
    if not missing:
        return ""
    told = " or ".join((", ".join(missing[:-1]), missing[-1])) if missing[1:] else missing[0]
    return f"No {told} rules of {STATE_NAMES.get(state, state)} are in this planner: ask the state."


def _local_gap(book: Workbook, home: Property, state: str, feeds: bool) -> str:
    """A row of the office's own table, of whatever kind, shows that somebody asked there."""
    local = [(rule.state, rule.county, rule.town) for rule in book.local_fertilizer_rules]
    local += [(one.state, "".join(one.counties), one.town) for one in book.local_duty_rules]
    if feeds:
        local += [(rule.state, rule.county, "") for rule in fertilizer_rules()]
    counties = {bare_county(county) for there, county, town in local if there == state and not town}
    towns = {town.casefold() for there, _, town in local if there == state}
    county, town = bare_county(home.county), home.town.strip()
    # As the office wrote it (DuPage), unless all in small letters.
    name = home.county.title() if home.county.islower() else home.county
    missing = [county_name(name)] if county and county not in counties else []
    missing += [town] if town and town.casefold() not in towns else []
    gaps = [f"No local rules of {' or '.join(missing)} are in this planner: ask there."]
    unknown = "The county is not given: its rules were not looked up."
    return " ".join([*(gaps if missing else ()), *(() if county else (unknown,))])
