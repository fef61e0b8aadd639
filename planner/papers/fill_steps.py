"""The steps of one fill, in the order of addition, with what to measure at each."""

from dataclasses import dataclass

from planner.day.day import Day
from planner.day.products import Product
from planner.mixing.addition import JAR_TEST_TEXT, AdditionStep, order_of_addition
from planner.papers.render import gal_text
from planner.plan.model import Fill, ProductAmount
from planner.problems import counted
from planner.units import practical_amount

FIRST_WATER_SHARES = (0.5, 0.75)
"""The order of addition begins with half to three quarters of the water (see addition.py)."""


PLAN_ROUNDING = 1e-6
"""plan.json keeps six decimals: a step of a jug may stand half of the last one too low."""


PACKETS_TEXT = "drop the packets in whole and unopened, with dry gloves, while the agitation runs."
"""In place of stirring a powder in a pail (common practice, no source)."""


@dataclass(frozen=True)
class FillStep:
    """One line of a fill. product: name of what is added, '' for water and waiting; text: the
    instruction; measure: in jug, scoop or meter units; exact: the computed figure."""

    product: str
    text: str
    measure: str
    exact: str


def fill_steps(day: Day, fill: Fill, first: bool) -> tuple[FillStep, ...]:
    """The steps of a fill. first: whether it is the compartment's first of the day; a jar test is
    asked for once. Raises KeyError for a mix or product that the day does not have."""
    amounts = {part.product_id: part for part in fill.measured}
    exact = {part.product_id: part.amount for part in fill.products}
    lines = [
        line
        for line in order_of_addition(day.workbook, fill.mix_id)
        if first or line.text != JAR_TEST_TEXT
    ]
    waters = [line for line in lines if not line.product_ids and line.text != JAR_TEST_TEXT]
    steps: list[FillStep] = []
    for line in lines:
        if line.product_ids:
            steps += [
                _product_step(day, line, amounts[product_id], exact[product_id])
                for product_id in line.product_ids
                if product_id in amounts
            ]
        elif waters and line is waters[0]:
            low, high = first_water_gal(fill)
            steps.append(FillStep("", line.text, f"{rough_gal(low)} to {rough_gal(high)} gal", ""))
        elif waters and line is waters[-1]:
            shown = f"meter at {gal_text(fill.metered_water_gal)} gal"
            steps.append(FillStep("", line.text, shown, ""))
        else:
            steps.append(FillStep("", line.text, "", ""))
    return tuple(steps)


def first_water_gal(fill: Fill) -> tuple[float, float]:
    """The least and the most of the water that goes in before anything else."""
    low, high = FIRST_WATER_SHARES
    return fill.water_gal * low, fill.water_gal * high


def rough_gal(gal: float) -> str:
    """Half of the water need not be met to a tenth."""
    return f"{gal:.0f}" if gal >= 10 else gal_text(gal)


def measured_text(product: Product, amount: float) -> str:
    """An amount of the plan as jug, scoop or scale show it, and no more than that."""
    if product.packet_base is not None:
        count = round(amount / product.packet_base)
        return counted(count, "packet") if count else "no packet: ask the office"
    most = amount + PLAN_ROUNDING
    return practical_amount(amount, product.unit, most, product.smallest_measure).text


def _product_step(day: Day, line: AdditionStep, part: ProductAmount, exact: float) -> FillStep:
    product = day.workbook.products[part.product_id]
    text = line.text.removeprefix(product.name).lstrip(": ")
    exact_text = practical_amount(exact, product.unit).exact_text
    shown = measured_text(product, part.amount)
    if product.packet_base is not None:
        exact_text = f"{exact / product.packet_base:.2f} packets"
        text = PACKETS_TEXT
    return FillStep(product.name, text, shown, exact_text)
