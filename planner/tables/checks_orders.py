"""Checks of orders, and of the programs that make them."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterator

from planner.day.life import day_text
from planner.problems import Problem
from planner.tables.rows import Row, Tables

Due = tuple[Row, dt.date, dt.date, float]
"""A row of orders, its first and last day, and its area in ft2."""

_MOST_AT_ONCE = 50
"""Orders of one mix and lawn that are due at once: each is compared with the latest of them."""

LAWN_TOLERANCE = 1.005
"""Areas are measured to about half a percent at best (common practice, no source)."""


def due_span(row: Row) -> tuple[dt.date, dt.date] | None:
    """First and last day of an order; None when they are not said or cannot be read."""
    cells = row.cells
    spans = cells.derived.get(due_span)
    if spans is None:
        columns = [cells.values[name] for name in ("date", "due_from", "due_to")]
        spans = cells.derived[due_span] = list(map(_span, *columns))
    found: tuple[dt.date, dt.date] | None = spans[row.place]
    return found


def _span(day: object, first: object, last: object) -> tuple[dt.date, dt.date] | None:
    if isinstance(day, dt.date) and first is None and last is None:
        return day, day
    if day is None and isinstance(first, dt.date) and isinstance(last, dt.date) and first <= last:
        return first, last
    return None


def check_due(tables: Tables) -> Iterator[Problem]:
    """ORDER-1, ORDER-2: a date and a span, or neither of the two."""
    for row in tables.rows("orders"):
        if not row.good("date", "due_from", "due_to"):
            continue
        day, first, last = row.value("date"), row.value("due_from"), row.value("due_to")
        if day is not None and (first is not None or last is not None):
            yield row.problem(
                "date",
                "ORDER-1",
                "the order has both a date and a due span",
                "clear date, or clear due_from and due_to",
            )
        elif day is None and first is None and last is None:
            yield row.problem(
                "date", "ORDER-2", "the order is due on no day", "fill date, or due_from and due_to"
            )
        elif day is None and (first is None or last is None):
            missing = "due_from" if first is None else "due_to"
            yield row.problem(
                missing, "ORDER-2", "the due span has only one end", f"fill {missing} too"
            )


def _lawns(tables: Tables) -> dict[str, float]:
    lawns: dict[str, float] = {}
    for row in tables.rows("properties"):
        lawn_ft2 = row.number_or_none("lawn_ft2")
        if lawn_ft2 is not None:
            lawns.setdefault(row.text("property"), lawn_ft2)
    return lawns


def check_area_fits_lawn(tables: Tables) -> Iterator[Problem]:
    """ORDER-3: more area than the property has lawn."""
    lawns = _lawns(tables)
    for row in tables.rows("orders"):
        area_ft2, lawn_ft2 = row.number_or_none("area_ft2"), lawns.get(row.text("property"))
        if area_ft2 is not None and lawn_ft2 is not None and area_ft2 > lawn_ft2:
            yield row.problem(
                "area_ft2",
                "ORDER-3",
                f"the lawn has only {lawn_ft2:,.0f} ft2",
                "check both; blank = the whole lawn",
            )


def check_truck_choice(tables: Tables) -> Iterator[Problem]:
    """ORDER-4: a truck that must and must not do the order."""
    for row in tables.rows("orders"):
        both = sorted(set(row.items("only_trucks")) & set(row.items("never_trucks")))
        if both:
            yield row.problem(
                "never_trucks",
                "ORDER-4",
                f"{', '.join(both)} is also among only_trucks",
                "take it out of one of the two",
            )


def _repeats(one: Due, other: Due) -> bool:
    """Whether one of two orders waits for the other to be done."""
    a, b = one[0], other[0]
    return a.text("repeats") == b.text("order") != "" or b.text("repeats") == a.text("order") != ""


def _days_of_both(one: Due, other: Due) -> tuple[str, str]:
    """'the same day' or the days of both spans in words, and what spans may do about it."""
    if one[1:3] == other[1:3] and one[1] == one[2]:
        return "the same day", ""
    first, last = max(one[1], other[1]), min(one[2], other[2])
    span = day_text(first) + (f" to {day_text(last)}" if last > first else "")
    return f"days of both ({span})", "end the first span before the second begins, "


def check_same_lawn_once(tables: Tables) -> Iterator[Problem]:
    """ORDER-5: orders that together put one mix on more than the lawn, due on a common day; the
    lawn would get twice the label rate."""
    lawns = _lawns(tables)
    by_lawn: dict[tuple[str, str], list[Due]] = defaultdict(list)
    for row in tables.rows("orders"):
        span, lawn_ft2 = due_span(row), lawns.get(row.text("property"))
        if row.text("status") == "cancelled" or not row.good("area_ft2"):
            continue
        if span is None or lawn_ft2 is None or not row.text("mix"):
            continue
        area_ft2 = row.number_or_none("area_ft2") or lawn_ft2
        by_lawn[row.text("property"), row.text("mix")].append((row, *span, area_ft2))
    for (place, _), orders in by_lawn.items():
        last: list[Due] = []
        told: set[int] = set()
        for other in sorted(orders, key=lambda due: due[1]):
            # Only those that are not over yet when this one begins.
            last = [one for one in last if one[2] >= other[1]][-_MOST_AT_ONCE:]
            over = (
                one
                for one in last
                if one[3] + other[3] > lawns[place] * LAWN_TOLERANCE and not _repeats(one, other)
            )
            found = next(over, None)
            last.append(other)
            first, second = sorted((found or other, other), key=lambda due: due[0].number)
            if found is not None and second[0].number not in told:
                told.add(second[0].number)
                days, apart = _days_of_both(first, second)
                yield second[0].problem(
                    "mix",
                    "ORDER-5",
                    f"row {first[0].number} has the same mix on the same lawn on " + days,
                    f"remove one, {apart}or give each its part of the lawn in area_ft2",
                )


def check_status(tables: Tables) -> Iterator[Problem]:
    """ORDER-6, ORDER-7: a hold says why or until when, and only a hold does."""
    for row in tables.rows("orders"):
        if not row.good("status", "hold_until"):
            continue
        held, until = row.text("status") == "on hold", row.value("hold_until")
        if held and until is None and not row.text("status_reason"):
            yield row.problem(
                "status",
                "ORDER-6",
                "the order is on hold and nothing says why or until when",
                "fill hold_until or status_reason",
            )
        elif until is not None and not held:
            yield row.problem(
                "hold_until",
                "ORDER-7",
                "the order is not on hold",
                "write 'on hold' in status, or clear hold_until",
            )


def check_repeats(tables: Tables) -> Iterator[Problem]:
    """ORDER-8: a re-spray does again what another order of the same property and mix did."""
    orders: dict[str, Row] = {}
    for row in tables.rows("orders"):
        orders.setdefault(row.text("order"), row)
    for row in tables.rows("orders"):
        done = orders.get(row.text("repeats")) if row.text("repeats") else None
        if done is None:
            continue
        for column in ("property", "mix"):
            mine, its = row.text(column), done.text(column)
            if mine and its and mine != its:
                yield row.problem(
                    "repeats",
                    "ORDER-8",
                    f"row {done.number} has another {column} ({its})",
                    "name the order that is done again",
                )
        if _in_a_circle(row, orders):
            yield row.problem(
                "repeats",
                "ORDER-8",
                "the order repeats itself",
                "name the order that is done again",
            )
        elif done.text("status") == "cancelled":
            yield row.problem(
                "repeats",
                "ORDER-8",
                f"row {done.number} is cancelled",
                "cancel this one too, or clear repeats",
            )


def _in_a_circle(row: Row, orders: dict[str, Row]) -> bool:
    seen, name = {row.text("order")}, row.text("repeats")
    while name in orders and name not in seen:
        seen.add(name)
        name = orders[name].text("repeats")
    return name == row.text("order")


WINDOW = ("from_day", "to_day", "degree_days_from", "degree_days_to")


def check_rounds_have_a_window(tables: Tables) -> Iterator[Problem]:
    """PROGRAM-1: a round that never opens, or that never closes."""
    for row in tables.rows("programs"):
        if not row.good(*WINDOW):
            continue
        from_day, to_day, heat_from, heat_to = (row.value(name) is not None for name in WINDOW)
        if not (from_day or heat_from):
            message, column = "nothing says when the round may be done first", "from_day"
        elif not (to_day or heat_to):
            message, column = "nothing says when the round may be done last", "to_day"
        else:
            continue
        cure = f"fill {column}, or degree_days_{column.removesuffix('_day')}"
        yield row.problem(column, "PROGRAM-1", message, cure)


def check_skipped_rounds(tables: Tables) -> Iterator[Problem]:
    """PROGRAM-2: a skipped round that the program does not have."""
    rounds: dict[str, set[str]] = {}
    for row in tables.rows("programs"):
        rounds.setdefault(row.text("program"), set()).add(row.written("round"))
    for row in tables.rows("property_programs"):
        known = rounds.get(row.text("program"))
        for number in row.items("skip_rounds"):
            if known is not None and number not in known:
                yield row.problem(
                    "skip_rounds",
                    "PROGRAM-2",
                    f"the program {row.text('program')} has no round {number}",
                    f"write numbers of its rounds ({', '.join(sorted(known))})",
                )
