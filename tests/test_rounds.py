"""Rounds of a season. What is expected was worked by hand on a calendar; sources stand beside."""

from __future__ import annotations

import json
import random
import shutil
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import openpyxl
import pytest
from click.testing import CliRunner

from planner.cli.main import main
from planner.cli.rounds import _report
from planner.day.day import Workbook
from planner.day.orders import (
    DayTemperatures,
    HeatMethod,
    Order,
    PastApplication,
    ProgramRound,
    PropertyProgram,
    Status,
)
from planner.rounds.orders import round_orders
from planner.rounds.standing import RoundState, round_standings, rounds_due
from planner.rounds.windows import degree_days, heat_sum
from planner.tables.clock_cells import read_month_day
from planner.tables.read import read_workbook
from planner.tables.text import CellError
from planner.units import parse_amount
from tests.bad_workbooks import BASE
from tests.excel import excel_of

SIMPLE, MODIFIED = HeatMethod.SIMPLE, HeatMethod.MODIFIED


@pytest.mark.parametrize(
    ("low", "high", "base", "method", "expected"),
    [
        # Purdue University turf tips (A. Patton): 74 and 52 F make 13; 58 and 40 F make -1, so 0.
        (52, 74, 50, SIMPLE, 13),
        (40, 58, 50, SIMPLE, 0),
        # University of California IPM, degree-days by the average: 64 F over a threshold of 53.
        (58, 70, 53, SIMPLE, 11),
        # Iowa State University, Agronomy 541, lesson 2b: 70 and 50 F make 10; 36 is the most.
        (50, 70, 50, MODIFIED, 10),
        (86, 99, 50, MODIFIED, 36),
        # Its rules by hand: 40 counts as 50 and 90 as 86, (50 + 86) / 2 - 50.
        (40, 90, 50, MODIFIED, 18),
        (30, 45, 50, MODIFIED, 0),
    ],
)
def test_degree_days_as_published(
    low: float, high: float, base: float, method: HeatMethod, expected: float
) -> None:
    assert degree_days(low, high, base, method) == expected


def warm(first: date, highs: list[float], low: float = 50.0) -> tuple[DayTemperatures, ...]:
    return tuple(
        DayTemperatures(first + timedelta(days=step), "", low, high)
        for step, high in enumerate(highs)
    )


def test_sums_fill_gaps_and_estimate_ahead() -> None:
    rows = warm(date(2027, 3, 3), [60.0, 70.0, 90.0, 60.0, 60.0])  # 5, 10, 20, 5, 5 degree days.
    heat = heat_sum((rows[0], *rows[2:]), date(2027, 3, 1), 50.0, SIMPLE)
    # The 4th is missing: (5 + 20) / 2 = 12.5.
    assert list(heat.totals) == [0, 0, 5, 17.5, 37.5, 42.5, 47.5]
    assert (heat.filled, heat.late_days) == (1, 2)
    assert heat.on(date(2027, 3, 4)) == 17.5
    assert heat.on(date(2027, 8, 1)) == 47.5
    assert heat.day_above(17.5, or_equal=True) == (date(2027, 3, 4), False)
    assert heat.day_above(17.5, or_equal=False) == (date(2027, 3, 5), False)
    # 47.5 in the six days after the first; 95 is six days off.
    assert heat.day_above(95.0, or_equal=True) == (date(2027, 3, 13), True)
    assert heat_sum((), date(2027, 3, 1), 50.0, SIMPLE).day_above(1.0, or_equal=True) == (
        None,
        True,
    )


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("Apr 15", (4, 15)),
        ("4/15", (4, 15)),
        ("04-15", (4, 15)),
        ("15-Apr", (4, 15)),
        ("15 April", (4, 15)),
        ("Feb 29", (2, 29)),
        ("2026-04-15", (4, 15)),  # What a spreadsheet makes of 4/15.
        ("46127", (4, 15)),  # The same without its format.
    ],
)
def test_days_of_any_year(text: str, expected: tuple[int, int]) -> None:
    assert read_month_day(text) == expected


