"""`planner record`: what was really done, into the records; their check and their backup."""

from __future__ import annotations

import sys
from collections import Counter
from pathlib import Path
from typing import TYPE_CHECKING

import click

from planner.cli.common import (
    ANY_PATH,
    FileToWrite,
    FiniteRange,
    force_option,
    parse_date,
    road_option,
    tell,
    there,
    told_plainly,
    workbook_argument,
)

if TYPE_CHECKING:
    from planner.recording import Recorded

OPEN_SHOWN = 12
"""So many things without a record are named; the rest is counted."""


@click.command("record")
@workbook_argument
@click.argument("plan_file", required=False, type=ANY_PATH)
@click.argument("actuals", required=False, type=ANY_PATH)
@click.option("--date", "when", help="Record the plan of record of this day, without a PLAN_FILE.")
@click.option("--as-planned", is_flag=True, help="What the sheet leaves blank went as planned.")
@click.option("--wind", type=FiniteRange(0, 150), help="Wind of the day in mph.")
@click.option("--wind-from", help="Where it came from: N, NNE ... NNW, or calm.")
@click.option("--temperature", type=FiniteRange(-40, 140), help="Air temperature in F.")
@click.option(
    "--signs",
    type=click.Choice(["yes", "no"]),
    help="Whether all signs that were asked for were put up, where the sheet does not say.",
)
@click.option(
    "--notices",
    type=click.Choice(["yes", "no"]),
    help="Whether all notices of properties were given, where the sheet does not say.",
)
@click.option("--correct", is_flag=True, help="The sheet's rows correct what is recorded.")
@click.option(
    "--superseded",
    is_flag=True,
    help="Record PLAN_FILE although another plan is the plan of record of its date.",
)
@click.option("--why", default="", help="Why; needed with --correct and --superseded.")
@click.option("--by", help="Who records [default: the user of this machine].")
@road_option
@click.option(
    "--calls",
    "call_list",
    type=ANY_PATH,
    help="Record the attempts of a filled-in call list; with --date, and without a sheet.",
)
@click.option("--verify", is_flag=True, help="Look for damage in the records; records nothing.")
@click.option(
    "--repair", is_flag=True, help="Correct figures that are no number, and say which they were."
)
@click.option(
    "--backup",
    type=FileToWrite(records=True),
    help="Write a verified copy of the records, also while others record.",
)
@force_option
def command(
    workbook: Path,
    plan_file: Path | None,
    actuals: Path | None,
    when: str | None,
    as_planned: bool,
    wind: float | None,
    wind_from: str | None,
    temperature: float | None,
    signs: str | None,
    notices: str | None,
    correct: bool,
    superseded: bool,
    why: str,
    by: str | None,
    extract: Path | None,
    call_list: Path | None,
    verify: bool,
    repair: bool,
    backup: Path | None,
    force: bool,
) -> None:
    """Record the day of PLAN_FILE from its filled-in ACTUALS sheet (CSV or .xlsx).

    The sheet is written as actuals.csv beside every plan. Blank rows stay open and can be
    recorded later; --as-planned takes them as planned, but claims no sign, notice or call that
    nobody stated. If anything is wrong, all errors are listed and nothing is saved. A correction
    is added; what was recorded before stays readable. The records are in records.sqlite beside the
    tables of the WORKBOOK.

    Only the plan of record of a date is recorded (`planner days` shows which it is); --date takes
    it without a PLAN_FILE.

    \b
    Example:
        planner record spring monday/plan.json monday/actuals.csv
        planner record spring --date 2027-05-03 monday/actuals.csv
        planner record spring monday/plan.json --as-planned --wind 4 --wind-from SW --temperature 61
        planner record spring monday/plan.json fixed.csv --correct --why "meter read wrongly"
        planner record spring --date 2027-05-03 --calls monday/calls.csv
        planner record spring --verify --backup records-copy.sqlite
    """
    date = parse_date(when).isoformat() if when else ""
    if date:
        if actuals is not None:
            raise click.UsageError("--date goes without a PLAN_FILE")
        plan_file, actuals = None, plan_file
    with told_plainly():
        if call_list is not None:
            if not date or plan_file is not None or actuals is not None or as_planned:
                raise click.UsageError("--calls goes with --date alone")
            from planner.day_files import user_name
            from planner.recording import record_calls

            click.echo(record_calls(workbook, call_list, date, by or user_name()))
            return
        if plan_file is None and not date:
            if not (verify or repair or backup is not None):
                raise click.UsageError(
                    "name a PLAN_FILE or --date, or ask for --verify, --repair or --backup"
                )
            _look_after(workbook, verify, repair, backup, force, by)
            return
        if verify or repair or backup is not None:
            raise click.UsageError("--verify, --repair and --backup go without a plan")
        if actuals is None and not as_planned:
            raise click.UsageError("name the ACTUALS sheet, or say --as-planned")
        if (correct or superseded) != bool(why.strip()):
            raise click.UsageError("--correct and --superseded need --why, and --why one of them")
        if correct and as_planned:
            raise click.UsageError("a correction says what it corrects; leave --as-planned out")
        if superseded and plan_file is None:
            raise click.UsageError("--superseded needs a PLAN_FILE")
        from planner.day_files import user_name
        from planner.recording import papers_of_date, plan_file_in, record_day
        from planner.records.entries import Conditions, Manner

        if plan_file is not None:
            plan_file = there(plan_file_in(plan_file), None, "PLAN_FILE")
        if actuals is not None:
            folder = plan_file.parent if plan_file is not None else papers_of_date(workbook, date)
            actuals = there(actuals, folder, "ACTUALS")
        done = record_day(
            workbook,
            plan_file,
            actuals,
            Manner(
                as_planned,
                correct,
                Conditions(wind, _compass(wind_from), temperature),
                sign=_said(signs),
                notice=_said(notices),
            ),
            recorded_by=by or user_name(),
            why=why.strip(),
            date=date,
            superseded=superseded,
            extract=extract,
        )
    for line in told(done):
        click.echo(line)
    if not done.events:
        sys.exit(1)


