"""Printing from a command: the option, and what is said of it."""

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