@pytest.mark.parametrize("text", ["Apr 31", "spring", "13/40", "15", "4"])
def test_no_day_of_a_year(text: str) -> None:
    with pytest.raises(CellError):
        read_month_day(text)


def a_round(number: int, mix: str, window: str, **more: object) -> ProgramRound:
    first, last = (read_month_day(text) for text in window.split(" to "))
    plain = ProgramRound(
        "full", number, "", mix, first, last, None, None, 50.0, (1, 1), SIMPLE, None, None,
        20.0, 4.0, 2,
    )  # fmt: skip
    return replace(plain, **more)  # type: ignore[arg-type]


FEED = a_round(1, "feed", "Apr 1 to May 10")
WEEDS = a_round(2, "weeds", "May 1 to Jun 15", days_least=28, days_most=42)
FALL = a_round(3, "feed", "Sep 1 to Oct 31", days_least=30)
HAS = PropertyProgram("A", "full", None, None, None, frozenset(), "")


@pytest.fixture(scope="module")
def base() -> Workbook:
    book = read_workbook(BASE).workbook
    assert book is not None
    return replace(book, orders={}, history=())


def with_program(
    base: Workbook,
    *rounds: ProgramRound,
    done: dict[str, str] | None = None,
    has: PropertyProgram = HAS,
    orders: tuple[Order, ...] = (),
) -> Workbook:
    """done: ISO day -> mix that was applied at A."""
    return replace(
        base,
        programs={one.key: one for one in rounds or (FEED, WEEDS, FALL)},
        property_programs=(has,),
        orders={order.order_id: order for order in orders},
        history=tuple(
            PastApplication(
                "A", part.product_id, date.fromisoformat(day), 6000.0, parse_amount("1 gal")
            )
            for day, mix in (done or {}).items()
            for part in base.mixes[mix].parts
        ),
    )


def states(book: Workbook, when: str) -> list[str]:
    found = round_standings(book, book, (), date.fromisoformat(when))
    return [one.state.value for one in found]


@pytest.mark.parametrize(
    ("when", "done", "expected"),
    [
        ("2027-03-20", {}, ["later", "later", "later"]),
        ("2027-04-01", {}, ["due", "later", "later"]),
        # Round 2 may be done until June 15 and wants 28 days: round 1 by May 18, its own end first.
        ("2027-05-10", {}, ["due", "later", "later"]),
        ("2027-05-11", {}, ["lost", "due", "later"]),
        # Done in time: 28 days later is May 8; 42 days later May 22.
        ("2027-05-07", {"2027-04-10": "feed"}, ["done", "later", "later"]),
        ("2027-05-08", {"2027-04-10": "feed"}, ["done", "due", "later"]),
        ("2027-05-23", {"2027-04-10": "feed"}, ["done", "behind", "later"]),
        ("2027-06-16", {"2027-04-10": "feed"}, ["done", "lost", "later"]),
        # Done after its window: the next one shifts, to June 14, or out of its window.
        ("2027-06-01", {"2027-05-17": "feed"}, ["done", "later", "later"]),
        ("2027-06-14", {"2027-05-17": "feed"}, ["done", "due", "later"]),
        ("2027-06-01", {"2027-05-20": "feed"}, ["done", "lost", "later"]),
        # A little before its window counts; in February it was something else.
        ("2027-04-02", {"2027-03-25": "feed"}, ["done", "later", "later"]),
        ("2027-04-02", {"2027-02-10": "feed"}, ["due", "later", "later"]),
        # Feed in September is round 3, not round 1 done late.
        ("2027-09-20", {"2027-09-10": "feed"}, ["lost", "lost", "done"]),
        ("2027-06-20", {"2027-06-10": "weeds"}, ["lost", "done", "later"]),
        # Last year's rounds are over.
        ("2027-01-20", {"2026-09-10": "feed"}, ["later", "later", "later"]),
    ],
)
def test_where_a_property_stands(
    base: Workbook, when: str, done: dict[str, str], expected: list[str]
) -> None:
    assert states(with_program(base, done=done), when) == expected


