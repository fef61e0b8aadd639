"""What every truck says to a stop in hand, in the words of the page."""

from __future__ import annotations

from typing import Any

from planner.day.clock import clock_text
from planner.office.day import Asked, DayState, Gap, TruckAnswer
from planner.pages.words import signed_money

Json = dict[str, Any]


def asked_parts(asked: Asked, state: DayState) -> Json:
    """For the page's script: trucks: by stall {number, can, here, price, words, cost, best (gap),
    load (compartment that would have to take the mix), gaps: [{gap, price, words, breaks}]}; best:
    stall of the cheapest truck that can, 0 = none; out: what it means to leave it out of the day;
    say: the answer in a sentence. Texts are plain, not HTML."""
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
        "say": f"{len(can)} trucks can take it; best {names[best['number']]}, {best['price']}, "
        f"{best['words']}."
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
