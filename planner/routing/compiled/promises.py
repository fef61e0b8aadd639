"""Up to which of a mix's orders the gallons on board are to last: what labels of refills promise of
mixes that a site does not make.
"""

from planner.routing.compiled import columns as c
from planner.routing.compiled.day_arrays import DayArrays
from planner.routing.compiled.machine_code import compiled
from planner.routing.compiled.scratch import PROVE, Scratch
from planner.routing.exact.tanks import SLACK_GAL


@compiled
def may_end_early(day: DayArrays, work: Scratch, truck: int, site: int) -> bool:
    """Whether what a label has on board need not be used up before the next refill: so when nothing
    was poured for the promise. The proof tries every promise instead."""
    return bool(work.kept != PROVE and site < 0 and day.truck_at[truck, c.IS_OUT] == 1)


@compiled
def mix_need(work: Scratch, size: int, mix: int, at: int, count: int) -> float:
    """Gallons of a mix from the order at `at` until `count` of its orders are done."""
    until = size if count >= work.tally[c.COUNT, size, mix] else work.tally[c.FIRST_AT, count, mix]
    need: float = work.gal[c.SPRAYED, until, mix] - work.gal[c.SPRAYED, at, mix]
    return float(need + work.gal[c.HOSED, until, mix] - work.gal[c.HOSED, at, mix])


@compiled
def next_promise(work: Scratch) -> bool:
    """Step work.mix[c.PROMISE] to the next combination between promise_least and promise_most."""
    for mix in range(work.mixes):
        if work.mix[c.PROMISE, mix] > work.mix[c.PROMISE_LEAST, mix]:
            work.mix[c.PROMISE, mix] -= 1
            return True
        work.mix[c.PROMISE, mix] = work.mix[c.PROMISE_MOST, mix]
    return False


@compiled
def as_rode(day: DayArrays, work: Scratch, makes: int) -> bool:
    """Whether the leg ridden last is promised the same of every mix that its refill makes."""
    for mix in range(work.mixes):
        if (
            work.mix[c.USED, mix] == 1
            and day.site_makes[makes, mix]
            and work.mix[c.RODE, mix] != work.mix[c.PROMISE, mix]
        ):
            return False
    return True


@compiled
def set_reach(day: DayArrays, work: Scratch, load: int, size: int, at: int, makes: int) -> None:
    """Set up to which of its orders a full compartment of each mix lasts from the order at `at`."""
    for mix in range(work.mixes):
        if work.mix[c.USED, mix] == 1 and day.site_makes[makes, mix]:
            most, usable = work.tally[c.COUNT, at, mix], day.load_usable[load, mix] + SLACK_GAL
            while (
                most < work.tally[c.COUNT, size, mix]
                and mix_need(work, size, mix, at, most + 1) <= usable
            ):
                most += 1
            work.mix[c.REACHED, mix] = most


@compiled
def second_site(
    day: DayArrays, work: Scratch, truck: int, label: int, makes: int, site: int
) -> bool:
    """Whether a stop at `site` straight after the label's makes sense: it must make another mix,
    and the label must not be the second of two already."""
    parent = work.label_at[label, c.PARENT]
    # A truck that is out was not filled where it starts.
    begun = parent >= 0 and (
        work.label_at[parent, c.SITE] >= 0 or day.truck_at[truck, c.IS_OUT] == 0
    )
    if site == work.label_at[label, c.SITE] or (
        begun and work.label_at[parent, c.AT] == work.label_at[label, c.AT]
    ):
        return False
    for mix in range(work.mixes):
        if (
            work.mix[c.USED, mix] == 1
            and day.site_makes[site, mix]
            and not day.site_makes[makes, mix]
        ):
            return True
    return False


@compiled
def set_promises(
    day: DayArrays,
    work: Scratch,
    truck: int,
    load: int,
    size: int,
    label: int,
    makes: int,
    site: int,
    until: int,
) -> bool:
    """Set the range of what each mix may be asked to last for when the next refill is `site`
    before `until`; False when a promise given earlier forbids it (or the site makes nothing)."""
    useful = False
    early = may_end_early(day, work, truck, work.label_at[label, c.SITE])
    for mix in range(work.mixes):
        most = least = -1
        if work.mix[c.USED, mix] == 1:
            most = least = work.tally[c.COUNT, until, mix]
            made_next = day.site_makes[site, mix]
            useful = useful or made_next
            if not day.site_makes[makes, mix]:
                due = work.label_at[label, c.PROMISED + mix]
                if due < least or (made_next and due != least and not early):
                    return False
                most = least = due
            elif not made_next:
                most = max(most, work.mix[c.REACHED, mix])
                if work.kept != PROVE:
                    # What lasts to the end of the day need not be asked to last less.
                    to_end = most == work.tally[c.COUNT, size, mix]
                    least = most if to_end else max(least, most - int(day.tuning[c.PROMISES]) + 1)
        work.mix[c.PROMISE_MOST, mix] = work.mix[c.PROMISE, mix] = most
        work.mix[c.PROMISE_LEAST, mix] = least
    return useful
