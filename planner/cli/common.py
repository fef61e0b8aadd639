"""What several commands share: options, progress, and how errors become exit codes."""

from __future__ import annotations

import contextlib
import functools
import math
import os
import sys
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, fields, replace
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from planner.outputs.told import NOT_WRITTEN, OutputError, OutputRefused
from planner.problems import PlannerError, Problem, Problems, WorkbookError, counted, said
from planner.routing.engines import ENGINE_NAMES

if TYPE_CHECKING:
    from planner.routing.problem import SolveOptions
from collections.abc import Mapping

from planner.outputs.folder import save_elsewhere, write_folder
from planner.outputs.told import Written

EXIT_CODES = {
    0: "fine",
    1: "something is wrong in the tables, files or roads given",
    2: "wrong usage",
    3: "planned, with orders unserved or held by a rule",
    4: "the audit found violations",
    5: "the output cannot be written",
    130: "interrupted by Ctrl-C",
    141: "the program that was reading the output has ended",
}
"""Exit code -> meaning, the same for every command."""

DEFAULT_EFFORT_COUNT = 300
"""Enough for a branch's day of about 85 orders: some 15 seconds of two cores."""

AGAIN_EFFORT_COUNT = 200
"""For the rest of a running day, while crews wait: a few seconds of one core for a day of 100
orders at noon."""

Command = TypeVar("Command", bound=Callable[..., Any])

ANY_PATH = click.Path(path_type=Path)
FILE = click.Path(dir_okay=False, path_type=Path)
FILE_THERE = click.Path(exists=True, dir_okay=False, path_type=Path)


class WorkbookPath(click.Path):
    """A workbook: a file, or a folder that holds a table at least."""

    def __init__(self) -> None:
        super().__init__(exists=True, path_type=Path)

    def convert(
        self,
        value: str | os.PathLike[str],
        param: click.Parameter | None,
        ctx: click.Context | None,
    ) -> Any:
        """The path. Raises click.BadParameter."""
        from planner.tables.open_sheets import SPREADSHEET_SUFFIXES, holds_tables

        place = Path(str(super().convert(value, param, ctx)))
        if place.is_dir() and not holds_tables(place):
            self.fail(f"Folder '{place}' holds no table of a workbook.", param, ctx)
        if not place.is_dir() and place.suffix.lower() not in SPREADSHEET_SUFFIXES:
            self.fail(f"'{place}' is no workbook: name a folder of tables or an .xlsx file.")
        return place


workbook_argument = click.argument("workbook", type=WorkbookPath())


def json_option(what: str) -> Callable[[Command], Command]:
    """--json. what: is printed."""
    return click.option("--json", "as_json", is_flag=True, help=f"Print {what} as JSON.")


def engine_option(**more: Any) -> Callable[[Command], Command]:
    """--engine: what the one list of engines has."""
    return click.option("--engine", type=click.Choice(ENGINE_NAMES), **more)


@dataclass(frozen=True)
class SearchOptions:
    """How to search, as it was written; None = not said."""

    engine: str
    effort: int | None
    seconds: float | None
    tuning: Path | None
    seed: int

    def read(self, usual: int = DEFAULT_EFFORT_COUNT) -> SolveOptions:
        """The same for an engine. usual: effort by count where none is given. Raises
        click.UsageError; ends with every problem of the tuning file."""
        from planner.routing.problem import Effort, SolveOptions
        from planner.tuning_file import read_tuning

        if self.effort is not None and self.seconds is not None:
            raise click.UsageError("give --effort or --seconds, not both")
        effort = (
            Effort(self.effort or usual) if self.seconds is None else Effort(None, self.seconds)
        )
        if self.tuning is not None:
            with told_plainly():
                effort = replace(effort, tuning=read_tuning(self.tuning))
        return SolveOptions(effort, self.seed, engine=self.engine)


