"""`planner weeks`: which order on which day and truck of the next weeks."""

from __future__ import annotations

import contextlib
import json
import sys
from collections.abc import Callable, Iterator
from dataclasses import asdict, replace
from datetime import date, timedelta
from pathlib import Path
from textwrap import fill
from typing import TYPE_CHECKING, Any

import click

from planner.cli.common import (
    ANY_PATH,
    DEFAULT_EFFORT_COUNT,
    FiniteRange,
    ProgressLine,
    SearchOptions,
    json_option,
    parse_date,
    road_option,
    search_options,
    told_plainly,
    workbook_argument,
)
from planner.cli.outputs import force_option
from planner.cli.weeks_page import show_calendar, show_standing
from planner.deadline import INTERRUPTED
from planner.problems import counted, few

if TYPE_CHECKING:
    from planner.day.day import Workbook
    from planner.routing.problem import SolveOptions
    from planner.weeks.asking import LostDay
    from planner.weeks.lay import Horizon
    from planner.weeks.model import Calendar

DAYS = 10
MOST_SECONDS = 90.0
"""That laying the days takes by the clock, if nothing else is asked for."""
ANSWER_EFFORT_COUNT, ANSWER_MOST_SECONDS = 20, 6.0
"""For 'if Wednesday is wet', on the standing calendar."""
SHOWN, WIDTH = 20, 100
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
@click.option("--fresh", is_flag=True, help="Begin anew instead of from the calendar that stands.")
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
    help="Several yards: lay each yard's trucks and nearest lawns by themselves, a core each.",
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
    no day.

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
    begin = parse_date(first) if first else date.today() + timedelta(days=1)
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
    progress = ProgressLine()
    with told_plainly(progress):
        progress(0.0, "reading the workbook")
        from planner.outputs.folder import check_folder
        from planner.weeks.asking import lost_day
        from planner.weeks.audit import calendar_faults
        from planner.weeks.lay import WeeksError, open_horizon
        from planner.weeks.model import calendar_path, read_calendar, write_calendar

        if folder is not None:
            check_folder(folder, force=force, marks=("weeks.html",))
        path = calendar_path(workbook)
        before = None if fresh else read_calendar(path)
        if asked and before is not None and first is None:
            begin, days = date.fromisoformat(before.days[0]), len(before.days)
        if asked and before is None:
            raise WeeksError(
                f"{path} is not there yet; run `planner weeks` first, without --wet and --without"
            )
        horizon = open_horizon(workbook, begin, days, extract)
        out = set(_truck_days(horizon, without))
        told = dict(before.told) if before is not None else {}
        stay: dict[str, str] = {}
        if before is not None:
            known = {str(day) for day in horizon.days}
            lost += [date.fromisoformat(day) for day in before.wet if day in known]
            out |= {name for name in before.out if name.rpartition("@")[2] in known}
            stay = before.day_of if asked else {}
        lay = _lay_branches(cluster) if branches else _lay_whole
        made = lay(
            horizon,
            progress,
            replace(options, effort=effort),
            before=before,
            wet=set(lost),
            out=out,
            told=told,
            stay=stay,
            rain_percent=rain if before is None or not asked else before.rain_given,
        )
        progress.close()
        if faults := calendar_faults(made, horizon.day):
            for fault in faults:
                click.echo(fault, err=True)
            click.echo(
                "The calendar breaks rules: a bug of the planner. Nothing written.", err=True
            )
            sys.exit(4)
        if fresh and options.stop.is_set and (left := _left_out(path, made)):
            click.echo(
                f"Stopped while orders had no day yet that {path} gives one ({', '.join(left[:5])}"
                f"{' ...' if left[5:] else ''}); that calendar stays. Nothing was written.",
                err=True,
            )
            sys.exit(INTERRUPTED)
        if not asked or write:
            write_calendar(path, made)
    if made.engine != search.engine:
        from planner.routing.engines import why_not

        click.echo(
            f"Engine '{search.engine}' did not run ({why_not(search.engine)}); "
            f"'{made.engine}' laid the days.",
            err=True,
        )
    difference = lost_day(before, made) if asked and before is not None else None
    book = horizon.day.workbook
    lines = list(_lines(made, book) if difference is None else _difference_lines(difference, made))
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
        click.echo("\n".join(lines if difference is None else map(_wrapped, lines)))
        if not asked or write:
            click.echo(f"\nCalendar: {path}")
    sys.exit(3 if _short(made) else 0)


