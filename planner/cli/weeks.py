"""`planner weeks`: which order on which day and truck of the next weeks."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator, Sequence
from dataclasses import asdict, replace
from datetime import date
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn

import click

from planner.cli.common import (
    ANY_PATH,
    DEFAULT_EFFORT_COUNT,
    FiniteRange,
    ProgressLine,
    SearchOptions,
    deliver,
    force_option,
    json_option,
    parse_date,
    road_option,
    search_options,
    told_plainly,
    workbook_argument,
)
from planner.day.life import day_text
from planner.deadline import INTERRUPTED
from planner.problems import counted

if TYPE_CHECKING:
    from planner.day.day import Workbook
    from planner.routing.problem import SolveOptions
    from planner.weeks.lay import Horizon
    from planner.weeks.model import Calendar
    from planner.weeks.standing import LaidWeeks

DAYS = 10
MOST_SECONDS = 90.0
"""That laying the days takes by the clock, if nothing else is asked for."""
ANSWER_EFFORT_COUNT, ANSWER_MOST_SECONDS = 20, 6.0
"""For 'if Wednesday is wet', on the standing calendar."""
ENDING = "ending with the best so far"


@click.command("weeks")
@workbook_argument
@click.option("--from", "first", help="First day, as 2027-04-14 [default: tomorrow].")
@click.option(
    "--days",
    type=click.IntRange(1, 30),
    default=DAYS,
    show_default=True,
    help="Working days to lay orders on.",
)
@click.option(
    "--rain",
    type=FiniteRange(0, 90),
    help="Percent of the days beyond the forecast that are lost to weather [default: table "
    "climate, else 20].",
)
@click.option(
    "--tell",
    "tell",
    multiple=True,
    metavar="DATE",
    help="The customers of this day of the calendar have been told: another day for them costs "
    "settings told_price from now on. May be given several times.",
)
@click.option(
    "--wet",
    multiple=True,
    metavar="DATE",
    help="What if this day is lost? Says what moves where; the calendar stays as it is.",
)
@click.option(
    "--without",
    multiple=True,
    metavar="TRUCK@DATE",
    help="What if this truck stays home on this day? As --wet.",
)
@click.option(
    "--write", is_flag=True, help="With --wet or --without: make the answer the calendar."
)
@click.option("--fresh", is_flag=True, help="Begin anew, with no more than customers were told.")
@click.option(
    "--out",
    "folder",
    type=ANY_PATH,
    help="Write a page to look at and print into this folder (weeks.html), with call-list.csv, "
    "weeks.csv and weeks.ics.",
)
@click.option(
    "--show", is_flag=True, help="Only write --out, of the calendar that stands; lay nothing anew."
)
@click.option(
    "--branches",
    is_flag=True,
    help="Several yards: lay each yard's trucks and nearest lawns by themselves, all at once.",
)
@click.option(
    "--cluster", metavar="ADDRESS", help="With --branches: on the Dask cluster of this scheduler."
)
@force_option
@road_option
@search_options
@json_option("the calendar")
def command(
    workbook: Path,
    first: str | None,
    days: int,
    rain: float | None,
    tell: tuple[str, ...],
    wet: tuple[str, ...],
    without: tuple[str, ...],
    write: bool,
    fresh: bool,
    folder: Path | None,
    show: bool,
    branches: bool,
    cluster: str | None,
    force: bool,
    extract: Path | None,
    search: SearchOptions,
    as_json: bool,
) -> None:
    """Lay every open order of WORKBOOK on a day and a truck of the next weeks, so that the money of
    all the days together is least.

    Writes calendar.json into the workbook's folder (beside an Excel workbook: NAME-
    calendar.json). It begins with the calendar that stands, searches for at most 90 seconds
    (--seconds or --effort set another end), and Ctrl-C keeps the best one so far. `planner plan
    --calendar` then plans a day's share. Exit code 3 means that orders due within these days have
    no day for want of room or by a rule; what is on hold, or kept out by the customer, counts not.

    \b
    Example:
        planner weeks spring --from 2027-04-14 --days 10 --out weeks
        planner weeks spring --tell 2027-04-14
        planner weeks spring --wet 2027-04-15
        planner weeks spring --without T3@2027-04-16
    """
    asked = bool(wet or without)
    if write and not asked:
        raise click.UsageError("--write goes with --wet or --without")
    if asked + bool(tell) + fresh > 1:
        raise click.UsageError("--wet and --without go without --tell, and these without --fresh")
    if cluster and not branches:
        raise click.UsageError("--cluster goes with --branches")
    if show:
        if folder is None or asked or tell or fresh:
            raise click.UsageError("--show goes with --out, and with nothing that lays days anew")
        with told_plainly():
            show_standing(folder, workbook, force)
        return
    if search.engine == "ortools":
        raise click.UsageError(
            "--engine ortools plans single days and lays no calendars; use search or nearest-fit"
        )
    begin = parse_date(first) if first else None
    lost = [parse_date(text) for text in wet]
    if tell:
        with told_plainly():
            _tell(workbook, [parse_date(text) for text in tell], as_json)
            if folder is not None:
                show_standing(folder, workbook, force)
        return
    options = search.read(ANSWER_EFFORT_COUNT if asked else DEFAULT_EFFORT_COUNT)
    effort = options.effort
    if search.effort is None and search.seconds is None:
        effort = replace(effort, seconds=ANSWER_MOST_SECONDS if asked else MOST_SECONDS)
    line = ProgressLine()

    def progress(share: float, text: str) -> None:
        line(share, ENDING if options.stop.is_set else text)

    with told_plainly(line):
        line(0.0, "reading the workbook")
        from planner.outputs.folder import check_folder
        from planner.weeks.model import write_calendar
        from planner.weeks.standing import lay_weeks, open_weeks

        if folder is not None:
            check_folder(folder, force=force, marks=("weeks.html",))
        opened = open_weeks(workbook, begin, days, asking=asked, fresh=fresh, extract=extract)
        wrong = [*_no_lost_days(opened.horizon, lost), *_no_truck_days(opened.horizon, without)]
        if wrong:
            raise click.UsageError("\n".join(wrong))
        laid = lay_weeks(
            opened,
            replace(options, effort=effort, progress=progress),
            wet=lost,
            out=without,
            rain_percent=rain,
            # Of an answer in words alone nobody sees them, and they are a third of its time.
            next_days=not asked or write or as_json or folder is not None,
            lay=partial(_lay_branches, cluster=cluster) if branches else _lay_whole,
        )
        line.close()
        if not laid.stands:
            _refuse(laid, opened.path)
        if not asked or write:
            write_calendar(opened.path, laid.calendar)
    made, difference, book = laid.calendar, laid.difference, opened.horizon.day.workbook
    if made.engine != search.engine:
        from planner.routing.engines import why_not

        click.echo(
            f"Engine '{search.engine}' did not run ({why_not(search.engine)}); "
            f"'{made.engine}' laid the days.",
            err=True,
        )
    from planner.weeks.lines import calendar_lines, difference_lines, wrapped

    if difference is None:
        lines = list(calendar_lines(made, book))
    else:
        lines = list(difference_lines(difference))
    if folder is not None:
        answer = lines if difference is not None and not write else ()
        show_calendar(folder, made, book, force, answer)
    if as_json:
        from planner.plan.document import plain

        told_json = plain(made)
        if difference is not None:
            told_json = {"calendar": told_json, "difference": asdict(difference)}
        click.echo(json.dumps(told_json, indent=1))
    else:
        click.echo("\n".join(lines if difference is None else map(wrapped, lines)))
        if not asked or write:
            click.echo(f"\nCalendar: {opened.path}")
    sys.exit(3 if made.short else 0)


def _refuse(laid: LaidWeeks, path: Path) -> NoReturn:
    """Say why a calendar takes nobody's place, and end."""
    if laid.faults:
        for fault in laid.faults:
            click.echo(fault, err=True)
        click.echo("The calendar breaks rules: a bug of the planner. Nothing written.", err=True)
        sys.exit(4)
    names = laid.not_laid
    click.echo(
        f"Stopped while orders had no day yet that {path} gives one ({', '.join(names[:5])}"
        f"{' ...' if names[5:] else ''}); that calendar stays. Nothing was written.",
        err=True,
    )
    sys.exit(INTERRUPTED)


