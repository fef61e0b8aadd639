"""What stands on the mix sheet of one compartment."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from planner.compliance.mixed_where import mixing_words
from planner.day.day import Day
from planner.day.fleet import Compartment, Line, Truck
from planner.day.products import Product, Scope
from planner.mixing.addition import jar_amounts, mixing_notes, wants_jar_test
from planner.mixing.hydraulics import gun_supply
from planner.mixing.recipes import Recipe
from planner.mixing.separation import separation
from planner.papers.cautions import DISPLACED, FIRST_HOSE, HOSE_KEPT, RINSE_HOSE, RINSE_WATER
from planner.papers.container_label import use_text
from planner.papers.fill_steps import FillStep, fill_steps
from planner.papers.fill_table import FillTable, fill_table
from planner.papers.label_facts import LabelFacts, label_facts
from planner.papers.lookup import (
    drawn_gal,
    fresh_part,
    mix_name,
    on_board,
    place_text,
    used_compartments,
    works,
)
from planner.papers.numbers import stop_numbers
from planner.papers.packet_words import packet_texts
from planner.papers.pictures import Gauge, gauge
from planner.papers.render import duration_text, gal_text
from planner.papers.stop_words import rinse_text
from planner.plan.caught import KEPT, NO_LAWN, catches, rinsed_lines, taken_gal
from planner.plan.model import CleaningEntry, Fill, Stop, TruckPlan

AGREES_GAL = 0.05
"""The sum check is printed to a tenth of a gallon; half of that is rounding."""


@dataclass(frozen=True)
class ProductFacts:
    """What the label says about one product of the mix, and its rate as written."""

    product: Product
    rate: str
    target: str


@dataclass(frozen=True)
class FillEntry:
    """One fill. serves: numbers of the stops sprayed from it, as text; caught: what came out of
    service containers since the fill before, so that the level is higher, '' = nothing."""

    number: int
    stop: Stop
    place: str
    place_note: str
    fill: Fill
    gauge: Gauge
    steps: tuple[FillStep, ...]
    table: FillTable
    serves: str
    caught: str


@dataclass(frozen=True)
class HoseEntry:
    """What a hose holds or takes of this mix, and when."""

    title: str
    text: str


@dataclass(frozen=True)
class SumCheck:
    """before + filled = sprayed + hose + left, in gallons. container_gal: sprayed out of service
    containers, beside it."""

    before_gal: float
    filled_gal: float
    sprayed_gal: float
    hose_gal: float
    left_gal: float
    container_gal: float

    @property
    def agrees(self) -> bool:
        """Whether the two sides are the same to the printed tenth."""
        out = self.sprayed_gal + self.hose_gal + self.left_gal
        return abs(self.before_gal + self.filled_gal - out) <= AGREES_GAL


@dataclass(frozen=True)
class MixSheet:
    """The sheet of one loaded compartment. label: of all its products together; cleaning_label: of
    what the rinse takes out; line_mates: (position, compartment, mix name) of the other
    compartments on its line; mixing_notes: beside the order of addition; jar: what goes into a
    quart, () = no jar test; packets: how they go in whole; gun_text, gun_warnings: what the hose
    leaves for the gun; serves: numbers of all stops sprayed from it; kept: service containers with
    it from before today; mixed_at: in which states a restricted-use mix is mixed."""

    compartment: Compartment
    line: Line
    mix_id: str
    name: str
    note: str
    new_mix: bool
    carrier_gal_per_1000_ft2: float
    density_lb_per_gal: float
    products: tuple[ProductFacts, ...]
    label: LabelFacts
    cleaning: CleaningEntry | None
    cleaning_last_mix: str
    cleaning_label: LabelFacts | None
    fills: tuple[FillEntry, ...]
    kept: tuple[str, ...]
    hoses: tuple[HoseEntry, ...]
    line_mates: tuple[tuple[int, str, str], ...]
    mixing_notes: tuple[str, ...]
    water_notes: tuple[str, ...]
    jar: tuple[tuple[str, str], ...]
    packets: tuple[str, ...]
    gun_text: str
    gun_warnings: tuple[str, ...]
    serves: str
    mixed_at: str
    check: SumCheck


def mix_sheets(
    truck_plan: TruckPlan, day: Day, recipes: Mapping[str, Recipe]
) -> tuple[MixSheet, ...]:
    """A sheet for each compartment that is filled or sprayed from, in the order of the valves; what
    only rides along stands on the route sheet. Of what is done it shows the fills. Raises KeyError
    when the plan names a truck or mix that the day does not have."""
    truck = day.workbook.trucks[truck_plan.truck_id]
    used = used_compartments(fresh_part(truck_plan))
    return tuple(
        _sheet(truck_plan, truck, compartment, mix_id, day, recipes[mix_id])
        for compartment in sorted(truck.compartments, key=lambda row: row.position)
        if compartment.compartment_id in used
        and (mix_id := truck_plan.loading.get(compartment.compartment_id)) is not None
    )


def _sheet(
    truck_plan: TruckPlan,
    truck: Truck,
    compartment: Compartment,
    mix_id: str,
    day: Day,
    recipe: Recipe,
) -> MixSheet:
    mix = day.workbook.mixes[mix_id]
    label = label_facts(day, (mix_id,))
    fresh = fresh_part(truck_plan)
    line = truck.line(compartment.line_id)
    supply = gun_supply(line)
    cleaning = next(
        (c for c in fresh.cleaning if c.compartment_id == compartment.compartment_id), None
    )
    fills = _fills(truck_plan, truck, compartment, day, recipe)
    mates = tuple(
        (row.position, row.compartment_id, _loaded_name(day, truck_plan, row.compartment_id))
        for row in truck.compartments
        if row.line_id == compartment.line_id and row is not compartment
    )
    return MixSheet(
        compartment=compartment,
        line=line,
        mix_id=mix_id,
        name=mix_name(day, mix_id),
        note=mix.note,
        new_mix=mix.new_mix,
        carrier_gal_per_1000_ft2=mix.carrier_gal_per_1000_ft2,
        density_lb_per_gal=recipe.density_lb_per_gal,
        products=tuple(
            ProductFacts(day.workbook.products[part.product_id], part.rate.text, part.target)
            for part in mix.parts
        ),
        label=label,
        cleaning=cleaning,
        cleaning_last_mix=mix_name(day, cleaning.last_mix) if cleaning else "",
        cleaning_label=label_facts(day, (cleaning.last_mix,)) if cleaning else None,
        fills=fills,
        kept=tuple(_kept(truck_plan, truck, mix_id, day)),
        hoses=_hoses(truck, truck_plan, compartment, mix_id, day),
        line_mates=mates,
        mixing_notes=(
            *(
                f"Fill {one.compartment_id} to {one.gal:g} gal at most: the office set it."
                for one in truck_plan.fill_to
                if one.compartment_id == compartment.compartment_id
            ),
            *mixing_notes(day.workbook, mix_id),
        ),
        water_notes=tuple(
            f"{one.name}: {one.water_note}" for one in label.products if one.water_note
        ),
        jar=jar_amounts(day.workbook, recipe) if wants_jar_test(day.workbook, mix_id) else (),
        packets=tuple(packet_texts(day.workbook, recipe, [entry.fill for entry in fills])),
        gun_text=supply.text,
        gun_warnings=supply.warnings,
        serves=stop_numbers(_stops_served(fresh, compartment.compartment_id)),
        mixed_at=mixing_words(day, mix_id, [entry.stop.place_id for entry in fills]),
        check=_sum_check(truck_plan, truck, compartment),
    )


def _loaded_name(day: Day, truck_plan: TruckPlan, compartment_id: str) -> str:
    mix_id = on_board(truck_plan).get(compartment_id)
    return mix_name(day, mix_id) if mix_id else "not used today"


def _fills(
    truck_plan: TruckPlan, truck: Truck, compartment: Compartment, day: Day, recipe: Recipe
) -> tuple[FillEntry, ...]:
    found: list[tuple[Stop, Fill]] = [
        (stop, fill)
        for stop in truck_plan.stops
        for fill in stop.fills
        if fill.compartment_id == compartment.compartment_id
    ]
    entries: list[FillEntry] = []
    taken, since = taken_gal(truck_plan, truck), -1
    for row, (stop, fill) in enumerate(found):
        caught = {
            seq: gal
            for (seq, mix_id), gal in taken.items()
            if mix_id == fill.mix_id and since < seq < stop.seq and seq != NO_LAWN
        }
        since = stop.seq
        until = found[row + 1][0].seq if row + 1 < len(found) else None
        served = [
            seq
            for seq in _stops_served(truck_plan, compartment.compartment_id)
            if seq > stop.seq and (until is None or seq < until)
        ]
        place = place_text(day, stop.place_id)
        entries.append(
            FillEntry(
                number=row + 1,
                stop=stop,
                place=place.title,
                place_note=place.note,
                fill=fill,
                gauge=gauge(compartment.capacity_gal, fill.level_before_gal, fill.level_after_gal),
                steps=fill_steps(day, fill, first=row == 0),
                table=fill_table(day, recipe, compartment, fill),
                serves=stop_numbers(served),
                caught=f"{gal_text(sum(caught.values()))} gal of caught mix sprayed at stop"
                f"{'s' if len(caught) > 1 else ''} {stop_numbers(list(caught))}"
                if caught
                else "",
            )
        )
    return tuple(entries)


def _stops_served(truck_plan: TruckPlan, compartment_id: str) -> list[int]:
    return [stop.seq for stop, work in works(truck_plan) if any(drawn_gal(work, compartment_id))]


def _hoses(
    truck: Truck, whole: TruckPlan, compartment: Compartment, mix_id: str, day: Day
) -> tuple[HoseEntry, ...]:
    line, truck_plan = truck.line(compartment.line_id), fresh_part(whole)
    found = {(one.seq, one.order_id): one for one in catches(whole, truck)}
    # Until its first use of the day a hose holds what an earlier day mixed.
    first = next(((s, w) for s, w in works(whole) if w.line_id == line.line_id), None)
    rinsed = line.line_id in rinsed_lines(truck_plan, truck)
    takes, apart = (
        f"line {line.line_id} takes {gal_text(line.hose_gal)} gal",
        separation(day.workbook),
    )
    orders_of: dict[tuple[str | None, float, float], dict[int, str]] = {}
    entries = []
    if line.hose_mix == mix_id and not rinsed and truck_plan.stops[0].kind == "depart":
        text = f"line {line.line_id} holds {gal_text(line.hose_gal)} gal {HOSE_KEPT}"
        entries.append(HoseEntry("Hose:", text))
    for stop, work in works(truck_plan):
        at_first = first is not None and work.order_id == first[1].order_id
        if rinsed and at_first and any(drawn_gal(work, compartment.compartment_id)):
            said = [f"{takes} of this mix before it leaves: run them until {RINSE_WATER}"]
            if line.hose_mix:
                out = [one for one in found.values() if one.line_id == line.line_id][:1]
                said = [rinse_text(day, line), DISPLACED, use_text(day, out), "After it,", *said]
            entries.append(HoseEntry("Hose, in the yard:", " ".join(said)))
        elif drawn_gal(work, compartment.compartment_id)[1] > 0 and not (rinsed and at_first):
            figures = round(work.hose_gal, 3), round(work.changeover_min, 3)
            key = work.displaced_mix_id, *figures
            orders_of.setdefault(key, {})[stop.seq] = work.order_id
    for (before, gal, minutes), orders in orders_of.items():
        stops, several = stop_numbers(list(orders)), len(orders) > 1
        if not before:
            text = f"of this mix before its first lawn (stop {stops}). {FIRST_HOSE}"
            entries.append(HoseEntry("Hose:", f"{takes} {text}"))
            continue
        use = use_text(day, [found[key] for key in orders.items()])
        text = (
            f"run {gal_text(gal)} gal through the gun ({duration_text(minutes)})"
            f"{' each time' if several else ''} until this mix has pushed "
            f"{mix_name(day, before)} out of the hose. {DISPLACED} {use}"
            f"{RINSE_HOSE if apart.apart_by(before, mix_id, Scope.LINE) else ''}"
        )
        entries.append(
            HoseEntry(f"Change of mix before stop{'s' if several else ''} {stops}:", text)
        )
    return tuple(entries)


def _kept(truck_plan: TruckPlan, truck: Truck, mix_id: str, day: Day) -> Iterator[str]:
    for one in catches(truck_plan, truck):
        if one.seq == KEPT and one.mix_id == mix_id:
            said = f"{gal_text(one.gal)} gal of this mix are kept from before today."
            if one.from_truck:
                giver = day.workbook.trucks[one.from_truck].title
                said = (
                    f"take {gal_text(one.gal)} gal of this mix over from {giver} before both leave."
                )
            yield f"{said} Check its label. {use_text(day, [one])}"


def _sum_check(truck_plan: TruckPlan, truck: Truck, compartment: Compartment) -> SumCheck:
    name = compartment.compartment_id
    mix_id = truck_plan.loading.get(name)
    drawn = [drawn_gal(work, name) for _, work in works(truck_plan)]
    return SumCheck(
        before_gal=truck_plan.start_gal[compartment.compartment_id],
        filled_gal=sum(
            fill.gal
            for stop in truck_plan.stops
            for fill in stop.fills
            if fill.compartment_id == name
        ),
        sprayed_gal=sum(sprayed for sprayed, _ in drawn),
        hose_gal=sum(hose for _, hose in drawn),
        left_gal=truck_plan.end_gal.get(name, 0.0),
        container_gal=sum(
            gal
            for (seq, taken), gal in taken_gal(truck_plan, truck).items()
            if taken == mix_id and seq != NO_LAWN
        ),
    )
