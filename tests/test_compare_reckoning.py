"""Statistics, money and ranking of a comparison, worked by hand.

Student's t for 97.5 % and 4 degrees of freedom is 2.776: NIST/SEMATECH e-Handbook of Statistical
Methods, 1.3.6.7.2 (figure from memory).
"""

from __future__ import annotations

import math
import random
from dataclasses import replace
from pathlib import Path

import numpy_financial as financial
import pytest

from planner.compare.assumptions import mix_prices, with_days_between
from planner.compare.compare import Request, compare, prepare
from planner.compare.fleets import Fleet, FleetPrices, TruckPrices, read_fleets
from planner.compare.model import BetweenDays, DayResult, Difference, Money, TankDay, TruckOnDay
from planner.compare.money import Running, cost_a_year, money_of, payback_years, worth_today
from planner.compare.run import KeptResults
from planner.compare.summary import difference, own_spread, spread_of, stat
from planner.mixing.separation import cleaning_for, separation
from planner.plan.model import NotDone
from planner.plan.totals import NOTHING
from tests.days import compartment, line, truck
from tests.seasons import season_folder


def day(date: str, cost: float, *left_out: str, fleet: str = "a", seed: int = 1) -> DayResult:
    unserved = tuple(NotDone(name, "FULL", "no room") for name in left_out)
    totals = replace(NOTHING, cost=cost, orders=5 - len(left_out))
    return DayResult(fleet, date, seed, "search", 5, 1000.0, (), (), unserved, totals)


def test_a_figure_over_days() -> None:
    costs = [30.0, 10.0, 20.0, 40.0, 50.0, 60.0, 70.0, 80.0, 90.0, 100.0]
    found = stat("cost", [day(f"2027-05-{at:02d}", cost) for at, cost in enumerate(costs, 1)])
    assert (found.total, found.mean, found.median, found.ninety) == (550, 55, 55, 90)
    assert (found.worst, found.worst_date) == (100, "2027-05-10")


def test_the_spread_is_pooled_over_days_and_fleets() -> None:
    """Sums of squares 2 (two plans), 8 (three plans) and 0.5 (two plans) with 1 + 2 + 1 degrees of
    freedom."""
    samples = [
        [day("d1", 10.0), day("d1", 12.0, seed=2)],
        [day("d1", 10.0, fleet="b"), day("d1", 12.0, fleet="b", seed=2),
         day("d1", 14.0, fleet="b", seed=3)],
        [day("d2", 10.0), day("d2", 11.0, seed=2), day("d2", 5.0, "O1", seed=3)],
        [day("d3", 10.0)],
    ]  # fmt: skip
    found = spread_of(samples)
    assert found is not None
    assert found.freedom == 4
    assert math.isclose(found.standard_deviation["cost"], math.sqrt(10.5 / 4))
    assert (found.sample, found.seeds) == (("d1", "d2"), (1, 2, 3))
    own = own_spread("cost", 8, found)
    assert math.isclose(own, 2.776 * math.sqrt(10.5 / 4) * math.sqrt(2 / 8), rel_tol=1e-3)


def test_without_two_plans_of_the_same_work_there_is_no_spread() -> None:
    assert spread_of([[day("d1", 10.0), day("d1", 9.0, "O1", seed=2)], [day("d2", 3.0)]]) is None


def compared() -> Difference:
    fleet = [day("d1", 90.0), day("d2", 95.0), day("d3", 40.0, "O1", "O2"), day("d4", 80.0, "O3")]
    base = [
        day("d1", 100.0, fleet="b"),
        day("d2", 101.0, fleet="b"),
        day("d3", 100.0, "O2", fleet="b"),
        day("d4", 100.0, "O3", fleet="b"),
    ]
    spread = spread_of([[day("d1", 10.0), day("d1", 12.0, seed=2)]])
    return difference(fleet, base, spread)


def test_only_days_with_the_same_orders_are_compared_and_the_others_are_named() -> None:
    found = compared()
    assert found.dates == ("d1", "d2", "d4"), "an order that neither does says nothing"
    assert [(row.date, row.only_fleet, row.only_base) for row in found.other_days] == [
        ("d3", (), ("O1",))
    ]
    assert math.isclose(found.figures["cost"].mean, -(10 + 6 + 20) / 3)


def test_a_difference_within_the_own_spread_is_a_tie() -> None:
    """One degree of freedom: t = 12.706 (from memory), standard deviation sqrt(2)."""
    paired = compared().figures["cost"]
    assert paired.spread is not None
    assert math.isclose(paired.spread, 12.706 * math.sqrt(2) * math.sqrt(2 / 3), rel_tol=1e-3)
    assert paired.tie


def test_a_day_that_cannot_be_planned_is_compared_with_nothing() -> None:
    broken = replace(day("d1", 0.0), fault="no road to P1")
    found = difference([broken], [day("d1", 10.0, fleet="b")], None)
    assert (found.dates, found.figures) == ((), {})
    assert found.other_days[0].fault == "a: no road to P1"