def test_a_round_leaves_room_for_the_next(base: Workbook) -> None:
    # Round 2 ends on May 20 and wants 28 days: round 1 should be done by April 22.
    book = with_program(base, FEED, replace(WEEDS, to_day=(5, 20)))
    first, second = round_standings(book, book, (), date(2027, 4, 23))
    assert (first.state, first.due_to) == (RoundState.BEHIND, date(2027, 4, 22))
    assert first.last_day == date(2027, 5, 10)
    assert (second.waits, second.reason) == (True, "waits for round 1")


def test_a_skipped_next_round_needs_no_room(base: Workbook) -> None:
    has = replace(HAS, skip_rounds=frozenset({2}), reason="pond")
    book = with_program(base, FEED, replace(WEEDS, to_day=(5, 20)), has=has)
    first, second = round_standings(book, book, (), date(2027, 4, 23))
    assert (first.state, first.due_to) == (RoundState.DUE, date(2027, 5, 10))
    assert (second.state, second.reason) == (RoundState.SKIPPED, "pond")


def test_who_joins_and_who_leaves(base: Workbook) -> None:
    joined = with_program(base, has=replace(HAS, first_day=date(2027, 5, 12)))
    assert states(joined, "2027-05-20") == ["due", "later"], "round 1 closed before they came"
    second = round_standings(joined, joined, (), date(2027, 5, 5))[0]
    assert (second.state, second.opens) == (RoundState.LATER, date(2027, 5, 12))
    left = with_program(base, has=replace(HAS, last_day=date(2027, 6, 5), reason="moved"))
    second = round_standings(left, left, (), date(2027, 5, 20))[1]
    assert (second.due_to, second.last_day) == (date(2027, 6, 5), date(2027, 6, 5))
    left = with_program(base, has=replace(HAS, last_day=date(2027, 6, 30), reason="moved"))
    assert states(left, "2027-05-20") == ["lost", "due", "cancelled"]
    fall = round_standings(left, left, (), date(2027, 5, 20))[2]
    assert fall.reason == "the program ended Wed 2027-06-30: moved"


def test_programs_over_the_turn_of_the_year(base: Workbook) -> None:
    rounds = (
        a_round(1, "feed", "Oct 1 to Nov 15"),
        a_round(2, "weeds", "Dec 1 to Feb 10"),
        a_round(3, "feed", "Mar 1 to Apr 10"),
    )
    book = with_program(base, *rounds, done={"2026-10-20": "feed"})
    found = round_standings(book, book, (), date(2027, 1, 15))
    assert [(one.number, one.season, one.state.value) for one in found] == [
        (2, 2026, "due"),
        (3, 2026, "later"),
        (1, 2027, "later"),
        (2, 2027, "later"),
        (3, 2027, "later"),
    ]
    assert found[0].last_day == date(2027, 2, 10)
    assert found[4].opens == date(2028, 3, 1)


