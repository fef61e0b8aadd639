"""Names that the sheets print for what a plan holds by id."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from planner.day.day import Day
from planner.plan.model import Stop, TruckPlan, Work


@dataclass(frozen=True)
class PlaceText:
    """How a place is called on paper. note, phone: of a site, printed for the crew."""

    title: str
    address: str
    note: str
    phone: str = ""


def place_text(day: Day, place_id: str) -> PlaceText:
    """Name and address of a site or property; the id itself where a plan names neither."""
    site = day.workbook.sites.get(place_id)
    if site is not None:
        return PlaceText(site.name, site.address, site.note, site.phone)
    at = day.workbook.properties.get(place_id)
    if at is not None:
        return PlaceText(at.customer, ", ".join(part for part in (at.address, at.town) if part), "")
    return PlaceText(place_id, "", "")


def mix_name(day: Day, mix_id: str) -> str:
    """The mix as the crew says it."""
    mix = day.workbook.mixes.get(mix_id)
    return mix.name if mix is not None and mix.name else mix_id


def keep_off_texts(day: Day, mix_id: str) -> tuple[str, ...]:
    """What the labels of a mix say on re-entry, once per wording; () when none says anything."""
    mix = day.workbook.mixes.get(mix_id)
    products = day.workbook.products
    texts = [
        products[part.product_id].reentry.strip().rstrip(".")
        for part in (mix.parts if mix is not None else ())
        if part.product_id in products
    ]
    return tuple(dict.fromkeys(text for text in texts if text))


def works(truck_plan: TruckPlan) -> Iterator[tuple[Stop, Work]]:
    """Every order done, with its stop, in driving order."""
    for stop in truck_plan.stops:
        for work in stop.orders:
            yield stop, work


def fresh_part(truck_plan: TruckPlan) -> TruckPlan:
    """The truck's plan without what is done: its stops, and the cleaning before it left."""
    fresh = tuple(stop for stop in truck_plan.stops if not stop.done)
    if len(fresh) == len(truck_plan.stops):
        return truck_plan
    return replace(truck_plan, stops=fresh, cleaning=())


def drawn_gal(work: Work, compartment_id: str) -> tuple[float, float]:
    """Gallons sprayed and gallons put into the hose from one compartment."""
    return (
        sum(draw.gal for draw in work.compartments if draw.compartment_id == compartment_id),
        sum(draw.gal for draw in work.hose_compartments if draw.compartment_id == compartment_id),
    )


def held_gal(truck_plan: TruckPlan, compartment_id: str) -> float:
    """Gallons in a compartment after what is done; in the morning, before anything is."""
    gal = truck_plan.start_gal.get(compartment_id, 0.0)
    for stop in truck_plan.stops:
        if stop.done:
            gal += sum(fill.gal for fill in stop.fills if fill.compartment_id == compartment_id)
            gal -= sum(sum(drawn_gal(work, compartment_id)) for work in stop.orders)
    return gal


def used_compartments(truck_plan: TruckPlan) -> frozenset[str]:
    """Compartments that are filled or drawn from at some stop."""
    filled = {fill.compartment_id for stop in truck_plan.stops for fill in stop.fills}
    drawn = {
        draw.compartment_id
        for _, work in works(truck_plan)
        for draw in (*work.compartments, *work.hose_compartments)
    }
    return frozenset(filled | drawn)


def on_board(truck_plan: TruckPlan) -> dict[str, str]:
    """Compartment -> its mix, of those that hold any at some time of the day."""
    used = used_compartments(truck_plan)
    return {
        name: mix_id
        for name, mix_id in truck_plan.loading.items()
        if mix_id is not None and (name in used or truck_plan.start_gal[name] > 0)
    }
