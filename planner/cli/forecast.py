"""`planner forecast`: the public weather service's hours into the weather table."""

from __future__ import annotations

import os
import sys
import tempfile
from pathlib import Path

import click

from planner.cli.common import print_problems, workbook_argument


@click.command("forecast", short_help="Write the weather service's hours into weather.csv.")
@workbook_argument
@click.option(
    "--from",
    "saved",
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
    help="Saved hourly JSON instead of what planner.toml names.",
)
@click.option("--area", help="Weather area of the rows [default: as planner.toml says, or none].")
@click.option(
    "--out",
    type=click.Path(dir_okay=False, path_type=Path),
    help="File to write [default: the workbook's weather.csv]; needed for an Excel workbook.",
)
def command(workbook: Path, saved: Path | None, area: str | None, out: Path | None) -> None:
    """Read an hourly forecast and lay it over the WORKBOOK's weather table.

    Reads a saved file, or the file or address under [forecast] in planner.toml; without any of them
    nothing is asked for. Hours that the table already has are replaced, all others stay.

    \b
    Example:
        planner forecast spring --from hourly.json
    """
    from planner.tables.forecast import (
        ForecastError,
        fetch_forecast,
        merged_weather,
        read_forecast,
        weather_csv,
    )
    from planner.tables.office import ForecastSource, load_office_file
    from planner.tables.read import read_workbook

    target = out or (workbook / "weather.csv" if workbook.is_dir() else None)
    if target is None:
        raise click.UsageError("an Excel workbook is not changed: name a file with --out, and copy")
    office = load_office_file(workbook)
    reading = read_workbook(workbook, office.columns)
    wrong = [*office.problems, *(p for p in reading.problems if Path(p.file).stem == "weather")]
    if wrong:
        print_problems(wrong)
        sys.exit(1)
    source = office.forecast or ForecastSource()
    folder = workbook if workbook.is_dir() else workbook.parent
    chosen = saved or (folder / source.file if source.file else None)
    try:
        if chosen is not None:
            text = chosen.read_text(encoding="utf-8", errors="replace")
        elif source.address:
            text = fetch_forecast(source.address, source.contact)
        else:
            raise click.UsageError(
                'no forecast is named: use --from FILE, or write [forecast] with file = "..." or '
                'address = "https://..." into planner.toml'
            )
        found = read_forecast(text, source.area if area is None else area)
        old = reading.workbook.weather if reading.workbook is not None else ()
        rows, replaced = merged_weather(old, found.hours)
        _write_whole(target, weather_csv(rows))
    except (ForecastError, OSError) as error:
        click.echo(f"Error: {error}", err=True)
        sys.exit(1)
    first, last = found.hours[0], found.hours[-1]
    click.echo(
        f"{len(found.hours)} hours from {first.day} {first.hour}:00 to {last.day} {last.hour}:00 "
        f"are in {target} ({replaced} replaced)."
    )
    if found.left_out:
        click.echo(f"{found.left_out} periods had no wind or temperature and were left out.")


def _write_whole(target: Path, text: str) -> None:
    """The file appears whole or not at all."""
    handle, name = tempfile.mkstemp(prefix=f".{target.name}-", dir=target.parent)
    aside = Path(name)
    try:
        with os.fdopen(handle, "w", encoding="utf-8", newline="") as file:
            file.write(text)
        if target.exists():
            aside.chmod(target.stat().st_mode & 0o777)
        else:
            aside.chmod(0o644)
        aside.replace(target)
    except BaseException:
        aside.unlink(missing_ok=True)
        raise
