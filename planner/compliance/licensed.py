"""Who on a truck may put a mix down: licenses, their categories, supervisors (rule 35)."""

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from typing import Final

import numpy as np

from planner.compliance.applied import parts_of
from planner.compliance.duties import is_pesticide
from planner.compliance.state_rules import fertilizes
from planner.day.day import Day, Workbook
from planner.day.fleet import Applicator, Truck, people_named
from planner.day.orders import Order
from planner.day.products import Product
from planner.roads.sphere import great_circle_ft
from planner.rules.data import LicenseRule, license_rules, truck_rules

FT_PER_MILE: Final = 5280.0


@dataclass(frozen=True)
class LicenseNeed:
    """What an order asks of somebody on its truck. text, cited: in words, and where it stands;
    categories: one of them, () = any; state: of which the license is; number: whether a license
    number must be known; supervised: whether a supervisor's license will do."""

    text: str
    cited: str
    state: str
    categories: frozenset[str] = frozenset()
    number: bool = False
    supervised: bool = True


def needs(book: Workbook, order: Order) -> Iterator[LicenseNeed]:
    """Of restricted-use products, of the state's categories, and of those that the office names for
    a state without."""
    state = state_of(book, order.property_id)
    products = [product for _, product in parts_of(book, order)]
    named = [product.name for product in products if product.restricted_use]
    pesticides = [product for product in products if is_pesticide(product)]
    kinds = {"pesticide"} if pesticides else set()
    kinds |= {"fertilizer"} if any(map(fertilizes, products)) else set()
    rules = [rule for rule in license_rules() if rule.state == state]
    own = book.settings.license_categories
    turf = next((one for one in rules if one.applies_to == "pesticide"), None)
    if named:
        text = f"a license good that day for {' and '.join(named)} (restricted use)"
        yield restricted_need(book, state, text)
    for rule in rules:
        if rule.applies_to in kinds:
            why = _by_word(pesticides) if rule.applies_to == "pesticide" else ""
            yield LicenseNeed(rule.words + why, rule.origin.cited, state, rule.categories)
    if own and "pesticide" in kinds and turf is None:
        text = f"category {' or '.join(own)}{_by_word(pesticides)}"
        yield LicenseNeed(text, "license_categories of the settings", state, words(own))
    elif "pesticide" in kinds and turf is None and any(one.state for one in book.applicators):
        text = f"a license of {state}{_by_word(pesticides)}"
        yield LicenseNeed(text, "the state of the property", state)


def _by_word(pesticides: list[Product]) -> str:
    """What an office must hear that did not know that its fertilizer counts as a pesticide."""
    if any(product.registration_no.strip() for product in pesticides):
        return ""
    names = " and ".join(product.name for product in pesticides)
    counts = "counts as a pesticide" if len(pesticides) == 1 else "count as pesticides"
    return f" ({names} {counts}: a signal word and no registration number in products)"


def restricted_need(book: Workbook, state: str, text: str) -> LicenseNeed:
    """What a restricted-use product asks for in a state, where it is mixed or where it is
    sprayed."""
    rules = {rule.applies_to: rule for rule in license_rules() if rule.state == state}
    turf, alone = rules.get("pesticide"), rules.get("restricted")
    cited = truck_rules()["restricted use"].origin.cited
    return LicenseNeed(
        text,
        f"{cited}; {alone.origin.cited}" if alone else cited,
        state,
        # The person who is certified is certified in the category.
        turf.categories if turf else words(book.settings.license_categories),
        number=True,
        supervised=alone is None or alone.supervised,
    )


def meets(book: Workbook, truck: Truck, need: LicenseNeed, when: date) -> bool:
    """Whether a person on the truck, or a supervisor of one whose training is good, has it. A truck
    without a row of the table has its own license number; blank categories cover all."""
    number = truck.applicator_license.strip()
    crew = people_named(truck.applicator, book.applicators)
    if not crew:
        return bool(number) or not need.number
    return any(
        holds_it(one, number, need, when)
        or (
            need.supervised
            and not is_over(one.training_until, when)
            and any(holds_it(boss, "", need, when) for boss in supervisors(book, one))
        )
        for one in crew
    )


