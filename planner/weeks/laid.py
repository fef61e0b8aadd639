"""What a calendar says of the draft found: each truck-day's orders and money, and why the others
wait."""

from collections.abc import Collection, Mapping
from dataclasses import replace
from datetime import date, timedelta
from math import inf

from planner.compliance.people import barred_on
from planner.day.day import Day, Workbook
from planner.day.life import can_be_done, day_text
from planner.routing.compiled.python_api import place_refills
from planner.routing.exact.route_cost import LUNCH, TruckDay
from planner.routing.exact.walk import full_walk
from planner.routing.problem import OrderTask, RoutingProblem, TruckSpec
from planner.routing.repair.draft import Draft, insertion
from planner.routing.unserved.reasons import no_tank
from planner.weeks.carry import Carried, Carry, evening
from planner.weeks.lateness import Lateness
from planner.weeks.linked import Links
from planner.weeks.model import LaidOrder, TruckShare, WaitingOrder
from planner.weeks.numbers import parted
from planner.weeks.open_days import OpenDays

MOST_NEXT_DAYS = 120
"""Orders at risk of which it is reckoned what the next day would cost."""


def days_in(draft: Draft) -> dict[str, date]:
    """Order -> its day in a draft."""
    tasks = draft.tables.problem.orders
    return {
        tasks[order].order_id: parted(day.truck.truck_id)[1]
        for row, day in enumerate(draft.days)
        for order in draft.orders_of(row)
    }


def shares_of(
    draft: Draft,
    book: Workbook,
    opened: OpenDays,
    told: Mapping[str, str],
    lateness: Lateness,
    carry: Carry,
    next_days: bool,
) -> tuple[TruckShare, ...]:
    """Every truck-day that has stops. told: order -> the day that its customer was told; carry: by
    which the draft was priced in turn; next_days: whether it is reckoned what the next day would
    cost."""
    tasks = draft.tables.problem.orders
    mornings = carry.mornings(draft)
    saving = _Risk(draft, opened, carry, mornings, MOST_NEXT_DAYS if next_days else 0)
    found = []
    for row, one in enumerate(draft.days):
        if not draft.stops[row]:
            continue
        truck_id, when = parted(one.truck.truck_id)
        truck = book.trucks[truck_id]
        walked = full_walk(one, draft.stops[row])
        out_min = walked.return_min - one.truck.shift_start_min
        out_min -= one.truck.lunch_min if walked.lunch_taken else 0.0
        overtime = max(0.0, walked.return_min - one.truck.shift_end_min)
        orders, gal = [], dict[str, float]()
        held = evening(one, draft.stops[row], mornings[one.truck.truck_id])
        day_row = opened.days.index(when)
        for number in draft.orders_of(row):
            task = tasks[number]
            order = book.orders[task.order_id]
            gal[task.mix_id] = gal.get(task.mix_id, 0.0) + task.gal
            spare = lateness.days_after(order, when)
            following, cost, full = "", None, False
            if spare <= 1:
                reckon = not order.part_of
                following, cost, full = saving.next_day(row, number, when, reckon=reckon)
            said = told.get(task.order_id, "")
            orders.append(
                LaidOrder(
                    order_id=task.order_id,
                    property_id=order.property_id,
                    mix_id=task.mix_id,
                    gal=task.gal,
                    due_from=order.due_from.isoformat(),
                    due_to=order.due_to.isoformat(),
                    spare_days=spare,
                    overdue_days=max(0, (when - order.due_to).days),
                    told=said == when.isoformat(),
                    told_other="" if said == when.isoformat() else said,
                    next_day=following,
                    next_day_cost=cost,
                    late_cost=lateness.of(order)[day_row],
                    next_day_full=full,
                )
            )
        found.append(
            TruckShare(
                date=when.isoformat(),
                truck_id=truck_id,
                orders=tuple(orders),
                loading=one.loading.mix_of,
                gal_by_mix=gal,
                paid_min=out_min + truck.closing_min,
                shift_min=truck.shift_end_min - truck.shift_start_min - truck.lunch_min,
                overtime_min=overtime,
                miles=walked.miles,
                refills=sum(stop >= len(tasks) for stop in draft.stops[row] if stop != LUNCH),
                cost=one.money(out_min + walked.beside_min, walked.return_min, walked.miles),
                evening_mix=held.mixes,
                evening_gal=held.gal,
                evening_hose=held.hoses,
            )
        )
    return tuple(found)


