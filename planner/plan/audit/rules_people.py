"""Licenses, cards and inspections of the day, worked out again (rule 35).

Asks of each truck: is there a person who may spray, one who may drive, and an inspection?
"""

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import date

from planner.day.day import Day
from planner.day.fleet import Applicator, Truck
from planner.day.orders import Order
from planner.plan.audit.case import Violation
from planner.plan.model import Plan, TruckPlan
from planner.rules.data import license_rules, truck_rules


def check_people(plan: Plan, day: Day) -> Iterator[Violation]:
    """Only trucks that must stay in the yard, and orders go out with people who may do them."""
    yield from check_papers(day)
    for planned in plan.trucks:
        yield from check_crew(planned, day)


def check_papers(day: Day) -> Iterator[Violation]:
    """Only trucks that must stay in the yard do so."""
    book = day.workbook
    kept_back = {name: book.out_of_service.get(name) for name in day.barred}
    for truck_id, truck in {**book.trucks, **kept_back}.items():
        wrong = [] if truck is None else kept_in_yard(day, truck)
        if wrong and truck_id in book.trucks:
            yield Violation("TRUCK-PAPERS", truck_id, None, f"must stay: {'; '.join(wrong)}")
        elif not wrong and truck_id in day.barred and truck_id not in day.kept_home:
            yield Violation("TRUCK-PAPERS", truck_id, None, "is kept in the yard without a reason")


def check_crew(planned: TruckPlan, day: Day) -> Iterator[Violation]:
    """What a truck mixes and sprays goes out with people who may do it."""
    book = day.workbook
    truck = book.trucks.get(planned.truck_id)
    for stop in planned.stops if truck is not None else ():
        # A fill anywhere else, or of anything else, breaks a rule of its own.
        fills = stop.fills if stop.place_id in book.sites and not stop.done else ()
        wanted = [
            (asked, f"{mix_id} is mixed by nobody with a license of {asked.state}")
            for mix_id in dict.fromkeys(fill.mix_id for fill in fills if fill.mix_id in book.mixes)
            for asked in asked_to_mix(day, mix_id, stop.place_id)
        ]
        due = [book.orders.get(work.order_id) for work in stop.orders if not stop.done]
        wanted += [
            (asked, f"order {order.order_id}: nobody with {asked.what}")
            for order in due
            if order is not None
            for asked in asked_of(day, order)
        ]
        for asked, said in wanted:
            if truck is not None and not has(day, truck, asked):
                yield Violation("TRUCK-LICENSE", planned.truck_id, stop.seq, said)


@dataclass(frozen=True)
class LicenseAsked:
    """what: in the hold's own words; section: where it stands; kinds: categories that do, empty =
    any license; state: of the lawn; restricted, helped: whether it is for restricted use, and
    whether a supervisor's license counts."""

    what: str
    section: str
    kinds: tuple[str, ...]
    state: str
    restricted: bool = False
    helped: bool = True


def asked_of(day: Day, order: Order) -> list[LicenseAsked]:
    """What the law or the office wants of somebody on the order's truck."""
    book, found = day.workbook, []
    mix = book.mixes.get(order.mix_id)
    home = book.properties[order.property_id]
    state = (home.state if home.state else book.settings.state).upper().strip()
    products = [book.products[part.product_id] for part in (mix.parts if mix else ())]
    here = {rule.applies_to: rule for rule in license_rules() if rule.state == state}
    if not book.trucks:
        here = {name: rule for name, rule in here.items() if name == "restricted"}
    names = [one.name for one in products if one.restricted_use]
    if names:
        found.append(_restricted(day, " ".join(names), state))
    kills = any(
        one.registration_no.strip() or one.signal_word not in ("none", "") for one in products
    )
    feeds = any(
        one.nitrogen_percent or one.phosphate_percent or one.potash_percent for one in products
    )
    for applies, doing in (("pesticide", kills), ("fertilizer", feeds)):
        if doing and applies in here:
            rule = here[applies]
            found.append(LicenseAsked(rule.words, rule.origin.cited, tuple(rule.categories), state))
    own = book.settings.license_categories
    if kills and own and book.trucks and "pesticide" not in here:
        found.append(LicenseAsked(" or ".join(own), "", own, state))
    elif (
        kills and book.trucks and "pesticide" not in here and any(p.state for p in book.applicators)
    ):
        found.append(LicenseAsked(f"a license of {state}", "", (), state))
    return found


