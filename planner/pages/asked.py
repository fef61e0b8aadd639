"""What every truck says to a stop in hand, in the words of the page; two drafts side by side."""

from typing import Any

from planner.by_hand.sheet import OUT_BY_HAND
from planner.day.clock import clock_text
from planner.day.day import Day
from planner.office.day import Asked, DayState, Gap, TruckAnswer
from planner.pages.sheet import WORTH_SAYING_MIN, stood
from planner.pages.words import fill, signed_money
from planner.papers.lookup import mix_name, place_text
from planner.papers.render import duration_text, gal_text, money_text
from planner.plan.model import Plan
from planner.plan.totals import by_order
from planner.problems import counted

Json = dict[str, Any]


def asked_parts(asked: Asked, state: DayState) -> Json:
    """For the page's script: trucks: by stall {number, can, here, mends, price, words, cost, best
    (gap), load (compartment that would have to take the mix), gaps: [{gap, price, words,
    breaks}]}; best: stall of the cheapest truck that can, 0 = none; out: what it means to leave it
    out of the day; say: the answer in a sentence. Texts are plain, not HTML."""
    currency = state.planned.day.workbook.settings.currency
    here = {state.truck_of.get(order_id) for order_id in asked.lifted}
    numbers = {truck.truck_id: row for row, truck in enumerate(state.trucks, start=1)}
    trucks = [
        _truck(row, numbers[row.truck_id], row.truck_id in here, currency) for row in asked.trucks
    ]
    can = [row for row in trucks if row["can"] and not row["here"]]
    best = min(can, key=lambda row: row["cost"], default=None)
    names = {number: name for name, number in numbers.items()}
    out = signed_money(asked.out_change, currency) or "no change of cost"
    return {
        "trucks": trucks,
        "best": best["number"] if best is not None else 0,
        "out": f"Out of the day: {out}",
        "say": f"{counted(len(can), 'truck')} can take it; best {names[best['number']]}, "
        f"{best['price']}, {best['words']}."
        if best is not None
        else "No other truck can take it without breaking a rule.",
    }


def _truck(answer: TruckAnswer, number: int, here: bool, currency: str) -> Json:
    best = answer.best
    words = answer.why_not
    if best is not None:
        words = f"{_home(best)} · no rule broken"
        if answer.loads:
            words += f" · loads {', '.join(answer.loads)} for it"
    price = "" if best is None else _price(best, currency)
    if here:
        price = "" if price == "no change" else price
        words = "is here; " + (words if price else "no better place on this truck")
    return {
        "number": number,
        "can": best is not None,
        "here": here,
        "mends": best is not None and best.mends,
        "price": price,
        "words": words,
        "cost": 0.0 if best is None else best.price or 0.0,
        "best": None if best is None else best.gap,
        "load": next(iter(answer.loads), ""),
        "gaps": [_gap(row, currency) for row in answer.gaps],
    }


def _gap(gap: Gap, currency: str) -> Json:
    return {
        "gap": gap.gap,
        "price": _price(gap, currency),
        "words": _home(gap),
        "breaks": gap.why_not,
    }


def _price(gap: Gap, currency: str) -> str:
    return "" if gap.price is None else signed_money(gap.price, currency) or "no change"


def _home(gap: Gap) -> str:
    return "" if gap.home_min is None else f"home {clock_text(gap.home_min)}"


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
    unserved = by_order(plan.unserved, day.orders)
    by_hand = sum(row.code == OUT_BY_HAND for row in unserved)
    return {
        "Cost": f"{day.workbook.settings.currency}{money_text(totals.cost)}",
        "Last home": "nobody goes out" if last is None else f"{clock_text(last[0])}, {last[1]}",
        "Trucks out": str(len(homes)),
        "Orders done": str(totals.orders),
        "No room": str(len(unserved) - by_hand),
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
