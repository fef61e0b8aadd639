"""What the rule tables do not hold for an order, so that silence is not read as "no duty"."""

from __future__ import annotations

from collections.abc import Iterator

from planner.compliance.applied import parts_of
from planner.compliance.state_rules import fertilizes
from planner.day.day import Day
from planner.day.orders import Order
from planner.rules.data import STATE_NAMES, duty_rules, fertilizer_rules


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
    return tuple(_gaps(state, home.county, feeds))


def _gaps(state: str, county: str, feeds: bool) -> Iterator[str]:
    name = STATE_NAMES.get(state, state)
    missing = []
    if not any(rule.state == state for rule in duty_rules()):
        missing += ["sign", "notice"]
    rules = [rule for rule in fertilizer_rules() if rule.state == state]
    if feeds and not rules:
        missing.append("fertilizer")
    if missing:
        kinds = " or ".join((", ".join(missing[:-1]), missing[-1])) if missing[1:] else missing[0]
        yield f"No {kinds} rules of {name} are in this planner: ask the state."
    counties = {rule.county.casefold() for rule in rules if rule.county}
    known = county.casefold().removesuffix("county").strip()
    if feeds and counties and known not in counties:
        where = f"{known.title()} County" if known else "the county, which is not given,"
        yield f"No fertilizer rules of {where} are in this planner: ask the county."
