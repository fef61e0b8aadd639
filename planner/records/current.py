"""What holds now: of each thing the last word, corrections included."""

from collections.abc import Iterable
from typing import Any, Final

from planner.records.store import Event

PLANNED: Final = "planned"
FILLED: Final = "filled"
SPRAYED: Final = "sprayed"
SKIPPED: Final = "skipped"
LEFT_OVER: Final = "left"
CORRECTED: Final = "corrected"
"""Kinds of events. A correction's body is the whole record as it should have been, with the kind
that it is (`is`), the number of the record that it corrects (`corrects`) and why."""

TICKED: Final = "ticked"
"""Kind of a message of a crew on its way; it may become a record (`planner/records/ticks.py`)."""

PRINTED: Final = "printed"
NAMED: Final = "named"
WITHDRAWN: Final = "withdrawn"
"""Kinds of events about a date's plan of record: its papers were written, the office named it,
papers that were announced could not be written (`planner/records/plans.py`)."""


def current(events: Iterable[Event]) -> dict[str, Event]:
    """Subject -> its last event, in the order in which the subjects came up."""
    found: dict[str, Event] = {}
    for event in events:
        found[event.subject] = event
    return found


def kind_of(event: Event) -> str:
    """What the event tells, seen through a correction."""
    return str(event.body["is"]) if event.kind == CORRECTED else event.kind


def whole_of(body: dict[str, Any]) -> str:
    """The order of the tables that a record of an order, or of a part of one, belongs to."""
    return str(body.get("part_of") or body["order_id"])
