"""Signs, notices, information and re-entry around an order, by the state's rules and the label.

Rules are data (`planner/rules/duties.csv`). A duty that hangs on something the tables do not know
(a registered neighbor, a school) is listed with its condition, never dropped.
"""

from dataclasses import dataclass
from datetime import datetime, timedelta

from planner.compliance.applied import parts_of
from planner.compliance.coverage import NO_RULES, not_covered
from planner.compliance.state_rules import bare_county, state_cautions
from planner.day.day import Day, DutyRule
from planner.day.orders import Order
from planner.day.places import Property
from planner.day.products import Product
from planner.rules.data import county_name, duty_rules_of, place_of

WHEN_TEXT = {
    "before": "before spraying",
    "at": "at the time of spraying",
    "after": "right after spraying",
}


@dataclass(frozen=True)
class Duty:
    """Something the crew or the office owes around an order. kind: sign, notice, information,
    caution (of the state's fertilizer rules), re-entry or gap (rules that this planner does not
    have). when: before, at or after. text: one sentence; section: '' for a label's or the office's
    own."""

    kind: str
    when: str
    text: str
    section: str

    @property
    def line(self) -> str:
        """For a sheet: the sentence and where it stands."""
        return f"{self.text} ({self.section})" if self.section else self.text


def duties(day: Day, order: Order) -> tuple[Duty, ...]:
    """All that is owed around an order, in the order of the state's table, then the office's own
    sign and notice, the cautions of its fertilizer rules, what the labels say on re-entry, and
    which rules are not in the tables."""
    home = day.workbook.properties[order.property_id]
    found = [
        Duty(rule.kind, rule.when, _rule_text(rule, home.county), _cited(rule))
        for rule in rules_for(day, order)
    ]
    if home.sign and not any(duty.kind == "sign" for duty in found):
        found.append(Duty("sign", "at", "Sign: place the firm's lawn sign.", ""))
    if home.notice.strip():
        found.append(Duty("notice", "before", f"Notice: {home.notice.strip()}", ""))
    found += [Duty("caution", "at", text, section) for text, section in state_cautions(day, order)]
    found += [Duty("re-entry", "after", text, "") for text in _reentry(day, order)]
    found += [Duty("gap", "before", text, "") for text in not_covered(day, order)]
    return tuple(found)


def rules_for(day: Day, order: Order) -> list[DutyRule]:
    """The duties of the order's state and place, in the order of the tables."""
    home = day.workbook.properties[order.property_id]
    state = (home.state or day.workbook.settings.state).upper()
    pesticide = any(is_pesticide(product) for _, product in parts_of(day.workbook, order))
    return [
        rule
        for rule in duty_rules_of(day.workbook)
        if rule.state == state
        and rule.kind != NO_RULES
        and (pesticide or rule.applies_to == "any")
        and in_place(rule, home)
    ]


def is_pesticide(product: Product) -> bool:
    """A registration number makes it one; a signal word is taken for one where the number is
    missing (the careful reading)."""
    return bool(product.registration_no.strip()) or product.signal_word not in ("", "none")


def in_place(rule: DutyRule, home: Property) -> bool:
    """An unknown county does not free from a county's duty; the condition is told with it."""
    if rule.town and rule.town.casefold() != home.town.casefold():
        return False
    county = bare_county(home.county)
    return not rule.counties or not county or county in map(bare_county, rule.counties)


def _cited(rule: DutyRule) -> str:
    """A local rule's section, with whose it is; the states' own name their state."""
    return f"{place_of(rule)}, {rule.origin.cited}" if rule.local else rule.origin.cited


def _rule_text(rule: DutyRule, county: str) -> str:
    what = rule.kind.capitalize()
    if rule.who:
        what += f" to {rule.who}" if rule.kind == "information" else f": {rule.who}"
    lead = _lead_text(rule)
    when = f"{lead} before" if lead else WHEN_TEXT[rule.when]
    text = f"{what}, {when}: {rule.words}"
    if rule.stays_hours:
        text += f"; it stays {rule.stays_hours:g} h"
    elif rule.stays_until:
        text += f"; it stays until {rule.stays_until}"
    conditions = conditions_of(rule, county)
    if rule.counties and not rule.local:
        conditions.append("the county has taken it over")
    if conditions:
        text += f"; only if {' and '.join(conditions)}"
    return f"{text}."


def conditions_of(rule: DutyRule, county: str) -> list[str]:
    """What a rule hangs on and the tables do not know, in words."""
    conditions = [rule.only_if] if rule.only_if else []
    if rule.local and rule.counties and not county:
        conditions.append(f"the lawn is in {county_name(rule.counties[0])}")
    return conditions


def _lead_text(rule: DutyRule) -> str:
    if rule.lead_hours is not None:
        return f"at least {rule.lead_hours:g} h"
    if rule.lead_business_days is not None:
        days = rule.lead_business_days
        return "at least 1 business day" if days == 1 else f"at least {days} business days"
    return ""


def _reentry(day: Day, order: Order) -> list[str]:
    """What each label says, once per wording."""
    by_text: dict[str, list[str]] = {}
    for _, product in parts_of(day.workbook, order):
        if product.reentry.strip():
            by_text.setdefault(product.reentry.strip(), []).append(product.name)
    return [f"Re-entry, {' and '.join(names)}: {text}" for text, names in by_text.items()]


def latest_moment(rule: DutyRule, earliest: datetime) -> datetime:
    """The latest moment of a rule's notice about something that begins at `earliest`."""
    if rule.lead_business_days is not None:
        day = earliest
        left = rule.lead_business_days
        while left > 0:
            day -= timedelta(days=1)
            # Saturday and Sunday; holidays are the office's to know.
            if day.weekday() < 5:
                left -= 1
        return day
    return earliest - timedelta(hours=rule.lead_hours or 0.0)
