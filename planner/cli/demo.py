"""`planner demo`: the demo day planned from the data in the repository, or its season compared."""

import sys
from datetime import date
from pathlib import Path

import click
from click.core import ParameterSource

from planner.cli.common import ANY_PATH, SearchOptions, force_option, search_options

DEMO_DATE = date(2027, 4, 14)
REPOSITORY = Path(__file__).resolve().parents[2]
DEMO_WORKBOOK = REPOSITORY / "demo_data" / "spring_day"
DEMO_SEASON = REPOSITORY / "demo_data" / "season"
SEASON_FLEETS = ("present", "four-large", "six-small")
DAY_OUT, SEASON_OUT = Path("out/demo"), Path("out/season")


@click.command("demo")
@click.option(
    "--season",
    is_flag=True,
    help="Plan twenty days of the demo spring with three fleets and compare them.",
)
@click.option(
    "--out",
    type=ANY_PATH,
    help=f"Folder for the results [default: {DAY_OUT}, with --season {SEASON_OUT}].",
)
@search_options
@force_option
def command(season: bool, out: Path | None, search: SearchOptions, force: bool) -> None:
    """Plan the demo day: an invented company, town, fleet and customers.

    With --season: which trucks should that company buy? Some minutes of work; planner compare does
    it, with its own usual engine and effort where none is asked for.

    Held and unserved orders belong to the demo, so the exit code is 0 when the day is planned.

    \b
    Example:
        planner demo --out out/demo
        planner demo --season --out out/season
    """
    if not (DEMO_SEASON if season else DEMO_WORKBOOK).is_dir():
        raise click.UsageError(
            "the demo data is not beside the package; run this from a clone of the repository"
        )
    if season:
        if search.seconds is not None:
            raise click.UsageError(
                "fleets are compared with the same effort by count: give --effort, not --seconds"
            )
        if search.tuning is not None:
            raise click.UsageError("fleets are compared with the usual tuning: leave --tuning out")
        sys.exit(_compare_season(out or SEASON_OUT, search, force))
    from planner.cli.planning import PlanRequest, run_plan

    asked = PlanRequest(DEMO_WORKBOOK, out or DAY_OUT, search.read(), force=force)
    code = run_plan(asked, DEMO_DATE)
    sys.exit(0 if code == 3 else code)


def _compare_season(out: Path, search: SearchOptions, force: bool) -> int:
    from planner.cli.comparing import ComparisonRequest, run_compare

    # A comparison has its own usual engine.
    source = click.get_current_context().get_parameter_source("engine")
    asked = ComparisonRequest(
        workbook=str(DEMO_SEASON),
        first=None,
        last=None,
        fleets=tuple((name, str(DEMO_SEASON / "fleets" / name)) for name in SEASON_FLEETS),
        sweeps=(),
        source=None,
        engine=None if source is ParameterSource.DEFAULT else search.engine,
        effort=search.effort,
        seed=search.seed,
        seeds=None,
        sample=None,
        extract=None,
    )
    return run_compare(asked, out, None, None, force)
