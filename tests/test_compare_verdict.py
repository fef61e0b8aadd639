"""The verdict on made-up fleets: what may be done, in the first line, and what would turn it."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.compare.model import PRESENT, Comparison, FleetResult, Paired
from planner.compare.summary import ranked
from planner.compare.verdict import Answer, answer_of, verdict_lines
from tests.sample_comparison import sample_comparison

BASE = sample_comparison()
BUYING = replace(
    BASE.fleet("four-large").money,
    to_buy=210_000.0,
    yearly_saving=22_500.0,
    life_years=11.0,
    working_days=250.0,
)


def made(
    *, bad_days: int = 0, saved: float = 90.0, tie: bool = False, **money: object
) -> Comparison:
    """Present and four-large alone: saved a day, bad days, and other figures of its money."""
    present, large, _ = BASE.fleets
    days = tuple(day.date for day in large.days)
    against = large.against_present
    assert against is not None
    cost = Paired(-saved, 24.0, tie)
    large = replace(
        large,
        money=replace(BUYING, **money),  # type: ignore[arg-type]
        unserved_dates=days[:bad_days],
        against_present=replace(against, figures={**against.figures, "cost": cost}),
    )
    fleets = (replace(present, unserved_dates=()), large)
    return replace(BASE, fleets=fleets)


def lines(comparison: Comparison) -> tuple[str, ...]:
    return verdict_lines(comparison)


def answer(comparison: Comparison) -> Answer:
    present, large = comparison.fleets
    return answer_of(large, present)


@pytest.mark.parametrize(
    ("comparison", "expected", "first"),
    [
        (made(gain=9_000.0, scatter=6_000.0, payback_years=9.3), Answer.DO,
         "Buy four-large: $210,000 come back in 9.3 years, and its trucks last 11."),
        (made(gain=9_000.0, scatter=9_001.0), Answer.CANNOT_TELL,
         "Can't tell about four-large: a gain of $9,000 a year may be chance (± $9,001"),
        (made(gain=-3_000.0, scatter=6_000.0), Answer.CANNOT_TELL,
         "Can't tell about four-large: a loss of $3,000 a year may be chance"),
        (made(gain=-9_000.0, scatter=6_000.0), Answer.KEEP,
         "Don't buy four-large: it saves $22,500 a year and costs $210,000, 9 years of that"),
        (made(gain=-9_000.0, scatter=0.0, yearly_saving=-1_000.0), Answer.KEEP,
         "Don't change to four-large: it costs $1,000 a year more to run."),
        (made(gain=9_000.0, scatter=0.0, to_buy=-5_000.0), Answer.DO,
         "Change to four-large: nothing has to be paid, and it gains $9,000 a year."),
        (made(gain=None, why_not="no price for L1", break_even_purchase=96_000.0),
         Answer.CANNOT_TELL,
         "Can't tell about four-large: no price for L1. So far it saves $90 a day and may cost up "
         "to $96,000."),
        (made(gain=None, saved=-90.0), Answer.KEEP,
         "Don't change to four-large: it costs $90 a day more to run, whatever its price."),
        (made(gain=99_000.0, bad_days=3), Answer.KEEP,
         "Don't change to four-large: it leaves orders out on 3 of 20 days, the present trucks"),
    ],
)  # fmt: skip
def test_what_may_be_done(comparison: Comparison, expected: Answer, first: str) -> None:
    assert answer(comparison) is expected
    assert lines(comparison)[0].startswith(first)


def test_a_fleet_that_serves_more_days_is_no_matter_of_cost_alone() -> None:
    comparison = made(gain=-9_000.0, scatter=0.0)
    present, large = comparison.fleets
    present = replace(present, unserved_dates=tuple(day.date for day in present.days[:4]))
    comparison = replace(comparison, fleets=(present, large))
    assert answer(comparison) is Answer.CANNOT_TELL
    assert "by cost alone" in lines(comparison)[0]
    assert "the present trucks on 4; for that it costs $9,000 a year more" in lines(comparison)[0]


def test_a_tie_with_the_present_trucks_is_no_answer_either_way() -> None:
    """The ranking and the verdict make one statement."""
    for gain, what in ((9_000.0, "gain"), (-9_000.0, "loss")):
        comparison = made(gain=gain, scatter=100.0)
        fleets = tuple(replace(fleet, rank=1) for fleet in comparison.fleets)
        comparison = replace(comparison, fleets=fleets)
        assert answer(comparison) is Answer.CANNOT_TELL
        assert lines(comparison)[0] == (
            f"Can't tell about {fleets[1].name}: a tie with the present trucks. A {what} of "
            "$9,000 a year is not more than plans of the same day differ by (± $100 by chance)."
        )


def test_what_would_turn_it_is_said() -> None:
    """Not at 210,000 but at 96,000; not on 250 working days but on 340, 36 % more."""
    dear = made(gain=-9_000.0, break_even_purchase=96_000.0, break_even_days=340.0)
    assert lines(dear)[1] == (
        "What would turn this: a price of $96,000 or less, or 340 working days a year "
        "(36 % more work)."
    )
    never = made(gain=-9_000.0, break_even_purchase=96_000.0, break_even_days=500.0)
    assert "or 100 % more work of the same kind" in lines(never)[1]
    good = made(gain=9_000.0, break_even_purchase=300_000.0, break_even_days=200.0)
    assert lines(good)[1] == (
        "What would turn this: a price above $300,000, or less than 200 working days a year "
        "(20 % less work)."
    )


def test_license_tiers_and_a_later_day_are_said() -> None:
    cheaper = made(gain=-9_000.0, yearly=BASE.fleet(PRESENT).money.yearly - 4_000.0)  # type: ignore[operator]
    said = lines(cheaper)
    assert any("costs $4,000 a year less than buying the present ones new" in one for one in said)
    assert any(one.startswith("L1 would reach a license tier") for one in said)
    assert any(one == "Interest 6 % a year, 250 working days." for one in said)


def test_none_of_several_fleets_pays() -> None:
    comparison = made(gain=-9_000.0)
    twin = replace(comparison.fleets[1], name="twin")
    comparison = replace(comparison, fleets=(*comparison.fleets, twin))
    assert lines(comparison)[0] == "Keep the present trucks: none of the 2 other fleets pays."


def test_the_present_trucks_alone_decide_nothing() -> None:
    assert lines(replace(BASE, fleets=BASE.fleets[:1]))[0].startswith("Nothing to decide")


def gains(**gain: float | None) -> list[FleetResult]:
    present, large = made().fleets
    fleets = [replace(present, name="present", unserved_dates=())]
    for name, value in gain.items():
        fleets.append(
            replace(large, name=name, money=replace(BUYING, gain=value), unserved_dates=())
        )
    return fleets


def test_no_fleet_that_does_not_pay_back_is_first_and_none_without_a_price_has_a_place() -> None:
    fleets = gains(loses=-1.0, wins=5_000.0, unpriced=None)
    base = BASE.difference("four-large", PRESENT)
    apart = replace(base, figures={**base.figures, "cost": Paired(0.0, 100.0, True)})
    pairs = {(a.name, b.name): apart for a in fleets for b in fleets if a is not b}
    ranks = {row.name: row.rank for row in ranked(fleets, pairs)}
    # Within chance of the present one, and still not beside it.
    assert ranks == {"wins": 1, "present": 1, "loses": 3, "unpriced": None}


def test_a_cheap_fleet_that_is_late_says_so() -> None:
    """Orders past their span in each fleet's own calendar, with what that counts for."""
    comparison = made(gain=9_000.0, scatter=6_000.0, payback_years=9.3)
    present, large = comparison.fleets
    assert not any("late" in line for line in lines(comparison))
    late = replace(
        comparison,
        fleets=(
            replace(present, late_orders=1, late_cost=80.0),
            replace(large, late_orders=12, late_cost=960.4),
        ),
    )
    said = (
        "four-large does 12 orders late, the present trucks 1, priced at $960 a day, theirs at $80"
    )
    assert any(line.startswith(said) for line in lines(late))
    same = replace(
        comparison, fleets=tuple(replace(one, late_orders=3) for one in (present, large))
    )
    assert not any("late" in line for line in lines(same))
