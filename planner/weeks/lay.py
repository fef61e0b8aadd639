"""A calendar made: every open order on the day and the truck where all days together cost least."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

from planner.chain import DayRoads, effort_text, open_day, open_day_roads
from planner.compliance.people import barred_on
from planner.day.day import Day, Workbook
from planner.day.life import day_text, no_record_texts
from planner.day.parts import in_parts, whole_id
from planner.problems import PlannerError
from planner.routing.engines.many_days import Start, lay_days
from planner.routing.problem import Effort, RoutingProblem, SolveOptions
from planner.routing.repair.draft import Draft
from planner.weeks.carry import Carried, Carry, still_known
from planner.weeks.laid import days_in, shares_of, waiting_orders
from planner.weeks.lateness import Lateness
from planner.weeks.linked import Links, settled, torn
from planner.weeks.model import (
    CALENDAR_VERSION,
    Calendar,
)
from planner.weeks.numbers import a_days_need, calendar_problem, day_prices, parted, truck_day
from planner.weeks.open_days import open_days, working_days

FIRST_PART = 0.7
"""Of the effort for a new calendar, before it is known what the evenings leave in the tanks."""
UNTIL_HELD = 0.85
"""Of the effort where a tank holds a mix now, until it is known on which day that is sprayed."""


class WeeksError(PlannerError):
    """What was asked of a calendar cannot be, in words."""


@dataclass(frozen=True)
class Horizon:
    """The days that a calendar is made for. day: the first of them, with the records before it laid
    over the tables; closed: as of Calendar."""

    day: Day
    days: tuple[date, ...]
    closed: Mapping[str, str]
    roads: DayRoads


def open_horizon(workbook: Path, first: date, count: int, extract: Path | None = None) -> Horizon:
    """The working days from `first` on, with the drive times of every open order. Raises
    WorkbookError, RoadError, StoreError, WeeksError."""
    # Who stays home on the first day may go out on the others.
    day = open_day(workbook, first, use=None)
    days, closed = working_days(day.workbook.settings, first, count)
    if not days:
        raise WeeksError(
            f"no day from {day_text(first)} on is a working day (settings working_days, holidays)"
        )
    if days[0] != first:
        day = open_day(workbook, days[0], use=None)
    day = back_later(day, days)
    if not day.workbook.trucks:
        raise WeeksError("no truck is in service; put one in service in the trucks table")
    whole = in_parts(replace(day, orders=day.workbook.orders))
    # Tanks that hold another mix on the first morning are free on a later one.
    whole = in_parts(whole, of_free_tanks=True)
    ahead = {name: one for name, one in whole.orders.items() if name not in day.orders}
    day = replace(whole, orders=day.orders, ahead=ahead)
    return Horizon(day, days, closed, open_day_roads(workbook, day, extract, any_day=True))


def back_later(day: Day, days: Sequence[date]) -> Day:
    """The first day with the trucks that stay in the yard on it, but not on all days."""
    back = {name for name in day.barred if any(name not in barred_on(day, when) for when in days)}
    book = day.workbook
    away = book.out_of_service
    book = replace(
        book,
        trucks=book.trucks | {name: away[name] for name in away if name in back},
        out_of_service={name: one for name, one in away.items() if name not in back},
    )
    barred = {name: why for name, why in day.barred.items() if name not in back}
    return replace(day, workbook=book, barred=barred) if back else day


def make_calendar(
    horizon: Horizon,
    options: SolveOptions,
    *,
    before: Calendar | None = None,
    wet: Collection[date] = (),
    out: Collection[str] = (),
    told: Mapping[str, str] | None = None,
    stay: Mapping[str, str] | None = None,
    rain_percent: float | None = 0.0,
    put_off: bool = True,
    next_days: bool = True,
    threads: int = 2,
) -> Calendar:
    """The best calendar found. before: an earlier one to begin with; wet: days taken as lost; out:
    truck-days ('T3@2027-04-15') that stay home; told, stay: order -> the day that its customer was
    told, or that it should keep; rain_percent: as of Lateness; put_off: whether an order may
    wait for the time after the last day where that costs less; next_days: whether each order's
    next day is priced, too."""
    day, days = horizon.day, horizon.days
    book = day.workbook
    told, stay = (_of_orders(days_of or {}, book) for days_of in (told, stay))
    options.progress(0.0, "looking which days are open to each order")
    travel = horizon.roads.travel_by_truck
    reached = set.intersection(*(set(one.index()) for one in travel.values()))
    opened = open_days(day, days, frozenset(wet), reached)
    at_home = {*out, *(truck_day(name, when) for when in days for name in barred_on(day, when))}
    late = Lateness(book, opened, rain_percent)
    problem = calendar_problem(day, opened, travel, frozenset(at_home), told, late, stay or {})
    carry = Carry(book, a_days_need(book, opened))
    links = Links(book, opened)
    problem = replace(problem, groups=links.order_groups(options.seed))
    orders = [book.orders[name] for name in opened.of]
    # Who has or was told a day is moved by being put off, too.
    wanted = day_prices(book, told or {}, stay or {})
    later = {
        one.order_id: late.without_day(one)
        + sum(price for days_of, price in wanted if one.order_id in days_of)
        for one in orders
        if put_off and late.days_after(one)
    }

    def lay(
        problem: RoutingProblem, start: Start | None, begun: float, done: float
    ) -> tuple[Draft, str]:
        def tell(share: float, text: str) -> None:
            options.progress(begun + (done - begun) * share, text)

        part = replace(options, effort=_part(options.effort, done - begun), progress=tell)
        return lay_days(problem, part, start=start, later=later, threads=threads)

    until = UNTIL_HELD if carry.holds else 1.0
    if before is None:
        # What the evenings leave is known only when there are days: laid in two parts.
        draft, name = lay(problem, None, 0.0, FIRST_PART)
        begin = carry.begin(problem, carry.mornings(draft))
        draft, name = lay(begin, _start_of(draft), FIRST_PART, until)
    else:
        begin = carry.begin(problem, _mornings(before, carry, problem))
        draft, name = lay(begin, _start(before, problem), 0.0, until)
    draft = carry.in_turn(draft, links.linked)
    if until < 1.0 and not options.stop.is_set:
        # Where a tank is not free on the day on which it was taken to be, orders lost theirs.
        other = carry.begin(problem, carry.mornings(draft))
        again, name = lay(other, _start_of(draft), until, 1.0)
        again = carry.in_turn(again, links.linked)
        if again.total < draft.total:
            draft, begin = again, other
    thrown = _settle(draft, days_in(draft), links, days)
    shares = shares_of(draft, book, opened, told, late, carry, next_days)
    cost = sum(one.cost for one in shares)
    mean = cost / max(1, sum(len(one.orders) for one in shares))
    waiting = waiting_orders(draft, begin, day, opened, links, later, thrown, late, mean)
    chances = late.mean_chances()
    return Calendar(
        version=CALENDAR_VERSION,
        workbook_sha256=book.sha256,
        days=tuple(one.isoformat() for one in days),
        closed=dict(sorted((dict(horizon.closed) | opened.kept).items())),
        wet=tuple(sorted(one.isoformat() for one in wet)),
        out=tuple(sorted(out)),
        trucks=tuple(book.trucks),
        shares=shares,
        waiting=waiting,
        late_cost=sum(row.late_cost for one in shares for row in one.orders)
        + sum(row.late_cost for row in waiting),
        rain_given=rain_percent,
        rain_by_day={
            when.isoformat(): 100.0 * chance for when, chance in zip(days, chances, strict=True)
        },
        told=told,
        rain_percent=100.0 * sum(chances) / len(days),
        cost=cost,
        miles=sum(one.miles for one in shares),
        engine=name,
        effort=effort_text(options.effort),
        seed=options.seed,
        roads=horizon.roads.source[0],
        roads_warning=horizon.roads.source[1],
        notes=(
            *day.notes,
            *(f"{text}." for text in no_record_texts(day.no_record, day.date)),
            *horizon.roads.notes,
        ),
    )


def _of_orders(days_of: Mapping[str, str], book: Workbook) -> dict[str, str]:
    """Order -> its day, of those in the tables: also where one was whole then and is in parts now,
    or was in other parts."""
    whole = {whole_id(book.orders, name): when for name, when in days_of.items()}
    return {
        name: whole[order.whole_id]
        for name, order in book.orders.items()
        if order.whole_id in whole
    }


def _start(before: Calendar, problem: RoutingProblem) -> Start:
    """What an earlier calendar gives the truck-days that are still to come."""
    known = {truck.truck_id for truck in problem.trucks}
    able = {order.order_id: order.allowed_trucks for order in problem.orders}
    found = {}
    for share in before.shares:
        name = f"{share.truck_id}@{share.date}"
        if name in known:
            orders = [row.order_id for row in share.orders if name in able.get(row.order_id, ())]
            found[name] = (share.loading, tuple(orders))
    return found


def _start_of(draft: Draft) -> Start:
    """A draft's truck-days to begin with."""
    tasks = draft.tables.problem.orders
    return {
        one.truck.truck_id: (
            one.loading.mix_of,
            tuple(tasks[order].order_id for order in draft.orders_of(row)),
        )
        for row, one in enumerate(draft.days)
        if draft.stops[row]
    }