def fleet(name: str, prices: dict[str, TruckPrices], kept: tuple[str, ...] = ()) -> Fleet:
    trucks = {one: truck(one, (line("A"),), (compartment("1", 100.0, "A", 1),)) for one in prices}
    days = 150.0 if name == "present" else None
    return Fleet(name, trucks, FleetPrices(days, by_truck=prices), {one: one for one in kept})


OLD = TruckPrices(60000.0, 4000.0, 10000.0, 10.0, 12000.0)
NEW = TruckPrices(100000.0, 5000.0, 20000.0, 8.0)


def changed(interest_percent: float, spread: float | None = None) -> tuple[Money, Money]:
    """Two old trucks stay or go: one stays, one is sold for 12,000, one new comes for 100,000.
    The new fleet saves 120 a day less 1,000 of fixed cost a year: 150 × 120 - 1,000 = 17,000."""
    present = fleet("present", {"T1": OLD, "T2": OLD}, ("T1", "T2"))
    prices = replace(present.prices, interest_percent=interest_percent)
    present = replace(present, prices=prices)
    other = fleet("other", {"T1": OLD, "N1": NEW}, ("T1",))
    base = [day("d1", 1000.0, fleet="present"), day("d2", 1100.0, fleet="present")]
    new = [day("d1", 880.0), day("d2", 980.0)]
    cost, against = stat("cost", base), difference(new, base, None)
    paired = replace(against.figures["cost"], spread=spread)
    against = replace(against, figures={**against.figures, "cost": paired})
    return (
        money_of(present, present, Running(cost, None)),
        money_of(other, present, Running(cost, against)),
    )


def test_payback_and_break_even_by_hand() -> None:
    ours, theirs = changed(0.0, spread=20.0)
    assert ours.yearly_running == 150 * 1050
    assert ours.yearly_ownership == 2 * (4000 + 50000 / 10)
    assert (ours.gain, ours.pays) == (0.0, True)
    assert theirs.yearly_running == 150 * 930
    assert theirs.yearly_ownership == 9000 + 5000 + 80000 / 8
    assert theirs.to_buy == 100000 - 12000
    assert theirs.yearly_saving == 17000
    # Sold, the old truck can no longer fetch its 10,000 at the end.
    assert (theirs.life_years, theirs.resale) == (8.0, 20000 - 10000)
    assert theirs.gain == 17000 - (88000 - 10000) / 8
    assert (theirs.scatter, theirs.payback_years) == (3000.0, 88000 / 17000)
    assert theirs.payback_low_years == 88000 / 20000
    assert theirs.payback_high_years == 88000 / 14000
    assert theirs.break_even_purchase == 17000 * 8 + 10000
    # On so many days it saves 120 each, and 9,750 and 1,000 are laid out.
    assert theirs.break_even_days == 10750 / 120
    assert theirs.why_not == ""


@pytest.mark.parametrize("percent", [0.0, 0.5, 7.0, 30.0])
def test_interest_by_another_library(percent: float) -> None:
    """numpy-financial 1.0, which carries on NumPy's own financial functions."""
    _, found = changed(percent)
    rate, life = percent / 100, 8
    price, saving, resale = 88000.0, 17000.0, 10000.0
    flows = [-price, *[saving] * (life - 1), saving + resale]
    net = float(financial.npv(rate, flows))
    assert found.gain == pytest.approx(-financial.pmt(rate, life, net), abs=1e-6)
    assert found.pays == (net >= 0) == (financial.irr(flows) >= rate)
    new = -financial.pmt(rate, 8, 100000.0, -20000.0)
    old = -financial.pmt(rate, 10, 60000.0, -10000.0)
    assert found.yearly_ownership == pytest.approx(9000 + new + old)
    assert found.break_even_purchase == pytest.approx(-financial.pv(rate, life, saving, resale))
    years = abs(financial.nper(rate, saving, -price)) if percent < 30 else None
    assert found.payback_years == (None if years is None else pytest.approx(float(years)))


def test_published_examples_of_interest() -> None:
    """Machines that others worked out in print.

    A packing machine for 57,000 with 5,000 for the old one, which saves 5,000 a year and fetches
    7,500 after ten, at 25 %: -33,342.17 (homeworklib.com, question 735619). A machine for 92,000
    with 18,000 salvage after six years at 7 %, 13,000 a year to run: 29,784.89 a year
    (answer.ya.guru, question 10059727). 100,000 paid back by 24,000 a year at 5 %: 4.79 years
    (techdoct.com, payback period calculator).
    """
    assert worth_today(0.25, 10, 5000, 7500) - 52000 == pytest.approx(-33342.17, abs=0.05)
    assert cost_a_year(0.07, 6, 92000, 18000) + 13000 == pytest.approx(29784.89, abs=0.01)
    years = payback_years(0.05, 100000, 24000)
    assert years == pytest.approx(4.79, abs=0.01)


