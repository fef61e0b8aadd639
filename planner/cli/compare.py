"""`planner compare`: fleets side by side on the same days."""

import sys
from pathlib import Path

import click

from planner.cli.common import (
    ANY_PATH,
    engine_option,
    force_option,
    parse_date,
    road_option,
    workbook_argument,
)


@click.command("compare")
@workbook_argument
@click.option("--from", "first", help="First day, as 2027-04-01 [default: the first there is].")
@click.option("--to", "last", help="Last day, as 2027-04-30 [default: the last there is].")
@click.option(
    "--fleet",
    "fleets",
    multiple=True,
    metavar="NAME=FOLDER",
    help="A fleet: folder with trucks.csv, lines.csv, compartments.csv and perhaps fleet.toml. "
    "May be given several times.",
)
@click.option(
    "--sweep",
    "sweeps",
    multiple=True,
    metavar="WHAT",
    help="Fleets made of the present one: trucks=3..7, compartments=1..3 or gallons=80%,120%.",
)
@click.option(
    "--source",
    type=click.Choice(["orders", "records", "calendar"]),
    help="Days from the orders' dates, as they were recorded, or by a calendar laid for each fleet "
    "over the days of `planner weeks` [default: orders].",
)
@click.option("--out", type=ANY_PATH, required=True, help="Folder to write.")
@engine_option(help="Engine of every plan [default: search].")
@click.option(
    "--effort", type=click.IntRange(min=1), help="Effort of every plan, by count [default: 40]."
)
@click.option("--seed", type=int, help="Random seed of every plan [default: 1].")
@click.option(
    "--seeds",
    type=click.IntRange(1, 20),
    help="Seeds that sampled days are planned with, for the planner's own spread [default: 3].",
)
@click.option(
    "--sample", type=click.IntRange(1, 250), help="Days that are sampled for it [default: 3]."
)
@click.option(
    "--jobs",
    type=click.IntRange(min=1),
    help="Days planned at the same time, a core each [default: all cores].",
)
@click.option("--cluster", metavar="ADDRESS", help="Plan on the Dask cluster of this scheduler.")
@click.option(
    "--resume", is_flag=True, help="Go on with the interrupted comparison into the same --out."
)
@force_option
@road_option
def command(
    workbook: Path,
    out: Path,
    resume: bool,
    jobs: int | None,
    cluster: str | None,
    force: bool,
    **asked: object,
) -> None:
    """Plan every day of WORKBOOK with its own trucks and with other fleets, each day with the same
    effort, and show what each fleet costs, does and cannot do.

    Writes a page, CSV files and comparison.json into one folder. Days that are planned already are
    not planned again: add a fleet, and only its days are. Ctrl-C keeps what is done.

    \b
    Example:
        planner compare spring --from 2027-04-01 --to 2027-04-30 --fleet large=large --out april
        planner compare spring --sweep trucks=3..5 --out how-many
        planner compare spring --out how-many --resume
    """
    from planner.cli.comparing import ComparisonRequest, asked_before, run_compare

    if resume:
        if any(value for value in asked.values()):
            raise click.UsageError(
                "--resume goes on with what was asked for; give only WORKBOOK, --out, --jobs and "
                "--cluster with it"
            )
        wanted = asked_before(workbook, out)
    else:
        first, last = asked.pop("first"), asked.pop("last")
        for day in (first, last):
            if day is not None:
                parse_date(str(day))
        wanted = ComparisonRequest.of(workbook, first, last, asked)
    sys.exit(run_compare(wanted, out, jobs, cluster, force))
