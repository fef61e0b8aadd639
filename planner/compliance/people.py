"""Licenses, training, medical cards, inspections and tests: what keeps a truck or an order back,
and what runs out soon (rule 35).

Dates are the last good days. Nothing is asked of an office that writes none of them down.
"""

from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Final

from planner.compliance.licensed import (
    LicenseNeed,
    holds_it,
    is_over,
    is_supervised,
    may_lead,
    meets,
    needs,
    state_of,
    supervisors,
)
from planner.compliance.mixed_where import (
    licensed_sites,
    may_not_mix,
    shut_places,
    unknown_places,
)
from planner.compliance.thresholds import is_commercial_motor_vehicle, needs_license_group_b
from planner.day.day import Day, Workbook
from planner.day.fleet import Applicator, Settings, Truck, people_named, signs
from planner.day.life import day_text, is_working_day
from planner.day.orders import Order
from planner.rules.data import truck_rules

SOON_DAYS: Final = 30
"""So many days ahead the day page tells what runs out."""


BARS, WARNS, SOON = "stays in the yard", "see to it", "runs out soon"


@dataclass(frozen=True)
class Paper:
    """One thing that has run out, is missing or runs out soon. truck_id: '' = the business; level:
    BARS, WARNS or SOON; text: a sentence; section: of the rule, '' = the office's own date."""

    truck_id: str
    level: str
    text: str
    section: str = ""

    @property
    def line(self) -> str:
        """For the page: the sentence and where it stands."""
        return f"{self.text} ({self.section})" if self.section else self.text


def papers(day: Day) -> tuple[Paper, ...]:
    """Everything that is not in order on the day or within SOON_DAYS after it: the business first,
    then the trucks as the table has them."""
    book = day.workbook
    office = book.settings
    found = list(
        _dated(office, "", "The business license", book.settings.business_license_until, day.date)
    )
    trucks = {**book.trucks, **_barred_trucks(day)}.values()
    for truck in trucks:
        found += _of_truck(book, truck, day.date)
    out = [one for truck in trucks for one in people_named(truck.applicator, book.applicators)]
    led_by = [boss for one in out for boss in supervisors(book, one)]
    for one in book.applicators:
        if one not in out and one not in led_by:
            found += _dated(office, "", one.of_license, one.license_until, day.date, WARNS)
            found += _dated(
                office, "", f"{one.name}'s training", one.training_until, day.date, WARNS
            )
    states = sorted({state_of(book, order.property_id) for order in day.orders.values()} - {""})
    unsaid = [one for one in book.applicators if not one.state and not is_supervised(one)]
    if len(states) > 1 and any(one.license.strip() or one.categories for one in unsaid):
        # The table does not say which state each license is of.
        where = f"{', '.join(states[:-1])} and {states[-1]}"
        found.append(Paper("", WARNS, f"Work in {where}: see that each license is good there"))
    places = (*unknown_places(book), *shut_places(book))
    found += [Paper("", WARNS, text) for text in places]
    # What is a person's stands in each row of the person.
    return tuple(dict.fromkeys(found))


KEPT_HOME = "the calendar keeps it home on this day"


