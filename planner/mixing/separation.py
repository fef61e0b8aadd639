"""Which mixes must be kept apart on a day, and by what; cleaning before another mix goes in
(planner/docs/rules.md, rules 5 and 6)."""

from collections.abc import Mapping
from dataclasses import dataclass

from planner.day.day import Workbook
from planner.day.fleet import Compartment, Settings
from planner.day.products import ANY_OTHER, KeepApart, Scope

WIDTH_OF_SCOPE = {Scope.COMPARTMENT: 0, Scope.LINE: 1, Scope.TRUCK: 2}
"""A wider scope includes the narrower ones."""


@dataclass(frozen=True)
class Separation:
    """What the keep_apart table says about pairs of mixes.

    names: mix id -> the names it answers to (its own id and its products' groups); rows: the
    keep_apart table in its own order.
    """

    names: Mapping[str, frozenset[str]]
    rows: tuple[KeepApart, ...]

    def names_of(self, mix_id: str) -> frozenset[str]:
        """The mix's id and the groups of its products; an unknown mix has its id only."""
        return self.names.get(mix_id, frozenset({mix_id}))

    def apart(self, mix_a: str, mix_b: str) -> KeepApart | None:
        """The row of widest scope that separates the two mixes, whichever is named first; None
        when they may meet. Of rows equally wide the first in the table, so that the reason
        printed is the one that the office reads first."""
        widest: KeepApart | None = None
        for row in self.rows:
            if not self._separates(row, mix_a, mix_b):
                continue
            if widest is None or WIDTH_OF_SCOPE[row.scope] > WIDTH_OF_SCOPE[widest.scope]:
                widest = row
        return widest

    def apart_by(self, mix_a: str, mix_b: str, scope: Scope) -> KeepApart | None:
        """The row that forbids the two mixes to share that scope (its own scope is as wide or
        wider); None when they may share it."""
        row = self.apart(mix_a, mix_b)
        if row is None or WIDTH_OF_SCOPE[row.scope] < WIDTH_OF_SCOPE[scope]:
            return None
        return row

    def _separates(self, row: KeepApart, mix_a: str, mix_b: str) -> bool:
        # A mix may always meet itself; a mix that holds both groups of a row is a fault of the
        # table, reported there.
        if mix_a == mix_b:
            return False
        one, other = self.names_of(mix_a), self.names_of(mix_b)
        return _matches(row, one, other) or _matches(row, other, one)


def _matches(row: KeepApart, one: frozenset[str], other: frozenset[str]) -> bool:
    if row.b == ANY_OTHER:
        return row.a in one and row.a not in other
    if row.a == ANY_OTHER:
        return row.b in one and row.b not in other
    return row.a in one and row.b in other


def separation(workbook: Workbook) -> Separation:
    """The workbook's keep_apart rules, with every mix's names. Products that the workbook does
    not hold are passed over (another check reports them)."""
    names = {
        mix.mix_id: frozenset(
            {mix.mix_id}
            | {
                workbook.products[part.product_id].group
                for part in mix.parts
                if part.product_id in workbook.products
            }
        )
        for mix in workbook.mixes.values()
    }
    return Separation(names, workbook.keep_apart)


@dataclass(frozen=True)
class Cleaning:
    """What must be done to a compartment and its line before today's mix may go in.

    residue_share: of the last mix's strength, left in the heel after the rinses (0 to 1); the
    hose, filters and dead ends may hold more (why a dedicated line is the only sure way).
    """

    compartment_id: str
    last_mix: str
    rinses: int
    water_gal_per_rinse: float
    minutes: float
    residue_share: float
    rinsate_goes_to: str
    why: str


def residue_share(heel_gal: float, water_gal_per_rinse: float, rinses: int) -> float:
    """Share of the last mix's strength left after equal rinses, each drained to the heel.

    Serial dilution: (heel / (heel + water)) ^ rinses; 0 with no heel, 1 with no rinse. Raises
    ValueError when a volume is negative. Source: https://sprayers101.com/continuous-rinse-airblast/
    """
    if heel_gal < 0 or water_gal_per_rinse < 0:
        raise ValueError("heel and rinse water cannot be negative")
    if rinses == 0:
        return 1.0
    if heel_gal == 0:
        return 0.0
    return float((heel_gal / (heel_gal + water_gal_per_rinse)) ** rinses)


def cleaning_for(
    settings: Settings,
    separation: Separation,
    compartment: Compartment,
    last_mix: str,
    todays_mix: str,
    *,
    todays_mix_elsewhere: bool = False,
) -> Cleaning:
    """The cleaning entry that a compartment owes.

    last_mix: what was in it. todays_mix: what goes in, or (todays_mix_elsewhere) the mix in
    another compartment of the same line that its last mix must not meet. The full count of
    rinses where the table keeps the two apart, one rinse where it does not.
    """
    apart = separation.apart(last_mix, todays_mix)
    rinses = settings.rinse_count if apart else 1
    water_gal = compartment.capacity_gal * settings.rinse_water_percent / 100
    if todays_mix_elsewhere:
        why = f"its last mix {last_mix} must not meet {todays_mix} on line {compartment.line_id}"
    else:
        why = f"{todays_mix} goes in after {last_mix}"
        if apart:
            why += ", and the two must be kept apart"
    if apart and apart.why:
        why += f": {apart.why}"
    return Cleaning(
        compartment_id=compartment.compartment_id,
        last_mix=last_mix,
        rinses=rinses,
        water_gal_per_rinse=water_gal,
        minutes=rinses * settings.rinse_min_each,
        residue_share=residue_share(compartment.heel_gal, water_gal, rinses),
        rinsate_goes_to=settings.rinsate_goes_to,
        why=why,
    )
