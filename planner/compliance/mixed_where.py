"""Where restricted-use products are mixed: the law of that place, too (rule 35).

To use one is also to mix and load it (40 CFR 171.3, "use", (1), read in a glossary that quotes it).
"""

from collections.abc import Iterable, Iterator
from dataclasses import replace
from datetime import date

from planner.compliance.licensed import LicenseNeed, meets, restricted_need, state_of
from planner.day.day import Day, Workbook
from planner.day.fleet import Truck
from planner.day.orders import Order
from planner.day.places import Site
from planner.problems import few
from planner.rules.data import STATE_NAMES, truck_rules


def restricted_in(book: Workbook, mix_id: str) -> list[str]:
    """Names of a mix's products for restricted use."""
    mix = book.mixes.get(mix_id)
    products = [book.products[part.product_id] for part in (mix.parts if mix else ())]
    return [product.name for product in products if product.restricted_use]


def lawn_states(book: Workbook) -> list[str]:
    """States in which the table has properties."""
    return sorted({state_of(book, name) for name in book.properties} - {""})


def site_state(book: Workbook, site: Site) -> str:
    """The state of a yard or water point: its own cell, else that of the properties where these all
    lie in one; '' = nobody wrote it down."""
    if site.state.strip():
        return site.state.strip().upper()
    states = lawn_states(book)
    return states[0] if len(states) == 1 else ""


def mixing_needs(book: Workbook, mix_id: str, site_id: str) -> Iterator[LicenseNeed]:
    """What mixing there asks of somebody on the truck: nothing unless the mix holds a product for
    restricted use, the table has it made there and the state is known."""
    site = book.sites[site_id]
    named = restricted_in(book, mix_id) if site.makes(mix_id) else []
    state = site_state(book, site) if named else ""
    if state:
        what = f"mix {' and '.join(named)} (restricted use) at {site.name or site_id}"
        need = restricted_need(book, state, f"a license of {state} to {what}")
        yield replace(need, cited=f"{need.cited}; {truck_rules()['mixing'].origin.cited}")


def may_not_mix(book: Workbook, order: Order, truck: Truck, when: date) -> list[LicenseNeed]:
    """What nobody on a truck has that mixing the order's mix asks for, beside what the lawn's own
    state asks for: in its yard where another truck may mix it in its own, else wherever it could be
    mixed."""
    sprayed = state_of(book, order.property_id)

    def lacking(one: Truck, site_id: str) -> list[LicenseNeed]:
        asked = mixing_needs(book, order.mix_id, site_id)
        return [need for need in asked if not meets(book, one, need, when)]

    def may_mix(one: Truck, site_id: str) -> bool:
        return book.sites[site_id].makes(order.mix_id) and not lacking(one, site_id)

    found = [need for need in lacking(truck, truck.yard_id) if need.state != sprayed]
    if found and not any(may_mix(one, one.yard_id) for one in book.trucks.values()):
        return [] if any(may_mix(truck, site_id) for site_id in book.sites) else found
    return found


def licensed_sites(
    book: Workbook, orders: Iterable[Order], when: date
) -> tuple[dict[str, Site], list[tuple[str, str]]]:
    """The sites without the mixes that somebody who may carry them may not mix there; each of those
    with a sentence. A site makes a mix for every truck or for none."""
    carriers: dict[str, dict[str, Truck]] = {}
    for order in orders:
        if restricted_in(book, order.mix_id):
            able = {
                name: one
                for name, one in book.trucks.items()
                if order.allows(name) and name not in order.license_only
            }
            carriers.setdefault(order.mix_id, {}).update(able)
    sites, told = dict(book.sites), list[tuple[str, str]]()
    for site_id, site in book.sites.items():
        lost = set()
        for mix_id, trucks in carriers.items():
            for need in mixing_needs(book, mix_id, site_id):
                lacking = [name for name, one in trucks.items() if not meets(book, one, need, when)]
                if lacking:
                    lost.add(mix_id)
                    text = (
                        f"{site.name or site_id} is not used to mix {mix_id}: nobody on "
                        f"{few(lacking, 3)} has {need.text} ({need.cited})."
                    )
                    told.append((mix_id, text))
        if lost:
            made = site.mixes if site.mixes is not None else frozenset(book.mixes)
            sites[site_id] = replace(
                site, mixes=made - lost, unlicensed=site.unlicensed | frozenset(lost)
            )
    return sites, told


def unknown_places(book: Workbook) -> Iterator[str]:
    """A sentence where restricted-use products may be mixed at places of which no table tells the
    state, while the lawns lie in several."""
    states = lawn_states(book)
    named = {mix_id: restricted_in(book, mix_id) for mix_id in book.mixes}
    unsaid = [
        site.name or site.site_id
        for site in book.sites.values()
        if not site.state.strip() and any(named[mix_id] for mix_id in named if site.makes(mix_id))
    ]
    if len(states) > 1 and unsaid:
        products = list(dict.fromkeys(name for names in named.values() for name in names))
        yield (
            f"{few(products, 3)} (restricted use): who mixes it needs a license of the state in "
            f"which it is mixed, and the lawns lie in {' and '.join(states)}; write the state of "
            f"{few(unsaid, 3)} in the table sites, column 'state', or see to it yourself"
        )


def mixing_words(day: Day, mix_id: str, site_ids: Iterable[str]) -> str:
    """For the mix sheet: in which states a restricted-use mix is mixed, '' where it is none, or
    where all lawns and sites lie in one state."""
    book = day.workbook
    sites = [book.sites[name] for name in dict.fromkeys(site_ids)]
    states = {site_state(book, site) for site in book.sites.values()}
    if not restricted_in(book, mix_id) or len({*lawn_states(book), *states}) < 2:
        return ""
    shut = [_place(book, one) for one in book.sites.values() if mix_id in one.unlicensed]
    never = f" Not at {' or '.join(shut)}." if shut else ""
    return (
        f"Mixed at {' and '.join(_place(book, one) for one in sites)}: the license must be good "
        f"there for mixing, and on each lawn for spraying.{never}"
    )


def shut_places(book: Workbook) -> Iterator[str]:
    """A sentence for each site at which a license that somebody lacks keeps mixes from being
    made."""
    for site in book.sites.values():
        if site.unlicensed:
            yield (
                f"{' and '.join(sorted(site.unlicensed))} not to be mixed at {_place(book, site)}: "
                "somebody who carries it has no license good there"
            )


def _place(book: Workbook, site: Site) -> str:
    state = site_state(book, site)
    named = STATE_NAMES.get(state, state) or "no table tells the state"
    return f"{site.name or site.site_id} ({named})"
