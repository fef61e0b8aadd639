"""What the crew is told to measure for each fill, and how strong the mix can get (rule 33).

Written apart from `planner.mixing.measures`: a fill is poured here at its worst, and the strength
of what is then in the compartment is compared with the label's mosts.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from planner.day.fleet import Compartment
from planner.day.products import Form
from planner.plan.audit.case import GALLON_TOLERANCE, TruckCase, Violation
from planner.plan.audit.rules_fills import fills
from planner.plan.audit.rules_holds import about_target, like_label
from planner.plan.audit.strength import StrengthError, amount_of_rate
from planner.plan.model import Fill, ProductAmount
from planner.units import practical_step

OVER_RATE = 1.05
"""A fill may come out this many times its mix's rate by rounding, and no more."""
METER_GAL = 0.1
SEEN_EMPTY_GAL = 0.05
SHARE_TOLERANCE = 1e-5


@dataclass(frozen=True)
class Poured:
    """A fill at its worst. metered_gal: the least that the meter and the jugs put in; on_top_gal:
    what was in it already if it is full sooner than that, None = it is not; capacity_gal: then."""

    metered_gal: float
    on_top_gal: float | None
    capacity_gal: float

    def times(self, amount: float, per_gal: float, old_per_gal: float) -> float:
        """Most times per_gal of the product in the mix; old_per_gal: in what was there."""
        if self.metered_gal <= 0:
            return 0.0 if amount <= 0 else float("inf")
        worst = amount / self.metered_gal
        if self.on_top_gal is not None:
            inside = self.on_top_gal * old_per_gal + amount
            worst = max(worst, inside / self.capacity_gal)
        return worst / per_gal


def check_measured_names(case: TruckCase) -> Iterator[Violation]:
    """The crew measures every product of the mix once, in its unit."""
    for row, fill, _ in _fresh(case):
        one = case.strengths[fill.mix_id]
        told = sorted((part.product_id, part.unit) for part in fill.measured)
        if told != sorted(one.units.items()):
            yield case.found(
                "MEASURE-PRODUCTS",
                row,
                f"compartment {fill.compartment_id}: what is measured is not what the mix holds",
            )


def check_metered_water(case: TruckCase) -> Iterator[Violation]:
    """The meter is to show the fill's water, to its tenth."""
    for row, fill, _ in _fresh(case):
        shown = fill.metered_water_gal / METER_GAL
        water_gal = fill.gal * case.strengths[fill.mix_id].water_gal
        off = abs(fill.metered_water_gal - water_gal)
        if off > METER_GAL + 1e-5 or abs(shown - round(shown)) > 1e-4:
            yield case.found(
                "MEASURE-WATER",
                row,
                f"compartment {fill.compartment_id}: {fill.metered_water_gal:.2f} gal by the "
                f"meter, the fill has {water_gal:.2f} gal of water",
            )


def check_strongest(case: TruckCase) -> Iterator[Violation]:
    """No fill is over a label's most, nor over its rate by more than rounding, at its worst."""
    for row, fill, before in _fresh(case):
        poured = _poured(case, fill, before)
        for part in _parts(case, fill):
            label, said, most = _limits(case, fill, part.product_id)
            for code, limit, words in (
                ("MEASURE-LABEL", label, said),
                ("MEASURE-RATE", most, "5 % over its rate"),
            ):
                times = _times(poured, part.amount, limit, label, code)
                if times > 1 + SHARE_TOLERANCE:
                    yield case.found(
                        code,
                        row,
                        f"compartment {fill.compartment_id}: {part.product_id} can come to "
                        f"{100 * times:.1f} % of {words}",
                    )


def check_measured_enough(case: TruckCase) -> Iterator[Violation]:
    """An amount is the mix's to the next step of the cup; less only where more could be over."""
    for row, fill, before in _fresh(case):
        poured = _poured(case, fill, before)
        for part in _parts(case, fill):
            right, step = _right_and_step(case, fill, part)
            if part.amount >= right - 0.5 * step - 1e-6:
                continue
            label, _, most = _limits(case, fill, part.product_id)
            more = part.amount + 1.01 * step
            if (
                _times(poured, more, label, label, "MEASURE-LABEL") <= 1
                and _times(poured, more, most, label, "MEASURE-RATE") <= 1
            ):
                yield case.found(
                    "MEASURE-LESS",
                    row,
                    f"compartment {fill.compartment_id}: {part.amount:.4f} {part.unit} of "
                    f"{part.product_id} are measured, the mix needs {right:.4f}",
                )


