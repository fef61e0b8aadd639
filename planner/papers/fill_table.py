"""What stands beside the steps of a fill: the gauge's marks, other levels, the strongest mix."""

from dataclasses import dataclass
from typing import Final

from planner.day.day import Day
from planner.day.fleet import Compartment
from planner.day.products import Product
from planner.mixing.measures import (
    EMPTY_GAL,
    Correction,
    can_be_mixed,
    corrections,
    gauge_mark,
    measured_fill,
)
from planner.mixing.mosts import label_mosts
from planner.mixing.recipes import Recipe
from planner.papers.fill_steps import measured_text
from planner.papers.render import gal_text
from planner.plan.model import Fill
from planner.plan.off_rate import LIKE_ITS_RATE

NO_PACKET: Final = "add nothing: too little for a packet; call the office"


@dataclass(frozen=True)
class OtherLevel:
    """A row of the table: the gauge's reading, what to add and what to measure for it, product by
    product; all texts. add: '' = nothing is added, and instead stands there."""

    level: str
    add: str
    water: str
    products: tuple[str, ...]
    instead: str


@dataclass(frozen=True)
class FillTable:
    """near_before, near_after: marks of the gauge; full: whether the fill ends at the full mark;
    step: of the gauge; names: products of the table; others: its rows; strongest: what the mix can
    come to at worst, product by product, beside the most of the label that bounds it."""

    near_before: str
    near_after: str
    full: bool
    step: str
    names: tuple[str, ...]
    others: tuple[OtherLevel, ...]
    strongest: tuple[str, ...]


def fill_table(day: Day, recipe: Recipe, compartment: Compartment, fill: Fill) -> FillTable:
    """The table of one fill. Raises KeyError for a product that the day does not have."""
    book, step = day.workbook, compartment.gauge_step
    products = [book.products[part.product_id] for part in recipe.parts]
    rows = corrections(book, recipe, compartment, fill.level_before_gal, fill.gal)
    mosts = label_mosts(book, recipe)
    here = measured_fill(book, recipe, compartment, fill.level_before_gal, fill.gal)
    worst = {
        name: max(one.strongest[name] for one in (here, *(row.measured for row in rows if row.gal)))
        for name in here.strongest
    }
    return FillTable(
        near_before=gal_text(gauge_mark(fill.level_before_gal, step))
        if fill.level_before_gal > EMPTY_GAL
        else "",
        near_after=near_text(compartment, fill),
        full=fill.level_after_gal >= compartment.capacity_gal - step / 2,
        step=gal_text(step),
        names=tuple(product.name for product in products),
        others=tuple(
            OtherLevel(
                gal_text(row.level_gal),
                gal_text(row.gal) if can_be_mixed(book, row) else "",
                gal_text(row.measured.water_gal),
                tuple(_amount_text(product, row, recipe) for product in products),
                NO_PACKET if row.gal else "nothing",
            )
            for row in rows
        ),
        strongest=tuple(
            f"{product.name} {worst[product.product_id] * most.rate.most:.4g} of "
            f"{most.rate.text} {most.about}".rstrip()
            for product in products
            if (most := mosts.get(product.product_id)) is not None
        ),
    )


def _amount_text(product: Product, row: Correction, recipe: Recipe) -> str:
    """What to measure, with its share of the rate where that is away from it."""
    amount = row.measured.amounts[product.product_id]
    exact = recipe.amounts(row.gal)[product.product_id]
    text = measured_text(product, amount)
    if not amount or not exact or abs(amount / exact - 1) <= LIKE_ITS_RATE:
        return text
    return f"{text} ({amount / exact * 100:.0f} % of its rate)"


def near_text(compartment: Compartment, fill: Fill) -> str:
    """Where the gauge stands after a fill, to its mark."""
    mark = gauge_mark(fill.level_after_gal, compartment.gauge_step)
    return gal_text(min(mark, compartment.capacity_gal))
