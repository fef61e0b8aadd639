"""Every allowed way to load a truck (planner/docs/rules.md, rules 3 to 7), the best guesses
first.

The number is bounded: engines try loadings one by one, and a truck of five like compartments on
a day of eight mixes has some 30,000 assignments that hardly differ. Three things bring it down:

* Like compartments (same size, heel, line and past) are not told apart.
* Dominated loadings go: another one carries every mix of theirs on the same line, with at least
  as many gallons that the pump can reach and no more cleaning. A loaded mix that is not needed
  is not filled, so carrying more mixes costs nothing.
* At most MOST_LOADINGS stay, taken in turn from each set of mixes, so that every set that the
  truck can carry is still on the list.

The guess: a loading is good when it carries much of the truck's even share of each mix's gallons
before the first refill, less what the gun could have sprayed while compartments are cleaned.

Or by a standing rule, as a crew chief would load: the mix that the day needs most goes into the
largest compartment of every truck, the next one into the next.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from planner.day.day import Workbook
from planner.day.fleet import Compartment, Truck
from planner.day.products import Scope
from planner.mixing.separation import Cleaning, Separation, cleaning_for
from planner.routing.problem import Loading, RoutingProblem, TruckSpec

MOST_LOADINGS = 400
"""Per truck; more would only be near-copies, and choosing among them costs search time."""

FAR_FIRST_FILL = 0.5
"""Worth of gallons that cannot be made at the truck's yard: it must drive to fill them first."""


@dataclass(frozen=True)
class _Candidate:
    """A loading before its cleaning entries are written. usable_gal, line_of: per mix, in the
    order of need (None = not carried)."""

    mix_of: tuple[str | None, ...]
    usable_gal: tuple[float, ...]
    line_of: tuple[str | None, ...]
    cleaning_min: float
    worth: float