def with_licenses(day: Day, home: Collection[str] = ()) -> Day:
    """The day without the trucks that must stay in the yard, and with orders of restricted-use
    products kept from trucks without a licensed person. Itself where nothing is wrong. home:
    trucks that stay in the yard by the calendar."""
    book = day.workbook
    barred: dict[str, str] = dict.fromkeys(home, KEPT_HOME)
    for paper in papers(day):
        if paper.level == BARS and paper.truck_id:
            barred[paper.truck_id] = "; ".join(
                filter(None, (barred.get(paper.truck_id), paper.line))
            )

    lacking_by: dict[tuple[str, str], tuple[set[str], str]] = {}
    out = replace(
        book, trucks={name: one for name, one in book.trucks.items() if name not in barred}
    )

    def kept_from(order: Order) -> Order:
        kind = order.mix_id, state_of(book, order.property_id)
        if kind not in lacking_by:
            asked = tuple(needs(book, order))
            short = {
                name: [need for need in asked if not meets(book, one, need, day.date)]
                + may_not_mix(out, order, one, day.date)
                for name, one in book.trucks.items()
            }
            lacking = {name for name, some in short.items() if some}
            wanting = list(dict.fromkeys(need for some in short.values() for need in some))
            texts = dict.fromkeys(need.text for need in wanting)
            ended = dict.fromkeys(text for need in wanting for text in _ended(day, need, lacking))
            past = f" ({' and '.join(ended)})" if ended else ""
            lacking_by[kind] = lacking, " and ".join(texts) + past
        lacking, text = lacking_by[kind]
        if not lacking:
            return order
        return replace(
            order,
            never_trucks=order.never_trucks | lacking,
            unlicensed_trucks=frozenset(lacking),
            license_only=frozenset(lacking - order.never_trucks),
            license_asked=text,
        )

    def changed(some: dict[str, Order]) -> dict[str, Order]:
        return {name: kept_from(order) for name, order in some.items()}

    orders = changed(book.orders)
    due = changed(day.orders)
    sites, lost = licensed_sites(book, (*orders.values(), *due.values()), day.date)
    mixed_today = {order.mix_id for order in due.values()}
    not_mixed = list(dict.fromkeys(text for mix_id, text in lost if mix_id in mixed_today))
    good = tuple(
        replace(one, license="") if is_over(one.license_until, day.date) else one
        for one in book.applicators
    )
    if not (barred or lost) and orders == book.orders and good == book.applicators:
        return day
    if good != book.applicators:
        # No paper of the day names a license that has run out.
        signed = {name: _signed(one, good) for name, one in book.trucks.items()}
        book = replace(book, trucks=signed)
    book = replace(
        book,
        orders=orders,
        sites=sites,
        trucks={name: book.trucks[name] for name in out.trucks},
        out_of_service={
            **book.out_of_service,
            **{name: one for name, one in book.trucks.items() if name in barred},
        },
    )
    notes = [
        f"{book.out_of_service[name].title} stays in the yard: {barred[name]}." for name in barred
    ]
    notes += not_mixed
    return replace(
        day,
        workbook=book,
        orders=due,
        ahead=changed(day.ahead),
        notes=(*day.notes, *notes),
        barred={**day.barred, **barred},
    )


def _signed(truck: Truck, applicators: Sequence[Applicator]) -> Truck:
    numbers, supervisor = signs(truck.applicator, applicators)
    return replace(truck, table_license=numbers, supervisor=supervisor)


def barred_on(day: Day, when: date) -> dict[str, str]:
    """Trucks that stay in the yard on another day (rule 35), with the reason."""
    # Of the trucks alone, with those that stay in it on the day itself.
    book = replace(day.workbook, orders={}, trucks={**day.workbook.trucks, **_barred_trucks(day)})
    then = replace(day, date=when, workbook=book, orders={}, ahead={}, barred={})
    return with_licenses(then).barred


def may_be_done_by(book: Workbook, order: Order, truck_id: str, when: date) -> bool:
    """Whether papers of business and people allow the order on a truck on a day; that of the truck
    itself tells `barred_on`."""
    until = book.settings.business_license_until
    truck = book.trucks[truck_id]
    return (
        not is_over(until, when)
        and all(meets(book, truck, need, when) for need in needs(book, order))
        and not may_not_mix(book, order, truck, when)
    )


