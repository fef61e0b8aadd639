"""The `planner` command; each subcommand is imported only when it is used."""

from __future__ import annotations

import contextlib
import errno
import importlib
import os
import sys
from typing import Any

import click

import planner

COMMANDS = {
    "audit": "planner.cli.audit",
    "check": "planner.cli.check",
    "columns": "planner.cli.columns",
    "compare": "planner.cli.compare",
    "days": "planner.cli.days",
    "demo": "planner.cli.demo",
    "export": "planner.cli.export",
    "forecast": "planner.cli.forecast",
    "import": "planner.cli.import_export",
    "locate": "planner.cli.locate",
    "new": "planner.cli.new",
    "packet": "planner.cli.packet",
    "plan": "planner.cli.plan",
    "record": "planner.cli.record",
    "roads": "planner.cli.roads",
}
"""Command -> module that defines it as `command`."""

INTERRUPTED = 130
NOBODY_READS = 141
NOT_PRINTED = 5
STREAM_ERRORS = (errno.ENOSPC, errno.EBADF, errno.EIO, errno.ENXIO, errno.EPIPE)


class LazyGroup(click.Group):
    """Imports a command's module only when that command is asked for, so that help is quick.
    Whatever ends a command becomes its exit code."""

    def main(self, *args: Any, **extra: Any) -> Any:
        """Run the command and leave with its exit code."""
        code: Any = 0
        stdout = sys.stdout
        try:
            try:
                code = super().main(*args, **(extra | {"standalone_mode": False}))
            except SystemExit as end:
                code = end.code
                if sys.stdout is not stdout:  # Click's way to say that the pipe is closed.
                    code = NOBODY_READS
            except click.ClickException as error:
                error.show()
                code = error.exit_code
            if sys.stdout is not None:
                sys.stdout.flush()
        except (click.Abort, KeyboardInterrupt):
            with contextlib.suppress(OSError):
                click.echo("Interrupted.", err=True)
            code = INTERRUPTED
        except OSError as error:
            if error.filename is not None or error.errno not in STREAM_ERRORS:
                raise
            code = NOBODY_READS if error.errno == errno.EPIPE else NOT_PRINTED
            with contextlib.suppress(OSError):
                click.echo(f"Error: what is printed cannot be written: {error.strerror}", err=True)
            # Python would try once more at its end, and complain aloud.
            sys.stdout = open(os.devnull, "w")  # noqa: PTH123, SIM115
        sys.exit(code)

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Names of all commands."""
        return sorted(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """The command of that name, or None."""
        if cmd_name not in COMMANDS:
            return None
        command = importlib.import_module(COMMANDS[cmd_name]).command
        assert isinstance(command, click.Command)
        return command


@click.group(cls=LazyGroup, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(planner.__version__, prog_name="planner")
def main() -> None:
    """Plan a lawn-spray crew's day: mixes, compartments, routes, refills and papers."""
