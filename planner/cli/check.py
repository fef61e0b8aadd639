"""`planner check`: everything that is wrong in a workbook."""

from __future__ import annotations

import json
import sys
from collections import Counter
from collections.abc import Iterator
from dataclasses import asdict
from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

import click

from planner.cli.common import json_option, parse_date, told_plainly, workbook_argument
from planner.day.life import day_text
from planner.problems import Problems, counted

if TYPE_CHECKING:
    from planner.day.day import Day, Workbook


@click.command("check")
@workbook_argument
@click.option("--date", "when", help="Day on which orders are looked at [default: tomorrow].")
@json_option("problems and summary")
def command(workbook: Path, when: str | None, as_json: bool) -> None:
    """Check WORKBOOK (a folder of CSV files or an .xlsx file) and name every problem with its
    file, row, column, what was found and the cure.

    Where planner.toml names a road extract, every place is also laid on its roads: places outside
    it or out of a truck's reach are problems, places far from any road are notes.

    Exit code 0 means that there is none, and a paragraph says what was read; 1 that there are
    some. Then come the orders as they stand on a day: due, overdue, on hold, given up, done.

    \b
    Example:
        planner check spring
        planner check spring --date 2027-05-03
    """
    from planner.chain import check_with_roads, day_in
    from planner.cli.order_lines import standing_json, standing_lines

    day = parse_date(when) if when else date.today() + timedelta(days=1)
    reading, notes = check_with_roads(workbook)
    standing = None
    if reading.workbook is not None and not reading.problems:
        with told_plainly():
            standing = day_in(workbook, reading.workbook, day)
        notes = (*notes, *_idle(standing))
    problems = Problems()
    problems.extend(reading.problems)
    if as_json:
        summary = counts(reading.workbook) if reading.workbook else None
        click.echo(
            json.dumps(
                {
                    "problems": [asdict(item) for item in problems],
                    "notes": list(notes),
                    "read": summary,
                    "orders": standing_json(standing) if standing is not None else None,
                },
                indent=1,
            )
        )
    elif len(problems):
        for line in problems.lines():
            click.echo(line)
        click.echo(f"{counted(len(problems), 'problem')} in {workbook}.")
    elif reading.workbook is not None:
        click.echo(summary_text(workbook.absolute().name, reading.workbook))
    if standing is not None and not as_json:
        click.echo(f"As of {day_text(day)}. " + "\n".join(standing_lines(standing)))
    if not as_json:
        for note in notes:
            click.echo(f"Note: {note}")
    sys.exit(1 if len(problems) else 0)


def _idle(day: Day) -> Iterator[str]:
    """That no truck goes out, on any day or on this one."""
    if not day.workbook.trucks and not day.barred:
        yield "no truck is in service, so no day can be planned; see in_service in the table trucks"
    elif not day.workbook.trucks:
        reasons = "; ".join(dict.fromkeys(day.barred.values()))
        yield f"no truck may go out on {day_text(day.date)}: {reasons}"


def counts(book: Workbook) -> dict[str, object]:
    """What a workbook holds, for other programs."""
    tanks = [tank for truck in book.trucks.values() for tank in truck.compartments]
    days = [day for order in book.orders.values() for day in (order.due_from, order.due_to)]
    return {
        "sites": len(book.sites),
        "trucks": len(book.trucks),
        "compartments": len(tanks),
        "capacity_gal": sum(tank.capacity_gal for tank in tanks),
        "products": len(book.products),
        "mixes": len(book.mixes),
        "properties": len(book.properties),
        "lawn_ft2": sum(home.lawn_ft2 for home in book.properties.values()),
        "orders": len(book.orders),
        "first_day": min(days).isoformat() if days else None,
        "last_day": max(days).isoformat() if days else None,
        "weather_hours": len(book.weather),
        "past_applications": len(book.history),
        "workbook_sha256": book.sha256,
    }


def summary_text(name: str, book: Workbook) -> str:
    """What a workbook holds, as a paragraph for people."""
    kinds = Counter(site.kind.value for site in book.sites.values())
    tanks = [tank for truck in book.trucks.values() for tank in truck.compartments]
    capacity_gal = sum(tank.capacity_gal for tank in tanks)
    homes = counted(len(book.properties), "property", "properties")
    lawn_ft2 = sum(home.lawn_ft2 for home in book.properties.values())
    days = [day for order in book.orders.values() for day in (order.due_from, order.due_to)]
    spans = f", due {min(days)} to {max(days)}" if days else ""
    sites = " and ".join(counted(number, kind) for kind, number in sorted(kinds.items()))
    weather = counted(len(book.weather), "hour") + " of weather" if book.weather else "no weather"
    return (
        f"No problems in {name}: {sites}; {counted(len(book.trucks), 'truck')} in service with "
        f"{counted(len(tanks), 'compartment')} ({capacity_gal:,.0f} gal); "
        f"{counted(len(book.products), 'product')} in {counted(len(book.mixes), 'mix', 'mixes')}; "
        f"{homes} ({lawn_ft2:,.0f} sq ft of lawn); "
        f"{counted(len(book.orders), 'order')}{spans}; {weather}; "
        f"{counted(len(book.history), 'past application')}."
    )
