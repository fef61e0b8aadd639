"""What is measured for a fill: never over a label, whatever gauge and meter say.

The reckoning here is its own: it pours water and product into a tank by hand, with every error that
is inside the stated ones, and divides what is in it by what it holds.
"""

from __future__ import annotations

import math
import random
from dataclasses import dataclass, replace

import pytest

from planner.day.day import day_of
from planner.day.fleet import Compartment
from planner.day.products import Form, ProductRate
from planner.mixing.measures import EMPTY_GAL, Measured, corrections, gauge_mark, measured_fill
from planner.mixing.recipes import Recipe, recipe
from planner.papers.fill_table import NO_PACKET, fill_table
from planner.plan.model import Fill
from planner.units import parse_amount, parse_rate
from tests.days import DAY, compartment, mix, product, settings, workbook
from tests.few import few

FL_OZ = 128


@dataclass
class Tank:
    """A real tank: gallons of mix in it, and gallons or pounds of each product."""

    gal: float
    inside: dict[str, float]

    def pour(self, told: Measured, liquids: set[str], capacity: float, metered: float) -> None:
        """The crew measures the products and runs water until the meter shows what it was told
        or the tank is full."""
        self.gal += sum(amount for name, amount in told.amounts.items() if name in liquids)
        for name, amount in told.amounts.items():
            self.inside[name] = self.inside.get(name, 0.0) + amount
        self.gal = min(capacity, self.gal + metered)

    def draw(self, gal: float) -> None:
        share = max(0.0, 1 - gal / self.gal) if self.gal else 0.0
        self.inside = {name: amount * share for name, amount in self.inside.items()}
        self.gal *= share


def made(
    rng: random.Random,
) -> tuple[object, Recipe, Compartment, dict[str, float], set[str]]:
    """A mix near or at its labels' most in a compartment; product per gallon that the labels allow
    on every grass and for the target that the mix may be for, reckoned from the texts of the
    rates."""
    carrier = rng.choice((1.0, 1.5, 2.0, 3.0, 4.0))
    products, rates, most, rows = [], {}, {}, []
    for number in range(rng.randint(1, 3)):
        name = f"p{number}"
        label = round(rng.choice((0.2, 0.5, 1.5, 6.0)) * rng.uniform(0.7, 1.3), 2)
        rate = round(label * rng.choice((1.0, 1.0, 0.98, 0.9, 0.6)), 3)
        dry = rng.random() < 0.4
        unit, size = ("oz wt", 16) if dry else ("fl oz", FL_OZ)
        steps = [None, None, parse_amount(f"{rng.choice((0.25, 0.5, 1, 4))} {unit}")]
        packet = parse_amount(f"{rate * rng.uniform(1, 9):.2f} {unit}")
        products.append(
            product(
                name,
                "herbicide",
                f"{label} {unit}/1000 sq ft",
                form=Form.DRY if dry else Form.LIQUID,
                smallest_measure=rng.choice(steps),
                packet=packet if rng.random() < 0.2 else None,
            )
        )
        rates[name] = f"{rate} {unit}/1000 sq ft"
        most[name] = label / size / carrier
        for grass in ("tall fescue", "bermudagrass", "")[: rng.randint(0, 3)]:
            # A most under the mix's rate holds the grass's orders; half a percent is arithmetic.
            lower = round(label * rng.choice((0.5, 0.8, 0.95, 1.0, 1.2)), 3)
            target = rng.choice(("", "clover", "sedge"))
            text, per_gal = f"{lower} {unit}/1000 sq ft", lower / size / carrier
            if not dry and rng.random() < 0.3:
                per_gal = round(per_gal, 5)
                text = f"{per_gal * 100:.3f} % v/v"
            rows.append(ProductRate(name, grass, target, parse_rate(text)))
            slack = 1.025 if "%" in text else 1.005
            if target != "sedge" and rate / size / carrier <= per_gal * slack:
                most[name] = min(most[name], per_gal)
    capacity = float(rng.choice((20, 50, 100, 200, 300)))
    tank = compartment(
        "1", capacity, "A", 1, gauge_step_gal=rng.choice((None, None, 1.0, 2.5, 10.0))
    )
    one = mix("M", carrier, **rates)
    one = replace(one, parts=tuple(replace(part, target="clover, thistle") for part in one.parts))
    book = workbook(
        settings=settings(meter_error_percent=rng.choice((0.0, 1.5, 3.0, 5.0))),
        products=tuple(products),
        mixes=(one,),
        product_rates=tuple(rows),
    )
    liquids = {one.product_id for one in products if one.form is Form.LIQUID}
    return book, recipe(book, "M"), tank, most, liquids