def license_reasons(day: Day, order: Order) -> Iterator[tuple[str, str]]:
    """(code, reason) where nobody may do the order for want of a license."""
    book = day.workbook
    until = book.settings.business_license_until
    if until is not None and until < day.date:
        yield "LICENSE", f"the business license was good through {day_text(until)}"
    trucks = book.trucks.values()
    lacking = [
        need
        for need in needs(book, order)
        # A day without trucks lacks no category.
        if (need.number or trucks) and not any(meets(book, one, need, day.date) for one in trucks)
    ]
    yards = [may_not_mix(book, order, one, day.date) for one in trucks]
    if all(yards):
        lacking += dict.fromkeys(need for some in yards for need in some)
    for need in lacking:
        asked = f"somebody on the truck needs {need.text} ({need.cited})"
        ended = _ended(day, need, {*book.trucks, *day.barred})
        if ended:
            yield "LICENSE", f"{asked}; {' and '.join(ended)}"
            continue
        # The cure names the columns in which what the person has is written.
        columns = ["license"] if need.number else []
        columns += ["categories"] if need.categories else []
        columns += ["state"] if any(one.state for one in book.applicators) else []
        yield (
            "LICENSE",
            f"{asked}, and by the table applicators nobody on a truck of the day has it; if "
            f"somebody does, write it there under {' and '.join(columns)}",
        )


def _ended(day: Day, need: LicenseNeed, names: Collection[str]) -> list[str]:
    """Licenses of people on these trucks that would do, had they not run out."""
    book = day.workbook
    every_truck = {**book.trucks, **_barred_trucks(day)}
    trucks = [truck for name, truck in every_truck.items() if name in names]
    crew = [one for truck in trucks for one in people_named(truck.applicator, book.applicators)]
    every = [*crew, *(boss for one in crew for boss in supervisors(book, one))]
    return list(
        dict.fromkeys(
            f"{one.of_license} was good through {day_text(until)}"
            for one in every
            if (until := one.license_until) is not None
            and is_over(until, day.date)
            and holds_it(replace(one, license_until=None), "", need, day.date)
        )
    )


def officer_papers(day: Day, truck: Truck) -> tuple[str, ...]:
    """What a roadside officer may ask for, for a truck of which the tables hold papers; () for
    others."""
    book, rules = day.workbook, truck_rules()
    crew = people_named(truck.applicator, book.applicators)
    dated = truck.inspection_until or truck.backflow_test_until or truck.calibration_until
    if not crew and not dated:
        return ()
    heavy = is_commercial_motor_vehicle(truck.gvwr_lb)
    found = ["driver's license" + (", commercial" if needs_license_group_b(truck.gvwr_lb) else "")]
    if heavy:
        found.append(f"medical card{_good([one.medical_card_until for one in crew])}")
    if heavy or truck.inspection_until:
        proof = f"report or sticker of the yearly inspection{_good([truck.inspection_until])}"
        found.append(f"{proof} ({rules['periodic inspection'].origin.cited})" if heavy else proof)
    good = [one.license_until for one in crew if not is_over(one.license_until, day.date)]
    found.append(f"applicator's license{_good(good)}")
    found.append(f"{rules['roadside papers'].words} ({rules['roadside papers'].origin.cited})")
    return tuple(found)


def _good(dates: Sequence[date | None]) -> str:
    known = dict.fromkeys(one.isoformat() for one in dates if one is not None)
    return f" (good until {', '.join(known)})" if known else ""


def _barred_trucks(day: Day) -> dict[str, Truck]:
    return {name: day.workbook.out_of_service[name] for name in day.barred}


def _of_truck(book: Workbook, truck: Truck, when: date) -> Iterator[Paper]:
    office = book.settings
    rules, heavy = truck_rules(), is_commercial_motor_vehicle(truck.gvwr_lb)
    every = [*book.trucks.values(), *book.out_of_service.values()]
    for span in truck.out_on:
        if when in span:
            yield Paper(truck.truck_id, BARS, f"out of service through {day_text(span.last)}")
    for name, until, level, section in (
        (
            "inspection",
            truck.inspection_until,
            BARS,
            rules["periodic inspection"].origin.cited if heavy else "",
        ),
        ("backflow test", truck.backflow_test_until, WARNS, ""),
        ("calibration", truck.calibration_until, WARNS, ""),
    ):
        what = f"{truck.title}'s {name}"
        kept = any(getattr(one, f"{name.replace(' ', '_')}_until") for one in every)
        if until is None and kept:
            yield Paper(truck.truck_id, WARNS, f"No date of {what}", section)
        yield from _dated(office, truck.truck_id, what, until, when, level, section)
    if book.applicators:
        yield from _of_crew(book, truck, when, heavy)


