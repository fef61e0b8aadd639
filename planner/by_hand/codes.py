"""What can be wrong in a stop order that a person changed."""

from __future__ import annotations

from typing import Final

from planner.problems import WorkbookError

HAND_CODES: Final = {
    "HAND-1": "An order of the stop order is not among those due on the day",
    "HAND-2": "Two rows of the stop order are about the same order or compartment",
    "HAND-3": "A truck, compartment, site or mix of the stop order is unknown",
    "HAND-4": "An order's mix is not loaded on its truck",
    "HAND-5": "A row of the stop order lacks something, or has something that it cannot have",
    "HAND-6": "The mix of an order was changed in the stop order",
    "HAND-8": "A row changes what is done already, or on board of a truck that is out",
}
"""Code -> title."""

OUT_BY_HAND: Final = "HAND"
"""Code of an unserved order that a person took out of the day."""


class StopOrderError(WorkbookError):
    """A stop order from which no plan can be worked out; carries every problem found."""

    place = "the stop order"
