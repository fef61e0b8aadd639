"""Labels of the program for refills: made, compared, kept or dropped.

A label stands at a refill (or the departure) before an order of the sequence.
"""

from planner.routing.compiled import columns as c
from planner.routing.compiled.day_arrays import DayArrays
from planner.routing.compiled.machine_code import compiled
from planner.routing.compiled.price import money
from planner.routing.compiled.scratch import PROVE, QUICK, Scratch

WAITING, DONE, DROPPED = 0, 1, 2
"""States of a label."""


@compiled
def next_label(day: DayArrays, work: Scratch, at: int) -> int:
    """The waiting label of a place to extend next, -1 = none (or enough were)."""
    best, done = -1, 0
    label = work.row[c.HEAD, at]
    while label >= 0:
        if work.label_at[label, c.STATE] == DONE:
            done += 1
        elif work.label_at[label, c.STATE] == WAITING and (
            best < 0 or work.label[label, c.PAID] < work.label[best, c.PAID]
        ):
            best = label
        label = work.label_at[label, c.NEXT]
    return -1 if work.kept != PROVE and done >= day.tuning[c.LABELS_KEPT] * work.kept else best


@compiled
def new_label(day: DayArrays, work: Scratch, truck: int, at: int, site: int) -> int:
    """A label at a site (-1 = the departure) before the order at `at`; -1 when memory is full."""
    label = work.found[c.LABELS_MADE]
    if label >= work.label_at.shape[0]:
        return -1
    work.found[c.LABELS_MADE] = label + 1
    work.label_at[label, c.AT], work.label_at[label, c.SITE] = at, site
    work.label_at[label, c.STATE], work.label_at[label, c.NEXT] = WAITING, -1
    return int(label)


@compiled
def hang(work: Scratch, at: int, label: int) -> None:
    """Add a label at the end of its place's list."""
    if work.row[c.HEAD, at] < 0:
        work.row[c.HEAD, at] = label
    else:
        work.label_at[work.row[c.TAIL, at], c.NEXT] = label
    work.row[c.TAIL, at] = label


@compiled
def compare_at(
    day: DayArrays, work: Scratch, truck: int, load: int, size: int, label: int, lunched: bool
) -> None:
    """Set the money and minute by which a label is compared: its own for the proof; while
    searching, those of its arrival at the next order, so that different sites compare."""
    clock, miles = work.label[label, c.CLOCK], work.label[label, c.MILES_SO_FAR]
    at, site = work.label_at[label, c.AT], work.label_at[label, c.SITE]
    if work.kept == QUICK:
        profile, place = day.truck_at[truck, c.PROFILE], day.site_place[site]
        there = day.site_place[day.truck_at[truck, c.YARD]]
        if at < size:
            there = day.order_at[work.sequence[at], c.PLACE]
        room = 0.0
        for row in range(day.truck_at[truck, c.PARTS]):
            room += day.part[truck, row, c.CAPACITY]
        clock += day.tuning[c.POUR_GUESS] * room / day.site[site, c.FLOW]
        clock += day.legs[profile, place, there, c.DRIVE_MIN]
        miles += day.legs[profile, place, there, c.MILES]
    work.label[label, c.REACH] = clock
    paid = money(
        day.truck, day.load, truck, load, clock, miles, lunched, work.label[label, c.BESIDE]
    )
    work.label[label, c.PAID] = paid + work.label[label, c.WISH]


@compiled
def keep(day: DayArrays, work: Scratch, truck: int, load: int, new: int) -> None:
    """Hang a label at its place unless another of its kind dominates it."""
    at = work.label_at[new, c.AT]
    like, dearest = 0, new
    other = work.row[c.HEAD, at]
    while other >= 0:
        if work.label_at[other, c.STATE] != DROPPED and same_kind(work, other, new):
            if dominates(day, work, truck, load, other, new):
                work.found[c.LABELS_MADE] -= 1
                return
            if dominates(day, work, truck, load, new, other):
                work.label_at[other, c.STATE] = DROPPED
            else:
                like += 1
                if work.label[other, c.PAID] > work.label[dearest, c.PAID]:
                    dearest = other
        other = work.label_at[other, c.NEXT]
    hang(work, at, new)
    if work.kept != PROVE and like >= work.kept:
        work.label_at[dearest, c.STATE] = DROPPED


@compiled
def same_kind(work: Scratch, one: int, other: int) -> bool:
    """Whether two labels of one place may be compared."""
    if work.kept != QUICK and work.label_at[one, c.SITE] != work.label_at[other, c.SITE]:
        return False
    if work.label_at[one, c.LUNCHED] != work.label_at[other, c.LUNCHED]:
        return False
    for mix in range(work.mixes):
        if work.label_at[one, c.PROMISED + mix] != work.label_at[other, c.PROMISED + mix]:
            return False
    return True


@compiled
def dominates(day: DayArrays, work: Scratch, truck: int, load: int, one: int, other: int) -> bool:
    """Whether `one` can do all that `other` can, at no more money."""
    if (
        work.label[one, c.REACH] > work.label[other, c.REACH]
        or work.label[one, c.PAID] > work.label[other, c.PAID]
    ):
        return False
    if work.kept == PROVE and (
        # Money of the clock is lost again where a later window absorbs the wait.
        work.label[one, c.MILES_SO_FAR] > work.label[other, c.MILES_SO_FAR]
        or work.label[one, c.WISH] > work.label[other, c.WISH]
    ):
        return False
    lacking, differ, usable = 0.0, False, 0.0
    parts = day.truck_at[truck, c.PARTS]
    for row in range(parts):
        mine, theirs = work.label[one, c.LEVEL + row], work.label[other, c.LEVEL + row]
        differ = differ or mine != theirs
        lacking += max(0.0, theirs - mine)
        usable += day.part[truck, row, c.CAPACITY]
    if work.kept == PROVE and differ:
        if day.load[load, c.BINDS] > 0.0:
            # Gallons left over weigh, and may crowd out what another mix needs.
            return False
        # Rounding and margins of the fills to come may differ by this much in all.
        lacking += parts + (day.margin - 1.0) * usable
    if lacking <= 0.0:
        return True
    minutes = lacking / day.least_flow
    # Overtime and the price of long days make a minute dearer than paid says.
    spent = minutes * day.truck[truck, c.DEAREST_PAY]
    return bool(
        work.label[one, c.REACH] + minutes <= work.label[other, c.REACH]
        and work.label[one, c.PAID] + spent <= work.label[other, c.PAID]
    )
