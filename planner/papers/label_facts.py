"""What the labels of some mixes ask for together, whichever paper or screen says it."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from planner.day.day import Day
from planner.day.products import Product
from planner.papers.lookup import keep_off_texts

SIGNAL_WORDS: Final = ("DANGER", "WARNING", "CAUTION")
"""From the strongest on: 40 CFR 156.64, toxicity categories I to III."""


@dataclass(frozen=True)
class LabelFacts:
    """products: each once; signal_word: the strongest, '' = none; restricted: names of those for
    restricted use; mixing_ppe: beside ppe while mixing and loading; first_aid: (product, line);
    keep_off: what they say on re-entry."""

    products: tuple[Product, ...]
    signal_word: str
    restricted: tuple[str, ...]
    ppe: tuple[str, ...]
    mixing_ppe: tuple[str, ...]
    first_aid: tuple[tuple[str, str], ...]
    keep_off: str


def label_facts(day: Day, mix_ids: Iterable[str]) -> LabelFacts:
    """Of these mixes together. Raises KeyError for a mix or product that the day does not have."""
    mixes = [day.workbook.mixes[mix_id] for mix_id in dict.fromkeys(mix_ids)]
    parts = dict.fromkeys(part.product_id for mix in mixes for part in mix.parts)
    products = tuple(day.workbook.products[name] for name in parts)
    words = {product.signal_word for product in products}
    texts = [text for mix in mixes for text in keep_off_texts(day, mix.mix_id)]
    return LabelFacts(
        products,
        next((word for word in SIGNAL_WORDS if word in words), ""),
        tuple(product.name for product in products if product.restricted_use),
        tuple(dict.fromkeys(item for product in products for item in product.ppe)),
        tuple(dict.fromkeys(item for product in products for item in product.mixing_ppe)),
        tuple((product.name, product.first_aid) for product in products if product.first_aid),
        "; ".join(dict.fromkeys(texts)) or "see the labels",
    )
