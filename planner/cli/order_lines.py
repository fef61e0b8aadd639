"""Where the orders of a workbook stand on a day, in words and as JSON."""

from collections.abc import Iterable
from dataclasses import asdict

from planner.day.day import Day
from planner.day.life import kept_out_text, no_record_texts, overdue_text
from planner.day.orders import Order
from planner.day.roll import Roll, roll_of


def count_line(roll: Roll, ahead: int = 0, laid_later: int = 0) -> str:
    """'Orders: 42 due (5 on their last day, 3 overdue), 2 not for today, 120 due later.' ahead: how
    many of the due ones are taken ahead; laid_later: of those left out, on a later day of the
    calendar."""
    parts = [
        f"{count:,} {words}"
        for count, words in (
            (
                len(roll.last_day),
                "on its last day" if len(roll.last_day) == 1 else "on their last day",
            ),
            (len(roll.overdue_whole), "overdue"),
            (ahead, "taken ahead"),
        )
        if count
    ]
    due = f"{len(roll.due):,} due" + (f" ({', '.join(parts)})" if parts else "")
    rest = [
        f"{len(rows):,} {words}"
        for rows, words in (
            (roll.not_today, "not for today"),
            (roll.on_hold, "on hold"),
            (roll.left_out[laid_later:], "left out by the office"),
            (roll.left_out[:laid_later], "left for later by the calendar"),
            (roll.later, "due later"),
            (roll.given_up, "given up"),
            (roll.cancelled, "cancelled"),
            (roll.done, "done"),
        )
        if rows
    ]
    return f"Orders: {', '.join([due, *rest])}."


def row_line(day: Day, order: Order, text: str) -> str:
    """One order with its customer and what is said of it."""
    home = day.workbook.properties[order.property_id]
    return f"  {order.order_id} {home.customer}, {home.address} ({order.mix_id}): {text}"


def standing_lines(day: Day) -> list[str]:
    """The counts, and every order that is late, kept out or given up, by name."""
    roll = roll_of(day)
    lines = [count_line(roll)]
    aside = (*roll.on_hold, *roll.not_today)
    for title, rows in (
        ("Overdue:", [(order, overdue_text(order, days)) for order, days in roll.overdue_whole]),
        (
            "Not for today:",
            [
                (order, kept_out_text(order, row.reason, row.next_text, day.date))
                for order, row in aside
            ],
        ),
        ("Given up:", [(order, row.reason) for order, row in roll.given_up]),
    ):
        lines += section(title, (row_line(day, *row) for row in rows))
    return lines + [f"Note: {text}." for text in no_record_texts(day.no_record, day.date)]


def section(title: str, lines: Iterable[str]) -> list[str]:
    """The lines below their title and a blank line; nothing without any."""
    found = list(lines)
    return ["", title, *found] if found else []


def standing_json(day: Day) -> dict[str, object]:
    """The same for other programs."""
    roll = roll_of(day)
    return {
        "date": day.date.isoformat(),
        "counts": roll.counts,
        "overdue": [
            {"order_id": order.order_id, "days": days} for order, days in roll.overdue_whole
        ],
        "not_today": [
            {
                "order_id": order.order_id,
                "code": row.code,
                "reason": row.reason,
                "next_day": row.next_text,
            }
            for order, row in (*roll.on_hold, *roll.not_today)
        ],
        "given_up": [
            {"order_id": order.order_id, "code": row.code, "reason": row.reason}
            for order, row in roll.given_up
        ],
        "no_record": [asdict(row) | {"day": row.day.isoformat()} for row in day.no_record],
    }
