"""Refill stops and lunch put into a given sequence of orders at least cost.

A label-setting programme over the sequence. A label stands at a refill (or at the departure)
before the order at some place of the sequence: clock, miles, lunch had or not, and the gallons on
board. It is extended to every later refill and to the return; how much goes in at the refill
follows from where the next one is, so a leg between two refills is ridden afresh for each pair.

What makes it exact: at a refill that makes a mix, everything up to the mix's next fill can be
taken on whatever is on board, so gallons on board matter for pouring minutes only, and a label may
drop another when it is ahead by more minutes and money than the other's extra gallons could save.
Mixes that a site does not make are carried by a promise: the label says up to which of the mix's
orders the gallons last, and only refills that keep the promise may follow.

With `labels_kept` (the default) only the best few labels of each kind are kept, which is no longer
a proof but was never seen to matter on days like the demo's; None keeps all.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from math import inf

from planner.routing.exact.labels import Label, Leg, stop_order, surely_as_good
from planner.routing.exact.route_cost import SLACK_MIN, TruckDay
from planner.routing.exact.sequence import SequenceNumbers, finish
from planner.routing.exact.tanks import SLACK_GAL

LABELS_KEPT = 3
"""Labels of one kind kept at one refill."""
PLACE_KEPT = 8
"""Labels of all kinds from which refills before one order are extended."""
SITES_NEAR = 4
"""Sites tried between two orders, by detour; a county has many, a good stop is near."""
PROMISES_TRIED = 2
"""How far a mix that the next site does not make is filled: as far as possible, and a bit less."""


def place_refills(
    day: TruckDay,
    sequence: Sequence[int],
    under_cost: float = inf,
    labels_kept: int | None = LABELS_KEPT,
) -> tuple[float, list[int]] | None:
    """Cheapest cost below under_cost and its stop order for orders in this sequence, or None when
    there is none. sequence: rows of problem.orders."""
    if not sequence:
        return (day.idle_cost, []) if under_cost > day.idle_cost else None
    if any(not day.can[order] for order in sequence):
        return None
    wish = day.wishes.of_orders(sequence)
    found = _Placing(day, list(sequence), under_cost - wish, labels_kept).run()
    if found is None:
        return None
    cost, stops = found[0] + wish, found[1]
    if day.wishes.told is not None:
        # The programme does not see what customers were told.
        cost = day.cost(stops)
    return (cost, stops) if cost < under_cost else None


class _Placing(SequenceNumbers):
    """One call of place_refills."""

    def __init__(
        self, day: TruckDay, sequence: list[int], under_cost: float, labels_kept: int | None
    ) -> None:
        super().__init__(day, sequence)
        self.kept = labels_kept
        self.best_cost = under_cost
        self.best: tuple[Label, int] | None = None
        self.at: list[dict[tuple[int, bool, tuple[int, ...]], list[Label]]] = [
            {} for _ in range(self.size + 1)
        ]

    def run(self) -> tuple[float, list[int]] | None:
        """The programme."""
        day = self.day
        if self.hopeless(
            day.start_min, day.start_miles, day.start_lunched, 0, day.start_place, self.best_cost
        ):
            return None
        for label in self._departures():
            self._keep(label)
        for at in range(self.size + 1):
            # Labels may be added at this very place while it is worked on (two sites in a row).
            done: set[int] = set()
            while True:
                waiting = [
                    label
                    for labels in self.at[at].values()
                    for label in labels
                    if id(label) not in done
                ]
                if self.kept is not None and len(waiting) > PLACE_KEPT:
                    waiting.sort(key=lambda label: label.paid)
                    done.update(id(label) for label in waiting[PLACE_KEPT:])
                    del waiting[PLACE_KEPT:]
                if not waiting:
                    break
                for label in waiting:
                    done.add(id(label))
                    self._extend(label)
        if self.best is None:
            return None
        return self.best_cost, stop_order(self.day, self.sequence, *self.best)

    def _departures(self) -> Iterator[Label]:
        day = self.day
        levels = day.tanks.start
        choices = []
        for k in range(len(day.mixes)):
            if k in self.first_makes or k not in self.used:
                choices.append([-1])
                continue
            on_board = day.tanks.pumpable(levels, k)
            lasts = [
                count
                for count in range(self.count[k][-1] + 1)
                if self.need(k, 0, count)[2] <= on_board + SLACK_GAL
            ]
            choices.append(lasts[-1:] if self._may_end_early(-1) else lasts)
        for promised in itertools.product(*choices):
            yield Label(
                0,
                -1,
                day.start_min,
                day.start_miles,
                day.start_lunched,
                levels,
                promised,
                None,
                -1,
                0.0,
                0,
            )

    def _may_end_early(self, site: int) -> bool:
        """Whether what a label has on board need not be used up before the next refill: so when
        nothing was poured for the promise. The proof tries every promise instead."""
        return self.kept is not None and site < 0 and self.day.is_out

    def _extend(self, label: Label) -> None:
        """To every refill that may come next, and to the return."""
        day = self.day
        makes = self.first_makes if label.site < 0 else self.makes[label.site]
        if label.site >= 0:
            place = day.sites[label.site][0]
            if self.hopeless(
                label.clock, label.miles, label.lunched, label.at, place, self.best_cost
            ):
                return
        for until in range(label.at, self.size):
            if not self._lasts(label, makes, until):
                return
            if until == label.at and not self.limited:
                continue
            legs: dict[tuple[int, ...], Leg | None] = {}
            if until > label.at and self._leads_nowhere(label, makes, until, legs):
                continue
            for site in self.sites_near(until, SITES_NEAR if self.kept is not None else None):
                if until == label.at and not self._second_site(label, makes, site):
                    continue
                for promised in self._promises(label, makes, site, until):
                    leg = self._leg(label, makes, until, promised, legs)
                    if leg is not None:
                        self._arrive(label, leg, site, until, promised)
            if not self.limited and legs and all(leg is None for leg in legs.values()):
                # A later refill means more to pour and to do before it: no leg will fit either.
                return
        promised = tuple(column[-1] for column in self.count)
        if self._lasts(label, makes, self.size) and all(
            k in makes or label.promised[k] == promised[k] for k in self.used
        ):
            leg = self._leg(label, makes, self.size, promised, {})
            if leg is not None:
                self._return(label, leg)

    def _leads_nowhere(
        self,
        label: Label,
        makes: tuple[int, ...],
        until: int,
        legs: dict[tuple[int, ...], Leg | None],
    ) -> bool:
        """Whether even the shortest fill for a refill before `until` is too late or too dear; only
        asked where every site makes every mix, so that there is one way to fill."""
        if self.limited:
            return False
        leg = self._leg(label, makes, until, tuple(counts[until] for counts in self.count), legs)
        if leg is None:
            return True
        return all(
            clock == inf
            or self.hopeless(clock, leg.miles, lunched, until, leg.here, self.best_cost)
            for clock, lunched in ((leg.plain, label.lunched), (leg.late, True))
        )

    def _second_site(self, label: Label, makes: tuple[int, ...], site: int) -> bool:
        """Whether a stop at `site` straight after the label's makes sense: it must make another
        mix, and the label must not be the second of two already."""
        parent = label.parent
        # A truck that is out was not filled where it starts.
        begun = parent is not None and (parent.site >= 0 or not self.day.is_out)
        if site == label.site or (begun and parent is not None and parent.at == label.at):
            return False
        return any(k not in makes for k in self.makes[site])

    def _lasts(self, label: Label, makes: tuple[int, ...], until: int) -> bool:
        """Whether every mix can reach `until` at all."""
        for k in self.used:
            if k in makes:
                spray = self.sprayed[k][until] - self.sprayed[k][label.at]
                hose = self.hosed[k][until] - self.hosed[k][label.at]
                if spray + hose > self.day.tanks.usable_gal[k] + SLACK_GAL:
                    return False
            elif self.count[k][until] > label.promised[k]:
                return False
        return True

    def _promises(
        self, label: Label, makes: tuple[int, ...], site: int, until: int
    ) -> Iterator[tuple[int, ...]]:
        """What each mix may be asked to last for when the next refill is `site` before `until`."""
        if not self.limited:
            return iter((tuple(counts[until] for counts in self.count),))
        made_next = self.makes[site]
        choices: list[list[int]] = []
        for k, counts in enumerate(self.count):
            if k not in self.used:
                choices.append([-1])
            elif k in makes and k in made_next:
                choices.append([counts[until]])
            elif k in makes:
                most = counts[until]
                usable = self.day.tanks.usable_gal[k] + SLACK_GAL
                while most < counts[-1] and self.need(k, label.at, most + 1)[2] <= usable:
                    most += 1
                lasts = list(range(most, counts[until] - 1, -1))
                choices.append(lasts if self.kept is None else lasts[:PROMISES_TRIED])
            else:
                due = label.promised[k]
                exactly = k in made_next and not self._may_end_early(label.site)
                keeps = due == counts[until] if exactly else due >= counts[until]
                choices.append([due] if keeps else [])
        return itertools.product(*choices)

    def _leg(
        self,
        label: Label,
        makes: tuple[int, ...],
        until: int,
        promised: tuple[int, ...],
        legs: dict[tuple[int, ...], Leg | None],
    ) -> Leg | None:
        """Fill for the promise and ride to `until`; None when it cannot be done."""
        key = tuple(promised[k] for k in makes)
        if key not in legs:
            legs[key] = self._ride(label, makes, until, promised)
        return legs[key]

    def _ride(
        self, label: Label, makes: tuple[int, ...], until: int, promised: tuple[int, ...]
    ) -> Leg | None:
        day = self.day
        levels = label.levels.copy()
        spray, hose = [0.0] * len(day.mixes), [0.0] * len(day.mixes)
        for k in makes:
            spray[k], hose[k], _ = self.need(k, label.at, promised[k])
        poured = day.tanks.fill(levels, makes, spray, hose)
        if poured < 0.0:
            return None
        clock = label.clock
        here = day.start_place
        late = inf
        lunch_at = -1
        fresh = inf  # clock when lunch has just been had
        if label.site >= 0:
            here, _, flow, _, closes = day.sites[label.site]
            clock += poured / flow
            if clock > closes + SLACK_MIN:
                return None
        if (label.site >= 0 or day.is_out) and not label.lunched:
            fresh = self._lunch(clock)
        # Two clocks ride side by side: without lunch so far, and with lunch somewhere in the leg.
        plain = clock
        miles = label.miles
        latest = day.truck.latest_return_min + SLACK_MIN
        for at in range(label.at, until):
            there = self.place[at]
            drive = day.minutes[here][there]
            miles += day.miles[here][there]
            work = self.work[at]
            whole = work + day.setup_min
            visit = work if at > label.at and here == there else whole
            spans = self.windows[at]
            plain = finish(plain + drive, visit, spans)
            if late < inf:
                late = finish(late + drive, visit, spans)
            if fresh < inf:
                fresh = finish(fresh + drive, whole, spans)
                if fresh < late:
                    late, lunch_at = fresh, at
            if plain == inf and late == inf:
                return None
            if min(plain, late) > latest - self.rest_min[at + 1]:
                return None
            here = there
            fresh = inf if label.lunched else self._lunch(plain)
        if fresh < late:
            late, lunch_at = fresh, until
        drawn = [0.0] * len(day.mixes)
        for k in self.used:
            drawn[k] = (
                self.sprayed[k][until]
                - self.sprayed[k][label.at]
                + self.hosed[k][until]
                - self.hosed[k][label.at]
            )
        day.tanks.draw(levels, drawn)
        return Leg(plain, late, lunch_at, miles, here, levels)

    def _lunch(self, clock: float) -> float:
        """When lunch ends if it begins now, inf when it may not."""
        truck = self.day.truck
        if truck.lunch_min <= 0.0:
            return inf
        begin = max(clock, truck.lunch_earliest_min)
        return begin + truck.lunch_min if begin <= truck.lunch_latest_min + SLACK_MIN else inf

    def _arrive(
        self, label: Label, leg: Leg, site: int, until: int, promised: tuple[int, ...]
    ) -> None:
        """Labels at the next refill."""
        day = self.day
        place, setup, _, opens, closes = day.sites[site]
        drive = day.minutes[leg.here][place]
        miles = leg.miles + day.miles[leg.here][place]
        made_next = self.makes[site]
        open_promises = tuple(
            -1 if k in made_next or k not in self.used else promised[k]
            for k in range(len(day.mixes))
        )
        for clock, lunch_at, lunched in (
            (leg.plain, -1, label.lunched),
            (leg.late, leg.lunch_at, True),
        ):
            if clock == inf:
                continue
            clock = max(clock + drive, opens) + setup
            if clock > closes + SLACK_MIN:
                continue
            if self.hopeless(clock, miles, lunched, until, place, self.best_cost):
                continue
            refills = label.refills + 1
            paid = day.price(clock, miles, lunched) + refills * day.wishes.refill
            self._keep(
                Label(
                    until,
                    site,
                    clock,
                    miles,
                    lunched,
                    leg.levels,
                    open_promises,
                    label,
                    lunch_at,
                    paid,
                    refills,
                )
            )

    def _return(self, label: Label, leg: Leg) -> None:
        """Home after the last order."""
        day = self.day
        drive = day.minutes[leg.here][day.yard_place]
        miles = leg.miles + day.miles[leg.here][day.yard_place]
        for clock, lunch_at, lunched in (
            (leg.plain, -1, label.lunched),
            (leg.late, leg.lunch_at, True),
        ):
            now = clock + drive
            if now > day.truck.latest_return_min + SLACK_MIN:
                continue
            if not lunched and day.lunch_owed(now):
                continue
            cost = day.price(now, miles, lunched) + label.refills * day.wishes.refill
            if cost < self.best_cost:
                self.best_cost, self.best = cost, (label, lunch_at)

    def _keep(self, label: Label) -> None:
        """Add a label unless another of its kind is surely as good."""
        key = (label.site, label.lunched, label.promised)
        labels = self.at[label.at].setdefault(key, [])
        for other in labels:
            if surely_as_good(self.day, other, label, exact=self.kept is None):
                return
        labels[:] = [
            other
            for other in labels
            if not surely_as_good(self.day, label, other, exact=self.kept is None)
        ]
        labels.append(label)
        if self.kept is not None and len(labels) > self.kept:
            labels.remove(max(labels, key=lambda other: other.paid))
