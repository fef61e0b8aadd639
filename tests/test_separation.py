"""Which mixes may meet, and the cleaning that is owed when one follows another."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.day.day import Workbook
from planner.day.products import ANY_OTHER, KeepApart, Scope
from planner.mixing.separation import cleaning_for, residue_share, separation
from tests import days


def book(*rows: KeepApart) -> Workbook:
    """WEED (broadleaf), FEED (fertilizer), KILL (non-selective), BOTH (broadleaf + iron)."""
    rates = {"w": "1 fl oz/1000 sq ft", "i": "2 fl oz/1000 sq ft"}
    return days.workbook(
        sites=(),
        trucks=(),
        products=(
            days.product("w", "broadleaf", "2 fl oz/1000 sq ft"),
            days.product("f", "fertilizer", "9 fl oz/1000 sq ft"),
            days.product("k", "non-selective", "3 % v/v"),
            days.product("i", "iron", "9 fl oz/1000 sq ft"),
        ),
        mixes=(
            days.mix("WEED", 2.0, w=rates["w"]),
            days.mix("FEED", 3.0, f="8 fl oz/1000 sq ft"),
            days.mix("KILL", 1.0, k="2 % v/v"),
            days.mix("BOTH", 2.0, **rates),
        ),
        properties=(),
        orders=(),
        keep_apart=rows,
    )


KILL_ALONE = KeepApart("non-selective", ANY_OTHER, Scope.LINE, "kills grass")


def test_a_mix_answers_to_its_id_and_its_products_groups() -> None:
    apart = separation(book())
    assert apart.names_of("BOTH") == {"BOTH", "broadleaf", "iron"}
    assert apart.names_of("unknown") == {"unknown"}


def test_any_other_is_every_mix_without_the_group_either_way_round() -> None:
    apart = separation(book(KILL_ALONE))
    assert apart.apart("KILL", "WEED") == KILL_ALONE
    assert apart.apart("WEED", "KILL") == KILL_ALONE
    assert apart.apart("WEED", "FEED") is None
    assert apart.apart("KILL", "KILL") is None


def test_any_other_leaves_two_mixes_of_the_group_together() -> None:
    workbook = book(KILL_ALONE)
    twin = replace(workbook.mixes["KILL"], mix_id="KILL-EDGE")
    apart = separation(replace(workbook, mixes={**workbook.mixes, "KILL-EDGE": twin}))
    assert apart.apart("KILL", "KILL-EDGE") is None
    assert apart.apart("WEED", "KILL-EDGE") == KILL_ALONE


def test_the_widest_of_several_rows_counts() -> None:
    narrow = KeepApart("broadleaf", "fertilizer", Scope.COMPARTMENT, "clots")
    wide = KeepApart("FEED", "WEED", Scope.TRUCK, "house rule")
    apart = separation(book(narrow, wide))
    assert apart.apart("WEED", "FEED") == wide
    assert apart.apart("BOTH", "FEED") == narrow


@pytest.mark.parametrize(
    ("scope", "forbidden"),
    [
        (Scope.COMPARTMENT, {Scope.COMPARTMENT}),
        (Scope.LINE, {Scope.COMPARTMENT, Scope.LINE}),
        (Scope.TRUCK, {Scope.COMPARTMENT, Scope.LINE, Scope.TRUCK}),
    ],
)
def test_a_wider_scope_includes_the_narrower(scope: Scope, forbidden: set[Scope]) -> None:
    apart = separation(book(KeepApart("iron", "FEED", scope, "stains")))
    found = {one for one in Scope if apart.apart_by("FEED", "BOTH", one) is not None}
    assert found == forbidden


def test_cleaning_rinses_in_full_only_where_the_table_keeps_apart() -> None:
    # By hand: 200 gal x 10 % = 20 gal a rinse; heel 1 gal: (1/21)^3 = 1.0798e-4; 3 x 8 = 24 min.
    apart = separation(book(KILL_ALONE))
    tank = days.compartment("1", 200.0, "A", 1, heel_gal=1.0, last_mix="KILL", leftover_gal=1.0)
    full = cleaning_for(days.settings(), apart, tank, "KILL", "WEED")
    assert (full.rinses, full.water_gal_per_rinse, full.minutes) == (3, 20.0, 24.0)
    assert full.residue_share == pytest.approx((1 / 21) ** 3)
    assert "kills grass" in full.why
    once = cleaning_for(days.settings(), apart, tank, "FEED", "WEED")
    assert (once.rinses, once.minutes) == (1, 8.0)
    assert once.residue_share == pytest.approx(1 / 21)


def test_cleaning_for_a_neighbor_on_the_line_says_so() -> None:
    apart = separation(book(KILL_ALONE))
    tank = days.compartment("1", 50.0, "A", 1, last_mix="KILL")
    entry = cleaning_for(days.settings(), apart, tank, "KILL", "WEED", todays_mix_elsewhere=True)
    assert entry.why == "its last mix KILL must not meet WEED on line A: kills grass"


@pytest.mark.parametrize(
    ("heel_gal", "water_gal", "rinses", "share", "tolerance"),
    [
        # Z01, serial dilution law: https://sprayers101.com/continuous-rinse-airblast/
        (1.0, 10.0, 3, 0.000751315, 1e-9),
        # Z02, the same 30 gal at once: worked by hand, 1/31.
        (1.0, 30.0, 1, 0.0322581, 1e-6),
        # Z05, Beltwide Cotton Conferences 1992, pp. 516-522 (three rinses with 10 % of the tank's
        # volume in total brought 10,000 ppm below 10 ppm; heel of 0.3704 % computed from it):
        # https://www.cotton.org/beltwide/proceedings/8395/abstracts/3134.cfm
        (0.3704, 100 / 30, 3, 0.001, 1e-6),
        # Z08, container rinsing: 25 % fills and a film of 3.9463 % keep f x share at 1e-4, the
        # 99.99 % standard of 40 CFR 165.25(f); fills from the EPA Farm*A*Syst library.
        (0.039463, 0.25, 3, 1e-4 / 0.039463, 1e-5),
    ],
)
def test_residue_of_published_rinses(
    heel_gal: float, water_gal: float, rinses: int, share: float, tolerance: float
) -> None:
    assert residue_share(heel_gal, water_gal, rinses) == pytest.approx(share, abs=tolerance)


def test_rinse_water_rule_of_thumb() -> None:
    # Z06, Purdue Extension (Whitford) as quoted in
    # https://no-tillfarmer.com/articles/7574: 10 % of a 200-gal tank per rinse, three rinses: 60.
    apart = separation(book(KILL_ALONE))
    tank = days.compartment("1", 200.0, "A", 1, last_mix="KILL")
    entry = cleaning_for(days.settings(), apart, tank, "KILL", "FEED")
    assert entry.rinses * entry.water_gal_per_rinse == 60.0


def test_residue_at_the_edges() -> None:
    assert residue_share(0.0, 5.0, 1) == 0.0
    assert residue_share(2.0, 5.0, 0) == 1.0
    assert residue_share(2.0, 0.0, 3) == 1.0
    with pytest.raises(ValueError, match="negative"):
        residue_share(-1.0, 5.0, 1)
