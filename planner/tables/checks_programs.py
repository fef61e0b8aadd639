"""Checks of programs and of who has them."""

from __future__ import annotations

from collections.abc import Iterator

from planner.problems import Problem
from planner.tables.rows import Tables

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