def _tell(workbook: Path, days: list[date], as_json: bool) -> None:
    from planner.day.life import day_text
    from planner.plan.document import plain
    from planner.weeks.standing import tell_customers

    calendar, told = tell_customers(workbook, days)
    if as_json:
        click.echo(json.dumps(plain(calendar), indent=1))
    else:
        for day in days:
            click.echo(f"{day_text(day)}: {counted(told[day], 'customer')} marked as told.")


def _lay_whole(horizon: Horizon, options: SolveOptions, **more: Any) -> Calendar:
    from planner.routing.effort import ctrl_c_sets
    from planner.weeks.lay import make_calendar

    with ctrl_c_sets(options.stop):
        return make_calendar(horizon, options, **more)


def _lay_branches(
    horizon: Horizon, options: SolveOptions, *, cluster: str | None, **more: Any
) -> Calendar:
    """Each branch as a task, as the days of a comparison are."""
    from planner.compare.run import cores, planned, told_to_end
    from planner.routing.effort import ctrl_c_sets
    from planner.routing.problem import silent
    from planner.weeks.branches import BranchTask, branches, lay_branch, merged, watched

    progress, stop = options.progress, options.stop
    task_options = replace(options, progress=silent)
    tasks = [BranchTask(one, task_options, more) for one in branches(horizon, more["out"])]
    # One more than cores, waiting its turn, would leave cores idle at the end.
    jobs = min(2 * cores(), len(tasks))
    progress(0.0, f"laying {len(tasks)} branches")
    done: dict[int, Calendar] = {}
    if cluster is not None:
        with ctrl_c_sets(stop), told_to_end(cluster, lambda: stop.is_set) as ends:
            afar = [replace(task, ends=ends) for task in tasks]
            for place, part in planned(afar, lay_branch, jobs=jobs, cluster=cluster):
                done[place] = part
                progress(len(done) / len(tasks), f"{len(done)} of {len(tasks)} branches are laid")
    else:
        with ctrl_c_sets(stop), watched(tasks, progress, stop) as seen:
            done = dict(planned(seen, lay_branch, jobs=jobs))
    return merged([done[place] for place in range(len(tasks))], horizon)