class _Bench:
    """Everything about one truck and one day that the enumeration looks up."""

    def __init__(
        self,
        workbook: Workbook,
        truck: Truck,
        separation: Separation,
        need_gal: Mapping[str, float],
    ) -> None:
        self.settings = workbook.settings
        self.truck = truck
        self.separation = separation
        needed = [mix_id for mix_id, gal in need_gal.items() if gal > 0]
        self.mixes = sorted(needed, key=lambda mix_id: (-need_gal[mix_id], mix_id))
        count = max(1, len(workbook.trucks))
        self.share_gal = [need_gal[mix_id] / count for mix_id in self.mixes]
        self.row_of = {mix_id: row for row, mix_id in enumerate(self.mixes)}
        self.makeable = frozenset(
            mix_id
            for mix_id in self.mixes
            if any(site.mixes is None or mix_id in site.mixes for site in workbook.sites.values())
        )
        yard = workbook.sites.get(truck.yard_id)
        self.at_yard = [
            yard is None or yard.mixes is None or mix_id in yard.mixes for mix_id in self.mixes
        ]
        self.options = [self._options(one) for one in truck.compartments]
        self.twin_of = _twins(truck.compartments)
        self._cleaning: dict[tuple[int, str, bool], Cleaning] = {}
        self._apart: dict[tuple[str, str, Scope], bool] = {}

    def _options(self, compartment: Compartment) -> tuple[str | None, ...]:
        """What may be in the compartment, largest need first, None (nothing) last."""
        allowed = [mix_id for mix_id in self.mixes if self._reservation_holds(compartment, mix_id)]
        if compartment.leftover_gal > compartment.heel_gal:
            return (*(mix_id for mix_id in allowed if mix_id == compartment.last_mix), None)
        return (*(mix_id for mix_id in allowed if mix_id in self.makeable), None)

    def _reservation_holds(self, compartment: Compartment, mix_id: str) -> bool:
        """Whether rule 7 lets the mix into the compartment: a reserved compartment takes its group
        only, and a group with a compartment of its own on this truck goes nowhere else."""
        groups = self.separation.names_of(mix_id) - {mix_id}
        if compartment.reserved_for is not None:
            return compartment.reserved_for in groups
        return not any(one.reserved_for in groups for one in self.truck.compartments)

    def apart(self, mix_a: str, mix_b: str, scope: Scope) -> bool:
        """True when the two mixes may not share the scope."""
        key = (mix_a, mix_b, scope)
        if key not in self._apart:
            self._apart[key] = self.separation.apart_by(mix_a, mix_b, scope) is not None
        return self._apart[key]

    def clash(self, mix_a: str, line_a: str, mix_b: str, line_b: str) -> bool:
        """True when two mixes carried on these lines of the truck must not be."""
        scope = Scope.LINE if line_a == line_b else Scope.TRUCK
        return self.apart(mix_a, mix_b, scope)

    def cleaning(self, place: int, mix_id: str, elsewhere: bool) -> Cleaning | None:
        """Cleaning that the compartment at that place owes when mix_id is loaded in it, or
        (elsewhere) on its line; None when it owes none."""
        compartment = self.truck.compartments[place]
        last_mix = compartment.last_mix
        if last_mix is None or last_mix == mix_id:
            return None
        if elsewhere and not self.apart(last_mix, mix_id, Scope.LINE):
            return None
        key = (place, mix_id, elsewhere)
        if key not in self._cleaning:
            self._cleaning[key] = cleaning_for(
                self.settings,
                self.separation,
                compartment,
                last_mix,
                mix_id,
                todays_mix_elsewhere=elsewhere,
            )
        return self._cleaning[key]

    def entries(self, mix_of: tuple[str | None, ...]) -> tuple[Cleaning, ...]:
        """The cleaning entries of a loading, in the truck's order; one for each compartment."""
        entries = []
        for place, mix_id in enumerate(mix_of):
            entry = (
                self._unloaded_entry(place, mix_of)
                if mix_id is None
                else self.cleaning(place, mix_id, elsewhere=False)
            )
            if entry is not None:
                entries.append(entry)
        return tuple(entries)

    def _unloaded_entry(self, place: int, mix_of: tuple[str | None, ...]) -> Cleaning | None:
        compartment = self.truck.compartments[place]
        if compartment.leftover_gal > compartment.heel_gal:
            return None
        for other, mix_id in zip(self.truck.compartments, mix_of, strict=True):
            if mix_id is None or other.line_id != compartment.line_id:
                continue
            entry = self.cleaning(place, mix_id, elsewhere=True)
            if entry is not None:
                return entry
        return None

    def riding_along(self, place: int) -> str | None:
        """The mix carried by a compartment that is not loaded."""
        compartment = self.truck.compartments[place]
        if compartment.leftover_gal > compartment.heel_gal:
            return compartment.last_mix
        return None


def _twins(compartments: tuple[Compartment, ...]) -> list[int | None]:
    """For each compartment the nearest earlier one that does not differ from it."""
    last_of: dict[tuple[object, ...], int] = {}
    twins: list[int | None] = []
    for place, one in enumerate(compartments):
        likeness = (
            one.capacity_gal,
            one.heel_gal,
            one.line_id,
            one.reserved_for,
            one.last_mix,
            one.leftover_gal,
        )
        twins.append(last_of.get(likeness))
        last_of[likeness] = place
    return twins


def _assignments(bench: _Bench) -> list[tuple[str | None, ...]]:
    """Every assignment that rules 3, 4, 6 and 7 allow, twins in one order only."""
    compartments = bench.truck.compartments
    found: list[tuple[str | None, ...]] = []
    chosen: list[int] = []
    mix_of: list[str | None] = []
    carried: list[tuple[str, str]] = []
    line_of: dict[str, str] = {}

    def place_one(loaded: str | None, place: int) -> None:
        line_id = compartments[place].line_id
        mix_id = loaded if loaded is not None else bench.riding_along(place)
        known = mix_id is not None and (mix_id, line_id) in carried
        if mix_id is not None and not known:
            if any(bench.clash(mix_id, line_id, other, line) for other, line in carried):
                return
            carried.append((mix_id, line_id))
        new_line = loaded is not None and loaded not in line_of
        if loaded is not None and new_line:
            line_of[loaded] = line_id
        mix_of.append(loaded)
        extend(place + 1)
        mix_of.pop()
        if loaded is not None and new_line:
            del line_of[loaded]
        if mix_id is not None and not known:
            carried.pop()

    def extend(place: int) -> None:
        if place == len(compartments):
            found.append(tuple(mix_of))
            return
        twin = bench.twin_of[place]
        options = bench.options[place]
        for pick in range(chosen[twin] if twin is not None else 0, len(options)):
            loaded = options[pick]
            line_id = compartments[place].line_id
            if loaded is not None and line_of.get(loaded, line_id) != line_id:
                continue
            chosen.append(pick)
            place_one(loaded, place)
            chosen.pop()

    extend(0)
    return found


