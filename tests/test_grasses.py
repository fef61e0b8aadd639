"""Names of lawn grasses, and what keeps a product off them."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.compliance.holds import holds
from planner.day.day import Day, day_of
from planner.rules.grasses import grass_rows, grasses_like, grasses_of
from planner.tables.checks_general import grass_cure
from tests import days
from tests.audit_holds import audited_codes


def lawn(grass: str, *barred: str) -> Day:
    home = replace(days.home("P1", 40.0, -83.0, 4000.0), grass=grass)
    product = days.product("p", "g", "3 fl oz/1000 sq ft", not_on_grass=barred)
    book = days.workbook(
        products=(product,),
        mixes=(days.mix("MIX", 2.0, p="1.5 fl oz/1000 sq ft"),),
        properties=(home,),
        orders=(days.order("O1", home, "MIX"),),
    )
    return day_of(book, days.DAY)


@pytest.mark.parametrize(
    ("cell", "found"),
    [
        # Names of http://turfgrass.com/category/grasses/cool-season-grasses/ and
        # http://www.landscape-america.com/grasses/botanical.html (read 2026-11-26).
        ("Poa pratensis", {"Kentucky bluegrass"}),
        ("Lolium arundinaceum", {"tall fescue"}),
        ("Festuca arundinacea", {"tall fescue"}),
        ("Chewing's fescue", {"fine fescue"}),
        ("Stenotaphrum secundatum", {"St. Augustinegrass"}),
        ("Buchloe dactyloides", {"buffalograss"}),
        # From memory: short names of the trade.
        ("KBG", {"Kentucky bluegrass"}),
        ("TTTF / PRG", {"tall fescue", "perennial ryegrass"}),
        ("Bermuda grass", {"bermudagrass"}),
        ("St Augustine", {"St. Augustinegrass"}),
        ("fescue", {"tall fescue", "fine fescue"}),
        ("Kentucky bluegrass and perennial rye mix", {"Kentucky bluegrass", "perennial ryegrass"}),
        ("Zoysia sod", {"zoysiagrass"}),
    ],
)
def test_names_of_the_trade(cell: str, found: set[str]) -> None:
    assert grasses_of(cell) & {grass for grass, _ in grass_rows()} == found


@pytest.mark.parametrize(
    ("grass", "barred", "held"),
    [
        ("KBG", "Kentucky bluegrass", True),
        ("Kentucky bluegrass / tall fescue", "TTTF", True),
        ("St Augustine grass", "St. Augustine", True),
        ("Bermuda", "common bermudagrass", True),
        ("tall fescue", "fine fescue", False),
        ("fescue", "fine fescue", True),
        ("tall fescue", "fescue", True),
        ("bluegrass", "rough bluegrass", False),
        ("purple moss", "Purple Moss", True),
        ("", "bentgrass", False),
    ],
)
def test_a_barred_grass_is_known_by_every_name(grass: str, barred: str, held: bool) -> None:
    day = lawn(grass, barred)
    found = holds(day)
    assert [hold.code for hold in found] == (["GRASS"] if held else [])
    assert audited_codes(day, found) == []


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("blue gras", ("Kentucky bluegrass",)),
        ("fescu", ("tall fescue", "fine fescue")),
        ("rye gras", ("perennial ryegrass", "annual ryegrass")),
        ("St Agustine", ("St. Augustinegrass",)),
        ("Poa anua", ("annual bluegrass",)),
        ("moss", ()),
    ],
)
def test_a_misspelled_grass_is_taken_for_what_its_names_mean(
    written: str, meant: tuple[str, ...]
) -> None:
    """What the names mean: planner/rules/grasses.csv. 'rough bluegrass' has more letters of 'blue
    gras' than 'Kentucky bluegrass', whose short name it is."""
    assert grasses_like(written) == meant
    cure = grass_cure(written, [grass for grass, _ in grass_rows()], "write its name")
    assert all(f"'{grass}'" in cure for grass in meant)
    assert cure.startswith("did you mean" if meant else "write its name")