class _Risk:
    """What it costs to do an order on the next day that is open to it."""

    def __init__(
        self,
        draft: Draft,
        opened: OpenDays,
        carry: Carry,
        mornings: Mapping[str, Carried],
        most: int,
    ) -> None:
        self._draft, self._opened, self._carry, self._left = draft, opened, carry, most
        self._mornings = mornings
        self._loaded: dict[tuple[int, str], list[TruckDay]] = {}

    def next_day(
        self, row: int, order: int, when: date, *, reckon: bool
    ) -> tuple[str, float | None, bool]:
        """The day as ISO text, the money more, lateness and told days included, and whether that
        day has no room. reckon: not of a part, which goes nowhere without the others."""
        draft, days = self._draft, self._opened.days
        task = draft.tables.problem.orders[order]
        # A day on which every truck that may do it stays home is none to wait for.
        served = {parted(name)[1] for name in task.allowed_trucks}
        later = (days[at] for at in self._opened.of[task.order_id] if days[at] > when)
        following = min((day for day in later if day in served), default=None)
        if following is None:
            return "", None, False
        if not self._left or not reckon:
            return following.isoformat(), None, False
        self._left -= 1
        trial = draft.copy()
        trial.take_out(row, (order,))
        if order not in trial.unserved:
            return following.isoformat(), None, False
        rows = [
            at for at, one in enumerate(draft.days) if parted(one.truck.truck_id)[1] == following
        ]
        found = trial.best_place(order, inf, rows)
        more = inf if found is None else found[0]
        # What a truck at home is loaded with means nothing; one that goes out is loaded another way
        # only where there is no room otherwise.
        for at in sorted(rows, key=lambda at: bool(trial.stops[at])):
            if not trial.stops[at] or more == inf:
                more = min(more, self._loaded_for(trial, at, order))
        if more == inf:
            return following.isoformat(), None, True
        return following.isoformat(), more - (draft.costs[row] - trial.costs[row]), False

    def _loaded_for(self, trial: Draft, row: int, order: int) -> float:
        """Money more of the order on a truck-day that is loaded for it and does what it does;
        infinite where no loading lets it."""
        task, here = trial.tables.problem.orders[order], trial.orders_of(row)
        if trial.days[row].truck.truck_id not in task.allowed_trucks:
            return inf
        if (row, task.mix_id) not in self._loaded:
            held = self._mornings[trial.days[row].truck.truck_id]
            found = self._carry.loaded_with(trial, row, task.mix_id, held)
            self._loaded[row, task.mix_id] = found
        for day in self._loaded[row, task.mix_id]:
            if begun := place_refills(day, here):
                cost, stops = begun
                if put := insertion(day, stops, cost, order, inf):
                    return cost + put[0] - trial.costs[row]
        return inf


def waiting_orders(
    draft: Draft,
    problem: RoutingProblem,
    day: Day,
    opened: OpenDays,
    links: Links,
    later: Collection[str],
    thrown: Mapping[str, str],
    lateness: Lateness,
    mean: float,
) -> tuple[WaitingOrder, ...]:
    """Every open order without a day, with why. problem: with all loadings of the truck-days; mean:
    cost of an order that has one."""
    book, tasks = day.workbook, draft.tables.problem.orders
    laid = days_in(draft)
    out = {tasks[row].order_id: tasks[row] for row in draft.unserved}
    found = []
    for name, order in book.orders.items():
        last = order.due_to if order.last_day is None else min(order.due_to, order.last_day)
        home = book.properties[order.property_id]
        while last >= opened.days[0] and not can_be_done(order, home, book.settings, last):
            last -= timedelta(days=1)
        if name in opened.shut:
            code, reason = opened.shut[name]
        elif name not in out:
            continue
        elif name in thrown:
            code, reason = "LINKED", thrown[name]
        elif (other := _keeps_off(name, opened, links, laid)) is not None:
            code = "LINKED"
            reason = f"order {other} of its property lies on {day_text(laid[other])}"
        elif not out[name].allowed_trucks:
            code, reason = "NO-TRUCK", "every truck that may do it stays home on its days"
            for truck_id, why in barred_on(day, last).items():
                if order.allows(truck_id):
                    reason += f"; {truck_id} stays in the yard ({why.replace('; ', ' and ')})"
        elif (cannot := _no_tank(problem, out[name])) is not None:
            code, reason = cannot
        elif name in later:
            code, reason = "LATER", f"until {day_text(last)}"
        else:
            code, reason = "FULL", "its days are full, or it costs more there than it is worth"
        found.append(
            WaitingOrder(
                order_id=name,
                property_id=order.property_id,
                mix_id=order.mix_id,
                code=code,
                reason=reason,
                due_to=order.due_to.isoformat(),
                last_day=last.isoformat() if last >= opened.days[0] else "",
                late_cost=lateness.without_day(order),
                later_cost=mean if code == "LATER" else 0.0,
            )
        )
    # A part that gave its day back because another is put off past the last day is put off, too.
    put_off = {
        book.orders[row.order_id].part_of: row.reason for row in found if row.code == "LATER"
    }
    return tuple(
        replace(row, code="LATER", reason=put_off[lawn], later_cost=mean)
        if row.code == "LINKED" and (lawn := book.orders[row.order_id].part_of) in put_off and lawn
        else row
        for row in found
    )


def _no_tank(problem: RoutingProblem, order: OrderTask) -> tuple[str, str] | None:
    """What of tanks and hoses rules out every truck on every day: a tank that is taken in the first
    mornings is free on a later one."""
    trucks: dict[str, TruckSpec] = {}
    for truck in problem.trucks:
        if truck.truck_id in order.allowed_trucks:
            name = parted(truck.truck_id)[0]
            known = trucks.get(name) or replace(truck, truck_id=name, loadings=())
            trucks[name] = replace(known, loadings=(*known.loadings, *truck.loadings))
    return no_tank(list(trucks.values()), order)


def _keeps_off(name: str, opened: OpenDays, links: Links, laid: Mapping[str, date]) -> str | None:
    """A laid order of its property that leaves it none of its days."""
    if name not in links.linked:
        return None
    days = [opened.days[row] for row in opened.of[name]]
    group = next(group for group in links.groups if name in group)
    return next(
        (
            other
            for other in group
            if other != name
            and other in laid
            and not any(links.allows(name, day, other, laid[other]) for day in days)
        ),
        None,
    )