def _wasteful(bench: _Bench, mix_of: tuple[str | None, ...]) -> bool:
    """True when an empty compartment could take more of a mix of its line for nothing."""
    compartments = bench.truck.compartments
    for place, mix_id in enumerate(mix_of):
        if mix_id is not None:
            continue
        for other, other_mix in zip(compartments, mix_of, strict=True):
            if (
                other_mix is not None
                and other.line_id == compartments[place].line_id
                and other_mix in bench.options[place]
                and bench.cleaning(place, other_mix, elsewhere=False) is None
            ):
                return True
    return False


def _draft(bench: _Bench, mix_of: tuple[str | None, ...]) -> _Candidate:
    usable_gal = [0.0] * len(bench.mixes)
    line_of: list[str | None] = [None] * len(bench.mixes)
    for compartment, mix_id in zip(bench.truck.compartments, mix_of, strict=True):
        if mix_id is not None:
            row = bench.row_of[mix_id]
            usable_gal[row] += compartment.usable_gal
            line_of[row] = compartment.line_id
    flow = max((line.gun_gal_per_min for line in bench.truck.lines), default=0.0)
    minutes = sum(entry.minutes for entry in bench.entries(mix_of))
    # share x usable / (share + usable): the first gallons of a mix are worth most, so that
    # compartments spread over the mixes in proportion to their need.
    worth = sum(
        share * usable / (share + usable) * (1.0 if at_yard else FAR_FIRST_FILL)
        for share, usable, at_yard in zip(bench.share_gal, usable_gal, bench.at_yard, strict=True)
        if usable > 0
    )
    return _Candidate(mix_of, tuple(usable_gal), tuple(line_of), minutes, worth - minutes * flow)


def _in_turn(drafts: list[_Candidate]) -> list[_Candidate]:
    """At most MOST_LOADINGS of the drafts (best first), in turn from each set of mixes and lines,
    the sets with the best draft first. Drafts dominated within their set are passed over."""
    groups: dict[tuple[str | None, ...], list[_Candidate]] = {}
    for draft in drafts:
        groups.setdefault(draft.line_of, []).append(draft)
    waiting = [_undominated(group) for group in groups.values()]
    kept: list[_Candidate] = []
    while waiting and len(kept) < MOST_LOADINGS:
        taken = [(group, next(group, None)) for group in waiting]
        kept += [draft for _, draft in taken if draft is not None]
        waiting = [group for group, draft in taken if draft is not None]
    return kept[:MOST_LOADINGS]


def _undominated(drafts: list[_Candidate]) -> Iterator[_Candidate]:
    """The drafts (best first) that no earlier one beats, found only as far as they are asked
    for: comparing all pairs of a large set would take longer than all the rest."""
    kept = np.empty((0, len(drafts[0].usable_gal) + 1))
    for draft in drafts:
        # In a set all mixes have the same lines: what beats a draft is not worse in any column.
        row = np.array((-draft.cleaning_min, *draft.usable_gal))
        if not (kept >= row).all(axis=1).any():
            kept = np.vstack((kept, row))
            yield draft


def _unbeaten(drafts: list[_Candidate]) -> Iterator[_Candidate]:
    """The drafts (best first) of which no earlier one carries all mixes on the same lines, with as
    many gallons and no more cleaning."""
    row_of = {
        line_id: row
        for row, line_id in enumerate({line: 0 for one in drafts for line in one.line_of})
    }
    line = np.array([[row_of[line_id] for line_id in one.line_of] for one in drafts])
    gal = np.array([one.usable_gal for one in drafts])
    cleaning_min = np.array([one.cleaning_min for one in drafts])
    for row, draft in enumerate(drafts):
        carried = [column for column, line_id in enumerate(draft.line_of) if line_id is not None]
        beats = (line[:row, carried] == line[row, carried]) & (
            gal[:row, carried] >= gal[row, carried]
        )
        if not (beats.all(axis=1) & (cleaning_min[:row] <= cleaning_min[row])).any():
            yield draft


