"""What a truck more asks of the person on it: a comparison counts pay, and no license."""

from collections.abc import Iterator, Sequence

from planner.compare.fleets import Fleet
from planner.compliance.licensed import needs, state_of
from planner.compliance.thresholds import is_commercial_motor_vehicle
from planner.day.day import Workbook
from planner.problems import counted


def staff_lines(book: Workbook, fleets: Sequence[Fleet]) -> Iterator[str]:
    """A sentence for each fleet of more trucks than the present one, which is the first."""
    present, *others = fleets
    for fleet in others:
        more = len(fleet.trucks) - len(present.trucks)
        if more > 0:
            asked = " and ".join(licenses_asked(book))
            what = asked or "the license or certificate that the state asks for this work"
            heavy = any(is_commercial_motor_vehicle(one.gvwr_lb) for one in fleet.trucks.values())
            card = " (and a medical card on trucks of 10,001 lb or more)" if heavy else ""
            yield (
                f"{fleet.name} goes out with {counted(more, 'truck')} more: on each, somebody "
                f"needs {what}{card}. Finding, training and certifying people is in no figure; "
                "ask the state how long it takes."
            )


def licenses_asked(book: Workbook) -> list[str]:
    """What the orders of the table ask of somebody on the truck, each once with its section."""
    kinds = {(one.mix_id, state_of(book, one.property_id)): one for one in book.orders.values()}
    asked = (need for order in kinds.values() for need in needs(book, order))
    return list(dict.fromkeys(f"{need.text} ({need.cited})" for need in asked))
