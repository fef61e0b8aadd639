"""A truck's stop order as events, and what each mix needs until its next refill."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from planner.day.day import Day
from planner.day.fleet import Line, Truck
from planner.mixing.recipes import order_gal
from planner.routing.problem import Loading, StopKind, StopRef


@dataclass(frozen=True)
class PlannedWork:
    """One order with what its hose needs. displaced_mix_id: what the hose held, None = it was
    empty or held the same mix."""

    order_id: str
    property_id: str
    mix_id: str
    line: Line
    gal: float
    hose_gal: float
    displaced_mix_id: str | None

    @property
    def changeover_min(self) -> float:
        """Minutes to push the displaced mix out of the hose."""
        return 0.0 if self.displaced_mix_id is None else self.hose_gal / self.line.gun_gal_per_min

    @property
    def spray_min(self) -> float:
        """Minutes at the gun."""
        return self.gal / self.line.gun_gal_per_min


@dataclass(frozen=True)
class StopItem:
    """One stop between departure and return. place_id: '' for lunch."""

    kind: StopKind
    place_id: str
    works: tuple[PlannedWork, ...] = ()


@dataclass(frozen=True)
class Need:
    """Gallons per mix from one fill to the next fill of that mix."""

    spray_gal: dict[str, float] = field(default_factory=dict)
    hose_gal: dict[str, float] = field(default_factory=dict)


def line_of_mix(truck: Truck, loading: Loading) -> dict[str, Line]:
    """The line that each loaded mix runs on."""
    lines: dict[str, Line] = {}
    for compartment, mix_id in zip(truck.compartments, loading.mix_of, strict=True):
        if mix_id is not None:
            lines.setdefault(mix_id, truck.line(compartment.line_id))
    return lines


def events_of(
    day: Day,
    truck: Truck,
    loading: Loading,
    stops: Sequence[StopRef],
    hose_mix: Mapping[str, str | None],
) -> tuple[StopItem, ...]:
    """Stops as events; orders next to each other at one property become one visit.

    hose_mix: by line, the mix that the hose holds before the first stop, None = empty. Raises
    ValueError when an order's mix is not loaded: such an answer is an engine's bug.
    """
    lines = line_of_mix(truck, loading)
    in_hose = dict(hose_mix)
    events: list[StopItem] = []
    for stop in stops:
        if stop.kind is not StopKind.ORDER:
            events.append(StopItem(stop.kind, stop.ref))
            continue
        order = day.workbook.orders[stop.ref]
        line = lines.get(order.mix_id)
        if line is None:
            raise ValueError(
                f"order {order.order_id} needs mix {order.mix_id}, not loaded on {truck.truck_id}"
            )
        before = in_hose.get(line.line_id)
        in_hose[line.line_id] = order.mix_id
        work = PlannedWork(
            order_id=order.order_id,
            property_id=order.property_id,
            mix_id=order.mix_id,
            line=line,
            gal=order_gal(day.workbook, order),
            hose_gal=0.0 if before == order.mix_id else line.hose_gal,
            displaced_mix_id=None if before == order.mix_id else before,
        )
        last = events[-1] if events else None
        if last and last.kind is StopKind.ORDER and last.place_id == order.property_id:
            events[-1] = StopItem(StopKind.ORDER, order.property_id, (*last.works, work))
        else:
            events.append(StopItem(StopKind.ORDER, order.property_id, (work,)))
    return tuple(events)


def needs(
    day: Day, yard_id: str, events: Sequence[StopItem], mixes: Mapping[str, Line]
) -> tuple[Need, ...]:
    """What each fill must cover: the departure first, then one entry per refill stop.

    A mix that may not be made at a place has no entry there; its need stays with the fill before.
    """
    places = [yard_id] + [event.place_id for event in events if event.kind is StopKind.REFILL]
    result = [Need() for _ in places]
    current = {mix_id: 0 for mix_id in mixes}
    for mix_id in mixes:
        if _made_at(day, yard_id, mix_id):
            result[0].spray_gal[mix_id] = 0.0
    fill = 0
    for event in events:
        if event.kind is StopKind.REFILL:
            fill += 1
            for mix_id in mixes:
                if _made_at(day, event.place_id, mix_id):
                    current[mix_id] = fill
                    result[fill].spray_gal[mix_id] = 0.0
        for work in event.works:
            need = result[current[work.mix_id]]
            if work.mix_id in need.spray_gal:
                need.spray_gal[work.mix_id] += work.gal
                need.hose_gal[work.mix_id] = need.hose_gal.get(work.mix_id, 0.0) + work.hose_gal
    return tuple(result)


def _made_at(day: Day, site_id: str, mix_id: str) -> bool:
    mixes = day.workbook.sites[site_id].mixes
    return mixes is None or mix_id in mixes
