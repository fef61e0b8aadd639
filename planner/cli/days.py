"""`planner days`: each date's plan of record, its papers, what is recorded and what is open."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from planner.cli.common import (
    FileToWrite,
    json_option,
    parse_date,
    road_option,
    tell,
    told_plainly,
    workbook_argument,
)
from planner.day.parts import whole_ids
from planner.problems import counted, few

if TYPE_CHECKING:
    from planner.records.plans import DayOfRecord, KeptPlan

DAYS_SHOWN = 10
NAMES_SHOWN = 12


@click.command("days")
@workbook_argument
@click.option("--date", "when", help="Only this day, as 2027-05-03.")
@click.option("--all", "every", is_flag=True, help=f"All days, not only the last {DAYS_SHOWN}.")
@click.option(
    "--use",
    metavar="FOLDER_OR_PLAN",
    help="Make this the plan of record of its date: a folder, a plan.json, or the checksum of a "
    "plan that was printed.",
)
@click.option(
    "--save",
    type=FileToWrite(),
    help="Write the plan of record of --date into this file, as the records keep it.",
)
@road_option
@json_option("the days")
def command(
    workbook: Path,
    when: str | None,
    every: bool,
    use: str | None,
    save: Path | None,
    extract: Path | None,
    as_json: bool,
) -> None:
    """List the days of WORKBOOK with their plans: which one is valid and where its papers lie.

    A day has as many drafts as the office likes and one plan of record: the one that was printed
    last (`planner plan` and `planner packet` print, unless --draft is given), or the one that --use
    names. Only that one is recorded.

    \b
    Example:
        planner days spring
        planner days spring --use monday-b
        planner days spring --date 2027-05-03 --save monday.json
    """
    wanted = parse_date(when).isoformat() if when else ""
    if save is not None and not wanted:
        raise click.UsageError("--save needs --date")
    with told_plainly():
        from planner.outputs.file import write_file
        from planner.records.plans import plan_of_record, plans_of_record, text_of

        if use is not None:
            from planner.day_files import user_name
            from planner.recording import use_plan

            kept = use_plan(workbook, use, user_name(), extract)
            click.echo(f"Plan of record of {kept.date}: plan {kept.mark}.")
            return
        if save is not None:
            plan = plan_of_record(workbook, wanted)
            if plan is None:
                raise click.UsageError(f"{wanted} has no plan of record")
            made = tell(write_file(save, text_of(workbook, plan)))
            click.echo(f"{made.path}: plan {plan.mark} of {wanted}.")
            return
        found = plans_of_record(workbook, wanted, f"{wanted}~" if wanted else "9999")
    days = list(found.values())
    if as_json:
        click.echo(json.dumps([asdict(day) for day in days], indent=1))
        return
    if not days:
        click.echo(f"No plan{f' of {wanted}' if wanted else ''} was printed or recorded yet.")
    earlier = [] if every else days[:-DAYS_SHOWN]
    for line in _earlier(earlier):
        click.echo(line)
    for day in days[len(earlier) :]:
        click.echo("\n".join(_lines(workbook, day)))


def _earlier(days: list[DayOfRecord]) -> list[str]:
    if not days:
        return []
    unfinished = [
        f"{day.date} ({counted(len(whole_ids({}, day.open_orders)), 'order')})"
        for day in days
        if day.open_orders
    ]
    lines = [f"{len(days)} earlier days; --all lists them."]
    if unfinished:
        lines.append(f"Not recorded of them: {few(unfinished, NAMES_SHOWN)}.")
    return [*lines, ""]


def _lines(workbook: Path, day: DayOfRecord) -> list[str]:
    lines = [f"{date.fromisoformat(day.date):%A} {day.date}"]
    plan = day.of_record
    if plan is None:
        lines.append(f"  plan      {day.checksum or 'unknown'}, printed before prints were kept")
    else:
        lines.append(f"  plan      {_plan(plan)}")
        lines.append(f"  papers    {_papers(workbook, plan)}")
        if plan.broken:
            lines.append(f"  breaks    {', '.join(plan.broken)}")
    some = day.sprayed + day.skipped
    told = f"{day.sprayed} sprayed, {day.skipped} skipped" if some else "nothing"
    lines.append(f"  recorded  {told}")
    if day.open_orders or day.open_fills:
        lines.append(f"  open      {_open(day)}")
    if day.unsaid:
        lines.append(f"  unsaid    {unsaid_text(day.unsaid)}")
    waiting = ticks_waiting(workbook, day.date) if plan is not None else 0
    if waiting:
        rows = counted(waiting, "row")
        lines.append(
            f"  waiting   {rows} written on a phone and not whole; `planner serve`, Records"
        )
    others = {one.sha256: one for one in day.plans if plan is None or one.sha256 != plan.sha256}
    for other in others.values():
        folder = f", {_short(other.folder)}" if other.folder else ""
        lines.append(f"  not valid {other.mark}{folder}")
    return [*lines, ""]


def unsaid_text(unsaid: Mapping[str, Sequence[str]]) -> str:
    """What was asked around orders and nobody stated, with the orders."""
    from planner.records.told import UNSAID

    return "; ".join(
        f"{UNSAID[name]} ({few(list(some), NAMES_SHOWN)})" for name, some in unsaid.items()
    )


def ticks_waiting(workbook: Path, date: str) -> int:
    """Rows of a date that a crew wrote on its phone and that are no record yet, because they lack
    something. Tables that cannot be read show in `planner check`, not here."""
    from planner.phone_day import PhoneDay
    from planner.problems import PlannerError
    from planner.records.current import TICKED
    from planner.records.outcome import store_path
    from planner.records.store import Store

    with Store(store_path(workbook)) as store:
        if not store.events(date, f"{date}~", (TICKED,)):
            return 0
    try:
        return sum(bool(row.lacking) for row in PhoneDay(workbook, date).sheet())
    except PlannerError:
        return 0


def _open(day: DayOfRecord) -> str:
    orders = counted(len(whole_ids({}, day.open_orders)), "order")
    fills = counted(len(day.open_fills), "fill")
    if day.open_orders and day.open_orders == day.orders:
        orders = f"all {orders}"
    elif day.open_orders:
        orders += f" ({few(day.open_orders, NAMES_SHOWN)})"
    return " and ".join(
        text for text, names in ((orders, day.open_orders), (fills, day.open_fills)) if names
    )


def _plan(plan: KeptPlan) -> str:
    again = ", planned again" if plan.again else ""
    how = "printed" if plan.number is not None else "named"
    at = datetime.fromisoformat(plan.at).astimezone()
    orders = whole_ids({}, plan.orders)
    return (
        f"{plan.mark}: {counted(len(orders), 'order')}, {counted(plan.trucks_out, 'truck')}, "
        f"{plan.engine}{again}; "
        f"{how} {at:%Y-%m-%d %H:%M} by {plan.by}"
    )


def _papers(workbook: Path, plan: KeptPlan) -> str:
    from planner.records.plans import papers_of

    folder = papers_of(workbook, plan)
    if folder is not None:
        return _short(str(folder))
    was = f"{_short(plan.folder)} holds them no longer; " if plan.folder else "none; "
    return f"{was}--date {plan.date} --save FILE writes the plan, `planner packet` its papers"


def _short(folder: str) -> str:
    from planner.recording import shown

    return str(shown(Path(folder)))
