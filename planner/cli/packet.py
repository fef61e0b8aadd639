"""`planner packet`: papers and map again from a plan; what commands that print have in common."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import click

from planner.cli.common import Command, deliver

if TYPE_CHECKING:
    from planner.chain import PlannedDay
    from planner.day_files import Printed
    from planner.plan.model import Plan
import sys

from planner.cli.common import (
    ANY_PATH,
    PlanPath,
    force_option,
    hand_options,
    road_option,
    told_plainly,
    workbook_argument,
)

if TYPE_CHECKING:
    from planner.chain import PlannedDay


def draft_option(command: Command) -> Command:
    """--draft."""
    return click.option(
        "--draft",
        is_flag=True,
        help="Only a draft: the sheets say so, and the day's plan of record stays what it is.",
    )(command)


def print_folder(
    planned: PlannedDay,
    workbook: Path,
    out: Path,
    *,
    force: bool,
    draft: bool,
    before: Callable[[], object] = lambda: None,
) -> Printed[tuple[str, ...]]:
    """Print a plan into a folder. before: called when something may be said."""
    from planner.day_files import print_day

    def write(files: dict[str, str]) -> tuple[str, ...]:
        before()
        return deliver(out, files, force)

    return print_day(planned, workbook, out, write, draft=draft)


def tell_print(printed: Printed[tuple[str, ...]], *, err: bool = False) -> None:
    """Say what became of the day's plan of record; what the records do not know goes to stderr."""
    if printed.said:
        click.echo(printed.said, err=err or printed.kept is None)


def other_of_record(workbook: Path, plan: Plan) -> str | None:
    """A note when the plan is not its day's plan of record. Raises StoreError."""
    from planner.plan.document import to_json
    from planner.records.plans import plan_of_record
    from planner.records.sealed import plan_checksum

    kept, checksum = plan_of_record(workbook, plan.date), plan_checksum(to_json(plan))
    if kept is None or kept.checksum == checksum:
        return None
    return (
        f"Note: you plan again from plan {checksum}; the plan of record of {plan.date} is plan "
        f"{kept.mark}."
    )


@click.command("packet")
@click.argument("plan_file", type=PlanPath())
@workbook_argument
@click.option("--out", type=ANY_PATH, required=True, help="Folder to write.")
@road_option
@hand_options
@force_option
@draft_option
@click.option(
    "--with-violations",
    is_flag=True,
    help="Write the packet of a plan that breaks rules too; every sheet says so.",
)
def command(
    plan_file: Path,
    workbook: Path,
    out: Path,
    extract: Path | None,
    stops: Path | None,
    recompute: bool,
    force: bool,
    draft: bool,
    with_violations: bool,
) -> None:
    """Write the packet and the map of PLAN_FILE again, with the WORKBOOK it was made from.

    The plan is audited first; with violations nothing is written and the exit code is 4. It becomes
    its day's plan of record (`planner days`), unless it is a --draft.

    \b
    Example:
        planner packet wednesday/plan.json spring --out wednesday-again
        planner packet wednesday/plan.json spring --stops stop-order.csv --out wednesday-b
    """
    from planner.outputs.folder import check_folder

    with told_plainly():
        check_folder(out, force=force)
        from planner.cli.audit import open_as_asked

        planned, told = open_as_asked(plan_file, workbook, extract, stops, recompute)
        broken = planned.violations
        refuse_broken(planned, with_violations=with_violations, stale_told=bool(told))
        printed = print_folder(planned, workbook, out, force=force, draft=draft)
    for line in told:
        click.echo(line)
    tell_print(printed)
    click.echo(f"Wrote {out / 'index.html'} and the sheets beside it.")
    sys.exit(4 if broken else 0)


def refuse_broken(
    planned: PlannedDay, *, with_violations: bool = False, stale_told: bool = False
) -> None:
    """Say which rules the plan breaks, and leave with exit code 4 where no paper may be made of it.
    stale_told: what became of changed tables is said elsewhere."""
    from planner.cli.audit import report, stale_lines
    from planner.day_files import NO_PAPERS

    broken = planned.violations
    if broken:
        hint = [] if stale_told else stale_lines(planned)
        for line in [*report(broken), *hint]:
            click.echo(line, err=True)
    if broken and not with_violations:
        click.echo("The plan breaks rules; nothing was written.", err=True)
        sys.exit(4)
    if any(row.code.startswith(NO_PAPERS) for row in broken):
        click.echo(
            "The plan names an order, truck or product that is not in the tables, or one of "
            "them twice. No sheet can be made from it; nothing was written.",
            err=True,
        )
        sys.exit(4)
