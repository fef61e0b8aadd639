"""`planner packet`: papers and map again from a plan."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from planner.cli.common import road_option, told_plainly


@click.command("packet", short_help="Write papers and map again from a plan.json.")
@click.argument("plan_file", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.argument("workbook", type=click.Path(exists=True, path_type=Path))
@click.option("--out", type=click.Path(path_type=Path), required=True, help="Folder to write.")
@road_option
def command(plan_file: Path, workbook: Path, out: Path, extract: Path | None) -> None:
    """Write the packet and the map of PLAN_FILE again, with the WORKBOOK it was made from.

    The plan is audited first; with violations nothing is written and the exit code is 4.

    \b
    Example:
        planner packet wednesday/plan.json spring --out wednesday-again
    """
    from planner.cli.outputs import refuse_foreign, write_folder

    refuse_foreign(out)
    with told_plainly():
        from planner import chain
        from planner.cli.planning import day_files
        from planner.tables.office import load_office_file

        planned = chain.open_plan(plan_file, workbook, extract)
        if planned.violations:
            for violation in planned.violations:
                click.echo(str(violation), err=True)
            click.echo("The plan breaks rules; nothing was written.", err=True)
            sys.exit(4)
        write_folder(out, day_files(planned, load_office_file(workbook).tiles))
    click.echo(f"Wrote {out / 'index.html'} and the sheets beside it.")