def test_what_is_not_told_is_not_made_up() -> None:
    present = replace(fleet("present", {"T1": OLD}, ("T1",)), prices=FleetPrices())
    new = replace(fleet("new", {"N1": NEW}), prices=FleetPrices())
    base, days = [day("d1", 10.0, fleet="present")], [day("d1", 9.0)]
    cost = stat("cost", base)
    assert money_of(present, present, Running(cost, None)).yearly is None
    found = money_of(new, present, Running(cost, difference(days, base, None)))
    assert (found.gain, found.yearly, found.pays) == (None, None, False)
    assert "working_days is missing" in found.why_not
    assert "there is no purchase price for N1" in found.why_not


@pytest.mark.parametrize(
    ("price", "saving", "years"),
    [(1000.0, 100.0, 10.0), (1000.0, -1.0, None), (0.0, 5.0, 0.0), (-5.0, -1.0, None)],
)  # fmt: skip
def test_payback_at_its_ends(price: float, saving: float, years: float | None) -> None:
    assert payback_years(0.0, price, saving) == years
    assert payback_years(0.2, 1000.0, 100.0) is None, "interest eats the saving"


def test_days_pay_what_the_day_before_leaves(tmp_path: Path) -> None:
    """Another mix after 10 gal of spring-feed: one rinse or more at $24 an hour, of which ten
    minutes are paid anyhow, and the product of 10 gal."""
    book, (present,) = read_fleets(season_folder(tmp_path / "office"), {})

    def planned(date: str, mix: str, left_gal: float, unworked_min: float = 0.0) -> DayResult:
        tank = TankDay("front", 200.0, mix, 90.0, 100.0, 1, 100.0, left_gal, 0)
        totals = replace(NOTHING, orders=1, unworked_min=unworked_min)
        row = TruckOnDay("truck-1", 9000.0, 14500.0, 0, 0, totals, (tank,))
        whole = replace(totals, cost=100.0, paid_min=60.0)
        return DayResult("present", date, 1, "search", 1, 1.0, (row,), (), (), whole)

    days = [
        planned("2027-05-03", "spring-feed", 10.0),
        planned("2027-05-04", "weeds", 5.0, unworked_min=10.0),
        planned("2027-05-05", "weeds", 5.0),
    ]
    first, second, third = with_days_between(present, book, days)
    assert (first, third) == (days[0], days[2]), "nothing before, or the same mix again"
    tank = book.trucks["truck-1"].compartment("front")
    owed = cleaning_for(book.settings, separation(book), tank, "spring-feed", "weeds")
    assert owed.minutes > 10
    product = 10 * mix_prices(book)["spring-feed"]
    pay = (owed.minutes - 10) * 24 / 60
    assert second.between == BetweenDays(1, owed.minutes, 10.0, second.between.cost)
    assert second.between.cost == pytest.approx(pay + product)
    assert second.totals.cost == pytest.approx(100 + pay + product)
    assert second.totals.paid_min == pytest.approx(60 + owed.minutes - 10)
    assert second.totals.unworked_min == pytest.approx(0.0)


def test_equal_fleets_are_ties_in_19_of_20_comparisons() -> None:
    """By simulation: plans of two equal fleets scatter normally round the same cost of each day."""
    chance, found, trials = random.Random(5), 0, 1500
    for _ in range(trials):
        days = [f"d{at:02d}" for at in range(12)]
        best = {date: chance.uniform(500.0, 1500.0) for date in days}
        plans = {
            (fleet, date, seed): day(
                date, best[date] + chance.gauss(0.0, 7.0), fleet=fleet, seed=seed
            )
            for fleet in "ab"
            for at, date in enumerate(days)
            for seed in range(1, 4 if at < 3 else 2)
        }
        samples = [[plans[fleet, date, seed] for seed in (1, 2, 3)]
                   for fleet in "ab" for date in days[:3]]  # fmt: skip
        one, other = ([plans[fleet, date, 1] for date in days] for fleet in "ab")
        found += not difference(one, other, spread_of(samples)).figures["cost"].tie
    assert 0.03 < found / trials < 0.07, found / trials


def test_a_fleet_without_a_day_to_compare_does_not_change_how_the_others_are_ranked(
    tmp_path: Path,
) -> None:
    """Prices are told of all trucks; gallons=3% leaves something out every day."""
    folder = season_folder(tmp_path / "office")
    (folder / "fleet.toml").write_text(
        "working_days = 100\n[each_truck]\npurchase = 50000\nlife_years = 10\nrefit = 100\n",
        encoding="utf-8",
    )
    sweeps = ("trucks=1", "trucks=2", "gallons=3%")
    request = Request(folder, engine="nearest-fit", count=1, seeds=1, sweeps=sweeps)
    found = compare(
        prepare(request), lambda _done, _before, _all: None, jobs=1, kept=KeptResults(tmp_path)
    )
    assert found.fleet("gallons=3%").rank is None
    assert "no place" in found.fleet("gallons=3%").rank_words
    assert {found.fleet(name).rank for name in ("present", "trucks=1")} == {1, 2}
    assert [fleet.name for fleet in found.fleets] == ["present", "trucks=1", "gallons=3%"]
    assert "trucks=2 has the same trucks as present and is shown there." in found.notes