def test_degree_days_open_and_close_a_round(base: Workbook) -> None:
    # Ten degree days a day from March 1: 200 at the end of March 20, more than 350 on April 5.
    heat = replace(FEED, degree_days_from=200.0, degree_days_to=350.0, degree_day_start=(3, 1),
                   from_day=None, to_day=None)  # fmt: skip
    book = with_program(base, heat)
    book = replace(book, temperatures=warm(date(2027, 3, 1), [70.0] * 31))
    (one,) = round_standings(book, book, (), date(2027, 3, 31))
    assert (one.state, one.opens, one.about) == (RoundState.DUE, date(2027, 3, 20), False)
    assert one.last_day == date(2027, 4, 4)
    (line,) = rounds_due(book, (), date(2027, 3, 31))
    assert line.startswith("full, round 1: 1 due. Degree days, base 50 F since Mon 2027-03-01: 3")
    rows = warm(date(2027, 3, 1), [70.0] * 31)
    for gone, said in (
        ((4,), "; 1 day that it lacks is taken as the mean of its neighbors"),
        ((4, 9), "; 2 days that it lacks are taken as the mean of their neighbors"),
        ((0,), "; the table begins 1 day later, so there are more"),
    ):
        some = tuple(row for at, row in enumerate(rows) if at not in gone)
        (told,) = rounds_due(replace(book, temperatures=some), (), date(2027, 3, 31))
        assert said in told
    assert not list(rounds_due(with_program(base), (), date(2027, 3, 31)))
    # The day page knows tables without the orders that the records have as done.
    name = round_standings(book, book, (), date(2027, 3, 31))[0].order_id
    (line,) = rounds_due(book, {name}, date(2027, 3, 31))
    assert "1 due" not in line
    assert round_orders(book, [one], date(2027, 3, 31)).rows(book)[0]["due_to"] == "2027-04-04"
    # The rows after the 10th are a forecast then: the day may still change, no order is made.
    (one,) = round_standings(book, book, (), date(2027, 3, 10))
    assert (one.state, one.opens, one.about) == (RoundState.LATER, date(2027, 3, 20), True)
    assert round_orders(book, [one], date(2027, 3, 10)).new == ()
    # The narrower window counts.
    book = replace(book, programs={"full/1": replace(heat, from_day=(3, 25), to_day=(4, 1))})
    (one,) = round_standings(book, book, (), date(2027, 3, 31))
    assert (one.opens, one.last_day) == (date(2027, 3, 25), date(2027, 4, 1))
    (one,) = round_standings(replace(book, temperatures=()), book, (), date(2027, 3, 31))
    assert (one.state, one.opens) == (RoundState.LATER, None)


def test_days_beyond_the_last_temperatures_are_reckoned_and_said(base: Workbook) -> None:
    """Ten degree days a day through March 31: 310. By April 20, twenty days on, about 510; 350
    would have come together by April 4, and 400 by April 9."""
    heat = replace(FEED, degree_days_from=200.0, degree_days_to=350.0, degree_day_start=(3, 1),
                   from_day=None, to_day=None)  # fmt: skip
    book = with_program(base, heat)
    book = replace(book, temperatures=warm(date(2027, 3, 1), [70.0] * 31))
    said = (
        "310 at the end of Wed 2027-03-31, the table's last day; reckoned on at 10 a day, about 510"
    )
    (line,) = rounds_due(book, (), date(2027, 4, 20))
    assert f"{said} by Tue 2027-04-20" in line
    (line,) = rounds_due(book, (), date(2027, 3, 31))
    assert "reckoned" not in line
    (one,) = round_standings(book, book, (), date(2027, 4, 20))
    assert (one.state, one.due_about, one.last_about) == (RoundState.BEHIND, True, True)
    lines = "\n".join(_report(book, [one], date(2027, 4, 20)))
    assert "to be done by about Sun 2027-04-04, lost after about Sun 2027-04-04" in lines
    late = replace(heat, degree_days_from=400.0, degree_days_to=None, to_day=(5, 31))
    book = replace(book, programs={"full/1": late})
    (one,) = round_standings(book, book, (), date(2027, 4, 20))
    assert (one.state, one.about, one.due_about) == (RoundState.DUE, True, False)
    lines = "\n".join(_report(book, [one], date(2027, 4, 20)))
    assert "by Mon 2027-05-31 (opened about Fri 2027-04-09)" in lines


def an_order(name: str, mix: str, first: str, last: str, **more: object) -> Order:
    plain = Order(
        name, "A", mix, date.fromisoformat(first), date.fromisoformat(last), 6000.0, None, 2,
        None, frozenset(), "",
    )  # fmt: skip
    return replace(plain, **more)  # type: ignore[arg-type]


