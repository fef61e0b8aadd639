"""What a hose holds overnight: rule 9 of planner/docs/rules.md from the tables to the sheets."""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import timedelta
from html import unescape

import pytest

from planner.day.day import Day, Workbook, day_of
from planner.day.products import KeepApart, Scope
from planner.papers.container_label import NO_LAWN, taken_texts, uses
from planner.papers.packet import packet_pages
from planner.plan.audit import audit
from planner.plan.model import Plan, TruckPlan
from planner.records.outcome import laid_over
from tests import days
from tests.random_days import random_day, straight_travel
from tests.random_plans import plan_random
from tests.records_cases import office, recorded


def with_hoses(day: Day, seed: int) -> Day:
    """The day with mixes, or nothing, in the hoses of its trucks."""
    rng, book = random.Random(seed), day.workbook
    trucks = {
        name: replace(
            truck,
            lines=tuple(
                replace(line, hose_mix=rng.choice([None, *book.mixes])) for line in truck.lines
            ),
        )
        for name, truck in book.trucks.items()
    }
    return replace(day, workbook=replace(book, trucks=trucks))


@pytest.mark.parametrize("seed", range(300, 324))
def test_plain_reckoning_and_audit_agree_with_the_plan(seed: int) -> None:
    day = with_hoses(random_day(seed, "small"), seed)
    plan = plan_random(day, "nearest-fit" if seed % 6 else "ortools")
    assert [str(row) for row in audit(plan, day, straight_travel(day))] == []
    for planned in plan.trucks:
        truck = day.workbook.trucks[planned.truck_id]
        held = {line.line_id: line.hose_mix for line in truck.lines}
        for work in (work for stop in planned.stops for work in stop.orders):
            line = truck.line(work.line_id)
            same, before = held[line.line_id] == work.mix_id, held[line.line_id]
            assert work.hose_gal == pytest.approx(0.0 if same else line.hose_gal)
            assert work.displaced_mix_id == (None if same else before)
            minutes = 0.0 if same or before is None else line.hose_gal / line.gun_gal_per_min
            assert work.changeover_min == pytest.approx(minutes)
            held[line.line_id] = work.mix_id
        # Mix for a hose is mixed like any other: its product is in fills, cost and store.
        works = [work for stop in planned.stops for work in stop.orders]
        filled = sum(fill.gal for stop in planned.stops for fill in stop.fills)
        out = sum(work.gal + work.hose_gal for work in works) + sum(planned.end_gal.values())
        assert filled + sum(planned.start_gal.values()) == pytest.approx(out)


def test_the_audit_finds_a_purge_that_the_morning_s_hose_does_not_ask_for() -> None:
    day = random_day(300, "small")
    plan = plan_random(day)
    work = next(work for truck in plan.trucks for stop in truck.stops for work in stop.orders)
    truck = next(t for t in plan.trucks if any(work in stop.orders for stop in t.stops))
    lines = tuple(
        replace(line, hose_mix=work.mix_id) if line.line_id == work.line_id else line
        for line in day.workbook.trucks[truck.truck_id].lines
    )
    trucks = {
        **day.workbook.trucks,
        truck.truck_id: replace(day.workbook.trucks[truck.truck_id], lines=lines),
    }
    full = replace(day, workbook=replace(day.workbook, trucks=trucks))
    assert {"HOSE-DRAW"} <= {row.code for row in audit(plan, full, straight_travel(full))}


def test_the_same_mix_costs_no_purge_and_another_costs_its_minutes() -> None:
    """By hand: 300 ft of 1/2 in hold 3.06 gal, which a 2 gal/min gun pushes out in 1.53 min."""
    empty = days.line("A")
    assert empty.hose_gal == pytest.approx(3.06, abs=0.005)
    assert empty.hose_gal / 2.0 == pytest.approx(1.53, abs=0.005)


def tomorrow(book: Workbook) -> str | None:
    events = recorded()
    return (
        laid_over(book, events, events, days.DAY + timedelta(days=1))
        .workbook.trucks["T1"]
        .hose_mix["A"]
    )


