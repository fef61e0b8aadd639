"""Writing from a command: what was kept is told, and finished work is not lost."""

from __future__ import annotations

import sys
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, TypeVar

import click

from planner.outputs.folder import save_elsewhere, write_folder
from planner.outputs.told import OutputError, Written

Command = TypeVar("Command", bound=Callable[..., Any])


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
    written, it goes into the temporary folder, and the program ends with exit code 1."""
    try:
        return tell(write_folder(target, files, force=force)).told
    except OutputError as error:
        click.echo(f"Error: {error}", err=True)
        spare = save_elsewhere(target, files)
        if spare is None:
            click.echo("No other place took the finished work either.", err=True)
        else:
            click.echo(f"The finished work is not lost, it is in {spare}: copy it.", err=True)
        sys.exit(1)


def tell(written: Written) -> Written:
    """Say on stderr what was kept or overwritten."""
    for line in written.told:
        click.echo(line, err=True)
    return written
