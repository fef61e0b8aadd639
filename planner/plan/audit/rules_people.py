"""Licenses, cards and inspections of the day, worked out again (rule 35).

Asks of each truck: is there a person who may spray, one who may drive, and an inspection?
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from planner.day.day import Day
from planner.day.fleet import Truck
from planner.day.people import Applicator
from planner.plan.audit.violation import Violation
from planner.plan.model import Plan
from planner.rules.data import truck_rules


def check_people(plan: Plan, day: Day) -> Iterator[Violation]:
    """Exactly those trucks stay in the yard that must, and restricted-use products go out only with
    a licensed person."""
    book = day.workbook
    kept_back = {name: book.out_of_service.get(name) for name in day.barred}
    for truck_id, truck in {**book.trucks, **kept_back}.items():
        wrong = [] if truck is None else kept_in_yard(day, truck)
        if wrong and truck_id in book.trucks:
            yield Violation("TRUCK-PAPERS", truck_id, None, f"must stay: {'; '.join(wrong)}")
        elif not wrong and truck_id in day.barred:
            yield Violation("TRUCK-PAPERS", truck_id, None, "is kept in the yard without a reason")
    for planned in plan.trucks:
        known = book.trucks.get(planned.truck_id)
        if known is None or may_use_restricted(day, known):
            continue
        for stop in planned.stops:
            for work in stop.orders if not stop.done else ():
                names = restricted_of(day, work.mix_id)
                if names:
                    yield Violation(
                        "TRUCK-LICENSE",
                        planned.truck_id,
                        stop.seq,
                        f"order {work.order_id} takes {', '.join(names)} without a good license",
                    )


def restricted_of(day: Day, mix_id: str) -> list[str]:
    """Names of a mix's restricted-use products."""
    mix, products = day.workbook.mixes.get(mix_id), day.workbook.products
    parts = mix.parts if mix else ()
    return [
        products[one.product_id].name for one in parts if products[one.product_id].restricted_use
    ]


def may_use_restricted(day: Day, truck: Truck) -> bool:
    """Whether somebody on the truck holds a license that is good today."""
    crew = _crew(day, truck)
    number = truck.applicator_license.strip()
    if not crew:
        return number != ""
    for person in crew:
        expired = person.license_until is not None and (day.date - person.license_until).days > 0
        if not expired and (person.license.strip() or number):
            return True
    return False


def kept_in_yard(day: Day, truck: Truck) -> list[str]:
    """Why the truck must not go out."""
    today, found = day.date.toordinal(), []

    def past(value: object) -> bool:
        return hasattr(value, "toordinal") and value.toordinal() < today

    if past(truck.inspection_until):
        found.append("inspection")
    crew = _crew(day, truck)
    if not crew:
        return found
    if not [one for one in crew if not past(one.license_until)]:
        found.append("no one may spray")
    rules = truck_rules()
    federal = truck.gvwr_lb >= (rules["commercial motor vehicle"].figure or 0.0)
    if federal and not [one for one in crew if not past(one.medical_card_until)]:
        found.append("no medical card")
    large = truck.gvwr_lb >= (rules["license group B"].figure or 0.0)
    if large and not [one for one in crew if one.cdl_class not in ("C", "none")]:
        found.append("no commercial license")
    return found


def _crew(day: Day, truck: Truck) -> list[Applicator]:
    def letters(name: str) -> str:
        return " ".join(name.lower().split())

    cell = truck.applicator.replace(" and ", ";")
    names = {letters(truck.applicator)}
    names.update(letters(part) for part in re.split("[;,/&+]", cell))
    return [one for one in day.workbook.applicators if letters(one.name) in names - {""}]
