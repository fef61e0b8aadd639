"""A file of tuning numbers (`--tuning FILE`), read with everything that is wrong in it."""

import re
import tomllib
from pathlib import Path
from typing import Any

from planner.plain_files import bytes_of, why
from planner.problems import Problem, WorkbookError
from planner.routing.tuning import DEFAULT_TUNING, Tuning, limits_of
from planner.tables.text import did_you_mean


class TuningError(WorkbookError):
    """Everything that is wrong in a tuning file."""

    place = "the tuning file"


def read_tuning(path: Path) -> Tuning:
    """The numbers of a TOML file such as `search_rounds = 8`; what it leaves out is as in Tuning.
    Raises TuningError with every problem, each at the row of its key."""
    try:
        text = bytes_of(path).decode("utf-8-sig")
        content = tomllib.loads(text)
    except (OSError, ValueError, RecursionError) as error:
        cure = "a line looks like search_rounds = 8"
        problem = Problem(
            path.name, None, None, "TUNE-1", f"cannot be read: {why(error)}", cure=cure
        )
        raise TuningError([problem]) from None
    good: dict[str, Any] = {}
    problems = []
    for name, value in content.items():
        key = re.search(rf"^\s*\[?[\"']?{re.escape(name)}\b", text, re.MULTILINE)
        row = text.count("\n", 0, key.end()) + 1 if key else None
        if name not in limits_of():
            cure = did_you_mean(name, list(limits_of()), "`planner plan --json` prints them all")
            found = Problem(
                path.name, row, name, "TUNE-2", "there is no such number", str(value), cure
            )
            problems.append(found)
            continue
        default = getattr(DEFAULT_TUNING, name)
        parts = value if isinstance(value, list) else [value]
        if _kind(name) != _kind(name, value) or not all(_is_good(name, one) for one in parts):
            limits = limits_of()[name]
            message = f"not {_kind(name)} from {limits.least:g} to {limits.most:g}"
            cure = f"write it so, or leave it out for {default} ({limits.meaning})"
            problems.append(Problem(path.name, row, name, "TUNE-3", message, str(value), cure))
        elif isinstance(default, tuple):
            good[name] = tuple(map(float, parts))
        else:
            good[name] = type(default)(value)
    if problems:
        raise TuningError(problems)
    return Tuning(**good)


def _kind(name: str, value: object = None) -> str:
    """What the number is, in words. value: as it is written, None = as it should be."""
    default = getattr(DEFAULT_TUNING, name)
    shown = default if value is None else value
    if isinstance(shown, (list, tuple)):
        return f"a list of {len(shown)} numbers"
    return "a whole number" if isinstance(default, int) else "a number"


def _is_good(name: str, value: object) -> bool:
    limits, is_whole = limits_of()[name], isinstance(getattr(DEFAULT_TUNING, name), int)
    if isinstance(value, bool) or not isinstance(value, int if is_whole else (int, float)):
        return False
    return limits.least <= value <= limits.most