def loading_of(
    workbook: Workbook, truck: Truck, separation: Separation, mix_of: tuple[str | None, ...]
) -> Loading:
    """These mixes as a loading of the truck, with the cleaning that they ask for."""
    bench = _Bench(workbook, truck, separation, {mix: 1.0 for mix in mix_of if mix is not None})
    return Loading(mix_of, bench.entries(mix_of))


def loadings(
    workbook: Workbook, truck: Truck, separation: Separation, need_gal: Mapping[str, float]
) -> tuple[Loading, ...]:
    """The allowed loadings of a truck, the best guesses first, at most MOST_LOADINGS.

    need_gal: gallons of each mix that the day's orders ask for. A mix is loaded only where it is
    needed and can be made at some site (or is in the compartment already: a mix that the yard
    may not make can still be filled at a water point). Never empty: a truck that may carry
    nothing gets the one loading of nothing, with which it stays at the yard.
    """
    bench = _Bench(workbook, truck, separation, need_gal)
    drafts = [
        _draft(bench, mix_of)
        for mix_of in _assignments(bench)
        if any(mix_of) and not _wasteful(bench, mix_of)
    ]
    drafts.sort(key=lambda draft: (-draft.worth, [mix_id or "~" for mix_id in draft.mix_of]))
    kept = _in_turn(drafts)
    kept.sort(key=lambda draft: (-draft.worth, [mix_id or "~" for mix_id in draft.mix_of]))
    best = list(_unbeaten(kept))
    if not best:
        return (Loading((None,) * len(truck.compartments), ()),)
    return tuple(Loading(draft.mix_of, bench.entries(draft.mix_of)) for draft in best)


def loading_as_it_is(
    workbook: Workbook, truck: Truck, separation: Separation, mix_of: tuple[str | None, ...]
) -> Loading:
    """The loading with these mixes (in the truck's order), whether or not a rule allows it, with
    the cleaning that it asks for."""
    return Loading(mix_of, _Bench(workbook, truck, separation, {}).entries(mix_of))


def standing_loadings(problem: RoutingProblem, *, exchanged: bool = False) -> list[Loading]:
    """A loading per truck, the allowed one most like the rule. exchanged: every other truck has
    the mixes needed second and third most the other way round. Every truck must have a loading."""
    need: dict[str, float] = {}
    for order in problem.orders:
        need[order.mix_id] = need.get(order.mix_id, 0.0) + order.gal
    ranked = sorted(need, key=lambda mix_id: (-need[mix_id], mix_id))
    turned = [*ranked[:1], *ranked[1:3][::-1], *ranked[3:]]
    return [
        _nearest(truck, _wanted(truck, turned if exchanged and row % 2 else ranked, need))
        for row, truck in enumerate(problem.trucks)
    ]


def _wanted(truck: TruckSpec, ranked: list[str], need: dict[str, float]) -> list[str]:
    """A mix for each compartment: the largest compartments get one mix each, in this order; each
    further one goes to the mix that has least room for what is needed of it."""
    rows = sorted(
        range(len(truck.compartments)), key=lambda row: (-truck.compartments[row].capacity_gal, row)
    )
    room = dict.fromkeys(ranked, 0.0)
    wanted = [""] * len(rows)
    for rank, row in enumerate(rows):
        if rank < len(ranked):
            mix_id = ranked[rank]
        else:
            mix_id = min(ranked, key=lambda name: room[name] / need[name])
        wanted[row] = mix_id
        room[mix_id] += truck.compartments[row].capacity_gal
    return wanted


def _nearest(truck: TruckSpec, wanted: list[str]) -> Loading:
    """The truck's loading with most gallons as wanted; the earlier one of two alike."""

    def agrees_gal(loading: Loading) -> float:
        return sum(
            part.capacity_gal
            for part, mix_id, wish in zip(truck.compartments, loading.mix_of, wanted, strict=True)
            if mix_id == wish
        )

    return max(truck.loadings, key=agrees_gal)