def search_options(command: Command) -> Command:
    """--engine, --effort, --seconds, --tuning and --seed, as one SearchOptions."""

    @functools.wraps(command)
    def with_options(*args: Any, **rest: Any) -> Any:
        written = {one.name: rest.pop(one.name) for one in fields(SearchOptions)}
        return command(*args, search=SearchOptions(**written), **rest)

    for option in (
        click.option("--seed", type=int, default=1, show_default=True, help="Random seed."),
        click.option(
            "--tuning",
            type=FILE_THERE,
            help="TOML file of numbers that steer the engines (--json prints those in force).",
        ),
        click.option(
            "--seconds",
            type=FiniteRange(min=0.5),
            help="Search for this long by the clock (not repeatable to the byte).",
        ),
        click.option(
            "--effort",
            type=click.IntRange(min=1),
            help=f"Search by count, the same on any machine [default: {DEFAULT_EFFORT_COUNT}].",
        ),
        engine_option(
            default="search",
            show_default=True,
            help="ortools needs no compiling; nearest-fit is the plain yardstick.",
        ),
    ):
        with_options = option(with_options)
    return with_options  # type: ignore[return-value]


def road_option(command: Command) -> Command:
    """--roads."""
    return click.option(
        "--roads",
        "extract",
        type=FILE_THERE,
        help="Road extract (.osm.pbf) or matrix (.csv) instead of the one in planner.toml.",
    )(command)


def hand_options(command: Command) -> Command:
    """--stops and --recompute."""
    for option in (
        click.option(
            "--recompute",
            is_flag=True,
            help="Take loading and stops of PLAN_FILE as they are and work every clock time and "
            "gallon out again (after it was edited by hand).",
        ),
        click.option(
            "--stops",
            type=ANY_PATH,
            help="Stop order that you changed (stop-order.csv of the plan's folder, CSV or .xlsx; "
            "also looked for beside PLAN_FILE); every clock time and gallon is worked out again.",
        ),
    ):
        command = option(command)
    return command


class FiniteRange(click.FloatRange):
    """A number within bounds; nan is none."""

    def convert(self, value: Any, param: Any, ctx: Any) -> Any:
        """The number. Raises click.BadParameter."""
        number = super().convert(value, param, ctx)
        if isinstance(number, float) and not math.isfinite(number):
            self.fail(f"{value!r} is no number.", param, ctx)
        return number


def there(given: Path, beside: Path | None, name: str) -> Path:
    """A file as it was given, or of that name in the folder `beside`. Raises click.UsageError."""
    places = [given]
    if beside is not None and not given.is_absolute():
        places.append(beside / given)
    for place in places:
        if place.is_file():
            return place
    raise click.UsageError(f"{name}: there is no file {' or '.join(map(str, places))}")


class PlanPath(click.Path):
    """A plan.json, or the folder that it lies in."""

    def __init__(self) -> None:
        super().__init__(exists=True, dir_okay=False, path_type=Path)

    def convert(
        self,
        value: str | os.PathLike[str],
        param: click.Parameter | None,
        ctx: click.Context | None,
    ) -> Any:
        """The file that is meant."""
        place = Path(value)
        if not place.is_dir():
            return super().convert(place, param, ctx)
        file = place / "plan.json"
        if not file.is_file():
            self.fail(f"Folder '{place}' holds no plan.json.", param, ctx)
        return super().convert(file, param, ctx)


def parse_date(text: str) -> date:
    """A day written as 2027-04-14, in the years that tables may name. Raises click.BadParameter."""
    try:
        day = datetime.strptime(text, "%Y-%m-%d").date()
    except ValueError:
        raise click.BadParameter(f"'{text}' is not a day written like 2027-04-14") from None
    from planner.tables.clock_cells import FIRST_YEAR, LAST_YEAR

    if not FIRST_YEAR <= day.year <= LAST_YEAR:
        raise click.BadParameter(f"{text} is not between {FIRST_YEAR} and {LAST_YEAR}")
    return day