def check_measured_not_more(case: TruckCase) -> Iterator[Violation]:
    """An amount is over the mix's by half a step of the cup at most."""
    for row, fill, _ in _fresh(case):
        for part in _parts(case, fill):
            right, step = _right_and_step(case, fill, part)
            if part.amount > right + 0.5 * step + 1e-6:
                yield case.found(
                    "MEASURE-MORE",
                    row,
                    f"compartment {fill.compartment_id}: {part.amount:.4f} {part.unit} of "
                    f"{part.product_id} are measured, the mix needs {right:.4f}",
                )


def _fresh(case: TruckCase) -> Iterator[tuple[int, Fill, float]]:
    for row, fill, before in fills(case):
        if not case.planned.stops[row].done:
            yield row, fill, before


def _parts(case: TruckCase, fill: Fill) -> Iterator[ProductAmount]:
    """What is measured, of products that there are."""
    for part in fill.measured:
        if part.product_id in case.day.workbook.products:
            yield part


def _right_and_step(case: TruckCase, fill: Fill, part: ProductAmount) -> tuple[float, float]:
    """What the mix needs of a product, and the step of the cup or scale there."""
    right = case.strengths[fill.mix_id].product.get(part.product_id, 0.0) * fill.gal
    product = case.day.workbook.products[part.product_id]
    if product.packet is not None:
        return right, product.packet.base
    return right, practical_step(right, product.unit, product.smallest_measure)


def _poured(case: TruckCase, fill: Fill, before_gal: float) -> Poured:
    workbook = case.day.workbook
    tank = case.truck.compartment(fill.compartment_id)
    short = fill.metered_water_gal * workbook.settings.meter_error_percent / 100
    metered = fill.metered_water_gal - short
    metered += sum(
        part.amount
        for part in _parts(case, fill)
        if workbook.products[part.product_id].form is Form.LIQUID
    )
    highest = _highest_level(tank, before_gal)
    full_sooner = highest + metered > tank.capacity_gal
    return Poured(metered, highest if full_sooner else None, tank.capacity_gal)


def _highest_level(tank: Compartment, before_gal: float) -> float:
    """What is in it at most: the nearest mark of the gauge, or the ledger's level, and one mark."""
    if before_gal <= max(SEEN_EMPTY_GAL, GALLON_TOLERANCE):
        return before_gal
    mark = round(before_gal / tank.gauge_step) * tank.gauge_step
    return min(tank.capacity_gal, tank.gauge_step + max(mark, before_gal))


def _limits(case: TruckCase, fill: Fill, product_id: str) -> tuple[float, str, float]:
    """Product in a gallon of mix: by the least most of the label that the rate keeps, with its
    name, and by the rate with its rounding; packets are not cut, so that only the label limits
    them."""
    workbook = case.day.workbook
    mix, product = workbook.mixes[fill.mix_id], workbook.products[product_id]
    rate_per_gal = case.strengths[fill.mix_id].product.get(product_id, 0.0)
    sure = 1 - workbook.settings.meter_error_percent / 100
    rows = about_target(workbook, mix, product)
    mosts = [("", product.rate_most), *((row.about, row.rate_most) for row in rows)]
    label, said = float("inf"), ""
    for about, most in mosts:
        try:
            per_gal = amount_of_rate(product, most)
        except StrengthError:
            continue
        if most.basis == "area":
            per_gal /= mix.carrier_gal_per_1000_ft2
        # What the mix itself is too strong for is held: that lawn gets nothing of this fill.
        mixed = next((one.rate for one in mix.parts if one.product_id == product_id), most)
        kept = most is product.rate_most or rate_per_gal <= per_gal * like_label(mixed, most)
        if kept and per_gal < label:
            label, said = per_gal, f"the label's most {about}".rstrip()
    if product.packet is not None and said:
        return label, said, float("inf")
    return label, said, rate_per_gal * OVER_RATE / sure


def _times(poured: Poured, amount: float, limit: float, old: float, code: str) -> float:
    """Rounding is a matter of the new part alone; the label of all that is in the compartment."""
    if limit == float("inf") or limit <= 0:
        return 0.0
    if code == "MEASURE-RATE":
        poured = Poured(poured.metered_gal, None, poured.capacity_gal)
    return poured.times(amount, limit, old)