def _mornings(before: Calendar, carry: Carry, problem: RoutingProblem) -> dict[str, Carried]:
    """Truck-day -> what its truck holds when it begins, as an earlier calendar has it."""
    shares = {f"{one.truck_id}@{one.date}": one for one in before.shares}
    now, found = carry.now(), {}
    for truck in problem.trucks:
        name = parted(truck.truck_id)[0]
        found[truck.truck_id] = now[name]
        share = shares.get(truck.truck_id)
        if share is not None and len(share.evening_mix) == len(truck.compartments):
            hoses = share.evening_hose
            if len(hoses) != len(truck.lines):
                hoses = (None,) * len(truck.lines)
            begun, gal = now[name], share.evening_gal
            known = still_known(begun, share.loading, gal, share.gal_by_mix)
            now[name] = Carried(share.evening_mix, gal, hoses, known)
    return found


def _part(effort: Effort, share: float) -> Effort:
    count, seconds = effort.count, effort.seconds
    return replace(
        effort,
        count=None if count is None else max(1, round(count * share)),
        seconds=None if seconds is None else seconds * share,
    )


def _settle(
    draft: Draft, laid: Mapping[str, date], links: Links, days: Sequence[date]
) -> dict[str, str]:
    """Take out what the calendar's own earlier days keep off its day; order -> why."""
    thrown: dict[str, str] = {}
    while True:
        rest = {name: when for name, when in laid.items() if name not in thrown}
        found = settled(links.book, rest, links.linked, days)
        if not found:
            break
        # The earliest one only: without it the later ones may stand.
        name = min(found, key=lambda one: (rest[one], one))
        thrown[name] = found[name]
    thrown |= torn(links.book, {name: when for name, when in laid.items() if name not in thrown})
    rows = {draft.tables.order_row[name] for name in thrown}
    for row in range(len(draft.days)):
        if gone := rows & set(draft.orders_of(row)):
            draft.take_out(row, gone)
    return thrown
