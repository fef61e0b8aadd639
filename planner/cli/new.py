"""`planner new`: a small workbook to start from."""

from datetime import date, timedelta
from pathlib import Path

import click

from planner.cli.common import ANY_PATH, force_option, parse_date, tell, told_plainly


@click.command("new")
@click.argument("target", type=ANY_PATH)
@click.option("--date", "when", help="Day of its orders, as 2027-04-14 [default: tomorrow].")
@click.option(
    "--without-customers",
    is_flag=True,
    help="Leave properties, orders and history empty, for `planner import` or your own rows.",
)
@force_option
def command(target: Path, when: str | None, without_customers: bool, force: bool) -> None:
    """Make a starter workbook: TARGET is a new folder of CSV files, or a new file if it ends in
    .xlsx.

    Its rows are invented and can be planned at once; notes say how to replace them by your own.
    Nothing that is there is overwritten without --force.

    \b
    Example:
        planner new spring
        planner new spring.xlsx
    """
    day = parse_date(when) if when else date.today() + timedelta(days=1)
    if not force and (target.exists() or target.is_symlink()):
        raise click.UsageError(f"{target} is there already; give a new name")
    with told_plainly():
        from planner.outputs.file import replace_file
        from planner.outputs.folder import NOT_RESULTS, write_folder
        from planner.tables.starter import starter_files, starter_xlsx

        kept = not without_customers
        if target.suffix.lower() == ".xlsx":
            replace_file(target.resolve(), starter_xlsx(day, with_customers=kept))
        else:
            tell(
                write_folder(
                    target, starter_files(day, with_customers=kept), force=force, marks=NOT_RESULTS
                )
            )
    if without_customers:
        click.echo(f"{target} is ready, without customers.")
        click.echo(f"Next: planner import {target} EXPORT")
    else:
        click.echo(f"{target} is ready, with orders for {day.isoformat()}.")
        click.echo(f"Next: planner check {target}")