def _tell(workbook: Path, days: list[date], as_json: bool) -> None:
    """Mark the customers of those days as told, at once; nothing is laid anew."""
    from planner.day.life import day_text
    from planner.plan.document import plain
    from planner.weeks.lay import WeeksError
    from planner.weeks.model import calendar_path, read_calendar, write_calendar

    path = calendar_path(workbook)
    calendar = read_calendar(path)
    said = []
    for day in days:
        rows = [row for one in calendar.on(day) for row in one.orders] if calendar else []
        if calendar is None or not rows:
            raise WeeksError(f"--tell {day}: the calendar that stands has no order on that day")
        calendar = calendar.with_told({row.order_id for row in rows}, str(day))
        customers = counted(len({row.property_id for row in rows}), "customer")
        said.append(f"{day_text(day)}: {customers} marked as told.")
    assert calendar is not None
    write_calendar(path, calendar)
    click.echo(json.dumps(plain(calendar), indent=1) if as_json else "\n".join(said))


def _left_out(path: Path, made: Calendar) -> list[str]:
    """Orders that wait in a stopped calendar and have a day in the one that it would replace."""
    from planner.weeks.model import CalendarError, read_calendar

    with contextlib.suppress(CalendarError):
        if standing := read_calendar(path):
            return [row.order_id for row in made.waiting if row.order_id in standing.day_of]
    return []


def _lay_whole(
    horizon: Horizon, progress: ProgressLine, options: SolveOptions, **more: Any
) -> Calendar:
    from planner.routing.effort import ctrl_c_sets
    from planner.weeks.lay import make_calendar

    stop = options.stop

    def tell(share: float, text: str) -> None:
        progress(share, ENDING if stop.is_set else text)

    with ctrl_c_sets(stop):
        return make_calendar(horizon, replace(options, progress=tell, stop=stop), **more)


def _lay_branches(cluster: str | None) -> Callable[..., Calendar]:
    """Each branch as a task, as the days of a comparison are."""

    def lay(
        horizon: Horizon, progress: ProgressLine, options: SolveOptions, **more: Any
    ) -> Calendar:
        from planner.compare.run import cores, planned
        from planner.routing.effort import ctrl_c_sets
        from planner.weeks.branches import BranchTask, branches, lay_branch, merged, watched

        tasks = [BranchTask(one, options, more) for one in branches(horizon)]
        jobs = min(cores(), len(tasks))
        progress(0.0, f"laying {len(tasks)} branches")
        done: dict[int, Calendar] = {}
        if cluster is not None:
            # Its machines see no file of this one: they cannot be told to end early.
            for place, part in planned(tasks, lay_branch, jobs=jobs, cluster=cluster):
                done[place] = part
                progress(len(done) / len(tasks), f"{len(done)} of {len(tasks)} branches are laid")
        else:
            stop = options.stop
            with ctrl_c_sets(stop), watched(tasks, progress, stop) as seen:
                done = dict(planned(seen, lay_branch, jobs=jobs))
        return merged([done[place] for place in range(len(tasks))], horizon)

    return lay


def _truck_days(horizon: Horizon, without: tuple[str, ...]) -> Iterator[str]:
    """The truck-days of --without. Raises click.UsageError."""
    trucks, days = horizon.day.workbook.trucks, {str(day) for day in horizon.days}
    for text in without:
        truck_id, at, when = text.rpartition("@")
        if not at or truck_id not in trucks:
            raise click.UsageError(
                f"--without {text}: write it as {next(iter(trucks))}@{horizon.days[0]}; trucks in "
                f"service: {', '.join(trucks)}"
            )
        if when not in days:
            raise click.UsageError(
                f"--without {text}: {when} is no day of the calendar "
                f"({horizon.days[0]} to {horizon.days[-1]})"
            )
        yield text


def _short(calendar: Calendar) -> bool:
    """Whether an order that is due in the calendar's days has none."""
    return any(
        row.code not in ("NOT-YET", "LATER") and row.last_day <= calendar.days[-1]
        for row in calendar.waiting
    )