def _restricted(day: Day, what: str, state: str) -> LicenseAsked:
    here = {rule.applies_to: rule for rule in license_rules() if rule.state == state}
    section, strict = truck_rules()["restricted use"].origin.cited, here.get("restricted")
    return LicenseAsked(
        what,
        section + (strict.origin.cited if strict else ""),
        tuple(here["pesticide"].categories)
        if "pesticide" in here
        else day.workbook.settings.license_categories,
        state,
        True,
        not strict or strict.supervised,
    )


def asked_to_mix(day: Day, mix_id: str, site_id: str) -> list[LicenseAsked]:
    """What the state in which a yard or water point lies wants of who mixes there."""
    book = day.workbook
    site, office = book.sites[site_id], book.settings.state
    products = [book.products[part.product_id] for part in book.mixes[mix_id].parts]
    names = [one.name for one in products if one.restricted_use]
    if not names or not (site.mixes is None or mix_id in {*site.mixes, *site.unlicensed}):
        return []
    state = site.state.upper().strip()
    if not state:
        states = {(one.state or office).upper().strip() for one in book.properties.values()}
        state = "".join(states - {""}) if len(states - {""}) == 1 else ""
    if not state:
        return []
    asked = _restricted(day, f"{' '.join(names)} {site.name or site_id}", state)
    return [replace(asked, section=asked.section + truck_rules()["mixing"].origin.cited)]


def lacked(day: Day, order: Order, truck: Truck) -> list[LicenseAsked]:
    """What nobody on the truck has: for the lawn, and for the place in which the mix is made."""
    found = [one for one in asked_of(day, order) if not has(day, truck, one)]
    return found + _cannot_mix(day, order, truck)


def nowhere_mixed(day: Day, order: Order) -> list[LicenseAsked]:
    """What keeps every truck from mixing the order's mix; empty where one may."""
    short = [_cannot_mix(day, order, truck) for truck in day.workbook.trucks.values()]
    return [] if [] in short else [one for some in short for one in some]


def _cannot_mix(day: Day, order: Order, truck: Truck) -> list[LicenseAsked]:
    """Where some truck may mix it at home, each is to mix it at home; else any place will do."""
    book, lawn = day.workbook, {one.state for one in asked_of(day, order)}
    wanted = asked_to_mix(day, order.mix_id, truck.yard_id)
    wanted = [one for one in wanted if one.state not in lawn and not has(day, truck, one)]
    if not wanted:
        return []
    made_at = [
        site_id
        for site_id, site in book.sites.items()
        if site.mixes is None or order.mix_id in site.mixes | site.unlicensed
    ]
    good = {
        (name, site_id)
        for name, one in book.trucks.items()
        for site_id in made_at
        if all(has(day, one, asked) for asked in asked_to_mix(day, order.mix_id, site_id))
    }
    at_home = any((name, one.yard_id) in good for name, one in book.trucks.items())
    if not at_home and any(name == truck.truck_id for name, _ in good):
        return []
    return wanted


def ended_for(day: Day, asked: LicenseAsked) -> list[date]:
    """Last days of the licenses on the day's trucks, those in the yard too, that would do."""
    book, found = day.workbook, []
    kept_back = [book.out_of_service[name] for name in day.barred]
    for truck in (*book.trucks.values(), *kept_back):
        crew = _crew(day, truck)
        bosses = [
            boss for one in crew if not one.license.strip() for boss in _named(day, one.supervisor)
        ]
        for one in (*crew, *bosses):
            led = not one.license.strip() and one.supervisor.strip() != ""
            until, again = one.license_until, replace(one, license_until=None)
            past = until is not None and until < day.date
            if past and until is not None and not led and _good(day, again, asked, ""):
                found.append(until)
    return found


def has(day: Day, truck: Truck, asked: LicenseAsked) -> bool:
    """Whether somebody on the truck, or who supervises somebody trained, has what is asked."""
    people = _crew(day, truck)
    if not people:
        return not asked.restricted or truck.applicator_license.strip() != ""
    for person in people:
        bare = person.license.strip() == ""
        if not (bare and person.supervisor.strip()) and _good(
            day, person, asked, truck.applicator_license.strip()
        ):
            return True
        trained = person.training_until is None or person.training_until >= day.date
        if bare and asked.helped and trained:
            for boss in _named(day, person.supervisor):
                led = boss.supervisor.strip() and not boss.license.strip()
                if not led and _good(day, boss, asked, ""):
                    return True
    return False