@contextlib.contextmanager
def told_plainly(progress: ProgressLine | None = None) -> Iterator[None]:
    """Turn the planner's own errors into text on stderr and exit code 1, 2 for a place that is none
    to write to, or 5 for one that cannot be written. progress: a bar to wipe before."""
    try:
        yield
    except PlannerError as error:
        if progress is not None:
            progress.close()
        if isinstance(error, OutputRefused):
            raise click.UsageError(str(error)) from None
        if isinstance(error, WorkbookError):
            print_problems(error.problems, error.place)
        else:
            click.echo(said(f"Error: {error}"), err=True)
        sys.exit(NOT_WRITTEN if isinstance(error, OutputError) else 1)


def print_problems(problems: Iterable[Problem], place: str = "the workbook") -> None:
    """All problems on stderr, with their number. place: where they are, in words."""
    every = Problems()
    every.extend(problems)
    for line in every.lines():
        click.echo(line, err=True)
    click.echo(f"{counted(len(every), 'problem')} in {place}; nothing was written.", err=True)


class ProgressLine:
    """A progress bar on stderr; silent when stderr is not a terminal, unless PLANNER_PROGRESS=lines
    asks for a line each time, share first."""

    def __init__(self) -> None:
        self._lines = os.environ.get("PLANNER_PROGRESS") == "lines"
        self._live = sys.stderr is not None and sys.stderr.isatty()
        self._width = 0

    def __call__(self, share: float, text: str) -> None:
        """Draw the bar. share: 0 to 1."""
        if self._lines:
            click.echo(f"{min(1.0, max(0.0, share)):.3f} {text}", err=True)
        if not self._live:
            return
        done = round(30 * min(1.0, max(0.0, share)))
        line = f"\r[{'#' * done}{'.' * (30 - done)}] {100 * share:3.0f} %  {text}"
        click.echo(line.ljust(self._width), err=True, nl=False)
        self._width = len(line)

    def close(self) -> None:
        """Wipe the bar."""
        if self._live and self._width:
            click.echo("\r" + " " * self._width + "\r", err=True, nl=False)


NEVER_WRITTEN = (".sqlite", ".toml", ".xlsx", ".xlsm")
"""What is named so is the office's own."""


class FileToWrite(click.Path):
    """A file that a command writes: never a table, the settings or the records of a workbook, and
    no new table among them, even when --force is given. records: it is a copy of records."""

    def __init__(self, *, records: bool = False) -> None:
        super().__init__(dir_okay=False, path_type=Path)
        self._never = NEVER_WRITTEN[records:]

    def convert(
        self,
        value: str | os.PathLike[str],
        param: click.Parameter | None,
        ctx: click.Context | None,
    ) -> Any:
        """The path. Raises click.BadParameter."""
        place = Path(str(super().convert(value, param, ctx)))
        table = place.suffix.lower() in (".csv", ".tsv") and not place.name.startswith("_")
        if place.suffix.lower() in self._never or (
            table and os.path.lexists(place.parent / "properties.csv")
        ):
            self.fail(f"'{place}' is or would be a part of a workbook; name another file")
        return place


def force_option(command: Command) -> Command:
    """--force."""
    return click.option(
        "--force",
        is_flag=True,
        help="Overwrite files that were changed since the planner wrote them; without it they are "
        "kept.",
    )(command)


def deliver(target: Path, files: Mapping[str, str], force: bool) -> tuple[str, ...]:
    """Write a finished result and say on stderr what was kept; what was said. When it cannot be
    written, it goes into the temporary folder, and the program ends with exit code 5."""
    try:
        return tell(write_folder(target, files, force=force)).told
    except OutputError as error:
        click.echo(f"Error: {error}", err=True)
        spare = save_elsewhere(target, files)
        if spare is None:
            click.echo("No other place took the finished work either.", err=True)
        else:
            click.echo(f"The finished work is not lost, it is in {spare}: copy it.", err=True)
        sys.exit(NOT_WRITTEN)


def tell(written: Written) -> Written:
    """Say on stderr what was kept or overwritten."""
    for line in written.told:
        click.echo(line, err=True)
    return written
