"""What the calendar takes of each product, week by week, against what the store holds."""

import itertools
import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Final

from planner.day.day import Workbook
from planner.day.life import is_working_day
from planner.day.products import Product
from planner.mixing.recipes import recipe, stock_base
from planner.units import practical_amount
from planner.weeks.model import Calendar

ENOUGH_SLACK: Final = 1e-6
"""A need this little over the store is float noise."""

FARTHEST_BACK_DAYS: Final = 60
"""No working day for so long before a day is none to order on."""


@dataclass(frozen=True)
class ProductNeed:
    """One product. by_week: text of its amount in each week; total: of all; store: what is there,
    '' = the tables do not say. short_on: first day that it does not last through, None = it lasts.
    order_by: last working day to order it on, None = unknown (products.delivery_days). late:
    whether that day lies before the calendar. buy: what is short, in containers where their size is
    known."""

    product_id: str
    name: str
    by_week: tuple[str, ...]
    total: str
    store: str
    short_on: date | None = None
    order_by: date | None = None
    late: bool = False
    buy: str = ""


def week_of(day: date) -> date:
    """Monday of the day's week."""
    return day - timedelta(days=day.weekday())


def weeks_of(calendar: Calendar) -> tuple[date, ...]:
    """Mondays of the calendar's weeks."""
    return tuple(dict.fromkeys(week_of(date.fromisoformat(day)) for day in calendar.days))


def product_needs(calendar: Calendar, book: Workbook) -> tuple[ProductNeed, ...]:
    """A row per product that the laid orders take, in the order of the products table; those that
    run short first. Only what is sprayed counts: what a fill holds beyond it serves a later day.
    What tanks hold already was taken from the store before (rule 27)."""
    by_day: dict[str, dict[date, float]] = defaultdict(lambda: defaultdict(float))
    recipes = {}
    on_board: dict[tuple[str, str | None], float] = defaultdict(float)
    for truck in book.trucks.values():
        for part in truck.compartments:
            over_gal = part.leftover_gal - part.heel_gal
            on_board[truck.truck_id, part.last_mix] += max(0.0, over_gal)
    for share in calendar.shares:
        for order in share.orders:
            there = min(order.gal, on_board[share.truck_id, order.mix_id])
            on_board[share.truck_id, order.mix_id] -= there
            if order.mix_id not in recipes and order.mix_id in book.mixes:
                recipes[order.mix_id] = recipe(book, order.mix_id)
            made = recipes.get(order.mix_id)
            for product_id, amount in (made.amounts(order.gal - there) if made else {}).items():
                by_day[product_id][date.fromisoformat(share.date)] += amount
    needs = [
        _need(product, by_day[name], weeks_of(calendar), calendar, book)
        for name, product in book.products.items()
        if name in by_day
    ]
    return tuple(sorted(needs, key=lambda need: need.short_on or date.max))


def _need(
    product: Product,
    by_day: dict[date, float],
    weeks: Sequence[date],
    calendar: Calendar,
    book: Workbook,
) -> ProductNeed:
    total = math.fsum(by_day.values())
    in_week = [
        math.fsum(amount for day, amount in by_day.items() if week_of(day) == week)
        for week in weeks
    ]
    held = stock_base(product)
    plain = ProductNeed(
        product.product_id,
        product.name,
        tuple(_text(amount, product) if amount else "" for amount in in_week),
        _text(total, product),
        "" if held is None else _text(held, product),
    )
    if held is None or total <= held + ENOUGH_SLACK:
        return plain
    days = sorted(by_day)
    used = itertools.accumulate(by_day[day] for day in days)
    over = (day for day, sofar in zip(days, used, strict=True) if sofar > held + ENOUGH_SLACK)
    short_on = next(over, days[-1])
    order_by = _order_by(product, short_on, book)
    late = order_by is not None and order_by < date.fromisoformat(calendar.days[0])
    return replace(
        plain, short_on=short_on, order_by=order_by, late=late, buy=_buy(product, total - held)
    )


def _order_by(product: Product, short_on: date, book: Workbook) -> date | None:
    """The last working day from which it is there on the day before it runs short."""
    if product.delivery_days is None:
        return None
    day = short_on - timedelta(days=product.delivery_days + 1)
    for step in range(FARTHEST_BACK_DAYS):
        if is_working_day(book.settings, day - timedelta(days=step)):
            return day - timedelta(days=step)
    return None


def _buy(product: Product, amount: float) -> str:
    size = product.container
    if size is None or size.base <= 0 or (size.kind == "volume") != (product.unit == "gal"):
        return _text(amount, product)
    return f"{math.ceil(amount / size.base - ENOUGH_SLACK)} x {size.value:g} {size.unit}"


def _text(amount: float, product: Product) -> str:
    """'12.4 gal' or '3 lb 4 oz wt'; gallons by the hundred without ounces."""
    return practical_amount(amount, product.unit).text
