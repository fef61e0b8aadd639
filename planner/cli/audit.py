"""`planner audit`: does a plan keep every rule?"""

from __future__ import annotations

import json
import sys
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

import click

from planner.cli.common import (
    PlanPath,
    hand_options,
    json_option,
    road_option,
    there,
    told_plainly,
    workbook_argument,
)
from planner.problems import counted

if TYPE_CHECKING:
    from collections.abc import Sequence

    from planner.chain import PlannedDay
    from planner.changing import Changed
    from planner.plan.audit import Violation


@click.command("audit")
@click.argument("plan_file", type=PlanPath())
@workbook_argument
@road_option
@hand_options
@json_option("the violations")
def command(
    plan_file: Path,
    workbook: Path,
    extract: Path | None,
    stops: Path | None,
    recompute: bool,
    as_json: bool,
) -> None:
    """Work out every rule again from the WORKBOOK and say where PLAN_FILE breaks one.

    Nothing in the plan is trusted: gallons, products, weights, levels, clock times, windows,
    cleaning and totals are all derived again. Exit code 4 means that something was found.

    \b
    Example:
        planner audit wednesday/plan.json spring
        planner audit wednesday/plan.json spring --stops stop-order.csv
    """
    with told_plainly():
        planned, hint = open_as_asked(plan_file, workbook, extract, stops, recompute)
        violations = planned.violations
        if violations and not hint:
            hint = stale_lines(planned)
    if as_json:
        click.echo(json.dumps({"violations": [asdict(row) for row in violations]}, indent=1))
    else:
        for line in [*report(violations), *hint]:
            click.echo(line)
    sys.exit(4 if violations else 0)


def open_as_asked(
    plan_file: Path, workbook: Path, extract: Path | None, stops: Path | None, recompute: bool
) -> tuple[PlannedDay, list[str]]:
    """A plan as it is, or as --stops and --recompute change it, and what that costs in words."""
    from planner import chain, changing

    if stops is not None:
        stops = there(stops, plan_file.parent, "--stops")
    if stops is None and not recompute:
        return chain.open_plan(plan_file, workbook, extract), []
    changed = changing.open_changed(plan_file, workbook, extract, stops)
    return changed.after, change_lines(changed)


def report(violations: Sequence[Violation]) -> list[str]:
    """Violations in plain words: the day's own first, then truck by truck in stop order."""
    if not violations:
        return ["The audit found nothing: the plan keeps every rule it knows."]
    trucks = list(dict.fromkeys(row.truck_id for row in violations if row.truck_id is not None))
    lines: list[str] = []
    for truck_id in (None, *trucks):
        rows = [row for row in violations if row.truck_id == truck_id]
        if not rows:
            continue
        lines.append("The day:" if truck_id is None else f"Truck {truck_id}:")
        rows.sort(key=lambda row: -1 if row.seq is None else row.seq)
        for row in rows:
            place = "" if row.seq is None else f"stop {row.seq}: "
            lines.append(f"  {place}{row.message} [{row.code}]")
    found = counted(len(violations), "violation")
    lines.append(f"{found}. Do not use this plan before they are cured.")
    return lines


def stale_lines(planned: PlannedDay) -> list[str]:
    """Whether the violations are only those of old clock times and gallons."""
    from planner.changing import recomputed

    again = recomputed(planned)
    if again is None or len(again.violations) >= len(planned.violations):
        return []
    cure = "--recompute works out its clock times and gallons again from its loading and stops"
    if not again.violations:
        return [f"Hint: loading and stops are fine, only what follows from them is old: {cure}."]
    return [f"Hint: {cure}; then {len(again.violations)} would remain."]


def change_lines(changed: Changed) -> list[str]:
    """What the change by hand costs, and what it leaves out."""
    money = changed.after.day.workbook.settings.currency
    lines = []
    for what, planned in (("The plan", changed.before), ("Changed by hand", changed.after)):
        sums = planned.plan.totals.totals
        lines.append(
            f"{what}: {sums.orders} orders, {sums.paid_min / 60:.1f} hours paid, "
            f"{sums.drive_miles:,.0f} miles, {counted(sums.refills, 'refill')}, "
            f"cost about {money}{sums.cost:,.0f}."
        )
    if changed.out:
        lines.append(f"Taken out by hand: {', '.join(changed.out)}.")
    return lines
