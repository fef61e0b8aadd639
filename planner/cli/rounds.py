"""`planner rounds`: where each property stands in its programs, and the orders that follow."""

from __future__ import annotations

import json
from collections import Counter, defaultdict
from collections.abc import Callable, Iterator, Sequence
from dataclasses import asdict
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

from planner.cli.common import (
    FileToWrite,
    force_option,
    json_option,
    parse_date,
    tell,
    told_plainly,
    workbook_argument,
)
from planner.problems import counted, few

if TYPE_CHECKING:
    from planner.day.day import Workbook
    from planner.rounds.orders import RoundOrders
    from planner.rounds.standing import RoundStanding

NAMES_SHOWN: Final = 12
IN_CSV: Final = " (--csv FILE has all)"
STATES: Final = ("done", "due", "behind", "later", "lost", "skipped", "cancelled")


@click.command("rounds")
@workbook_argument
@click.option("--date", "when", required=True, help="Day, as 2027-05-03.")
@click.option("--write", is_flag=True, help="Add the orders to the workbook's orders table.")
@click.option(
    "--ahead",
    type=click.IntRange(0, 365),
    help="Make orders of rounds that open within so many days [default: 21].",
)
@click.option(
    "--csv",
    "table",
    type=FileToWrite(),
    help="Write every round of every property into this file.",
)
@force_option
@json_option("every round")
def command(
    workbook: Path,
    when: str,
    write: bool,
    ahead: int | None,
    table: Path | None,
    force: bool,
    as_json: bool,
) -> None:
    """Say per program and property of WORKBOOK what is done, due, behind or lost.

    Reads the tables programs, property_programs and temperatures, and takes what was done from the
    records and the history table. Without --write nothing is changed; with it the orders are added
    to the orders table, each under a short name of its own (property.program.round.year), so that a
    second time adds none twice. What contradicts a round is named and left to the office.

    \b
    Example:
        planner rounds spring --date 2027-05-03
        planner rounds spring --date 2027-05-03 --write
    """
    day = parse_date(when)
    with told_plainly():
        from planner.chain import checked_workbook
        from planner.exports.text import csv_text
        from planner.office.new_order import write_orders
        from planner.outputs.file import write_file
        from planner.records.outcome import with_records
        from planner.rounds.orders import DAYS_AHEAD, round_orders
        from planner.rounds.standing import RoundStanding, round_standings

        book = checked_workbook(workbook)
        outcome = with_records(workbook, book, day)
        standings = round_standings(book, outcome.workbook, outcome.done, day)
        orders = round_orders(book, standings, day, DAYS_AHEAD if ahead is None else ahead)
        rows = orders.rows(book)
        if table is not None:
            tell(write_file(table, csv_text(RoundStanding, standings), force=force))
        if write and rows:
            write_orders(workbook, rows)
    if as_json:
        rounds = [asdict(one) for one in standings]
        said = [{"order_id": one.order_id, "conflict": why} for one, why in orders.conflicts]
        answer = {"rounds": rounds, "orders": rows, "conflicts": said, "written": write}
        click.echo(json.dumps(answer, indent=1, default=str))
        return
    if not standings:
        click.echo(
            "No property has a program: fill the tables programs and property_programs "
            "(`planner columns programs` explains them)."
        )
        return
    click.echo("\n".join(_report(book, standings, day)))
    click.echo("\n".join(_orders_said(book, orders, write)))


