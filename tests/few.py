"""How many random cases a check draws: a few in every run of the suite, all of them with
`PLANNER_ALL_CASES=1 pytest tests/test_….py`."""

from __future__ import annotations

import os

ALL = bool(os.environ.get("PLANNER_ALL_CASES"))


def few(count: int, of: int) -> int:
    """`count`, or all `of` them where that is asked for."""
    return of if ALL else count