def holds_it(one: Applicator, number: str, need: LicenseNeed, when: date) -> bool:
    """Whether a person's own license is what is needed that day. number: of the truck's row."""
    if is_over(one.license_until, when) or is_supervised(one) or not one.good_in(need.state):
        return False
    if need.number and not (one.license.strip() or number):
        return False
    own = words(one.categories)
    return not need.categories or not own or bool(own & need.categories)


def is_supervised(one: Applicator) -> bool:
    """Whether somebody has no license of their own and a supervisor."""
    return bool(one.supervisor.strip()) and not one.license.strip()


def may_lead(book: Workbook, one: Applicator, when: date) -> bool:
    """Whether a license is good that day, or a supervisor's; one that is not written down is."""
    bosses = supervisors(book, one)
    return not is_over(one.license_until, when) and (
        not bosses
        or any(not is_over(boss.license_until, when) and not is_supervised(boss) for boss in bosses)
    )


def supervisors(book: Workbook, one: Applicator) -> tuple[Applicator, ...]:
    """The people who supervise somebody without a license."""
    return () if one.license.strip() else people_named(one.supervisor, book.applicators)


def words(cells: Iterable[str]) -> frozenset[str]:
    """'07 Lawn', '3-B' -> 7, lawn, 3b."""
    found = (re.findall(r"[a-z0-9]+", cell.lower().replace("-", "")) for cell in cells)
    return frozenset(word.lstrip("0") for row in found for word in row)


def is_over(until: date | None, when: date) -> bool:
    """Whether the last good day lies before that day."""
    return until is not None and until < when


def state_of(book: Workbook, property_id: str) -> str:
    """The property's state, else the office's."""
    return (book.properties[property_id].state or book.settings.state).strip().upper()


def supervised(day: Day, truck: Truck, places: Iterable[str]) -> Iterator[str]:
    """Sentences on a truck on which nobody has a license of their own, where a place of its stops
    lies in a state of which no distance to the supervisor is known (`too_far` speaks of the
    others)."""
    book = day.workbook
    known = {one.state for one in license_rules() if one.miles is not None}
    crew = people_named(truck.applicator, book.applicators)
    led = all(supervisors(book, one) for one in crew)
    if led and any(state_of(book, place) not in known for place in places):
        for one in {one.name: one for one in crew}.values():
            bosses = " or ".join(dict.fromkeys(boss.name for boss in supervisors(book, one)))
            yield (
                f"{one.name} has no license of their own and works under {bosses}'s: the law may "
                f"ask for {bosses} on the site or within reach; ask the state"
            )


def too_far(
    day: Day, stops: Iterable[tuple[str, int, str]]
) -> Iterator[tuple[str, str, LicenseRule]]:
    """(truck, sentence, rule) of trucks whose crew is supervised from farther away, in a straight
    line, than the state says; the farthest stop of each. stops: truck, number, property. A
    supervisor may be in the truck's yard and, where on another truck, at each of its stops."""
    book, rows = day.workbook, list(stops)
    rules = {one.state: one for one in license_rules() if one.miles is not None}
    for truck in book.trucks.values():
        crew = people_named(truck.applicator, book.applicators)
        if any(not supervisors(book, one) and may_lead(book, one, day.date) for one in crew):
            continue
        worst: tuple[float, str, LicenseRule] | None = None
        for boss in {boss.name: boss for one in crew for boss in supervisors(book, one)}.values():
            places = [_point(day, truck.yard_id)]
            for truck_id, _, place in rows:
                if boss in people_named(book.trucks[truck_id].applicator, book.applicators):
                    places.append(_point(day, place))
            for truck_id, seq, place in rows:
                rule = rules.get(state_of(book, place))
                if truck_id != truck.truck_id or rule is None:
                    continue
                far = max(_miles(one, _point(day, place)) for one in places)
                if far > (rule.miles or 0.0) and (worst is None or far > worst[0]):
                    text = (
                        f"Stop {seq} lies up to {far:.0f} miles from {boss.name}, who supervises "
                        f"it: see that it is within {rule.hours:g} hours"
                    )
                    worst = far, text, rule
        if worst is not None:
            yield truck.truck_id, worst[1], worst[2]


def _point(day: Day, place: str) -> tuple[float, float]:
    book = day.workbook
    at = book.sites.get(place) or book.properties[place]
    return at.lat, at.lon


def _miles(one: tuple[float, float], other: tuple[float, float]) -> float:
    values = [np.array(value) for value in (*one, *other)]
    return float(great_circle_ft(*values)) / FT_PER_MILE