def _of_crew(book: Workbook, truck: Truck, when: date, heavy: bool) -> Iterator[Paper]:
    """Something bars a truck when it is wrong with every person on it."""
    office = book.settings
    rules = truck_rules()
    crew = people_named(truck.applicator, book.applicators)
    if not crew:
        who = truck.applicator or "no applicator"
        yield Paper(truck.truck_id, WARNS, f"{truck.title} has {who}: not in applicators")
        return

    def level_of(wrong: Callable[[Applicator], bool]) -> str:
        return BARS if all(map(wrong, crew)) else WARNS

    no_license = level_of(lambda one: not may_lead(book, one, when))
    needs_cdl = needs_license_group_b(truck.gvwr_lb)
    # Whoever drives has both.
    no_driver = level_of(
        lambda one: (
            (heavy and is_over(one.medical_card_until, when))
            or (needs_cdl and one.cdl_class in ("none", "C"))
        )
    )
    for one in crew:
        of = f"{one.name}'s"
        bosses = supervisors(book, one)
        for boss in bosses:
            until = boss.license_until
            yield from _dated(office, truck.truck_id, boss.of_license, until, when, no_license)
            if is_supervised(boss):
                text = f"{of} supervisor {boss.name} has no license"
                yield Paper(truck.truck_id, no_license, text)
        if one.supervisor.strip() and not bosses and not one.license.strip():
            text = f"{of} supervisor {one.supervisor} is not in applicators"
            yield Paper(truck.truck_id, WARNS, text)
        if not one.license.strip() and not truck.applicator_license.strip() and not bosses:
            yield Paper(truck.truck_id, WARNS, f"{of} license number is not in applicators")
        if any(other.categories for other in book.applicators) and not (one.categories or bosses):
            yield Paper(truck.truck_id, WARNS, f"{of} license categories are not in applicators")
        if one.license_until is None and not bosses:
            yield Paper(truck.truck_id, WARNS, f"No date of {one.of_license}")
        yield from _dated(
            office, truck.truck_id, one.of_license, one.license_until, when, no_license
        )
        yield from _dated(office, truck.truck_id, f"{of} training", one.training_until, when, WARNS)
        if heavy:
            section = rules["medical card"].origin.cited
            if one.medical_card_until is None:
                yield Paper(truck.truck_id, WARNS, f"No date of {of} medical card", section)
            card = one.medical_card_until
            yield from _dated(
                office, truck.truck_id, f"{of} medical card", card, when, no_driver, section
            )
        if needs_cdl and one.cdl_class not in ("A", "B"):
            yield Paper(
                truck.truck_id,
                no_driver if one.cdl_class else WARNS,
                f"{truck.title}, rated {truck.gvwr_lb:,.0f} lb, needs a commercial license of "
                f"class A or B; {of} class is {one.cdl_class or 'not in applicators'}",
                rules["license group B"].origin.cited,
            )


def _dated(
    office: Settings,
    truck_id: str,
    what: str,
    until: date | None,
    when: date,
    level: str = BARS,
    section: str = "",
) -> Iterator[Paper]:
    if until is None or until > when + timedelta(days=SOON_DAYS):
        return
    if is_over(until, when):
        yield Paper(truck_id, level, f"{what} was good through {day_text(until)}", section)
        return
    following = (until + timedelta(days=step) for step in range(1, 8))
    first = next((day for day in following if is_working_day(office, day)), None)
    then = f"; the next working day after it is {day_text(first)}" if first else ""
    yield Paper(truck_id, SOON, f"{what} is good through {day_text(until)}{then}", section)
