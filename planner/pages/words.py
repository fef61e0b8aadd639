"""Short words and figures of the page, rounded as the papers round them; its templates and
pieces."""

from collections.abc import Callable, Hashable, Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from planner.day.clock import clock_text
from planner.day.day import Day
from planner.day.orders import Order
from planner.papers.render import money_text, render_in

LOOKS = 8
"""Patterns and colors of mixes in day.css; the next mixes begin again."""


def signed_money(amount: float, currency: str) -> str:
    """`+$0.87`, `−$3.16`; '' where nothing changes."""
    if abs(amount) < 0.005:
        return ""
    return f"{'+' if amount > 0 else '−'}{currency}{money_text(abs(amount))}"


def brief_clock(minutes: float) -> str:
    """A customer's hour as people write it: `9`, `11:30`."""
    text = clock_text(minutes).split()[0]
    return text.removesuffix(":00")


def only_at(orders: Iterable[Order | None]) -> str:
    """The customers' hours, each once: `9–11`."""
    spans = [
        f"{brief_clock(span.open_min)}–{brief_clock(span.close_min)}"
        for order in orders
        if order is not None
        for span in order.windows or ()
    ]
    return ", ".join(dict.fromkeys(spans))


def mix_looks(day: Day) -> dict[str, str]:
    """Mix -> its class in day.css, the same on every screen of a workbook."""
    return {mix_id: f"m{row % LOOKS}" for row, mix_id in enumerate(day.workbook.mixes)}


def listed(names: Sequence[str], most: int = 5) -> str:
    """`A, B and C`; of a long list the first, and how many more."""
    names = list(dict.fromkeys(names))
    if len(names) > most:
        names = [*names[:most], f"{len(names) - most} more"]
    return " and ".join(filter(None, (", ".join(names[:-1]), *names[-1:])))


@dataclass(frozen=True)
class Part:
    """A piece. key: equal keys make equal pieces; make: the HTML, or JSON of a map's piece."""

    key: Hashable
    make: Callable[[], Any]


def fill(template: str, **values: object) -> str:
    """The HTML of a template (a file name in templates/); every value is escaped."""
    return render_in("planner.pages", template, values)


class Ready(str):
    """A text that is HTML already."""

    def __html__(self) -> str:
        return self
