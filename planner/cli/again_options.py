"""Options that tell of a running day."""

from __future__ import annotations

import functools
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeVar

import click

from planner.cli.common import AGAIN_EFFORT_COUNT, PlanPath

Command = TypeVar("Command", bound=Callable[..., Any])


@dataclass(frozen=True)
class AgainOptions:
    """What was written. earlier: plan.json of the day; the other fields: the options."""

    earlier: Path
    at: str | None
    done: tuple[str, ...]
    opened: tuple[str, ...]
    skip: tuple[str, ...]
    add: tuple[str, ...]
    truck: tuple[str, ...]
    filled: bool


def again_options(command: Command) -> Command:
    """--again and what goes with it, as one AgainOptions or None. Raises click.UsageError when one
    of them stands without --again, or --at is missing."""

    @functools.wraps(command)
    def with_options(*args: Any, **rest: Any) -> Any:
        written = {name: rest.pop(name) for name in _NAMES}
        earlier = written.pop("earlier")
        if earlier is None:
            if any(written.values()):
                raise click.UsageError("these options need --again PLAN.json")
            return command(*args, **rest, again=None)
        if not written["at"]:
            raise click.UsageError("--again needs --at, the time from which to plan")
        return command(*args, **rest, again=AgainOptions(earlier, **written))

    for option in reversed(_OPTIONS):
        with_options = option(with_options)
    return with_options  # type: ignore[return-value]


_NAMES = ("earlier", "at", "done", "opened", "skip", "add", "truck", "filled")

_OPTIONS = (
    click.option(
        "--again",
        "earlier",
        type=PlanPath(),
        help="Plan the running day of this plan.json again; what is done stays. [default effort: "
        f"{AGAIN_EFFORT_COUNT}]",
    ),
    click.option("--at", help="Time of day from which it is planned again, as 11:40 or 1:10 PM."),
    click.option(
        "--done",
        multiple=True,
        metavar="ORDERS",
        help="Orders that are done although their truck has not set out for them by the plan.",
    ),
    click.option(
        "--open",
        "opened",
        multiple=True,
        metavar="ORDERS",
        help="Orders that are not done although their truck has set out for them by the plan.",
    ),
    click.option(
        "--skip", multiple=True, metavar="ORDERS", help="Orders to leave out for the day."
    ),
    click.option("--add", multiple=True, metavar="ORDERS", help="Orders of other days to take in."),
    click.option(
        "--truck",
        multiple=True,
        metavar="TRUCK=STATE",
        help="T3=down: does nothing more; T2=12:10: goes on from then.",
    ),
    click.option(
        "--filled",
        is_flag=True,
        help="Trucks that have not left stand filled as planned; they keep their load.",
    ),
)
