"""What the invented labels of the demo's products say beside their figures."""

from __future__ import annotations

_EYES = "In eyes: rinse slowly with water for 15 to 20 minutes, then call the poison center"
_SKIN = "On skin: take off wet clothes and rinse with plenty of water for 15 to 20 minutes"
_APRON = "chemical-resistant apron; face shield"

FIRST_AID = {
    "TRIO": _EYES,
    "GATE": _SKIN,
    "CLEAR": _EYES,
    "IRON6": _SKIN,
    "SHIELD": _SKIN,
}
MIXING_PPE = {"TRIO": _APRON, "SHIELD": "chemical-resistant apron"}
WATER_NOTE = {
    "CLEAR": "hard water weakens it; condition water over 200 ppm of hardness first",
    "SHIELD": "pH 5 to 7",
}


def with_labels(products: list[dict[str, str]]) -> list[dict[str, str]]:
    """The rows of products with their first aid, mixing gear and words on water."""
    return [
        {
            **row,
            "first_aid": FIRST_AID.get(row["product"], ""),
            "mixing_ppe": MIXING_PPE.get(row["product"], ""),
            "water_note": WATER_NOTE.get(row["product"], ""),
        }
        for row in products
    ]


PRODUCT_RATES = [
    {
        "product": "GATE",
        "grass": "Kentucky bluegrass",
        "target": "",
        "rate_most": "0.55 oz wt/1000 sq ft",
    }
]
"""Under what the label allows on tall fescue; the demo's mix keeps to it."""
