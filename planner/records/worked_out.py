"""Fills that went as planned over more than was to be left: the gallons that follow.

A mix sheet brings a compartment to a level: its table answers a gauge that reads more with fewer
gallons, and product for them. "As planned" takes that answer for the level that the records leave.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Final

from planner.day.day import Workbook
from planner.mixing.measures import can_be_mixed, correction
from planner.mixing.recipes import recipe
from planner.plan.caught import measured_again
from planner.plan.model import Fill
from planner.records.day_log import LoggedTruckDay, replay
from planner.records.entries import Entry
from planner.records.sheet import FILL
from planner.records.store import Body

NOT_READ: Final = "gallons worked out, not read: "


def fills_worked_out(
    found: Sequence[Entry],
    known: Mapping[str, Body],
    fills: Mapping[tuple[str, int, str], Fill],
    body_of: Callable[[Entry, Fill | None], Body],
    book: Workbook,
) -> tuple[list[Entry], dict[str, Body]]:
    """The entries and their bodies by subject. Where nobody stated a fill's gallons and more is
    left under it than a reading may be off, they go to the planned level, in whole gallons: 0 where
    it is over that or they are too little for a packet; a note says so. A level that was read under
    it goes before the sum, and counts where it is lower, too. known: what is recorded
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
            off_gal = level_gal - fill.level_before_gal
            if entry.actual.level_read_gal is not None:
                off_gal = abs(off_gal)
            if off_gal > entry.truck.tank(step.compartment_id).slack_gal:
                entry, fill = _worked_out(entry, fill, level_gal, book)
                bodies[step.subject] = body_of(entry, fill)
        told.append(entry)
    return told, bodies


def _worked_out(entry: Entry, fill: Fill, level_gal: float, book: Workbook) -> tuple[Entry, Fill]:
    tank = book.trucks[entry.truck.truck_id].compartment(fill.compartment_id)
    gal = _to_the_level(fill, entry.truck.truck_id, level_gal, book)
    by = "were in it" if entry.actual.level_read_gal is None else "were read on its gauge"
    note = (
        f"{NOT_READ}{fill.gal:g} planned, {level_gal:.1f} gal {by} "
        f"instead of {fill.level_before_gal:.1f}"
    )
    notes = "; ".join(filter(None, (entry.actual.note, note)))
    actual = replace(entry.actual, gal=gal, note=notes)
    return replace(entry, actual=actual), measured_again(fill, book, tank, level_gal, gal)


def _to_the_level(fill: Fill, truck_id: str, level_gal: float, book: Workbook) -> float:
    tank = book.trucks[truck_id].compartment(fill.compartment_id)
    answer = correction(book, recipe(book, fill.mix_id), tank, level_gal, fill.level_after_gal)
    return answer.gal if can_be_mixed(book, answer) else 0.0


def worked_out_lines(found: Sequence[Entry], bodies: Mapping[str, Body]) -> Iterator[str]:
    """A sentence for each fill whose gallons were worked out. bodies: by subject, as they will be
    recorded."""
    for entry in found:
        body = bodies[entry.step.subject]
        _, is_so, why = body["note"].rpartition(NOT_READ)
        if is_so and entry.gal_as_planned:
            yield f"{_place(body)}: {body['gal']:g} gal worked out, not read ({why})."


def fills_to_look_at(
    trucks: Sequence[LoggedTruckDay],
    before: Mapping[str, Body],
    after: Mapping[str, Body],
    fills: Mapping[tuple[str, int, str], Fill],
    book: Workbook,
) -> Iterator[str]:
    """A sentence for each recorded fill under which a correction leaves another level, further off
    than a reading may be: its gallons stay as they are recorded, for somebody may have measured
    them. before, after: the records by subject, without and with the corrections."""
    for truck in trucks:
        was, now = replay(truck, before).before_gal, replay(truck, after).before_gal
        for step in truck.steps:
            one, key = step.subject, (truck.truck_id, step.stop, step.compartment_id)
            if step.what != FILL or before.get(one) != after.get(one) or one not in was:
                continue
            if abs(now[one] - was[one]) <= truck.tank(step.compartment_id).slack_gal:
                continue
            cure = ""
            if (fill := fills.get(key)) is not None:
                gal = _to_the_level(fill, truck.truck_id, now[one], book)
                cure = f" If nobody measured them, correct it, too; the mix sheet says {gal:g} gal."
            yield (
                f"{_place(after[one])} stays recorded with {after[one]['gal']:g} gal, on top of "
                f"{now[one]:.1f} gal by this correction ({was[one]:.1f} before).{cure}"
            )


def _place(body: Body) -> str:
    return f"{body['truck_id']}, compartment {body['compartment_id']}, fill at stop {body['stop']}"
