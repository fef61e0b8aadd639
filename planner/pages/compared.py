"""Two drafts of a day side by side."""

from __future__ import annotations

from planner.by_hand.codes import OUT_BY_HAND
from planner.day.clock import clock_text
from planner.day.day import Day
from planner.office.day import DayState
from planner.pages.fill import fill
from planner.pages.sheet import WORTH_SAYING_MIN, stood
from planner.papers.lookup import mix_name, place_text
from planner.papers.render import duration_text, gal_text, money_text
from planner.plan.model import Plan


def compared_part(state: DayState, name: str, other: Plan, broken: int) -> str:
    """The element `compared`: the draft on the table beside the draft of that name. other: its
    plan; broken: how many rules it breaks."""
    day = state.planned.day
    left = _figures(state.planned.plan, len(state.planned.violations), day)
    right = _figures(other, broken, day)
    return fill(
        "compared.html",
        left=state.draft,
        right=name,
        rows=[(what, text, right[what]) for what, text in left.items()],
        moved=_moved(state.planned.plan, other, day),
    )


def _figures(plan: Plan, broken: int, day: Day) -> dict[str, str]:
    totals = plan.totals.totals
    homes = [(one.stops[-1].arrive_min, one.truck_id) for one in plan.trucks if one.stops]
    last = max(homes, default=None)
    by_hand = sum(row.code == OUT_BY_HAND for row in plan.unserved)
    return {
        "Cost": f"{day.workbook.settings.currency}{money_text(totals.cost)}",
        "Last home": "nobody goes out" if last is None else f"{clock_text(last[0])}, {last[1]}",
        "Trucks out": str(len(homes)),
        "Orders done": str(totals.orders),
        "No room": str(len(plan.unserved) - by_hand),
        "Taken out or not put in": str(by_hand),
        "Rules broken": str(broken),
        "Gallons": gal_text(totals.gal),
        "Refills": str(totals.refills),
        "Driving": f"{duration_text(totals.drive_min)}, {totals.drive_miles:.1f} mi",
        "Paid": duration_text(totals.paid_min),
        "Of it overtime": duration_text(totals.overtime_min),
    }


def _moved(plan: Plan, other: Plan, day: Day) -> list[tuple[str, str, str]]:
    """Customers whose order stands on another truck, or at another minute, as customer, here,
    there."""
    left, right = stood(plan), stood(other)
    found = []
    for order_id in dict.fromkeys((*left, *right)):
        here, there = left.get(order_id), right.get(order_id)
        same = (
            here is not None
            and there is not None
            and here[0] == there[0]
            and abs(here[1] - there[1]) < WORTH_SAYING_MIN
        )
        if not same:
            order = day.workbook.orders.get(order_id)
            name = order_id
            if order is not None:
                who = place_text(day, order.property_id).title
                name = f"{who}, {mix_name(day, order.mix_id)}"
            found.append((name, _place(here), _place(there)))
    return found


def _place(at: tuple[str, float] | None) -> str:
    return "not in the day" if at is None else f"{at[0]} {clock_text(at[1])}"
