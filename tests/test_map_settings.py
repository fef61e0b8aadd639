"""The [map] table of planner.toml."""

from __future__ import annotations

from pathlib import Path

import pytest

from planner.tables.office import MapTiles, load_office_file, read_map

ADDRESS = "https://tiles.example/{z}/{x}/{y}.png"


def test_read(tmp_path: Path) -> None:
    (tmp_path / "planner.toml").write_text(
        f'[map]\ntiles = "{ADDRESS}"\ncredit = "© Tiles"\n', encoding="utf-8"
    )
    office = load_office_file(tmp_path)
    assert office.problems == ()
    assert office.tiles == MapTiles(ADDRESS, "© Tiles")


@pytest.mark.parametrize(
    ("content", "keys"),
    [
        (None, []),
        ("x", ["map"]),
        ({"tiles": ADDRESS}, ["map.credit"]),
        ({"tiles": "tiles.example", "credit": "T"}, ["map.tiles"]),
        ({"tiles": "https://t.example/{z}/{x}", "credit": "T"}, ["map.tiles"]),
        ({"tile": ADDRESS, "credit": 3}, ["map.tile", "map.credit"]),
    ],
)
def test_what_is_wrong_is_named(content: object, keys: list[str]) -> None:
    found, wrong = read_map(content)
    assert found is None
    assert [row[0] for row in wrong] == keys
