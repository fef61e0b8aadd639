"""Statistics, money and ranking of a comparison, worked by hand.

Student's t for 97.5 % and 4 degrees of freedom is 2.776: NIST/SEMATECH e-Handbook of Statistical
Methods, 1.3.6.7.2 (figure from memory).
"""

from __future__ import annotations

import math
import random
from dataclasses import replace
from pathlib import Path

import pytest

from planner.compare.compare import Request, compare, prepare
from planner.compare.fleets import Fleet
from planner.compare.kept import KeptResults
from planner.compare.model import DayResult, Difference
from planner.compare.money import Running, money_of, payback_years
from planner.compare.prices import FleetPrices, TruckPrices
from planner.compare.spread import difference, own_spread, spread_of, stat
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
    return Fleet(name, trucks, FleetPrices(days, prices), {one: one for one in kept})


OLD = TruckPrices(60000.0, 4000.0, 10000.0, 10.0, 12000.0)
NEW = TruckPrices(100000.0, 5000.0, 20000.0, 8.0)


def test_payback_and_break_even_by_hand() -> None:
    """Two old trucks stay or go: one stays, one is sold for 12,000, one new comes for 100,000.
    The new fleet saves 40 a day less 1,000 of fixed cost a year: 150 × 40 - 1,000 = 5,000."""
    present = fleet("present", {"T1": OLD, "T2": OLD}, ("T1", "T2"))
    other = fleet("other", {"T1": OLD, "N1": NEW}, ("T1",))
    base = [day("d1", 1000.0, fleet="present"), day("d2", 1100.0, fleet="present")]
    new = [day("d1", 960.0), day("d2", 1060.0)]
    cost, against = stat("cost", base), difference(new, base, None)
    ours = money_of(present, present, Running(cost, None))
    theirs = money_of(other, present, Running(cost, against))
    assert ours.yearly_running == 150 * 1050
    assert ours.yearly_ownership == 2 * (4000 + 50000 / 10)
    assert theirs.yearly_running == 150 * 1010
    assert theirs.yearly_ownership == 9000 + 5000 + 80000 / 8
    assert theirs.to_buy == 100000 - 12000
    assert theirs.yearly_saving == 5000
    assert theirs.payback_years == 88000 / 5000
    assert theirs.break_even_purchase == 5000 * 8 + 20000
    # It costs 24,000 - 18,000 more a year to own and saves 40 on each working day.
    assert theirs.break_even_days == 6000 / 40
    assert theirs.why_not == ""


def test_what_is_not_told_is_not_made_up() -> None:
    present = replace(fleet("present", {"T1": OLD}, ("T1",)), prices=FleetPrices())
    found = money_of(present, present, Running(stat("cost", [day("d1", 10.0)]), None))
    assert found.yearly is None
    assert "working_days is missing" in found.why_not
    assert "there is no purchase price for T1" in found.why_not


@pytest.mark.parametrize(
    ("to_buy", "saving", "years"),
    [(1000.0, 100.0, 10.0), (1000.0, -1.0, None), (0.0, 5.0, 0.0), (-5.0, -1.0, None),
     (None, 5.0, None)],
)  # fmt: skip
def test_payback_at_its_ends(to_buy: float | None, saving: float, years: float | None) -> None:
    assert payback_years(to_buy, saving) == years


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
    """Prices are told of all trucks; gallons=5% leaves something out every day."""
    folder = season_folder(tmp_path / "office")
    (folder / "fleet.toml").write_text(
        "working_days = 100\n[each_truck]\npurchase = 50000\nlife_years = 10\n", encoding="utf-8"
    )
    request = Request(
        folder, engine="nearest-fit", count=1, seeds=1, sweeps=("trucks=1", "gallons=5%")
    )
    found = compare(
        prepare(request), lambda _done, _before, _all: None, jobs=1, kept=KeptResults(tmp_path)
    )
    assert found.fleet("gallons=5%").rank is None
    assert "not ranked" in found.fleet("gallons=5%").rank_words
    assert {found.fleet(name).rank for name in ("present", "trucks=1")} == {1, 2}
    assert "by yearly cost" in found.fleet("present").rank_words