def told(done: Recorded) -> list[str]:
    """What was recorded and what is still open, in words."""
    counts = Counter(event.kind for event in done.events if event.kind != "planned")
    if not done.events:
        lines = ["Everything in the sheet is recorded already; nothing was recorded."]
    else:
        parts = ", ".join(f"{number} {kind}" for kind, number in counts.items())
        last = done.events[-1]
        lines = [f"Recorded for {done.date}: {parts} (up to record {last.seq})."]
    lines += done.notes
    if done.still_open:
        shown = done.still_open[:OPEN_SHOWN]
        rest = len(done.still_open) - len(shown)
        more = f", and {rest} more" if rest else ""
        lines.append(f"Still open: {'; '.join(shown)}{more}.")
    if done.unsaid:
        from planner.cli.days import unsaid_text

        lines.append(f"Nobody stated {unsaid_text(done.unsaid)}.")
    return lines


def _said(text: str | None) -> bool | None:
    return None if text is None else text == "yes"


def _compass(text: str | None) -> str | None:
    if text is None:
        return None
    from planner.records.sheet import WIND_FROM

    known = {point.casefold(): point for point in WIND_FROM.split("|")}
    if text.casefold() not in known:
        raise click.BadParameter(f"'{text}' is none of {', '.join(known.values())}")
    return known[text.casefold()]


def _look_after(
    workbook: Path, verify: bool, repair: bool, backup: Path | None, force: bool, by: str | None
) -> None:
    from planner.day_files import user_name
    from planner.recording import repaired
    from planner.records.outcome import store_path
    from planner.records.store import Store

    if repair:
        lines = repaired(workbook, by or user_name())
        click.echo("\n".join(lines) or "Every figure in the records is a number.")
    with Store(store_path(workbook)) as store:
        if verify:
            damage = store.damage()
            odd = [
                f"record {event.seq} ({event.subject}): {', '.join(places)} is no number; "
                "--repair adds a correction"
                for event, places in store.no_numbers()
            ]
            for text in (*damage, *odd):
                click.echo(f"{store.path}: {text}", err=True)
            if damage:
                click.echo("The records are damaged. Keep the file, use a backup.", err=True)
            if damage or odd:
                sys.exit(1)
            click.echo(f"{store.path}: {store.count()} records, no damage.")
        if backup is not None:
            count, made = store.backup(backup, force)
            click.echo(f"{tell(made).path}: {count} records, copied and verified.")
