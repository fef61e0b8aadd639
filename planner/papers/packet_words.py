"""Water-soluble packets go in whole: what they come to in each fill, in words."""

from collections.abc import Iterator, Sequence

from planner.day.day import Workbook
from planner.mixing.recipes import Recipe
from planner.plan.model import Fill
from planner.problems import counted

LIKE_ITS_RATE = 0.05
"""A fill this near to its rate is not spoken of."""


def packet_texts(workbook: Workbook, recipe: Recipe, fills: Sequence[Fill]) -> Iterator[str]:
    """A sentence or more for each product of the mix that comes in packets: how many gallons one
    makes, and the fills that whole ones make weaker or stronger. fills: of the mix, as numbered on
    the sheet."""
    for part in recipe.parts:
        product = workbook.products[part.product_id]
        packet = product.packet_base
        if packet is None or product.packet is None or part.amount_per_gal <= 0:
            continue
        said = [
            f"{product.name} comes in packets of {product.packet.value:g} {product.packet.unit} "
            f"that go in whole; one makes {packet / part.amount_per_gal:.1f} gal of this mix."
        ]
        for number, fill in enumerate(fills, 1):
            exact = part.amount_per_gal * fill.gal
            told = next((m.amount for m in fill.measured if m.product_id == part.product_id), 0.0)
            share = told / exact if exact else 1.0
            if told == 0:
                said.append(
                    f"Fill {number} is too small for a packet that stays within the label: do not "
                    "mix it, ask the office."
                )
            elif abs(share - 1) > LIKE_ITS_RATE:
                count = counted(round(told / packet), "packet")
                said.append(f"Fill {number}: {count}, {share:.0%} of its rate.")
        yield " ".join(said)
