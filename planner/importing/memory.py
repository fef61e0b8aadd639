"""What the last import wrote, kept beside the mapping, so that typed cells can be told from it."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path

from planner.importing.mapping import TABLES
from planner.plain_files import text_of, why
from planner.problems import PlannerError

Remembered = Mapping[str, Mapping[str, Mapping[str, str]]]
"""Table -> key -> column -> text."""

_ABOUT = (
    "What `planner import` wrote into the tables last, to tell what somebody typed since. "
    "Leave it as it is; without it, every cell that differs from the export counts as typed."
)


def memory_path(mapping: Path) -> Path:
    """Where it lies: 'import-memory.json' beside 'import.toml'."""
    return mapping.with_name(f"{mapping.stem}-memory.json")


def read_memory(path: Path) -> dict[str, dict[str, dict[str, str]]]:
    """Empty when there is none. Raises PlannerError when it cannot be read."""
    if not path.exists():
        return {table: {} for table in TABLES}
    try:
        content = json.loads(text_of(path))
        return {
            table: {
                str(key): {str(name): str(text) for name, text in row.items()}
                for key, row in content[table].items()
            }
            for table in TABLES
        }
    except (OSError, ValueError, KeyError, AttributeError, TypeError, RecursionError) as error:
        said = why(error) if isinstance(error, OSError | ValueError) else "it is no import's memory"
        raise PlannerError(
            f"{path} cannot be read ({said}); put back an older copy, or delete it: every "
            "cell that differs from the export then counts as typed by hand and stays"
        ) from error


def memory_text(memory: Remembered) -> str:
    """The file's text, the same for the same memory."""
    content = {"about": _ABOUT, **memory}
    return json.dumps(content, ensure_ascii=False, indent=1, sort_keys=True) + "\n"