def test_orders_and_what_speaks_against_them(base: Workbook) -> None:
    def made(*orders: Order, when: str = "2027-04-05", **more: object) -> tuple[object, ...]:
        book = with_program(base, orders=orders, **more)  # type: ignore[arg-type]
        day = date.fromisoformat(when)
        found = round_orders(book, round_standings(book, book, (), day), day)
        return found.rows(book), len(found.there), [why for _, why in found.conflicts]

    assert made() == (
        [
            {
                "order": "A.full.1.2027",
                "property": "A",
                "mix": "feed",
                "due_from": "2027-04-01",
                "due_to": "2027-05-10",
                "priority": "2",
                "last_day": "2027-05-10",
                "revenue": "44.00",  # 20 + 6 x 4.
            }
        ],
        0,
        [],
    )
    assert made(when="2027-03-10") == ([], 0, []), "it opens 22 days later"
    own = an_order("A.full.1.2027", "feed", "2027-04-01", "2027-05-10")
    assert made(own) == ([], 1, [])
    cancelled = replace(own, status=Status.CANCELLED, status_reason="sold")
    assert made(cancelled) == ([], 0, [])
    skips = replace(HAS, skip_rounds=frozenset({1}), reason="the customer")
    # Skipped after its order was made: the order is still there to be planned, so it is named.
    assert made(own, has=skips)[2] == [
        "order A.full.1.2027 is still open, its round is skipped (the customer): cancel the order"
    ]
    assert made(cancelled, has=skips)[2] == []
    assert made(replace(own, last_day=date(2027, 4, 1)), has=skips)[2] == []
    rows, there, why = made(replace(own, mix_id="weeds"))
    assert (rows, there) == ([], 0)
    assert why == ["order A.full.1.2027 is of property A and mix weeds: rename it"]
    other = an_order("17", "feed", "2027-05-01", "2027-05-20")
    assert made(other)[2][0].startswith("order 17 puts the same mix on that lawn")
    assert made(replace(other, area_ft2=50.0))[0] == [], "together they are more than the lawn"
    assert made(an_order("17", "feed", "2027-05-11", "2027-05-20"))[1:] == (0, [])
    # Round 1 came late, and round 2 has its order already.
    second = an_order("A.full.2.2027", "weeds", "2027-05-01", "2027-06-15")
    why = made(second, when="2027-05-15", done={"2027-04-25": "feed"})[2]
    assert why[0].startswith("order A.full.2.2027 is due from Sat 2027-05-01, the round now from")


def test_an_order_that_is_recorded_as_done(base: Workbook) -> None:
    own = an_order("A.full.1.2027", "feed", "2027-04-01", "2027-05-10")
    book = with_program(base, orders=(own,), done={"2027-04-20": "feed"})
    half = round_standings(book, book, (), date(2027, 4, 22))[0]
    assert half.state is RoundState.DUE, "the records have a part of it; the rest stays due"
    laid = replace(book, orders={})
    one = round_standings(book, laid, {own.order_id}, date(2027, 4, 22))[0]
    assert (one.state, one.done_on) == (RoundState.DONE, date(2027, 4, 20))


def test_reasons_belong_to_the_day_beside_them(base: Workbook) -> None:
    """A round that may be done now says why by then; a later one why not sooner."""
    book = with_program(base, done={"2027-04-10": "feed"})
    now = round_standings(book, book, (), date(2027, 5, 10))[1]
    assert (now.due_to, now.reason) == (date(2027, 5, 22), "at most 42 days after round 1")
    later = round_standings(book, book, (), date(2027, 5, 7))[1]
    assert (later.opens, later.reason) == (
        date(2027, 5, 8),
        "28 days after round 1 (done Sat 2027-04-10)",
    )
    # A later round that only has an end says no reason for its opening.
    fall = replace(FALL, days_most=150)
    last = round_standings(book, book, (), date(2027, 5, 10))[2]
    assert last.reason == "waits for round 2"
    book = with_program(base, FEED, fall, done={"2027-04-10": "feed"})
    assert round_standings(book, book, (), date(2027, 5, 10))[1].reason == ""