def _no_lost_days(horizon: Horizon, lost: Sequence[date]) -> Iterator[str]:
    """What is wrong with the days of --wet."""
    for day in lost:
        if day not in horizon.days:
            yield (
                f"--wet {day}: nobody works on {day_text(day)} in the calendar "
                f"({day_text(horizon.days[0])} to {day_text(horizon.days[-1])})"
            )


def _no_truck_days(horizon: Horizon, without: tuple[str, ...]) -> Iterator[str]:
    """What is wrong with the truck-days of --without."""
    trucks, days = horizon.day.workbook.trucks, {str(day) for day in horizon.days}
    for text in without:
        truck_id, at, when = text.rpartition("@")
        if not at or truck_id not in trucks:
            yield (
                f"--without {text}: write it as {next(iter(trucks))}@{horizon.days[0]}; trucks in "
                f"service: {', '.join(trucks)}"
            )
        elif when not in days:
            yield (
                f"--without {text}: {when} is no day of the calendar "
                f"({horizon.days[0]} to {horizon.days[-1]})"
            )


CHANGED = "Tables or records have changed since: run planner weeks again"


def show_calendar(
    out: Path, calendar: Calendar, book: Workbook, force: bool, answer: Sequence[str] = ()
) -> None:
    """Write the page and its files into a folder and say where. book: the tables with the records
    before the calendar's first day laid over them; answer: as of planner.weeks.page."""
    from planner.weeks.page import weeks_page
    from planner.weeks.weeks_files import weeks_files

    stale = "" if calendar.workbook_sha256 == book.sha256 else CHANGED
    page = weeks_page(calendar, book, stale, answer)
    deliver(out, {"weeks.html": page, **weeks_files(calendar, book)}, force)
    click.echo(f"Page: {out / 'weeks.html'}", err=True)


def show_standing(out: Path, workbook: Path, force: bool) -> None:
    """The same for the calendar that stands. Raises WorkbookError, StoreError, CalendarError,
    WeeksError, OutputError."""
    from planner.chain import open_day
    from planner.kept_home import calendar_path
    from planner.outputs.folder import check_folder
    from planner.weeks.lay import WeeksError
    from planner.weeks.model import read_calendar

    check_folder(out, force=force, marks=("weeks.html",))
    path = calendar_path(workbook)
    calendar = read_calendar(path)
    if calendar is None:
        raise WeeksError(f"{path} is not there yet; run `planner weeks` without --show first")
    day = open_day(workbook, date.fromisoformat(calendar.days[0]), use=None)
    show_calendar(out, calendar, day.workbook, force)
