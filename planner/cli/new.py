"""`planner new`: a small workbook to start from."""

from __future__ import annotations

import tempfile
from datetime import date, timedelta
from pathlib import Path

import click

from planner.cli.common import parse_date
from planner.cli.outputs import write_folder


@click.command("new", short_help="Make a starter workbook (CSV folder or .xlsx).")
@click.argument("target", type=click.Path(path_type=Path))
@click.option("--date", "when", help="Day of its orders, as 2027-04-14 [default: tomorrow].")
def command(target: Path, when: str | None) -> None:
    """Make a starter workbook: TARGET is a new folder of CSV files, or a new file if it ends in
    .xlsx.

    Its rows are invented and can be planned at once; notes say how to replace them by your own.
    Nothing that is there is ever overwritten.

    \b
    Example:
        planner new spring
        planner new spring.xlsx
    """
    day = parse_date(when) if when else date.today() + timedelta(days=1)
    if target.exists() or target.is_symlink():
        raise click.UsageError(f"{target} is there already; give a new name")
    try:
        if target.suffix.lower() == ".xlsx":
            _write_xlsx(target, day)
        else:
            _write_csv(target, day)
    except OSError as error:
        raise click.UsageError(f"{target} cannot be written: {error.strerror or error}") from error
    click.echo(f"{target} is ready, with orders for {day.isoformat()}.")
    click.echo(f"Next: planner check {target}")


def _write_csv(target: Path, day: date) -> None:
    from planner.tables.starter import starter_files

    write_folder(target, starter_files(day))


def _write_xlsx(target: Path, day: date) -> None:
    from planner.tables.starter import write_starter_xlsx

    target.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(prefix=f".{target.name}-", dir=target.parent) as aside:
        made = Path(aside) / target.name
        write_starter_xlsx(made, day)
        made.rename(target)