@pytest.mark.parametrize("seed", [7, 1007][: few(1, of=2)])
def test_no_gauge_and_no_meter_brings_a_mix_over_its_label(seed: int) -> None:
    """1,000 days of a tank, each with up to four fills and every error inside the stated ones."""
    rng = random.Random(seed)
    fills = used_table = brim = 0
    for _ in range(1_000):
        book, one, tank, most, liquids = made(rng)
        error, step = book.settings.meter_error_percent / 100, tank.gauge_step
        real = Tank(0.0, {})
        planned = 0.0
        for _ in range(rng.randint(1, 4)):
            gal = float(rng.randint(1, max(1, int(tank.capacity_gal - planned))))
            if rng.random() < 0.3:
                gal = tank.capacity_gal - planned
            if gal <= 0:
                break
            if planned <= EMPTY_GAL < real.gal:
                break  # The sheet says that it is empty, and to call where it is not.
            told = measured_fill(book, one, tank, planned, gal)
            # The mark that is read is at most one mark off.
            low, high = math.ceil(real.gal / step - 1), math.floor(real.gal / step + 1)
            read = rng.choice(range(max(0, low), high + 1)) * step
            if planned > 0.05 and read != pytest.approx(gauge_mark(planned, step)):
                rows = corrections(book, one, tank, planned, gal)
                row = next((row for row in rows if row.level_gal >= read - 1e-9), None)
                if row is None:
                    break  # Off the table: the sheet has no answer, and the crew calls.
                told, used_table = row.measured, used_table + 1
                gal = row.gal
            if gal == 0:
                continue
            metered = told.water_gal * (1 + error * rng.choice((-1, 1, rng.uniform(-1, 1))))
            brim += real.gal + gal > tank.capacity_gal
            real.pour(told, liquids, tank.capacity_gal, metered)
            fills += 1
            for name, amount in real.inside.items():
                assert amount / real.gal <= most[name] * (1 + 1e-6), (name, tank, told, planned)
            # The crew sprays a little more or less than planned.
            planned = rng.uniform(0, min(tank.capacity_gal, planned + gal))
            real.draw(max(0.0, real.gal - max(0.0, planned + rng.uniform(-12, 12))))
    assert fills > 1_500
    assert used_table > 100
    assert brim > 50


def test_a_mix_at_its_most_is_measured_for_the_fewest_gallons() -> None:
    """Worked by hand: 1.5 fl oz on 2 gal is 0.75 to the gallon. 20 gal take 15 fl oz and 19.88 gal
    of water, 19.9 on the meter; 1.5 % less is 19.60, with the product 19.72 gal, which may hold
    14.79 fl oz: 14.7 in tenths (14.8 would be 0.7507)."""
    book = workbook(
        products=(product("p", "herbicide", "1.5 fl oz/1000 sq ft"),),
        mixes=(mix("M", 2.0, p="1.5 fl oz/1000 sq ft"), mix("N", 2.0, p="1.3 fl oz/1000 sq ft")),
    )
    tank = compartment("1", 100.0, "A", 1)
    told = measured_fill(book, recipe(book, "M"), tank, 5.7, 20.0)
    assert told.water_gal == pytest.approx(19.9)
    assert told.amounts["p"] * FL_OZ == pytest.approx(14.7)
    fewest_gal = 19.9 * 0.985 + 14.7 / FL_OZ
    assert told.strongest["p"] == pytest.approx(14.7 / (0.75 * fewest_gal))
    # A mix under its most is measured as it is: 13 fl oz.
    assert measured_fill(book, recipe(book, "N"), tank, 5.7, 20.0).amounts["p"] * FL_OZ == (
        pytest.approx(13.0)
    )


def test_a_fill_to_the_brim_counts_on_what_the_gauge_may_hide() -> None:
    """80 gal on top of 20 that may be 25: 75 gal is all that surely goes in, so that a mix at its
    most gets product for these; 0.75 fl oz x 100 - 0.75 x 25 = 56.25, in half ounces 56.0."""
    book = workbook(
        products=(product("p", "herbicide", "1.5 fl oz/1000 sq ft"),),
        mixes=(mix("M", 2.0, p="1.5 fl oz/1000 sq ft"),),
    )
    tank = compartment("1", 100.0, "A", 1)
    told = measured_fill(book, recipe(book, "M"), tank, 20.0, 80.0)
    assert told.amounts["p"] * FL_OZ == pytest.approx(56.0)


