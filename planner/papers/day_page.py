"""What stands on the office's day page."""

import re
from collections.abc import Iterator
from dataclasses import dataclass

from planner.compliance.coverage import not_covered
from planner.compliance.licensed import supervised, too_far
from planner.compliance.people import WARNS, Paper, papers
from planner.compliance.pre_notices import PreNotice, pre_notices
from planner.compliance.registry import (
    Call,
    Visit,
    attempts_at,
    calls,
    moment_text,
    product_words,
)
from planner.compliance.thresholds import Threshold, thresholds
from planner.compliance.weather import no_forecast
from planner.day.day import Day
from planner.day.fleet import Compartment, Truck
from planner.day.life import no_record_texts
from planner.day.places import Property
from planner.papers.again_sheet import ChangeLine, orders_left
from planner.papers.also_on_board import AlsoOnBoard, also_on_board
from planner.papers.container_label import containers_tonight, kept_texts
from planner.papers.label_facts import label_facts
from planner.papers.left_out import LeftOut, left_out
from planner.papers.lookup import mix_name, on_board, place_text
from planner.papers.numbers import stop_numbers
from planner.papers.pictures import Segment, TimeAxis, level_line, time_bar
from planner.papers.render import gal_text
from planner.papers.stop_words import visit_of
from planner.plan.figures import Compactness, axle_weights, compactness
from planner.plan.model import Plan, TruckPlan
from planner.plan.off_rate import off_rate_notes
from planner.plan.same_lawn import office_words, same_lawn_notes, same_lawns
from planner.rounds.standing import rounds_due


def refills_said(plan: Plan, currency: str) -> str:
    """What OR-Tools decided about refills, and how good that is; '' when it was not asked."""
    if plan.refill_gap is None:
        return ""
    if plan.refill_gap == 0.0:
        how_good = "No others cost less for these stop orders (proved)."
    else:
        gap = f"{currency}{max(1.0, plan.refill_gap):,.0f}"
        how_good = f"Others might cost up to {gap} less for these stop orders."
    return f"OR-Tools placed all refills and lunches. {how_good}"


@dataclass(frozen=True)
class LevelChart:
    """Gallons in one compartment over the day. points: of the line; restricted: names
    of its products for restricted use."""

    compartment: Compartment
    mix: str
    points: str
    fills: int
    end_gal: float
    restricted: tuple[str, ...]


@dataclass(frozen=True)
class TruckCard:
    """One truck at a glance. goes_out: whether it has stops; most_weight_lb: of the day; also:
    mixes on board without a sheet; reached: published thresholds that its rating or the day's
    weight reaches, and its axles where the tables say how the load lies."""

    truck: Truck
    truck_plan: TruckPlan
    goes_out: bool
    reports_min: float
    leaves_min: float
    back_min: float
    released_min: float
    most_weight_lb: float
    bar: tuple[Segment, ...]
    charts: tuple[LevelChart, ...]
    also: tuple[AlsoOnBoard, ...]
    reached: tuple[Threshold, ...]


@dataclass(frozen=True)
class NoticeStop:
    """One planned visit that a notice is about."""

    truck_id: str
    seq: int
    begin_min: float
    customer: str
    address: str
    at: Property | None
    products: str


@dataclass(frozen=True)
class NoticeGroup:
    """One notice with every planned visit that it is about, in the order of the clock. who: must
    be told; by: the earliest of the latest moments, '' where the note does not say; alternates:
    other days to name; section: of the state's rule, '' for the office's own note; products: of
    all orders that it is about."""

    who: str
    by: str
    text: str
    alternates: str
    section: str
    stops: tuple[NoticeStop, ...]
    products: str

    @property
    def where(self) -> str:
        """Stops by truck: `T1: 1-4, 6; T2: 3`."""
        by_truck: dict[str, list[int]] = {}
        for row in self.stops:
            by_truck.setdefault(row.truck_id, []).append(row.seq)
        return "; ".join(f"{name}: {stop_numbers(by_truck[name])}" for name in sorted(by_truck))


