"""Planning a day from a command: chain, papers, map, files, summary, exit code."""

from __future__ import annotations

import json
import sys
from dataclasses import asdict, dataclass, replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import click

from planner.caches import why_unused
from planner.cli.common import ProgressLine, told_plainly
from planner.cli.packet import other_of_record, print_folder, tell_print
from planner.cli.plan import AgainOptions
from planner.deadline import INTERRUPTED
from planner.outputs.folder import check_folder
from planner.routing.problem import SolveOptions

if TYPE_CHECKING:
    from planner.chain import PlannedDay
    from planner.plan.model import Plan
    from planner.weeks.share import DayShare


@dataclass(frozen=True)
class PlanRequest:
    """What a plan is made of, and into which folder. extract: roads instead of those that
    planner.toml names; force: changed files there are overwritten; draft: it does not become the
    day's plan of record."""

    workbook: Path
    out: Path
    options: SolveOptions
    extract: Path | None = None
    as_json: bool = False
    force: bool = False
    draft: bool = False


def run_plan(
    asked: PlanRequest, when: date, keep: Path | None = None, calendar: bool | None = None
) -> int:
    """Plan, audit, write the packet and print the summary; returns the exit code. keep: plan.json
    of an earlier plan to stay near to. calendar: plan the day's share of the one that stands, None
    = where there is one for the day."""
    progress, workbook = ProgressLine(), asked.workbook
    with told_plainly(progress):
        check_folder(asked.out, force=asked.force)
        progress(0.0, "reading the workbook")
        from planner import chain
        from planner.cli.order_lines import standing_lines

        earlier = chain.read_plan(keep)[0] if keep is not None else None
        share = _share(workbook, when, calendar)
        later = share.later if share else ()
        day = chain.open_day_to_plan(workbook, when, later, use_home=calendar is False)
        if not day.orders:
            progress.close()
            for line in (*(f"Note: {note}" for note in day.notes), *standing_lines(day)):
                click.echo(line, err=True)
            from planner.office.opening import NothingDue, next_due

            nothing = NothingDue(when, next_due(day.workbook, when))
            click.echo(f"N{str(nothing)[1:]}. Nothing was written.", err=True)
            return 1
        progress(0.02, "reading the roads")
        roads = chain.open_day_roads(asked.workbook, day, asked.extract)
        options = replace(asked.options, progress=progress)
        before = share.kept(day) if share and earlier is None else earlier
        planned = chain.plan_day(day, roads, options, before)
    if share is not None:
        progress.close()
        click.echo(share.text(day), err=True)
    return _finish(planned, asked, progress)


def _share(workbook: Path, when: date, wanted: bool | None) -> DayShare | None:
    """What the calendar says of the day. Raises CalendarError, click.UsageError when it is wanted
    and there is none."""
    if wanted is False:
        return None
    from planner.kept_home import calendar_path
    from planner.weeks.share import share_of

    found = share_of(workbook, when)
    if wanted and found is None:
        path = calendar_path(workbook)
        what = "has no such day" if path.exists() else "is not there"
        raise click.UsageError(f"--calendar: {path} {what}; run `planner weeks` for {when}")
    return found


def run_again(asked: PlanRequest, when: date | None, again: AgainOptions) -> int:
    """Plan a running day again, as run_plan does. when: None = the earlier plan's day."""
    progress, workbook = ProgressLine(), asked.workbook
    with told_plainly(progress):
        check_folder(asked.out, force=asked.force)
        progress(0.0, "reading the workbook")
        from planner import chain
        from planner.again.plan import open_running_day, plan_again
        from planner.again.said import check_date, read_said

        earlier, planned_for = chain.read_plan(again.earlier)
        if (note := other_of_record(workbook, earlier)) is not None:
            progress.close()
            click.echo(note, err=True)
        said, problems = read_said(
            again.at,
            done=again.done,
            opened=again.opened,
            skipped=again.skip,
            added=again.add,
            trucks=again.truck,
            filled=again.filled,
        )
        problems += check_date(earlier, (when or planned_for).isoformat())
        day = open_running_day(workbook, planned_for, earlier, said, problems)
        progress(0.02, "reading the roads")
        roads = chain.open_day_roads(asked.workbook, day, asked.extract)
        options = replace(asked.options, progress=progress)
        planned = plan_again(workbook, day, roads, earlier, said, options)
    return _finish(planned, asked, progress)


