"""The `planner` command; each subcommand is imported only when it is used."""

from __future__ import annotations

import importlib

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


class LazyGroup(click.Group):
    """Imports a command's module only when that command is asked for, so that help is quick."""

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