@dataclass(frozen=True)
class DayPage:
    """The office's view of the day. left_out: groups that have orders, in the order of the page;
    no_record: earlier days of which nothing is recorded; compact: how the trucks' areas lie, None
    for one truck; not_covered: rules that the tables do not hold; no_forecast: that there is none;
    off_rate: fills away from their rate; crossing, lawns: two visits to one lawn that should be
    planned otherwise, and others; containers: (truck, what stands in service containers); papers:
    licenses, cards and tests that are not in order or run out soon; calls: to registered people,
    the products and what is logged of each; refills: how they were placed, '' = nothing to say."""

    cards: tuple[TruckCard, ...]
    left_out: tuple[LeftOut, ...]
    no_record: tuple[str, ...]
    state_notices: tuple[NoticeGroup, ...]
    own_notices: tuple[NoticeGroup, ...]
    not_covered: tuple[str, ...]
    no_forecast: str
    off_rate: tuple[str, ...]
    crossing: tuple[str, ...]
    lawns: tuple[str, ...]
    containers: tuple[tuple[str, str], ...]
    papers: tuple[Paper, ...]
    calls: tuple[tuple[Call, str, str], ...]
    rounds: tuple[str, ...]
    compact: Compactness | None
    refills: str = ""
    changes: tuple[ChangeLine, ...] = ()
    done: int = 0


def day_page(plan: Plan, day: Day, axis: TimeAxis, changed: tuple[ChangeLine, ...] = ()) -> DayPage:
    """Trucks side by side, orders not done, and who must be told. changed: what planning again
    changed."""
    groups, lawns = _notices(plan, day), same_lawns(plan, day)
    return DayPage(
        cards=tuple(_card(truck_plan, day, axis) for truck_plan in plan.trucks),
        left_out=left_out(plan, day),
        no_record=tuple(no_record_texts(day.no_record, day.date)),
        state_notices=tuple(group for group in groups if group.section),
        own_notices=tuple(group for group in groups if not group.section),
        not_covered=_not_covered(plan, day),
        papers=(*papers(day), *_far(plan, day)),
        no_forecast=no_forecast(day),
        off_rate=off_rate_notes(plan, day),
        crossing=same_lawn_notes(plan, day),
        lawns=tuple(office_words(row) for row in lawns if not row.serious),
        containers=tuple(_containers(plan, day)),
        calls=tuple(
            (call, product_words(day, call.order_ids), _logged(call, day))
            for call in calls(day, visits(plan, day))
        ),
        rounds=tuple(rounds_due(day.workbook, day.done, day.date)),
        compact=compactness(plan, day) if sum(bool(one.stops) for one in plan.trucks) > 1 else None,
        refills=refills_said(plan, day.workbook.settings.currency),
        changes=changed,
        done=plan.totals.totals.orders - orders_left(plan.trucks, day),
    )


def _logged(call: Call, day: Day) -> str:
    places = [place_text(day, visit.property_id).address for visit, _ in call.at]
    tried = [one for at in places for one in attempts_at(day.called, call.person.name, at)]
    return ", ".join(dict.fromkeys(one.text for one in tried))


def _containers(plan: Plan, day: Day) -> Iterator[tuple[str, str]]:
    """Mix that was caught from hoses is listed until it is gone, wherever its truck is."""
    for truck_plan in plan.trucks:
        kept = kept_texts(truck_plan, day)
        texts = [f"in the morning {'. '.join(kept)}." if kept else ""]
        if truck_plan.stops:
            texts.append(containers_tonight(truck_plan, day))
        else:
            held = day.workbook.trucks[truck_plan.truck_id].service_containers
            texts += [_elsewhere(plan, day, one.mix_id) for one in held]
        if any(texts):
            yield truck_plan.truck_id, " ".join(filter(None, texts))
    for name, truck in day.workbook.out_of_service.items():
        for one in truck.service_containers:
            text = f"{gal_text(one.gal)} gal of {mix_name(day, one.mix_id)}; the truck is not out."
            yield name, f"{text} {_elsewhere(plan, day, one.mix_id)}".rstrip()


def _elsewhere(plan: Plan, day: Day, mix_id: str) -> str:
    """How another truck gets the mix of one that stays in the yard, '' = none sprays it."""
    for truck_plan in plan.trucks:
        if any(work.mix_id == mix_id for stop in truck_plan.stops for work in stop.orders):
            taker = day.workbook.trucks[truck_plan.truck_id].title
            return (
                f"{taker} sprays {mix_name(day, mix_id)}: to use it there, write the gallons into "
                "that truck's service_containers and plan again."
            )
    return ""


def _far(plan: Plan, day: Day) -> Iterator[Paper]:
    stops = [(one.truck_id, one.seq, one.property_id) for one in visits(plan, day)]
    for truck_id, text, rule in too_far(day, stops):
        yield Paper(truck_id, WARNS, text, rule.origin.cited)
    for truck_id, truck in day.workbook.trucks.items():
        for text in supervised(day, truck, (at for name, _, at in stops if name == truck_id)):
            yield Paper(truck_id, WARNS, text)


