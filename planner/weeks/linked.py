"""Orders of one property whose days depend on each other: a label's days between, sums of a year,
the same mix twice, an application done again, parts of one lawn (rule 39)."""

import itertools
import random
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from math import prod

from planner.compliance.applied import parts_of, product_per_1000_ft2
from planner.compliance.holds import holds
from planner.compliance.weather import Forecast
from planner.day.day import Day, Workbook, day_of
from planner.day.life import SIDE_BY_SIDE_SLACK, standings
from planner.day.orders import Order, PastApplication
from planner.day.products import Form
from planner.routing.problem import OrderGroup
from planner.units import Amount
from planner.weeks.open_days import OpenDays

_NO_WEATHER = Forecast(())
MOST_LISTED = 3_000
"""Combinations of days of one group that are all looked at: three orders within two weeks."""


@dataclass(frozen=True)
class Link:
    """Two orders of a property. after, before: calendar days that the second must at least lie
    after, or before, the first; None = it never may. same_day: both may be done on one day."""

    first: str
    second: str
    after: int | None
    before: int | None
    same_day: bool

    def allows(self, first: date, second: date) -> bool:
        """Whether the two may be done on these days."""
        if first == second:
            return self.same_day
        least = self.after if second > first else self.before
        return least is not None and abs((second - first).days) >= least


class Links:
    """The links of a calendar. groups: orders that hang together, each order in one group at
    most."""

    def __init__(self, book: Workbook, opened: OpenDays) -> None:
        self._opened = opened
        self._days = opened.days
        self.book = book
        self._links: dict[tuple[str, str], Link] = {}
        at: dict[str, list[str]] = defaultdict(list)
        for name in opened.of:
            at[book.orders[name].property_id].append(name)
        past: dict[str, list[PastApplication]] = defaultdict(list)
        for row in book.history:
            past[row.property_id].append(row)
        self._past = past
        self.groups: list[list[str]] = []
        for names in at.values():
            pairs = [
                link
                for k, one in enumerate(names)
                for other in names[k + 1 :]
                if (link := self._link(book.orders[one], book.orders[other])) is not None
            ]
            for link in pairs:
                self._links[link.first, link.second] = link
            self.groups += _together(names, pairs)
        self.linked = frozenset(name for group in self.groups for name in group)

    def allows(self, one: str, day: date, other: str, other_day: date) -> bool:
        """Whether two orders may be done on these days."""
        if (link := self._links.get((one, other))) is not None:
            return link.allows(day, other_day)
        if (link := self._links.get((other, one))) is not None:
            return link.allows(other_day, day)
        return True

    def order_groups(self, seed: int) -> tuple[OrderGroup, ...]:
        """The groups with the combinations of days (rows of the calendar's days) that keep the
        links and leave nobody out whom they leave a day. Where they are too many to be looked at,
        a sample by chance."""
        chance = random.Random(seed)
        return tuple(
            OrderGroup(tuple(group), tuple(self._combinations(group, chance)))
            for group in self.groups
        )

    def _combinations(
        self, group: Sequence[str], chance: random.Random
    ) -> Iterator[tuple[int | None, ...]]:
        # Parts of a lawn go to one day together or not at all.
        by_lawn: dict[str, list[str]] = defaultdict(list)
        for name in group:
            by_lawn[self.book.orders[name].whole_id].append(name)
        lawns = list(by_lawn.values())
        rows = [sorted(set.intersection(*(set(self._opened.of[n]) for n in one))) for one in lawns]
        pairs = {
            (one, other): {
                (row, other_row)
                for row in rows[one]
                for other_row in rows[other]
                if all(
                    self.allows(a, self._days[row], b, self._days[other_row])
                    for a in lawns[one]
                    for b in lawns[other]
                )
            }
            for one in range(len(lawns))
            for other in range(len(lawns))
            if one != other
        }

        def left_to(one: int, chosen: Sequence[int | None]) -> Iterator[int]:
            others = [(k, row) for k, row in enumerate(chosen) if row is not None and k != one]
            for row in rows[one]:
                if all((row, other_row) in pairs[one, k] for k, other_row in others):
                    yield row

        def sampled() -> list[int | None]:
            chosen: list[int | None] = [None] * len(lawns)
            for one in chance.sample(range(len(lawns)), len(lawns)):
                able = list(left_to(one, chosen))
                chosen[one] = chance.choice(able) if able else None
            return chosen

        if prod(len(one) + 1 for one in rows) <= MOST_LISTED:
            listed: Iterable[Sequence[int | None]] = (
                chosen
                for chosen in itertools.product(*((*one, None) for one in rows))
                if all(
                    next(left_to(one, chosen), None) is None
                    if row is None
                    else row in left_to(one, chosen)
                    for one, row in enumerate(chosen)
                )
            )
        else:
            listed = (sampled() for _ in range(MOST_LISTED))
        lawn_of = {name: k for k, one in enumerate(lawns) for name in one}
        for chosen in dict.fromkeys(map(tuple, listed)):
            yield tuple(chosen[lawn_of[name]] for name in group)

    def _link(self, one: Order, other: Order) -> Link | None:
        if one.part_of and one.part_of == other.part_of:
            return Link(one.order_id, other.order_id, None, None, True)
        days = {
            order.order_id: [self._days[row] for row in self._opened.of[order.order_id]]
            for order in (one, other)
        }
        common = sorted(set(days[one.order_id]) & set(days[other.order_id]))
        same = not common or not _held(self._past, self.book, (one, other), common[0])
        after = self._gap(one, other, days)
        before = self._gap(other, one, days)
        for first, second in ((one, other), (other, one)):
            if _comes_first(self.book, first, second):
                same = False
                if first is one:
                    before = None
                else:
                    after = None
        if same and after == 1 and before == 1:
            return None
        return Link(one.order_id, other.order_id, after, before, same)

    def _gap(self, first: Order, second: Order, days: Mapping[str, list[date]]) -> int | None:
        """Days that the second must lie after the first, None = it may not follow it."""
        begin, end = days[first.order_id][0], days[second.order_id][-1]
        if end <= begin:
            return 1
        past = {
            first.property_id: [
                *self._past.get(first.property_id, ()),
                *as_history(self.book, first, begin),
            ]
        }
        if _held(past, self.book, (second,), end):
            return None
        mine = {product.product_id for _, product in parts_of(self.book, first)}
        return max(
            (
                product.least_days_between or 1
                for _, product in parts_of(self.book, second)
                if product.product_id in mine
            ),
            default=1,
        )


