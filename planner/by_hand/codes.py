"""What can be wrong in a stop order that a person changed."""

from __future__ import annotations

from typing import Final

from planner.problems import WorkbookError

OUT_BY_HAND: Final = "HAND"
"""Code of an unserved order that a person took out of the day."""


class StopOrderError(WorkbookError):
    """A stop order from which no plan can be worked out; carries every problem found."""

    place = "the stop order"
