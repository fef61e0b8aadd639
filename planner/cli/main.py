"""The `planner` command; each subcommand is imported only when it is used."""

import contextlib
import errno
import importlib
import os
import sys
from collections.abc import Sequence
from typing import Any

import click

import planner
from planner.outputs.told import NOT_WRITTEN
from planner.problems import said

COMMANDS = {
    "audit": ("planner.cli.audit", "Check a plan, also one changed by hand, against every rule."),
    "check": ("planner.cli.check", "Check a workbook and name everything that is wrong."),
    "columns": ("planner.cli.columns", "Explain the tables and their columns."),
    "compare": ("planner.cli.compare", "Plan the same days with several fleets, side by side."),
    "days": ("planner.cli.days", "Each day's plan: which is valid, what is recorded and open."),
    "demo": ("planner.cli.demo", "Plan the invented demo day, or compare fleets on its season."),
    "export": ("planner.cli.export", "Records as CSV: applications, year's sums, a property."),
    "forecast": ("planner.cli.forecast", "Write the weather service's hours into weather.csv."),
    "import": ("planner.cli.import_export", "Bring in another program's customers and services."),
    "locate": ("planner.cli.locate", "Find coordinates of properties from their addresses."),
    "new": ("planner.cli.new", "Make a starter workbook (CSV folder or .xlsx)."),
    "packet": ("planner.cli.packet", "Write papers and map again from a plan.json."),
    "phone": ("planner.cli.phone", "Write a page per truck for the crews' phones."),
    "plan": ("planner.cli.plan", "Plan a day: plan.json, packets, pick list and map."),
    "record": ("planner.cli.record", "Record what was really done; check and back up the records."),
    "roads": ("planner.cli.roads", "Build and describe the road graph of an extract."),
    "rounds": ("planner.cli.rounds", "Where properties stand in their programs; make the orders."),
    "serve": ("planner.cli.serve", "Open a day as a page in the browser, to change and print it."),
    "weeks": ("planner.cli.weeks", "Lay every open order on a day and a truck of the next weeks."),
}
"""Command -> (module that defines it as `command`, what it does in a line)."""

INTERRUPTED = 130
NOBODY_READS = 141
STREAM_ERRORS = (
    errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EBADF, errno.EIO, errno.ENXIO, errno.EPIPE,
)  # fmt: skip


def _look_at_words(words: Sequence[str]) -> None:
    """Raise click.UsageError for a word that means nothing to any command."""
    for word in words:
        if not word.strip() or (word.startswith("--") and word.endswith("=")):
            raise click.UsageError("a word is empty; leave its option out, or say what is meant")
        try:
            word.encode()
        except UnicodeEncodeError:
            raise click.UsageError(f"{word!a} is no text; give the file another name") from None


class LazyGroup(click.Group):
    """Imports a command's module only when that command is asked for, so that help is quick.
    Whatever ends a command becomes its exit code."""

    def main(self, *args: Any, **extra: Any) -> Any:
        """Run the command and leave with its exit code."""
        code: Any = 0
        stdout = sys.stdout
        try:
            try:
                given = args[0] if args else extra.get("args")
                _look_at_words(sys.argv[1:] if given is None else given)
                code = super().main(*args, **(extra | {"standalone_mode": False}))
            except SystemExit as end:
                code = end.code
                if sys.stdout is not stdout:  # Click's way to say that the pipe is closed.
                    code = NOBODY_READS
            except click.ClickException as error:
                vars(error)["message"] = said(error.message)
                error.show()
                code = error.exit_code
            if sys.stdout is not None:
                sys.stdout.flush()
        except (click.Abort, KeyboardInterrupt):
            with contextlib.suppress(OSError):
                click.echo("Interrupted.", err=True)
            code = INTERRUPTED
        except OSError as error:
            if error.filename is not None:
                # A place that was named cannot be used; whoever knows more of it has said so.
                cure = "; see that you may open it and its folder"
                cure = cure if isinstance(error, PermissionError) else ""
                click.echo(said(f"Error: {error.filename}: {error.strerror}{cure}"), err=True)
                sys.exit(1)
            if error.errno not in STREAM_ERRORS:
                raise
            code = NOBODY_READS if error.errno == errno.EPIPE else NOT_WRITTEN
            with contextlib.suppress(OSError):
                click.echo(f"Error: the output cannot be written: {error.strerror}", err=True)
            # Python would try once more at its end, and complain aloud.
            sys.stdout = open(os.devnull, "w", encoding="utf-8")  # noqa: PTH123, SIM115
        sys.exit(code)

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Names of all commands."""
        return sorted(COMMANDS)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """The commands and what they do, without importing any."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, what) for name, (_, what) in sorted(COMMANDS.items())])

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """The command of that name, or None."""
        if cmd_name not in COMMANDS:
            return None
        module, short_help = COMMANDS[cmd_name]
        command = importlib.import_module(module).command
        assert isinstance(command, click.Command)
        command.short_help = short_help
        return command


@click.group(cls=LazyGroup, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(planner.__version__, prog_name="planner")
def main() -> None:
    """Plan a lawn-spray crew's day: mixes, compartments, routes, refills and papers."""