def _lines(calendar: Calendar, book: Workbook) -> Iterator[str]:
    from planner.day.life import day_text
    from planner.weeks.model import WAITING_CODES, gal_text

    def name(day: str) -> str:
        return day_text(date.fromisoformat(day))

    laid = calendar.day_of
    yield (
        f"{counted(len(calendar.days), 'working day')} from {name(calendar.days[0])} to "
        f"{name(calendar.days[-1])}: {counted(len(laid), 'order')} on "
        f"{counted(len(calendar.shares), 'truck-day')}, {len(calendar.waiting)} waiting; "
        f"${calendar.cost:,.0f}, {calendar.miles:,.0f} miles."
    )
    for day, why in calendar.closed.items():
        yield f"{name(day)}: {why}"
    yield ""
    yield "Day             Truck   Orders   Hours  Overtime   Miles     Cost  Gallons"
    for day in calendar.days:
        shares = [share for share in calendar.shares if share.date == day]
        if not shares:
            idle = "see above" if day in calendar.closed else "-"
            yield f"{name(day)}  {'lost to rain' if day in calendar.wet else idle}"
        for share in shares:
            gallons = ", ".join(f"{mix} {gal_text(gal)}" for mix, gal in share.gal_by_mix.items())
            yield (
                f"{name(day)}  {share.truck_id:<8}{len(share.orders):>6}{share.paid_min / 60:>8.1f}"
                f"{share.overtime_min / 60:>10.1f}{share.miles:>8.1f}{share.cost:>9,.0f}  {gallons}"
            )
    yield from _risk_lines(calendar, book)
    by_code: dict[str, dict[str, list[str]]] = {}
    for row in calendar.waiting:
        if row.code != "NOT-YET":
            alike = by_code.setdefault(row.code, {}).setdefault(row.reason, [])
            alike.append(f"{row.order_id} ({row.property_id}, {row.mix_id})")
    for code, reasons in by_code.items():
        yield ""
        yield f"{WAITING_CODES[code]} ({sum(map(len, reasons.values()))}):"
        yield from _few([f"  {why}: {few(names, SHOWN)}" for why, names in reasons.items()])
    if told := sum(row.told_other != "" for share in calendar.shares for row in share.orders):
        yield ""
        yield f"{counted(told, 'customer')} must be told another day; calendar.json names them."


def _risk_lines(calendar: Calendar, book: Workbook) -> Iterator[str]:
    rows: list[tuple[str, bool, str]] = []
    for share in calendar.shares:
        for row in share.orders:
            if row.spare_days and not row.overdue_days:
                continue
            what = (
                f"{counted(row.overdue_days, 'day')} overdue"
                if row.overdue_days
                else "its last day in time"
            )
            following = "no later day in this calendar"
            if row.next_day and row.next_day_cost is not None:
                more = "more" if row.next_day_cost >= 0 else "less"
                following = f"{row.next_day} would cost ${abs(row.next_day_cost):,.0f} {more}"
            elif row.next_day:
                following = f"{row.next_day} has no room or was not reckoned"
            text = (
                f"  {share.date}  {row.order_id} {book.properties[row.property_id].customer} "
                f"({row.mix_id}): {what}; {following}"
            )
            rows.append((share.date, not row.overdue_days, text))
    if rows:
        yield ""
        yield f"At risk, should the day be lost ({len(rows)}):"
        yield from _few([text for *_, text in sorted(rows, key=lambda row: row[:2])])


def _difference_lines(found: LostDay, calendar: Calendar) -> Iterator[str]:
    what = [f"{day} lost" for day in calendar.wet] + [f"{name} at home" for name in calendar.out]
    yield (
        f"With {', '.join(what)}: {counted(len(found.moved), 'order')} on another day, "
        f"{sum(row.code != 'LATER' for row in found.without_day)} without a later day, "
        f"{max(0, found.late)} more late; "
        f"{_more(found.cost, '$')} of pay and trucks, {_more(found.miles)} miles; "
        + (
            f"what is put off costs about {_more(found.later_cost, '$')}; "
            if abs(found.later_cost) >= 0.5
            else ""
        )
        + f"lateness by priority, and the chance of it, counts for {_more(found.late_cost, '$')}."
    )
    groups: dict[tuple[str, str], list[str]] = {}
    for row in found.moved:
        mark = (" (told)" if row.told else "") + (" (late)" if row.overdue_days else "")
        groups.setdefault((row.before, row.after), []).append(f"{row.order_id}{mark}")
    for (before, after), names in groups.items():
        yield f"  {before} -> {after}: {', '.join(names)}"
    put_off = [row.order_id for row in found.without_day if row.code == "LATER"]
    if put_off:
        yield f"  after the calendar's last day: {', '.join(put_off)}"
    lost = [row for row in found.without_day if row.code != "LATER"]
    if lost:
        yield "Without a later day:"
        yield from _few([f"  {row.order_id} ({row.property_id}): {row.reason}" for row in lost])


def _wrapped(line: str) -> str:
    indent = "    " if line.startswith(" ") else "  "
    return fill(line, WIDTH, subsequent_indent=indent, break_on_hyphens=False)


def _more(amount: float, sign: str = "") -> str:
    return f"{sign}{abs(amount):,.0f} {'more' if amount > -0.5 else 'less'}"


def _few(rows: list[str]) -> Iterator[str]:
    yield from rows[:SHOWN]
    if len(rows) > SHOWN:
        yield f"  and {len(rows) - SHOWN} more; calendar.json names them all"
