"""`planner forecast`: the public weather service's hours into the weather table."""

import sys
from pathlib import Path

import click

from planner.cli.common import (
    FILE,
    FILE_THERE,
    force_option,
    print_problems,
    tell,
    told_plainly,
    workbook_argument,
)
from planner.plain_files import text_of, why


@click.command("forecast")
@workbook_argument
@click.option(
    "--from", "saved", type=FILE_THERE, help="Saved hourly JSON instead of what planner.toml names."
)
@click.option("--area", help="Weather area of the rows [default: as planner.toml says, or none].")
@click.option(
    "--out",
    type=FILE,
    help="File to write [default: the workbook's weather.csv]; needed for an Excel workbook.",
)
@force_option
def command(
    workbook: Path, saved: Path | None, area: str | None, out: Path | None, force: bool
) -> None:
    """Update the WORKBOOK's weather table from an hourly forecast.

    Reads a saved file, or the file or address under [forecast] in planner.toml; without any of them
    nothing is asked for. Hours that the table already has are replaced, all others stay. A table in
    which anything was typed is kept beside it as _weather-1.csv, which is not read.

    \b
    Example:
        planner forecast spring --from hourly.json
    """
    from planner.forecast_service import fetch_forecast
    from planner.outputs.file import write_file
    from planner.tables.forecast import ForecastError, merged_weather, read_forecast, weather_csv
    from planner.tables.office import ForecastSource, load_office_file
    from planner.tables.read import read_workbook

    target = out or (_weather_table(workbook) if workbook.is_dir() else None)
    if target is None:
        raise click.UsageError("an Excel workbook is not changed: name a file with --out, and copy")
    office = load_office_file(workbook)
    reading = read_workbook(workbook, office.columns)
    wrong = [*office.problems, *(p for p in reading.problems if Path(p.file).stem == "weather")]
    if reading.workbook is None and target.exists():
        # Its hours cannot be taken over, and none may be lost.
        wrong = [*office.problems, *reading.problems]
    if wrong:
        print_problems(wrong)
        sys.exit(1)
    source = office.forecast or ForecastSource()
    folder = workbook if workbook.is_dir() else workbook.parent
    chosen = saved or (folder / source.file if source.file else None)
    try:
        if chosen is not None:
            text = text_of(chosen, errors="replace")
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
    except (ForecastError, OSError) as error:
        where = f"{chosen}: " if chosen is not None else ""
        click.echo(f"Error: {where}{why(error)}", err=True)
        sys.exit(1)
    with told_plainly():
        # The workbook's table must hold the new hours; the old one moves. A file of another name
        # is not read: there the new one moves.
        aside = "" if out else "_weather.csv"
        made = write_file(target, weather_csv(rows), force=force, old_aside=aside)
        target = tell(made).path
    first, last = found.hours[0], found.hours[-1]
    click.echo(
        f"{len(found.hours)} hours from {first.day} {first.hour}:00 to {last.day} {last.hour}:00 "
        f"are in {target} ({replaced} replaced)."
    )
    if found.left_out:
        click.echo(f"{found.left_out} periods had no wind or temperature and were left out.")


def _weather_table(workbook: Path) -> Path:
    """The table as it is named there (Weather.CSV), else as the planner names it."""
    names = sorted(file for file in workbook.iterdir() if file.name.casefold() == "weather.csv")
    return names[0] if names else workbook / "weather.csv"