def test_records_carry_the_hose_to_the_next_day() -> None:
    book = office()
    assert tomorrow(book) == "FEED"
    drained = replace(book, settings=replace(book.settings, hoses_overnight="drained"))
    assert tomorrow(drained) is None


def test_a_hose_that_the_office_wrote_down_afterward_counts() -> None:
    book = office()
    truck = book.trucks["T1"]
    lines = tuple(replace(line, hose_mix="WEED") for line in truck.lines)
    changed = replace(book, trucks={**book.trucks, "T1": replace(truck, lines=lines)})
    events = recorded()
    found = laid_over(changed, events, events, days.DAY + timedelta(days=1))
    assert found.workbook.trucks["T1"].hose_mix["A"] == "WEED"
    assert any("hose of line A" in note for note in found.notes)


def test_the_sheet_dates_what_hung_overnight_and_the_lawn_says_what_it_takes() -> None:
    day = days.small_day()
    truck = day.workbook.trucks["T1"]
    lines = tuple(replace(line, hose_mix="KILL") for line in truck.lines)
    book = replace(day.workbook, trucks={"T1": replace(truck, lines=lines)})
    day = replace(day, workbook=book)
    plan = plan_random(day)
    first = next(w for s in plan.trucks[0].stops for w in s.orders if w.line_id == "A")
    page = unescape(packet_pages(plan, day, {}, "", "0")["packets.html"])
    assert first.displaced_mix_id == "KILL"
    assert f"mixed before {days.DAY}. burndown" in page
    last = [w for s in plan.trucks[0].stops for w in s.orders if w.line_id == "A"][-1]
    held = f"A holds {truck.line('A').hose_gal:.1f} gal of {last.mix_id}"
    assert held in page.partition("Hoses tonight: ")[2].partition(".</")[0]
    for name, text in taken_texts(plan.trucks[0]).items():
        assert f"takes {text}" in page, name


def test_a_hose_of_last_night_that_must_not_be_on_the_truck_is_said() -> None:
    day = days.small_day()
    truck = day.workbook.trucks["T1"]
    lines = tuple(replace(line, hose_mix="KILL") for line in truck.lines)
    apart = KeepApart("non-selective", "any other", Scope.TRUCK, "kills grass")
    for rows, said in ((day.workbook.keep_apart, False), ((apart,), True)):
        book = replace(
            day.workbook,
            trucks={"T1": replace(truck, lines=lines)},
            keep_apart=rows,
            orders={name: one for name, one in day.orders.items() if one.mix_id == "WEED"},
        )
        one = day_of(book, days.DAY)
        page = packet_pages(plan_random(one), one, {}, "", "0")["packets.html"]
        assert ("holds KILL, which must not be on one truck with WEED" in page) == said


def test_caught_mix_goes_to_the_next_lawns_that_take_it() -> None:
    """Nothing is lost: what is caught is what is sprayed later and what is kept."""
    seen = 0
    for seed in range(300, 324):
        plan: Plan = plan_random(with_hoses(random_day(seed, "medium"), seed))
        for planned in plan.trucks:
            seen += _check_uses(planned)
    assert seen > 5


def _check_uses(planned: TruckPlan) -> int:
    mixes = [((s.seq, w.mix_id), w.gal) for s in planned.stops for w in s.orders]
    found, sprayed = uses(planned), 0
    taken: dict[tuple[int, str], float] = {}
    for stop in planned.stops:
        for work in stop.orders:
            if work.displaced_mix_id is None:
                continue
            where = found[stop.seq, work.order_id]
            assert sum(where.values()) == pytest.approx(work.hose_gal, abs=0.11)
            for seq, gal in where.items():
                if seq != NO_LAWN:
                    key = (seq, work.displaced_mix_id)
                    assert seq >= stop.seq
                    taken[key] = taken.get(key, 0.0) + gal
                    sprayed += 1
    for key, gal in taken.items():
        assert gal <= sum(g for other, g in mixes if other == key) + 1e-6
    return sprayed
