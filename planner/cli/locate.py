"""`planner locate`: coordinates from addresses."""

from __future__ import annotations

import json
import sys
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

import click

from planner.cli.common import (
    FILE,
    ProgressLine,
    force_option,
    json_option,
    road_option,
    tell,
    told_plainly,
    workbook_argument,
)
from planner.problems import Problems

if TYPE_CHECKING:
    from planner.locating import LocatedTable, Locating

DEFAULT_OUT = Path("properties-located.csv")


@click.command("locate")
@workbook_argument
@click.option("--out", type=FILE, default=DEFAULT_OUT, show_default=True, help="CSV file to write.")
@force_option
@road_option
@click.option("--offline", is_flag=True, help="Ask no service, even if planner.toml names one.")
@json_option("counts and problems")
def command(
    workbook: Path, out: Path, force: bool, extract: Path | None, offline: bool, as_json: bool
) -> None:
    """Write a copy of WORKBOOK's properties table with lat and lon filled in where they are blank.

    Addresses are looked up among the house numbers of the road extract; then, only if planner.toml
    names one under [locate], asked of a service (address, town, state and ZIP code leave the
    office, one request a second, answers are kept). The added column _located says how sure each
    is: exact number, interpolated (between two numbers), service, or street only. Look at each that
    is not exact before you plan with it. A copy in which you changed something is kept, and the new
    one gets a numbered name.

    What the map contradicts (north for south, St for Ave, another ZIP code), what is misspelled and
    what may be two houses is never taken: the copy then holds up to three suggestions. Write 1, 2
    or 3 into _pick, put the copy in place of the table, and run this again.

    Sites without coordinates get a file of their own beside it. Exit code 1 means that some
    addresses were not found or need a pick; the copy is written all the same.

    \b
    Example:
        planner locate spring --out properties-with-points.csv
    """
    progress = ProgressLine()
    with told_plainly():
        from planner.locating import locate_places
        from planner.outputs.file import write_file

        try:
            located = locate_places(workbook, extract, ask_service=not offline, progress=progress)
        finally:
            progress.close()
        tables = {
            tell(write_file(out, located.properties.text, force=force)).path: located.properties
        }
        if located.sites:
            site_out = out.with_name(f"sites-{out.name.removeprefix('properties-')}")
            tables[tell(write_file(site_out, located.sites.text, force=force)).path] = located.sites
    problems = Problems()
    for table in tables.values():
        problems.extend(table.problems)
    if as_json:
        click.echo(json.dumps(_machine_summary(located, tables, problems), indent=1))
    else:
        for line in problems.lines():
            click.echo(line, err=True)
        for file, table in tables.items():
            click.echo(_summary(table, file))
        if located.requests:
            click.echo(f"The service was asked {located.requests} times.")
    sys.exit(1 if len(problems) else 0)


def _machine_summary(
    located: Locating, tables: dict[Path, LocatedTable], problems: Problems
) -> dict[str, object]:
    (out, properties), *sites = tables.items()
    return {
        "file": str(out),
        "counts": properties.counts(),
        "sites": [{"file": str(file), "counts": one.counts()} for file, one in sites],
        "requests": located.requests,
        "problems": [asdict(problem) for problem in problems],
    }


def _summary(table: LocatedTable, out: Path) -> str:
    counts = ", ".join(f"{count} {name}" for name, count in table.counts().items() if count)
    return (
        f"{len(table.table.rows)} {table.table.name}: {counts or 'none'}.\n"
        f"Wrote {out}: look at what is not exact, then put it in place of {table.table.file}."
    )