LATE_SPRING = a_round(3, "feed", "May 20 to Jun 30", days_least=14)


@pytest.mark.parametrize(
    ("done", "expected"),
    [
        # In its window, though the next feed opens within two weeks (common practice, no source).
        ({"2027-05-08": "feed"}, ["done", "due", "later"]),
        # Two days late and eight early: the feed that is missing, done late.
        ({"2027-05-12": "feed"}, ["done", "later", "later"]),
        ({"2027-05-12": "feed", "2027-06-05": "weeds"}, ["done", "done", "later"]),
        # Seven days late and three early; and the feed after one that was done.
        ({"2027-05-17": "feed"}, ["lost", "lost", "done"]),
        ({"2027-04-10": "feed", "2027-05-12": "feed"}, ["done", "lost", "done"]),
        # Its rest on the next day is no round of its own.
        ({"2027-05-07": "feed", "2027-05-08": "feed"}, ["done", "due", "later"]),
    ],
)
def test_feed_between_two_rounds_of_it(
    base: Workbook, done: dict[str, str], expected: list[str]
) -> None:
    book = with_program(base, FEED, WEEDS, LATE_SPRING, done=done)
    assert states(book, "2027-06-06") == expected


def test_one_application_is_one_round(base: Workbook) -> None:
    """Recorded under round 1's own order a week after its window, nearer to round 3's."""
    own = an_order("A.full.1.2027", "feed", "2027-04-01", "2027-05-10")
    rounds = (FEED, WEEDS, LATE_SPRING)
    book = with_program(base, *rounds, orders=(own,), done={"2027-05-17": "feed"})
    found = round_standings(book, replace(book, orders={}), {own.order_id}, date(2027, 5, 18))
    assert [(one.state, one.done_on) for one in found][::2] == [
        (RoundState.DONE, date(2027, 5, 17)),
        (RoundState.LATER, None),
    ]


def test_random_seasons_keep_their_promises(base: Workbook) -> None:
    """Of 300 random programs and pasts: rounds come in one state each; orders lie in their windows
    and after the days between; with the orders in the table none is made again."""
    rng = random.Random(7)
    for _ in range(300):
        rounds = []
        start = date(2027, 1, 1) + timedelta(days=rng.randrange(60))
        for number in range(1, rng.randint(2, 6)):
            start += timedelta(days=rng.randrange(5, 50))
            end = start + timedelta(days=rng.randrange(5, 60))
            rounds.append(
                a_round(
                    number,
                    rng.choice(["feed", "weeds"]),
                    f"{start:%m-%d} to {end:%m-%d}",
                    days_least=rng.choice([None, 14, 30]),
                    days_most=rng.choice([None, 45]),
                )
            )
        when = date(2027, 1, 1) + timedelta(days=rng.randrange(364))
        past = sorted(rng.randrange(1, 365) for _ in range(rng.randrange(4)))
        done = {
            str(date(2027, 1, 1) + timedelta(days=day)): rng.choice(["feed", "weeds"])
            for day in past
            if date(2027, 1, 1) + timedelta(days=day) < when
        }
        book = with_program(base, *rounds, done=done)
        found = round_standings(book, book, (), when)
        assert len({one.order_id for one in found}) == len(found)
        assert sum(one.state.value in ("due", "behind") for one in found) <= 1
        before = None
        for one, plain in zip(found, rounds, strict=True):
            if one.state.value in ("due", "behind", "later") and before and one.opens:
                assert one.opens >= before + timedelta(days=plain.days_least or 0)
            before = one.done_on or before
        orders = round_orders(book, found, when)
        made = []
        for one, first, last in orders.new:
            assert first == one.opens
            assert first <= last <= (one.last_day or last)
            assert first <= when + timedelta(days=21)
            made.append(an_order(one.order_id, one.mix_id, str(first), str(last)))
        again = with_program(base, *rounds, done=done, orders=tuple(made))
        second = round_orders(again, round_standings(again, again, (), when), when)
        assert second.new == ()
        assert [one.order_id for one in second.there] == [order.order_id for order in made]