def _finish(planned: PlannedDay, asked: PlanRequest, progress: ProgressLine) -> int:
    """Write the folder of a plan and print its summary, or say why not; the exit code."""
    from planner.cli.summary import summary

    out, engine = asked.out, asked.options.engine
    with told_plainly(progress):
        if planned.violations:
            progress.close()
            for violation in planned.violations:
                click.echo(str(violation), err=True)
            click.echo("The plan breaks rules: a bug of the planner. Nothing written.", err=True)
            return 4
        if planned.plan.engine != engine:
            from planner.routing.engines import why_not

            progress.close()
            click.echo(
                f"Engine '{engine}' cannot run on this machine ({why_not(engine)}); "
                f"'{planned.plan.engine}' made the plan.",
                err=True,
            )
        if why := _stopped_too_early(planned.plan, out):
            progress.close()
            click.echo(f"{why} Nothing was written.", err=True)
            return INTERRUPTED
        if unused := why_unused():
            progress.close()
            click.echo(f"Note: {unused}", err=True)
        progress(1.0, "writing the packet")
        printed = print_folder(
            planned,
            asked.workbook,
            out,
            force=asked.force,
            draft=asked.draft,
            before=progress.close,
        )
    if asked.as_json:
        told = {
            **_machine_summary(planned, out),
            "tuning": asdict(asked.options.effort.tuning),
            "writing_notes": printed.written,
            "of_record": printed.kept and {"plan": printed.kept.mark, "print": printed.kept.number},
        }
        click.echo(json.dumps(told, indent=1))
    else:
        click.echo(summary(planned, out))
    tell_print(printed, err=asked.as_json)
    sys.stdout.flush()
    totals = planned.plan.totals
    return 3 if totals.held or totals.unserved else 0


def _stopped_too_early(plan: Plan, out: Path) -> str:
    """Why the plan of a stopped search is none to write: it does nothing, or less than the day's
    plan that it would replace. '' = it is not so."""
    from planner.chain import read_plan
    from planner.plan.document import PlanFileError

    stopped = {row.order_id for row in plan.unserved if row.code == "STOPPED"}
    if stopped and not plan.totals.totals.orders:
        return "The search was stopped before it had planned an order."
    try:
        earlier, _ = read_plan(out / "plan.json") if stopped else (plan, None)
    except PlanFileError:
        return ""
    lost = stopped & {
        work.order_id for truck in earlier.trucks for stop in truck.stops for work in stop.orders
    }
    if not lost or earlier.date != plan.date:
        return ""
    orders = "1 order" if len(lost) == 1 else f"{len(lost)} orders"
    return (
        f"The search was stopped while {orders} had no place yet that the plan in {out} serves; "
        "that plan stays. Let the search go on, or name another --out."
    )


def _machine_summary(planned: PlannedDay, out: Path) -> dict[str, object]:
    from planner.cli.order_lines import standing_json
    from planner.plan.document import plain
    from planner.plan.figures import compactness
    from planner.plan.keep import changes, stayed

    told: dict[str, object] = {
        "folder": str(out),
        "date": planned.plan.date,
        "totals": plain(planned.plan.totals),
        "compactness": asdict(compactness(planned.plan, planned.day)),
        "held": plain(planned.plan.held),
        "unserved": plain(planned.plan.unserved),
        "orders": standing_json(planned.day),
        "notes": list(planned.notes),
    }
    again = planned.plan.again
    if again is not None:
        within = planned.day.workbook.settings.told_within_min
        told["again"] = {"at_min": again.at_min, "changes": plain(changes(planned.plan, within))}
    if planned.kept is not None:
        same, given = stayed(planned.kept, planned.plan)
        told["kept"] = {"orders": given, "same_truck": same, "near": len(planned.kept.near)}
    return told