def settled(
    book: Workbook, laid: Mapping[str, date], linked: frozenset[str], days: Sequence[date]
) -> dict[str, str]:
    """Of the linked orders with a day those that the days before them in the calendar keep off it,
    with why, when the days are gone through one after another by the rules themselves. The others
    then count as done."""
    past: dict[str, list[PastApplication]] = defaultdict(list)
    for row in book.history:
        past[row.property_id].append(row)
    places = {book.orders[name].property_id for name in linked}
    left = {name: order for name, order in book.orders.items() if order.property_id in places}
    found: dict[str, str] = {}
    for day in days:
        share = {name: left[name] for name in left if name in linked and laid.get(name) == day}
        if not share:
            continue
        standing = standings(left, book.properties, day)
        due = day_of(replace(book, orders=left), day).orders
        for name in share.keys() - due.keys():
            found[name] = standing[name].reason or "it is not due then"
        share = {name: order for name, order in share.items() if name in due}
        rows = [row for place in places for row in past[place]]
        small = replace(book, orders=share, history=tuple(rows))
        held = {
            hold.order_id: hold.reason for hold in holds(Day(day, small, share), (), _NO_WEATHER)
        }
        found |= held
        for name, order in share.items():
            if name not in held:
                past[order.property_id] += as_history(book, order, day)
                del left[name]
    return found


def torn(book: Workbook, laid: Mapping[str, date]) -> dict[str, str]:
    """The parts with a day of lawns of which another part has none, or another one, with why."""
    days: dict[str, set[date | None]] = defaultdict(set)
    for name, order in book.orders.items():
        days[order.part_of].add(laid.get(name))
    return {
        name: f"order {lawn} is done on one day, whole, or not at all"
        for name in laid
        if (lawn := book.orders[name].part_of) and len(days[lawn]) > 1
    }


def as_history(book: Workbook, order: Order, when: date) -> Iterator[PastApplication]:
    """What an order puts down, as a record of that day would say it."""
    carrier = book.mixes[order.mix_id].carrier_gal_per_1000_ft2
    for part, product in parts_of(book, order):
        base = product_per_1000_ft2(product, part.rate, carrier) * order.area_ft2 / 1000.0
        unit, kind = ("gal", "volume") if product.form is Form.LIQUID else ("lb", "mass")
        yield PastApplication(
            order.property_id,
            product.product_id,
            when,
            order.area_ft2,
            Amount(base, unit, kind, base),
        )


def _comes_first(book: Workbook, first: Order, second: Order) -> bool:
    """Whether the second has to wait until the first is done (rule 30)."""
    if second.repeats == first.order_id:
        return True
    room_ft2 = book.properties[first.property_id].lawn_ft2 * SIDE_BY_SIDE_SLACK
    return (
        first.mix_id == second.mix_id
        and first.due_to < second.due_from
        and first.area_ft2 + second.area_ft2 > room_ft2
    )


def _held(
    past: Mapping[str, Sequence[PastApplication]],
    book: Workbook,
    orders: Sequence[Order],
    when: date,
) -> bool:
    """Whether a rule holds one of the orders when they are the day's, whatever the weather."""
    some = {order.order_id: order for order in orders}
    rows = tuple(past.get(orders[0].property_id, ()))
    small = replace(book, orders=some, history=rows)
    return bool(holds(Day(when, small, some), (), _NO_WEATHER))


def _together(names: Sequence[str], pairs: Sequence[Link]) -> list[list[str]]:
    """Groups of linked orders."""
    group_of = {name: {name} for name in names}
    for link in pairs:
        both = group_of[link.first] | group_of[link.second]
        for name in both:
            group_of[name] = both
    unique = {id(group): group for group in group_of.values() if len(group) > 1}
    return [[name for name in names if name in group] for group in unique.values()]
