"""Fills that went as planned over more than was to be left: the gallons that follow.

A mix sheet brings a compartment to a level: its table answers a gauge that reads more with fewer
gallons, and product for them. "As planned" takes that answer for the level that the records leave.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

from planner.day.day import Workbook
from planner.mixing.measures import can_be_mixed, correction
from planner.mixing.recipes import recipe
from planner.plan.caught import measured_again
from planner.plan.model import Fill
from planner.records.day_log import replay
from planner.records.entries import Entry
from planner.records.store import Body


def fills_worked_out(
    found: Sequence[Entry],
    known: Mapping[str, Body],
    fills: Mapping[tuple[str, int, str], Fill],
    body_of: Callable[[Entry, Fill | None], Body],
    book: Workbook,
) -> tuple[list[Entry], dict[str, Body]]:
    """The entries and their bodies by subject. Where nobody stated a fill's gallons and more is
    left under it than a reading may be off, they go to the planned level, in whole gallons: 0 where
    it is over that or they are too little for a packet; a note says so. known: what is recorded
    already, by subject; fills: as the papers tell them, by truck, stop and compartment. Raises
    KeyError for a truck, mix or product that the workbook does not have."""
    told: list[Entry] = []
    planned = {
        one.step.subject: fills.get((one.truck.truck_id, one.step.stop, one.step.compartment_id))
        for one in found
    }
    bodies = {one.step.subject: body_of(one, planned[one.step.subject]) for one in found}
    for entry in found:
        step, fill = entry.step, planned[entry.step.subject]
        if entry.gal_as_planned and entry.actual.done and fill is not None:
            # A fill before it may have become another one.
            level_gal = replay(entry.truck, {**known, **bodies}).before_gal[step.subject]
            if level_gal - fill.level_before_gal > entry.truck.tank(step.compartment_id).slack_gal:
                entry, fill = _worked_out(entry, fill, level_gal, book)
                bodies[step.subject] = body_of(entry, fill)
        told.append(entry)
    return told, bodies


def _worked_out(entry: Entry, fill: Fill, level_gal: float, book: Workbook) -> tuple[Entry, Fill]:
    tank = book.trucks[entry.truck.truck_id].compartment(fill.compartment_id)
    answer = correction(book, recipe(book, fill.mix_id), tank, level_gal, fill.level_after_gal)
    gal = answer.gal if can_be_mixed(book, answer) else 0.0
    note = (
        f"gallons worked out, not read: {fill.gal:g} planned, {level_gal:.1f} gal were in it "
        f"instead of {fill.level_before_gal:.1f}"
    )
    notes = "; ".join(filter(None, (entry.actual.note, note)))
    actual = replace(entry.actual, gal=gal, note=notes)
    return replace(entry, actual=actual), measured_again(fill, book, tank, level_gal, gal)