def test_other_levels_keep_the_recipe_and_the_mark() -> None:
    """5.7 gal on a gauge of 5-gal marks: 0, 10, 15 and 20 are answered (5 is as planned)."""
    book = workbook(
        products=(product("p", "herbicide", "1.5 fl oz/1000 sq ft"),),
        mixes=(mix("M", 2.0, p="1.2 fl oz/1000 sq ft"),),
    )
    tank = compartment("1", 100.0, "A", 1)
    rows = corrections(book, recipe(book, "M"), tank, 5.7, 20.0)
    assert [(row.level_gal, row.gal) for row in rows] == [(0, 25), (10, 15), (15, 10), (20, 5)]
    # 0.6 fl oz to the gallon.
    assert [round(row.measured.amounts["p"] * FL_OZ, 2) for row in rows] == [15.0, 9.0, 6.0, 3.0]
    assert corrections(book, recipe(book, "M"), tank, 0.0, 20.0) == ()


@pytest.mark.parametrize(
    ("capacity", "step", "before", "levels"),
    [
        # A fifteenth of 30 gal is two marks; 5, 10 and 15 gal would go from nothing to all of it.
        (30.0, None, 6.4, [0, 2, 4, 8, 10, 12]),
        (30.0, None, 3.2, [0, 1, 5, 7, 9]),
        (30.0, 2.5, 10.0, [2.5, 5, 7.5, 12.5, 15, 17.5]),
        (15.0, None, 14.0, [11, 12, 13, 15]),
        (12.0, 5.0, 3.0, [0, 10]),
        (60.0, None, 21.0, [5, 10, 15, 25, 30, 35]),
        (60.0, 1.0, 21.0, [9, 13, 17, 25, 29, 33]),
        (300.0, None, 41.0, [25, 30, 35, 45, 50, 55]),
        (800.0, None, 41.0, [10, 20, 30, 50, 60, 70]),
    ],
)
def test_other_levels_suit_the_tank(
    capacity: float, step: float | None, before: float, levels: list[float]
) -> None:
    """Three marks or more up and down, whole marks of the gauge, by hand from rule 33; an empty
    tank is answered wherever the rows go down so far."""
    book = workbook(
        products=(product("p", "herbicide", "1.5 fl oz/1000 sq ft"),),
        mixes=(mix("M", 2.0, p="1.2 fl oz/1000 sq ft"),),
    )
    tank = compartment("1", capacity, "A", 1, gauge_step_gal=step)
    rows = corrections(book, recipe(book, "M"), tank, before, capacity - before)
    assert [row.level_gal for row in rows] == levels


def test_other_levels_say_what_share_of_the_rate_packets_come_to() -> None:
    """0.4 lb of a powder on 2 gal, packets of 1 lb: one makes 5 gal. By hand, for 22.7 gal in all:
    with 0, 10, 15 and 20 gal in it 22, 12, 7 and 2 gal are added, for which the recipe has 4.4,
    2.4, 1.4 and 0.4 packets."""
    powder = product(
        "p", "g", "0.5 lb/1000 sq ft", form=Form.DRY, packet=parse_amount("1 lb"), formulation="WDG"
    )
    book = workbook(products=(powder,), mixes=(mix("M", 2.0, p="0.4 lb/1000 sq ft"),))
    tank = compartment("1", 100.0, "A", 1)
    fill = Fill("1", "M", 17.0, 17.0, 5.7, 22.7, 140.0, (), (), 17.0, ())
    table = fill_table(day_of(book, DAY), recipe(book, "M"), tank, fill)
    assert [(row.level, row.add, row.products) for row in table.others[:3]] == [
        ("0", "22", ("4 packets (91 % of its rate)",)),
        ("10", "12", ("2 packets (83 % of its rate)",)),
        ("15", "7", ("1 packet (71 % of its rate)",)),
    ]
    # Nobody is to read it as water without a packet.
    (last,) = table.others[3:]
    assert (last.level, last.add, last.instead) == ("20", "", NO_PACKET)


def test_marks_of_a_gauge() -> None:
    assert gauge_mark(99.8, 5.0) == 100.0
    assert compartment("1", 30.0, "A", 1).gauge_step == 1.0
    assert compartment("1", 300.0, "A", 1).gauge_step == 5.0
    assert compartment("1", 800.0, "A", 1).gauge_step == 10.0
    assert replace(compartment("1", 800.0, "A", 1), gauge_step_gal=25.0).gauge_step == 25.0


def test_a_cup_of_its_own() -> None:
    """In a 4-oz jug 50 fl oz are 52; under ten jugs of it the usual marks count."""
    rate = parse_rate("1.2 fl oz/1000 sq ft")
    jug = product("p", "herbicide", "2 fl oz/1000 sq ft", smallest_measure=parse_amount("4 fl oz"))
    book = workbook(products=(jug,), mixes=(mix("M", 2.0, p=rate.text),))
    tank = compartment("1", 200.0, "A", 1)
    for gal, fl_oz in ((150.0, 88.0), (50.0, 30.0)):
        told = measured_fill(book, recipe(book, "M"), tank, 0.0, gal)
        assert told.amounts["p"] * FL_OZ == pytest.approx(fl_oz)
