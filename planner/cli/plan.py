"""`planner plan`: tomorrow's plan from a workbook, or the rest of a running day."""

import functools
import sys
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import Any, TypeVar

import click

from planner.cli.common import (
    AGAIN_EFFORT_COUNT,
    ANY_PATH,
    PlanPath,
    SearchOptions,
    force_option,
    json_option,
    parse_date,
    road_option,
    search_options,
    workbook_argument,
)
from planner.cli.packet import draft_option

Command = TypeVar("Command", bound=Callable[..., Any])


@dataclass(frozen=True)
class AgainOptions:
    """What was written. earlier: plan.json of the day; the other fields: the options."""

    earlier: Path
    at: str | None
    done: tuple[str, ...]
    opened: tuple[str, ...]
    skip: tuple[str, ...]
    add: tuple[str, ...]
    truck: tuple[str, ...]
    filled: bool


def again_options(command: Command) -> Command:
    """--again and what goes with it, as one AgainOptions or None. Raises click.UsageError when one
    of them stands without --again, or --at is missing."""

    @functools.wraps(command)
    def with_options(*args: Any, **rest: Any) -> Any:
        written = {name: rest.pop(name) for name in _NAMES}
        earlier = written.pop("earlier")
        if earlier is None:
            if any(written.values()):
                raise click.UsageError("these options need --again PLAN.json")
            return command(*args, **rest, again=None)
        if not written["at"]:
            raise click.UsageError("--again needs --at, the time from which to plan")
        return command(*args, **rest, again=AgainOptions(earlier, **written))

    for option in reversed(_OPTIONS):
        with_options = option(with_options)
    return with_options  # type: ignore[return-value]


_NAMES = ("earlier", "at", "done", "opened", "skip", "add", "truck", "filled")

_OPTIONS = (
    click.option(
        "--again",
        "earlier",
        type=PlanPath(),
        help="Plan the running day of this plan.json again; what is done stays. [default effort: "
        f"{AGAIN_EFFORT_COUNT}]",
    ),
    click.option("--at", help="Time of day from which it is planned again, as 11:40 or 1:10 PM."),
    click.option(
        "--done",
        multiple=True,
        metavar="ORDERS",
        help="Orders that are done although their truck has not set out for them by the plan.",
    ),
    click.option(
        "--open",
        "opened",
        multiple=True,
        metavar="ORDERS",
        help="Orders that are not done although their truck has set out for them by the plan.",
    ),
    click.option(
        "--skip", multiple=True, metavar="ORDERS", help="Orders to leave out for the day."
    ),
    click.option("--add", multiple=True, metavar="ORDERS", help="Orders of other days to take in."),
    click.option(
        "--truck",
        multiple=True,
        metavar="TRUCK=STATE",
        help="T3=down: does nothing more; T2=12:10: goes on from then.",
    ),
    click.option(
        "--filled",
        is_flag=True,
        help="Trucks that have not left stand filled as planned; they keep their load.",
    ),
)


@click.command("plan")
@workbook_argument
@click.option("--date", "when", help="Day to plan, as 2027-04-14 [default: tomorrow].")
@click.option("--out", type=ANY_PATH, help="Folder for the results [default: planned-DATE].")
@click.option(
    "--keep",
    type=PlanPath(),
    help="Stay near to this plan.json, of any date: its properties and their near neighbors keep "
    "its trucks where that costs little (settings keep_price), its pinned orders always.",
)
@again_options
@road_option
@search_options
@force_option
@click.option(
    "--calendar/--no-calendar",
    default=None,
    help="Only this day's share of the calendar that `planner weeks` wrote, its trucks kept where "
    "that costs little (settings keep_price) [default: where there is one for the day]. Without it "
    "trucks that it keeps home may go out, too.",
)
@draft_option
@json_option("the summary")
def command(
    workbook: Path,
    when: str | None,
    out: Path | None,
    keep: Path | None,
    again: AgainOptions | None,
    extract: Path | None,
    search: SearchOptions,
    force: bool,
    calendar: bool | None,
    draft: bool,
    as_json: bool,
) -> None:
    """Plan one day of WORKBOOK (a folder of CSV files or an .xlsx file).

    Writes plan.json, a packet per truck, the store's pick list, the day page and a map into one
    folder, then prints a summary. Exit code 3 means: planned, but orders are held or unserved. An
    earlier folder in which anything was filled in or changed is kept under a numbered name.

    The plan that is printed last is its day's plan of record (`planner days`); with --draft it is
    not.

    With --again a running day is planned again from --at on: what the trucks have set out for by
    then counts as done and stays, and so does what is in their compartments. The tables count as
    they are now (new weather, new orders). Needs --out: a folder of its own.

    \b
    Example:
        planner plan spring --date 2027-04-14 --out wednesday
        planner plan spring --date 2027-04-15 --keep wednesday/plan.json
        planner plan spring --again wednesday/plan.json --at 11:40 --truck T3=down --out noon
    """
    from planner.cli.planning import PlanRequest, run_again, run_plan

    if again is not None:
        if out is None or keep is not None:
            raise click.UsageError("--again needs --out, and goes without --keep")
        if calendar is not None:
            raise click.UsageError("--again goes without --calendar and --no-calendar")
        wanted = parse_date(when) if when else None
        options = search.read(AGAIN_EFFORT_COUNT)
        asked = PlanRequest(workbook, out, options, extract, as_json, force, draft)
        sys.exit(run_again(asked, wanted, again))
    day = parse_date(when) if when else date.today() + timedelta(days=1)
    folder = out or Path(f"planned-{day.isoformat()}")
    asked = PlanRequest(workbook, folder, search.read(), extract, as_json, force, draft)
    sys.exit(run_plan(asked, day, keep, calendar))
