"""`planner demo`: the demo day, planned from the data in the repository."""

from __future__ import annotations

import sys
from datetime import date
from pathlib import Path

import click

from planner.cli.common import search_options

DEMO_DATE = date(2027, 4, 14)
REPOSITORY = Path(__file__).resolve().parents[2]
DEMO_WORKBOOK = REPOSITORY / "demo_data" / "spring_day"


@click.command("demo", short_help="Plan the invented demo day.")
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    default=Path("out/demo"),
    show_default=True,
    help="Folder for the results.",
)
@search_options
def command(out: Path, engine: str, effort: int | None, seconds: float | None, seed: int) -> None:
    """Plan the demo day: an invented company, town, fleet and customers.

    Held and unserved orders belong to the demo, so the exit code is 0 when the day is planned.

    \b
    Example:
        planner demo --out out/demo
    """
    from planner.cli.planning import effort_from, run_plan

    if not DEMO_WORKBOOK.is_dir():
        raise click.UsageError(
            "the demo data is not beside the package; run this from a clone of the repository"
        )
    code = run_plan(
        DEMO_WORKBOOK, DEMO_DATE, out, None, engine, effort_from(effort, seconds), seed, False
    )
    sys.exit(0 if code == 3 else code)