def _report(book: Workbook, standings: Sequence[RoundStanding], when: date) -> Iterator[str]:
    from planner.day.life import day_text
    from planner.rounds.standing import heat_lines

    by_program: dict[str, list[RoundStanding]] = defaultdict(list)
    for one in standings:
        by_program[one.program_id].append(one)
    yield f"Rounds on {day_text(when)}"
    for program_id, every in by_program.items():
        homes = {one.property_id for one in every}
        yield ""
        yield f"{program_id}: {counted(len(homes), 'property', 'properties')}"
        yield f"  {'round':<32}" + "".join(f"{state:>10}" for state in STATES)
        for key in dict.fromkeys((one.season, one.number, one.name) for one in every):
            season, number, name = key
            states = Counter(
                one.state.value for one in every if (one.season, one.number, one.name) == key
            )
            tail = f" ({season})" if season != when.year else ""
            label = f"{number} {name}"[: 31 - len(tail)] + tail
            yield f"  {label:<32}" + "".join(f"{states[state]:>10}" for state in STATES)
        yield from (f"  {text}" for text in heat_lines(book, program_id, homes, when))
        yield from _revenue(book, every)
        for state, words in _WORDS.items():
            some = [one for one in every if one.state.value == state and not one.waits]
            some.sort(key=lambda one: one.due_to or date.max)
            if some:
                yield f"  {state.capitalize()}, {counted(len(some), 'round')}:"
                alike: dict[str, list[str]] = defaultdict(list)
                for one in some:
                    alike[f"round {one.number}, {words(one)}"].append(_who(book, one))
                for what, who in list(alike.items())[:NAMES_SHOWN]:
                    count = f" ({len(who)})" if len(who) > 1 else ""
                    yield f"    {what}{count}: {few(who, NAMES_SHOWN, IN_CSV)}"
                if len(alike) > NAMES_SHOWN:
                    yield f"    and {len(alike) - NAMES_SHOWN} more reasons (--csv FILE has all)"
        if ahead := _ahead(every):
            yield f"  Ahead, nothing to do now: {few(ahead, NAMES_SHOWN, IN_CSV)}"


def _ahead(every: Sequence[RoundStanding]) -> list[str]:
    busy = {one.property_id for one in every if one.state.value in ("due", "behind")}
    return sorted({one.property_id for one in every if one.state.value == "later"} - busy)


def _who(book: Workbook, one: RoundStanding) -> str:
    return f"{one.property_id} {book.properties[one.property_id].customer}"


def _day(day: date | None) -> str:
    from planner.day.life import day_text

    return day_text(day) if day else "a day that nobody can tell yet"


def _behind(one: RoundStanding) -> str:
    text = f"was to be done by {_about(one.due_about)}{_day(one.due_to)}"
    lost = f", lost after {_about(one.last_about)}{_day(one.last_day)}" if one.last_day else ""
    return text + lost


def _due(one: RoundStanding) -> str:
    why = [f"opened about {_day(one.opens)}"] if one.about else []
    why += [one.reason] if one.reason else []
    until = _about(one.due_about and one.due_to is not None) + _day(one.due_to)
    return f"by {until}" + (f" ({'; '.join(why)})" if why else "")


def _about(estimated: bool) -> str:
    return "about " if estimated else ""


def _later(one: RoundStanding) -> str:
    about = _about(one.about and one.opens is not None)
    return f"opens {about}{_day(one.opens)}" + (f" ({one.reason})" if one.reason else "")


def _reason(one: RoundStanding) -> str:
    return one.reason or "no reason is given"


_WORDS: Final[dict[str, Callable[[RoundStanding], str]]] = {
    "behind": _behind,
    "lost": _reason,
    "due": _due,
    "later": _later,
    "skipped": _reason,
    "cancelled": _reason,
}


def _revenue(book: Workbook, every: Sequence[RoundStanding]) -> Iterator[str]:
    sums: Counter[str] = Counter()
    for one in every:
        if one.revenue is not None:
            kind = "still to come" if one.state.value in ("due", "behind", "later") else one.state
            sums[str(kind)] += one.revenue  # type: ignore[assignment]
    if sums:
        sign = book.settings.currency
        names = ("done", "still to come", "lost", "skipped", "cancelled")
        said = [f"{name} {sign}{sums[name]:,.0f}" for name in names if sums[name]]
        yield f"  Revenue: {', '.join(said)}."


def _orders_said(book: Workbook, orders: RoundOrders, written: bool) -> Iterator[str]:
    new, there = len(orders.new), len(orders.there)
    yield ""
    text = f"Orders: {new} {'added' if written else 'to add'}, {there} there already."
    yield text + (" --write adds them." if new and not written else "")
    for one, why in orders.conflicts:
        none = "" if one.order_id in book.orders else "no order; "
        yield f"  {_who(book, one)}, round {one.number}: {none}{why}"
