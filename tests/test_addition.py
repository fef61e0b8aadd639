"""Order of addition: by formulation code, the label's own place first."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.day.day import Source, Workbook
from planner.day.products import Form
from planner.mixing.addition import (
    formulation_code,
    formulation_problems,
    mixing_notes,
    order_of_addition,
)
from tests import days
from tests.codes import ADDITION_CODES

OZ = "1 fl oz/1000 sq ft"
OZ_WT = "1 oz wt/1000 sq ft"


def book(**steps: int) -> Workbook:
    """One mix of everything, named against its order of addition."""
    codes = {
        "dye": "DYE",
        "surf": "ADJ",
        "ec": "EC",
        "fert": "FERT",
        "sl": "SL",
        "sc": "SC",
        "wdg": "65 WDG",
        "cond": "COND",
        "anti": "DEFOAM",
    }
    products = tuple(
        days.product(
            name,
            name,
            OZ_WT if code.endswith("WDG") else OZ,
            formulation=code,
            form=Form.DRY if code.endswith("WDG") else Form.LIQUID,
            mixing_step=steps.get(name),
        )
        for name, code in codes.items()
    )
    rates = {name: OZ_WT if code.endswith("WDG") else OZ for name, code in codes.items()}
    return days.workbook(
        sites=(),
        trucks=(),
        products=products,
        mixes=(days.mix("ALL", 2.0, **rates),),
        properties=(),
        orders=(),
    )


def added(workbook: Workbook) -> list[str]:
    return [name for step in order_of_addition(workbook, "ALL") for name in step.product_ids]


def test_products_go_in_by_formulation() -> None:
    # Oklahoma State University Extension's order, with fertilizer and colorant as is common
    # practice: https://extension.okstate.edu/fact-sheets/herbicide-mixing-order.html
    assert added(book()) == ["anti", "cond", "wdg", "sc", "sl", "fert", "ec", "surf", "dye"]


def test_water_first_agitate_after_dispersibles_mark_before_colorant() -> None:
    steps = order_of_addition(book(), "ALL")
    assert [step.number for step in steps] == list(range(1, 13))
    texts = [step.text for step in steps]
    assert texts[0].startswith("Clean water, half to three quarters")
    assert texts[3].startswith("wdg (65 WDG): stir to a slurry")
    assert texts[4].startswith("Agitate until no lumps")
    assert texts[10].startswith("The rest of the water by the meter")
    assert texts[11] == "dye (DYE): last."


def test_a_labels_own_place_wins() -> None:
    workbook = book(surf=35)
    assert added(workbook) == ["anti", "cond", "wdg", "surf", "sc", "sl", "fert", "ec", "dye"]
    texts = {step.product_ids: step.text for step in order_of_addition(workbook, "ALL")}
    assert texts[("surf",)] == "surf: here, as its label says."
    assert "The order above follows a label's own order." in mixing_notes(workbook, "ALL")


def test_a_new_mix_is_jar_tested_first() -> None:
    workbook = book()
    new = replace(workbook.mixes["ALL"], new_mix=True)
    workbook = replace(workbook, mixes={"ALL": new})
    first = order_of_addition(workbook, "ALL")[0]
    assert first.text.startswith("New mix: jar test first.")
    assert not any("jar" in step.text for step in order_of_addition(book(), "ALL"))


def test_dry_solubles_are_given_time() -> None:
    workbook = days.small_day().workbook
    texts = [step.text for step in order_of_addition(workbook, "FEED")]
    assert texts[1] == "urea (FERT): pour in slowly and wait until it is dissolved."


def test_notes_on_fertilizer_with_emulsions_and_on_many_partners() -> None:
    notes = mixing_notes(book(), "ALL")
    assert any("compatibility agent" in note for note in notes)
    assert any("three partners" in note for note in notes)


@pytest.mark.parametrize(
    ("written", "code"),
    [("WDG", "WDG"), ("65 wdg", "WDG"), ("2.08SC", "SC"), (" E.C. ", "EC"), ("", "")],
)
def test_codes_as_labels_write_them(written: str, code: str) -> None:
    assert formulation_code(written) == code


def test_unknown_codes_and_granules_are_problems_with_their_rows() -> None:
    workbook = days.workbook(
        sites=(),
        trucks=(),
        products=(
            days.product("a", "x", OZ, formulation="QQ"),
            days.product("b", "x", OZ_WT, formulation="0.5G", form=Form.DRY),
            days.product("c", "x", OZ, formulation="QQ", mixing_step=45),
        ),
        mixes=(days.mix("M", 2.0, a=OZ, b=OZ_WT, c=OZ, gone=OZ),),
        properties=(),
        orders=(),
        source=Source(
            {"products": "products.csv", "mix_products": "mix_products.csv"},
            {"products": {"a": 2}, "mix_products": {"M/b": 5}},
        ),
    )
    problems = formulation_problems(workbook)
    assert [(p.file, p.row, p.column, p.code) for p in problems] == [
        ("products.csv", 2, "formulation", "FORM-1"),
        ("mix_products.csv", 5, "product", "FORM-2"),
    ]
    assert {p.code for p in problems} == set(ADDITION_CODES)
    # Sheets are still made for the rest, with the unknown one sent to its label.
    texts = [step.text for step in order_of_addition(workbook, "M")]
    assert "a: see its label for its place." in texts
