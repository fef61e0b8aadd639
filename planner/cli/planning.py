"""Planning a day from a command: chain, papers, map, files, summary, exit code."""

from __future__ import annotations

import json
import sys
from dataclasses import asdict
from datetime import date
from pathlib import Path

import click

from planner.cli.again_options import AgainOptions
from planner.cli.common import DEFAULT_EFFORT_COUNT, ProgressLine, print_problems, told_plainly
from planner.cli.outputs import refuse_foreign, write_folder
from planner.routing.problem import Effort
from planner.tables.map_settings import MapTiles


def effort_from(
    count: int | None, seconds: float | None, otherwise: int = DEFAULT_EFFORT_COUNT
) -> Effort:
    """Effort from the two options; otherwise: the count without either. Raises click.UsageError
    when both are given."""
    if count is not None and seconds is not None:
        raise click.UsageError("give --effort or --seconds, not both")
    if seconds is not None:
        return Effort(seconds=seconds)
    return Effort(count=count or otherwise)


def run_plan(
    workbook: Path,
    when: date,
    out: Path,
    extract: Path | None,
    engine: str,
    effort: Effort,
    seed: int,
    as_json: bool,
    keep: Path | None = None,
) -> int:
    """Plan, audit, write the packet and print the summary; returns the exit code. keep: plan.json
    of an earlier plan to stay near to."""
    refuse_foreign(out)
    progress = ProgressLine()
    with told_plainly():
        progress(0.0, "reading the workbook")
        from planner import chain

        earlier = chain.read_plan(keep)[0] if keep is not None else None
        day = chain.open_day(workbook, when)
        if not day.orders:
            progress.close()
            for note in day.notes:
                click.echo(f"Note: {note}", err=True)
            click.echo(f"No order is due on {when}; nothing was written.", err=True)
            return 1
        progress(0.02, "reading the roads")
        roads = chain.open_day_roads(workbook, day, extract)
        planned = chain.plan_day(
            day,
            roads,
            engine=engine,
            effort=effort,
            seed=seed,
            progress=progress,
            keep=earlier,
        )
    return _finish(planned, workbook, out, engine, as_json, progress)


def run_again(
    workbook: Path,
    when: date | None,
    out: Path,
    extract: Path | None,
    engine: str,
    effort: Effort,
    seed: int,
    as_json: bool,
    again: AgainOptions,
) -> int:
    """Plan a running day again, as run_plan does. when: None = the earlier plan's day."""
    refuse_foreign(out)
    progress = ProgressLine()
    with told_plainly():
        progress(0.0, "reading the workbook")
        from planner import chain
        from planner.again.plan import open_running_day, plan_again
        from planner.again.said import AgainError, check_date, read_said

        earlier, planned_for = chain.read_plan(again.earlier)
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
        try:
            day = open_running_day(workbook, planned_for, earlier, said, problems)
            progress(0.02, "reading the roads")
            roads = chain.open_day_roads(workbook, day, extract)
            planned = plan_again(
                workbook,
                day,
                roads,
                earlier,
                said,
                engine=engine,
                effort=effort,
                seed=seed,
                progress=progress,
            )
        except AgainError as error:
            progress.close()
            print_problems(error.problems, "what is said of the day")
            return 1
    return _finish(planned, workbook, out, engine, as_json, progress)


def _finish(
    planned: object,
    workbook: Path,
    out: Path,
    engine: str,
    as_json: bool,
    progress: ProgressLine,
) -> int:
    """Write the folder of a plan and print its summary, or say why not; the exit code."""
    from planner import chain
    from planner.cli.summary import summary
    from planner.tables.office import load_office_file

    assert isinstance(planned, chain.PlannedDay)
    with told_plainly():
        if planned.violations:
            progress.close()
            for violation in planned.violations:
                click.echo(str(violation), err=True)
            click.echo("The plan breaks rules: a bug of the planner. Nothing written.", err=True)
            return 4
        if planned.plan.engine != engine:
            progress.close()
            click.echo(
                f"Engine '{engine}' cannot run on this machine (numba is not installed); "
                f"'{planned.plan.engine}' made the plan.",
                err=True,
            )
        progress(1.0, "writing the packet")
        write_folder(out, day_files(planned, load_office_file(workbook).tiles))
        progress.close()
    if as_json:
        click.echo(json.dumps(_machine_summary(planned, out), indent=1))
    else:
        click.echo(summary(planned, out))
    sys.stdout.flush()
    totals = planned.plan.totals
    return 3 if totals.held or totals.unserved else 0


def day_files(planned: object, tiles: MapTiles | None = None) -> dict[str, str]:
    """Every file of a day's folder: plan.json, the actuals sheet to fill in, the stop order to
    change, the packet's pages, the map and the open formats. tiles: an online street map that may
    be switched on behind the map's own."""
    from planner import chain
    from planner.by_hand.sheet import FILE_NAME as STOP_ORDER
    from planner.by_hand.sheet import stop_order_sheet
    from planner.exports.files import open_files
    from planner.maps.day_map import map_page
    from planner.papers.packet import packet_pages
    from planner.plan.document import to_json
    from planner.records.record import plan_checksum
    from planner.records.sheet import FILE_NAME, actuals_sheet

    assert isinstance(planned, chain.PlannedDay)
    text = to_json(planned.plan)
    roads = planned.roads.roads
    legs = chain.legs_of(planned.plan, planned.roads)
    checksum = plan_checksum(text)
    others = open_files(planned.plan, planned.day, legs, roads.credit)
    files = {"plan.json": text, FILE_NAME: actuals_sheet(planned.plan, planned.day)}
    if planned.plan.again is None:
        # What is done in a day that was planned again cannot be changed.
        files[STOP_ORDER] = stop_order_sheet(planned.plan, planned.day)
    files.update(
        packet_pages(
            planned.plan,
            planned.day,
            legs,
            map_file="map.html",
            plan_checksum=checksum,
            credit=roads.credit,
            other_files=(*files, *others),
            broken=[str(violation) for violation in planned.violations],
        )
    )
    files["map.html"] = map_page(
        planned.plan,
        planned.day,
        legs,
        chain.background_streets(planned, legs),
        roads.credit,
        tiles,
    )
    files.update(others)
    return files


def _machine_summary(planned: object, out: Path) -> dict[str, object]:
    from planner import chain
    from planner.plan.changes import changes
    from planner.plan.compactness import compactness
    from planner.plan.document import plain
    from planner.plan.keep import stayed

    assert isinstance(planned, chain.PlannedDay)
    told: dict[str, object] = {
        "folder": str(out),
        "date": planned.plan.date,
        "totals": plain(planned.plan.totals),
        "compactness": asdict(compactness(planned.plan, planned.day)),
        "held": plain(planned.plan.held),
        "unserved": plain(planned.plan.unserved),
        "notes": [*planned.day.notes, *planned.roads.notes],
    }
    again = planned.plan.again
    if again is not None:
        within = planned.day.workbook.settings.told_within_min
        told["again"] = {
            "at_min": again.at_min,
            "changes": plain(changes(planned.plan, within)),
        }
    if planned.kept is not None:
        same, given = stayed(planned.kept, planned.plan)
        told["kept"] = {"orders": given, "same_truck": same, "near": len(planned.kept.near)}
    return told
