"""`planner import`: another program's export into the tables."""

import json
import sys
from pathlib import Path

import click

from planner.cli.common import FILE_THERE, json_option, tell, told_plainly, workbook_argument
from planner.problems import Problems


@click.command("import")
@workbook_argument
@click.argument("export", type=FILE_THERE)
@click.option("--dry-run", is_flag=True, help="Say what would change and write nothing.")
@click.option(
    "--mapping",
    help="Name of the mapping file beside the workbook, one for each kind of export "
    "[default: import.toml].",
)
@click.option("--sheet", default="", help="Sheet of an Excel export [default: the longest].")
@click.option("--take-export", is_flag=True, help="Where somebody typed, take the export's word.")
@click.option("--bring-back", is_flag=True, help="Bring back rows that somebody removed.")
@click.option("--cancel-gone", is_flag=True, help="Cancel orders that the export no longer has.")
@click.option("--without-refused", is_flag=True, help="Import all rows but those refused.")
@json_option("what changes")
def command(
    workbook: Path,
    export: Path,
    dry_run: bool,
    mapping: str | None,
    sheet: str,
    take_export: bool,
    bring_back: bool,
    cancel_gone: bool,
    without_refused: bool,
    as_json: bool,
) -> None:
    """Bring EXPORT (CSV or .xlsx, as another program wrote it) into properties and orders of
    WORKBOOK.

    The first call only looks and writes a mapping file beside the workbook: what each column
    probably is. Edit it and call again. From then on each call reads the export by it: new
    customers and services come in, cells change where the export changed, and what somebody typed
    since stays and is named. Nobody is ever deleted: who is no longer in the export is named. The
    same export twice changes nothing.

    Exit code 1 means that rows or the mapping were refused; then nothing is written, unless
    --without-refused is given.

    \b
    Example:
        planner import spring customers.csv
        planner import spring customers.csv --dry-run
        planner import spring customers.csv
    """
    from planner.importing.run import Wishes, look, mapping_path, run, write
    from planner.importing.said import ending, import_lines, look_lines, machine_summary
    from planner.outputs.file import write_file

    with told_plainly():
        file = mapping_path(workbook, mapping or "import.toml")
        if not file.exists():
            found = look(workbook, export, file, sheet)
            tell(write_file(file, found.text))
            for line in look_lines(found, str(file)):
                click.echo(line)
            return
        wishes = Wishes(take_export, bring_back, cancel_gone, without_refused)
        done = run(workbook, export, file, sheet, wishes)
        if not dry_run:
            write(done)
    if as_json:
        click.echo(
            json.dumps(machine_summary(done, [] if dry_run else [*map(str, done.files)]), indent=1)
        )
    else:
        for line in import_lines(done):
            click.echo(line)
        click.echo(ending(done, workbook, dry_run))
    if done.problems:
        every = Problems()
        every.extend(done.problems)
        for line in every.lines():
            click.echo(line, err=True)
        one = len(every) == 1
        click.echo(
            "1 problem; its row was left out."
            if one
            else f"{len(every)} problems; their rows were left out.",
            err=True,
        )
        sys.exit(1)
