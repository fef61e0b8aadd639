"""The [map] table of planner.toml: an online street map behind the day's own."""

from __future__ import annotations

from dataclasses import dataclass

from planner.tables.text import did_you_mean

KEYS = ("tiles", "credit")
EXAMPLE = 'write tiles = "https://…/{z}/{x}/{y}.png" and credit = "…" below [map]'

Wrong = tuple[str, object, str]
"""What is wrong in planner.toml: key, what was found, cure."""


@dataclass(frozen=True)
class MapTiles:
    """Pictures of an online map, which may be switched on. address: of one picture, with {z}, {x}
    and {y}; credit: shown while it is on, as its owner asks."""

    address: str
    credit: str


def read_map(content: object) -> tuple[MapTiles | None, list[Wrong]]:
    """The online map that [map] names, None when there is none or it cannot be used as written,
    and everything that is wrong."""
    if content is None:
        return None, []
    if not isinstance(content, dict):
        return None, [("map", content, EXAMPLE)]
    wrong: list[Wrong] = []
    for key, value in content.items():
        if key not in KEYS:
            wrong.append((f"map.{key}", key, did_you_mean(key, KEYS, "remove it")))
        elif not isinstance(value, str) or not value.strip() or not value.isprintable():
            wrong.append((f"map.{key}", value, f"{EXAMPLE}: text in quotes"))
    if wrong:
        return None, wrong
    address, credit = str(content.get("tiles", "")), str(content.get("credit", ""))
    places = all(place in address for place in ("{z}", "{x}", "{y}"))
    if not address.startswith(("https://", "http://")) or not places:
        wrong.append(("map.tiles", address, EXAMPLE))
    if not credit:
        wrong.append(("map.credit", credit, f"{EXAMPLE}: every map has an owner to name"))
    return (None if wrong else MapTiles(address, credit)), wrong
