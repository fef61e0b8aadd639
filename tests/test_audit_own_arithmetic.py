"""The audit's own arithmetic against published figures, and against the planner's other way of
working out the same thing."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.compliance.holds import holds, order_windows
from planner.day.clock import Window
from planner.day.products import Form, Product
from planner.mixing.recipes import recipe
from planner.plan.audit.case import replay
from planner.plan.audit.strength import Strength, StrengthError, strength, substance_per_unit
from planner.plan.audit.weather import openings
from tests.days import mix, product, settings, workbook
from tests.hand_plan import hand_day, hand_plan
from tests.random_days import random_day


def one_gallon(item: Product, rate: str, carrier_gal_per_1000_ft2: float) -> Strength:
    blend = mix("M", carrier_gal_per_1000_ft2, **{item.product_id: rate})
    book = workbook(sites=(), trucks=(), products=(item,), mixes=(blend,), properties=(), orders=())
    return strength(book, blend)


UAN = product("uan", "fertilizer", "2 lb N/1000 sq ft", density_lb_per_gal=10.65)
UAN = replace(UAN, nitrogen_percent=28.0)


def test_nitrogen_in_a_gallon_of_uan() -> None:
    # 2.982 lb N per gallon: UNL CropWatch,
    # https://cropwatch.unl.edu/2016/setting-sprayer-flow-rate-non-water-solutions
    assert substance_per_unit(UAN, "N") == pytest.approx(2.982, abs=1e-3)


def test_nitrogen_rate_of_a_liquid() -> None:
    # 75 lb N take 25.151 gal (the same page): 75 lb N on 1,000 ft2 in 100 gal of mix.
    assert one_gallon(UAN, "75 lb N/1000 sq ft", 100.0).product["uan"] == pytest.approx(
        0.25151, abs=1e-5
    )


def test_nitrogen_rate_of_a_dry_product() -> None:
    # 28-3-6 at 1 lb N per 1,000 ft2: 21.4286 lb for 6,000 ft2 (prints 21.42 from the rounded
    # 3.57); UNL Backyard Farmer, http://byf.unl.edu/LawnFertCalc
    dry = replace(UAN, form=Form.DRY, density_lb_per_gal=None)
    assert one_gallon(dry, "1 lb N/1000 sq ft", 6.0).product["uan"] * 36 == pytest.approx(
        21.4286, abs=1e-4
    )


def test_percent_of_the_finished_mix() -> None:
    # 0.5 % v/v in 2 gal is 1.28 fl oz: Univ. of Illinois Pest Bulletin 2006 no. 10,
    # http://bulletin.ipm.illinois.edu/article.php?id=539. The carrier on the area plays no part.
    wetter = product("wetter", "adjuvant", "1 % v/v")
    one = one_gallon(wetter, "0.5 % v/v", 3.0)
    assert one.product["wetter"] * 2 * 128 == pytest.approx(1.28)
    assert one.water_gal == pytest.approx(0.995)


def test_active_ingredient_per_acre() -> None:
    # 1 lb ai/A of a 4 lb/gal liquid: 21.725 mL per 1,000 ft2; PNW Handbooks,
    # https://www.pnwhandbooks.org/node/328/print (prints 22). A gallon is 3785.411784 mL.
    herbicide = product("four", "broadleaf", "2 lb ai/A", ai_lb_per_gal=4.0)
    one = one_gallon(herbicide, "1 lb ai/A", 1.0)
    assert one.product["four"] * 3785.411784 == pytest.approx(21.725, abs=1e-3)


def test_a_rate_that_cannot_be_crossed_is_named() -> None:
    with pytest.raises(StrengthError, match="nitrogen_percent"):
        one_gallon(product("three-way", "broadleaf", "1 fl oz/1000 sq ft"), "1 lb N/1000 sq ft", 2)


def test_weight_of_uan() -> None:
    # Straight UAN: 10.65 lb/gal (UNL CropWatch, as above), no water at all.
    one = one_gallon(UAN, "100 % v/v", 2.0)
    assert (one.water_gal, one.weight_lb) == (pytest.approx(0.0), pytest.approx(10.65))


@pytest.mark.parametrize(
    ("inside_in", "hose_ft", "gal", "tolerance"),
    [
        # NWCG Table 3.1 prints 4.1, 9.2 and 0.8 gal:
        # https://www.nwcg.gov/course/ffm/squirt-water/table-31-water-handling-unit-estimations
        (1.0, 100.0, 4.1, 0.05),
        (1.5, 100.0, 9.2, 0.05),
        (0.625, 50.0, 0.8, 0.05),
    ],
)
def test_gallons_in_a_hose(inside_in: float, hose_ft: float, gal: float, tolerance: float) -> None:
    truck = hand_day().workbook.trucks["T1"]
    hose = replace(truck.line("A"), hose_inside_diameter_in=inside_in, hose_ft=hose_ft)
    truck = replace(truck, lines=(hose, truck.line("N")))
    duty = replay(truck, hand_plan().trucks[0]).hose[1, 0]
    assert duty.hose_gal == pytest.approx(gal, abs=tolerance)


@pytest.mark.parametrize("seed", range(12))
def test_a_gallon_of_mix_is_the_same_both_ways(seed: int) -> None:
    book = random_day(seed, "small").workbook
    book = replace(book, settings=settings(water_lb_per_gal=8.3 + 0.01 * (seed % 10)))
    for one_mix in book.mixes.values():
        ours, theirs = strength(book, one_mix), recipe(book, one_mix.mix_id)
        assert ours.weight_lb == pytest.approx(theirs.density_lb_per_gal)
        assert ours.water_gal == pytest.approx(theirs.water_gal_per_gal)
        parts = {part.product_id: (part.amount_per_gal, part.unit) for part in theirs.parts}
        assert {
            name: (pytest.approx(amount), ours.units[name]) for name, amount in ours.product.items()
        } == parts


WHOLE_DAY = (Window(0.0, 1440.0),)


@pytest.mark.parametrize("seed", range(60))
def test_windows_are_the_same_both_ways(seed: int) -> None:
    day = random_day(seed)
    ours = openings(day)
    never = set()
    for order in day.orders.values():
        theirs = order_windows(day, order)
        mine = ours[order.order_id].both
        assert (mine or None if mine != WHOLE_DAY else None) == (theirs or None)
        assert (mine == ()) == (theirs == ())
        if mine == ():
            never.add(order.order_id)
    assert never <= {hold.order_id for hold in holds(day)}