def visits(plan: Plan, day: Day) -> Iterator[Visit]:
    """The stops that people near them may have to be told of: all that are not done."""
    for truck in plan.trucks:
        for stop in truck.stops:
            if stop.kind == "visit" and not stop.done:
                yield visit_of(truck.truck_id, stop, day.date)


def _card(truck_plan: TruckPlan, day: Day, axis: TimeAxis) -> TruckCard:
    truck = day.workbook.trucks[truck_plan.truck_id]
    stops, held = truck_plan.stops, on_board(truck_plan)
    heaviest = max((stop.weight_lb_after for stop in stops), default=None)
    return TruckCard(
        truck=truck,
        truck_plan=truck_plan,
        goes_out=any(stop.kind == "visit" for stop in stops),
        reports_min=stops[0].arrive_min if stops else truck.shift_start_min,
        released_min=stops[-1].leave_min if stops else truck.shift_start_min,
        leaves_min=stops[0].leave_min if stops else truck.shift_start_min,
        back_min=stops[-1].arrive_min if stops else truck.shift_start_min,
        most_weight_lb=heaviest or 0.0,
        reached=(
            *(row for row in thresholds(truck, heaviest) if row.reached),
            *_axles(truck_plan, day),
        ),
        bar=time_bar(stops, axis),
        also=also_on_board(truck_plan, day),
        charts=tuple(
            LevelChart(
                compartment=row,
                mix=mix_name(day, mix_id),
                points=level_line(truck_plan, row, axis),
                fills=sum(
                    fill.compartment_id == row.compartment_id
                    for stop in stops
                    for fill in stop.fills
                ),
                end_gal=truck_plan.end_gal.get(row.compartment_id, 0.0),
                restricted=label_facts(day, (mix_id,)).restricted,
            )
            for row in truck.compartments
            if (mix_id := held.get(row.compartment_id)) is not None
        ),
    )


def _axles(truck_plan: TruckPlan, day: Day) -> tuple[Threshold, ...]:
    """The departure at which an axle is nearest to its rating, or furthest over it."""
    rows = axle_weights(day.workbook, truck_plan)
    if not rows:
        return ()
    worst = max(
        rows, key=lambda row: max(row.front_lb / row.front_gawr_lb, row.rear_lb / row.rear_gawr_lb)
    )
    return (
        Threshold("axles", worst.over, f"{worst.text}, leaving stop {worst.seq}", "door plate"),
    )


def _not_covered(plan: Plan, day: Day) -> tuple[str, ...]:
    """Each sentence once, in the order of the stops."""
    works = [work for truck in plan.trucks for stop in truck.stops for work in stop.orders]
    orders = [
        day.workbook.orders[one.order_id] for one in works if one.order_id in day.workbook.orders
    ]
    texts = dict.fromkeys(text for order in orders for text in not_covered(day, order))
    words = {text: set(re.findall(r"\w+", text)) for text in texts}
    # What one sentence says of an order's state another may say with more.
    return tuple(text for text in texts if not any(words[text] < one for one in words.values()))


def _notices(plan: Plan, day: Day) -> tuple[NoticeGroup, ...]:
    """Notices of the orders that the plan does, those with the nearest deadline first."""
    stop_of = {
        work.order_id: (truck_plan.truck_id, stop)
        for truck_plan in plan.trucks
        for stop in truck_plan.stops
        for work in stop.orders
    }
    found: dict[tuple[str, str, str], list[PreNotice]] = {}
    for notice in pre_notices(day):
        if notice.order_id in stop_of and not stop_of[notice.order_id][1].done:
            found.setdefault((notice.section, notice.who, notice.text), []).append(notice)
    groups = []
    for (section, who, text), rows in found.items():
        deadlines = [row.by for row in rows if row.by is not None]
        first = min(deadlines) if deadlines else None
        days = sorted({one for row in rows for one in row.alternates})
        seen = {
            (truck_id, stop.seq): stop for truck_id, stop in (stop_of[r.order_id] for r in rows)
        }
        stops = tuple(
            NoticeStop(
                truck_id,
                seq,
                stop.begin_min,
                place_text(day, stop.place_id).title,
                place_text(day, stop.place_id).address,
                day.workbook.properties.get(stop.place_id),
                product_words(day, [work.order_id for work in stop.orders]),
            )
            for (truck_id, seq), stop in sorted(
                seen.items(), key=lambda item: (item[1].begin_min, item[0])
            )
        )
        groups.append(
            NoticeGroup(
                who=who,
                by=moment_text(first) if first is not None else "",
                text=text,
                alternates=", ".join(f"{one:%a %b} {one.day}" for one in days),
                section=section,
                stops=stops,
                products=product_words(day, [row.order_id for row in rows]),
            )
        )
    return tuple(groups)