def _good(day: Day, person: Applicator, asked: LicenseAsked, number: str) -> bool:
    if person.license_until is not None and person.license_until < day.date:
        return False
    if person.state and person.state.upper() != asked.state:
        return False
    if asked.restricted and not (person.license.strip() or number):
        return False
    if not asked.kinds or not _kinds(person.categories):
        return True
    return not _kinds(person.categories).isdisjoint(_kinds(asked.kinds))


def _kinds(cells: Iterable[str]) -> set[str]:
    text = " ".join(cells).lower().replace("-", "")
    split = "".join(letter if letter.isascii() and letter.isalnum() else " " for letter in text)
    return {word.lstrip("0") for word in split.split()}


def kept_in_yard(day: Day, truck: Truck) -> list[str]:
    """Why the truck must not go out."""
    today, found = day.date.toordinal(), []

    def past(value: object) -> bool:
        return hasattr(value, "toordinal") and value.toordinal() < today

    if past(truck.inspection_until):
        found.append("inspection")
    if any(span.first <= day.date <= span.last for span in truck.out_on):
        found.append("out of service")
    crew = _crew(day, truck)
    if not crew:
        return found

    def led(one: Applicator) -> bool:
        return not one.license.strip() and one.supervisor.strip() != ""

    def lost(one: Applicator) -> bool:
        bosses = _named(day, one.supervisor) if led(one) else []
        return bosses != [] and all(past(boss.license_until) or led(boss) for boss in bosses)

    if not [one for one in crew if not past(one.license_until) and not lost(one)]:
        found.append("no one may spray")
    rules = truck_rules()
    federal = truck.gvwr_lb >= (rules["commercial motor vehicle"].figure or 0.0)
    large = truck.gvwr_lb >= (rules["license group B"].figure or 0.0)
    drivers = set(range(len(crew)))
    if federal:
        drivers -= {n for n, one in enumerate(crew) if past(one.medical_card_until)}
    if large:
        drivers -= {n for n, one in enumerate(crew) if one.cdl_class in ("C", "none")}
    if not drivers:
        found.append("no one may drive")
    return found


def shut_words(day: Day, order: Order) -> tuple[list[str], list[str]]:
    """What the reason of an order must say of trucks that its row allows and papers keep from it,
    and what it must not say of the others."""
    said, false = [], []
    never = order.never_trucks - order.license_only
    for name in {**day.workbook.trucks, **day.workbook.out_of_service}:
        allowed = name not in never and (order.only_trucks is None or name in order.only_trucks)
        in_yard, unable = f"{name} stays in the yard (", f"nobody on {name} has "
        truck = day.workbook.trucks.get(name)
        lacks = truck is not None and lacked(day, order, truck) != []
        if allowed and name in day.barred:
            said += [in_yard, *_ended(day, day.workbook.out_of_service[name])]
        else:
            false.append(in_yard)
        if allowed and lacks:
            said.append(unable)
        else:
            false.append(unable)
    return said, false


def _ended(day: Day, truck: Truck) -> list[str]:
    """Last days of the licenses and the inspection for whose end it stays."""
    wrong, days = kept_in_yard(day, truck), []
    if "no one may spray" in wrong:
        crew = _crew(day, truck)
        bosses = [boss for one in crew for boss in _named(day, one.supervisor) if not one.license]
        days += [one.license_until for one in (*crew, *bosses)]
    if "inspection" in wrong:
        days.append(truck.inspection_until)
    return [f"good through {one:%a %Y-%m-%d}" for one in days if one is not None and one < day.date]


def _crew(day: Day, truck: Truck) -> list[Applicator]:
    return _named(day, truck.applicator)


def _named(day: Day, text: str) -> list[Applicator]:
    def letters(name: str) -> str:
        return " ".join(name.lower().split())

    names = {letters(text)}
    names.update(letters(part) for part in re.split("[;,/&+]", text.replace(" and ", ";")))
    return [one for one in day.workbook.applicators if letters(one.name) in names - {""}]
