"""Water-soluble packets go in whole: what they come to in each fill, in words."""

from collections.abc import Iterator, Sequence

from planner.day.day import Workbook
from planner.mixing.recipes import Recipe
from planner.plan.model import Fill
from planner.plan.off_rate import off_rate


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
        alike: dict[str, list[str]] = {}
        for number, fill in enumerate(fills, 1):
            for told, _, words in off_rate(workbook, fill):
                if told.product_id == part.product_id:
                    ask = "" if told.amount else ", ask the office"
                    alike.setdefault(f"{words}{ask}", []).append(str(number))
        for words, numbers in alike.items():
            several = "s" if len(numbers) > 1 else ""
            said.append(f"Fill{several} {', '.join(numbers)}: {words}.")
        yield " ".join(said)
