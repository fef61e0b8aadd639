"""Writing from a command: what was kept is told, and finished work is not lost."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, TypeVar

import click

from planner.outputs.folder import save_elsewhere, write_folder
from planner.outputs.told import NOT_WRITTEN, OutputError, Written

Command = TypeVar("Command", bound=Callable[..., Any])

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