PROGRAMS = "program,round,name,mix,from_day,to_day,price\nfull,1,Feed,feed,Apr 1,May 10,44\n"


@pytest.fixture
def office(tmp_path: Path) -> Path:
    book = Path(shutil.copytree(BASE, tmp_path / "office"))
    orders = (book / "orders.csv").read_text().replace("1,A,feed", "1,A,weeds")
    (book / "orders.csv").write_bytes(orders.replace("\n", "\r\n").encode())
    (book / "programs.csv").write_text(PROGRAMS)
    (book / "property_programs.csv").write_text("property,program\nA,full\nB,full\n")
    return book


def run(*arguments: object) -> str:
    result = CliRunner().invoke(main, [str(one) for one in arguments], catch_exceptions=False)
    assert result.exit_code == 0, result.output
    return result.stdout


def test_orders_are_added_once_and_nothing_else_is_touched(office: Path, tmp_path: Path) -> None:
    before = {file.name: file.read_bytes() for file in office.iterdir()}
    fingerprint = read_workbook(office).workbook.sha256  # type: ignore[union-attr]
    assert "Orders: 2 to add, 0 there already. --write adds them." in run(
        "rounds", office, "--date", "2027-04-05"
    )
    assert {file.name: file.read_bytes() for file in office.iterdir()} == before
    said = run("rounds", office, "--date", "2027-04-05", "--write", "--csv", tmp_path / "r.csv")
    assert "Orders: 2 added, 0 there already." in said
    assert "Revenue: still to come $88." in said
    after = {file.name: file.read_bytes() for file in office.iterdir()}
    old, new = before.pop("orders.csv").split(b"\r\n"), after.pop("orders.csv").split(b"\r\n")
    assert after == before
    assert new[1 : len(old) - 1] == old[1:-1], "rows that were there keep their bytes"
    assert new[0] == old[0] + b",last_day,revenue"
    assert new[len(old) - 1].startswith(b"A.full.1.2027,A,feed,,2027-04-01,2027-05-10,")
    assert (tmp_path / "r.csv").read_text(encoding="utf-8-sig").count("\n") == 3
    again = run("rounds", office, "--date", "2027-04-05", "--write")
    assert "Orders: 0 added, 2 there already." in again
    assert (office / "orders.csv").read_bytes().split(b"\r\n") == new
    assert read_workbook(office).problems == ()
    # Programs are no part of a day's plan.
    (office / "orders.csv").write_bytes(b"\r\n".join(old))
    for name in ("programs.csv", "property_programs.csv"):
        (office / name).unlink()
    assert read_workbook(office).workbook.sha256 == fingerprint  # type: ignore[union-attr]


def test_orders_go_into_an_excel_workbook(office: Path, tmp_path: Path) -> None:
    book = excel_of(office, tmp_path / "office.xlsx")
    before = {sheet.title: list(sheet.values) for sheet in openpyxl.load_workbook(book)}
    answer = json.loads(run("rounds", book, "--date", "2027-04-05", "--write", "--json"))
    assert [row["order"] for row in answer["orders"]] == ["A.full.1.2027", "B.full.1.2027"]
    after = {sheet.title: list(sheet.values) for sheet in openpyxl.load_workbook(book)}
    rows, old = after.pop("orders"), before.pop("orders")
    assert after == before
    assert [row[: len(old[0])] for row in rows[: len(old)]] == old
    assert [row[0] for row in rows[len(old) :]] == ["A.full.1.2027", "B.full.1.2027"]
    assert "0 added, 2 there" in run("rounds", book, "--date", "2027-04-05", "--write")


def test_an_office_without_programs(tmp_path: Path) -> None:
    book = Path(shutil.copytree(BASE, tmp_path / "office"))
    assert "No property has a program" in run("rounds", book, "--date", "2027-04-05", "--write")
    assert (book / "orders.csv").read_bytes() == (BASE / "orders.csv").read_bytes()
