"""`planner plan`: tomorrow's plan from a workbook."""

from __future__ import annotations

import sys
from datetime import date, timedelta
from pathlib import Path

import click

from planner.cli.common import parse_date, road_option, search_options, workbook_argument


@click.command("plan", short_help="Plan a day: plan.json, packets, pick list and map.")
@workbook_argument
@click.option("--date", "when", help="Day to plan, as 2027-04-14 [default: tomorrow].")
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    help="Folder for the results [default: planned-DATE].",
)
@road_option
@search_options
@click.option("--json", "as_json", is_flag=True, help="Print the summary as JSON.")
def command(
    workbook: Path,
    when: str | None,
    out: Path | None,
    extract: Path | None,
    engine: str,
    effort: int | None,
    seconds: float | None,
    seed: int,
    as_json: bool,
) -> None:
    """Plan one day of WORKBOOK (a folder of CSV files or an .xlsx file).

    Writes plan.json, a packet per truck, the store's pick list, the day page and a map into one
    folder, then prints a summary. Exit code 3 means: planned, but orders are held or unserved.

    \b
    Example:
        planner plan spring --date 2027-04-14 --out wednesday
    """
    from planner.cli.planning import effort_from, run_plan

    day = parse_date(when) if when else date.today() + timedelta(days=1)
    folder = out or Path(f"planned-{day.isoformat()}")
    sys.exit(
        run_plan(
            workbook, day, folder, extract, engine, effort_from(effort, seconds), seed, as_json
        )
    )
