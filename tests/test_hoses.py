"""What a hose holds overnight: rule 9 of planner/docs/rules.md from the tables to the sheets."""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import timedelta
from html import unescape

import pytest

from planner.day.day import Day, Workbook, day_of
from planner.day.fleet import Caught, Truck
from planner.day.products import KeepApart, Scope
from planner.papers.container_label import KEPT, NO_LAWN, catches, taken_gal, taken_texts
from planner.papers.packet import packet_pages
from planner.plan.audit import audit
from planner.plan.model import TruckPlan, Work
from planner.records.day_log import from_body, replay
from planner.records.outcome import laid_over
from tests import days
from tests.random_days import random_day, straight_travel
from tests.random_plans import plan_random
from tests.records_cases import office, record, recorded


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
    assert f"before {days.DAY}." in page
    last = [w for s in plan.trucks[0].stops for w in s.orders if w.line_id == "A"][-1]
    held = f"A holds {truck.line('A').hose_gal:.1f} gal of {last.mix_id}"
    assert held in page.partition("Hoses tonight: ")[2].partition(".</")[0]
    for name, text in taken_texts(plan.trucks[0], truck).items():
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
        day = with_hoses(random_day(seed, "medium"), seed)
        for planned in plan_random(day).trucks:
            seen += _check_uses(planned, day.workbook.trucks[planned.truck_id])
    assert seen > 5


def _check_uses(planned: TruckPlan, truck: Truck) -> int:
    works = [(stop.seq, work) for stop in planned.stops for work in stop.orders]
    rinsed = {truck.compartment(one.compartment_id).line_id for one in planned.cleaning}
    first = {work.order_id for _, work in {w.line_id: (s, w) for s, w in works[::-1]}.values()}
    caught = {(one.seq, one.order_id): one for one in catches(planned, truck)}
    taken: dict[tuple[int, str], float] = {}
    for seq, work in works:
        one = caught.pop((seq, work.order_id), None)
        purged = work.line_id in rinsed and work.order_id in first
        assert (one is not None) == (work.displaced_mix_id is not None and not purged)
    assert all(one.seq < 0 for one in caught.values()), "else it hung in a rinsed hose"
    for one in catches(planned, truck):
        assert sum(one.lawns.values()) == pytest.approx(one.gal, abs=0.11)
        for seq, gal in one.lawns.items():
            if seq != NO_LAWN:
                assert seq >= one.seq
                taken[seq, one.mix_id] = taken.get((seq, one.mix_id), 0.0) + gal
    assert taken == pytest.approx(
        {key: gal for key, gal in taken_gal(planned, truck).items() if key[0] != NO_LAWN}
    )
    for (seq, mix_id), gal in taken.items():
        assert gal <= sum(w.gal for s, w in works if (s, w.mix_id) == (seq, mix_id)) + 1e-6
    return len(taken)


def next_morning(book: Workbook) -> Workbook:
    events = recorded()
    return laid_over(book, events, events, days.DAY + timedelta(days=1)).workbook


def test_caught_mix_is_there_in_the_morning_until_somebody_writes_it_off() -> None:
    """By hand: O2 pushes the hose's 3.06 gal of WEED out, and no WEED comes after it."""
    book = office()
    (kept,) = next_morning(book).trucks["T1"].service_containers
    assert (kept.mix_id, kept.gal) == ("WEED", 3.06)
    drained = replace(book, settings=replace(book.settings, hoses_overnight="drained"))
    both = next_morning(drained).trucks["T1"].service_containers
    assert {one.mix_id: one.gal for one in both} == {"WEED": 3.06, "FEED": 3.06}
    gone = replace(book.trucks["T1"], service_containers=(Caught("WEED", 0.0),))
    written = replace(book, trucks={**book.trucks, "T1": gone})
    assert next_morning(written).trucks["T1"].service_containers == (Caught("WEED", 0.0),)


def test_what_a_lawn_takes_from_a_container_stays_in_the_tank() -> None:
    """By hand: 2 gal of WEED from before go on O1, which then takes 8 of its 10 gal from the
    compartment: 1.94 + 2 gal are left."""
    book = office()
    with_some = replace(book.trucks["T1"], service_containers=(Caught("WEED", 2.0),))
    book = replace(book, trucks={**book.trucks, "T1": with_some})
    found = record(book=book)
    bodies = {draft.subject: draft.body for draft in found.drafts}
    (logged,) = from_body(bodies[found.drafts[0].subject])
    done = replay(logged, bodies)
    assert done.level_gal["1"] == pytest.approx(3.94, abs=0.001)
    assert [(one.mix_id, one.gal) for one in done.containers] == [("WEED", 3.06)]
    order = next(body for body in bodies.values() if body.get("order_id") == "O1")
    assert {one["compartment_id"]: one["gal"] for one in order["compartments"]} == {
        "1": 8.0,
        "service container": 2.0,
    }


def held_day(**changes: object) -> tuple[Day, Truck]:
    day = days.small_day()
    truck = replace(day.workbook.trucks["T1"], **changes)  # type: ignore[arg-type]
    return replace(day, workbook=replace(day.workbook, trucks={"T1": truck})), truck


def test_a_container_of_before_is_on_the_sheet_of_its_mix_and_on_the_day_page() -> None:
    day, truck = held_day(service_containers=(Caught("WEED", 2.0), Caught("NEVER", 1.0)))
    book = replace(day.workbook, mixes={**day.workbook.mixes, "NEVER": day.workbook.mixes["KILL"]})
    day = replace(day, workbook=book)
    plan = plan_random(day)
    one = next(one for one in catches(plan.trucks[0], truck) if one.mix_id == "WEED")
    (lawn,) = one.lawns
    assert one.seq == KEPT
    pages = {n: unescape(text) for n, text in packet_pages(plan, day, {}, "", "0").items()}
    packet, office_page = pages["packets.html"], pages["index.html"]
    assert "2 gal of this mix stand in a service container from before today" in packet
    assert f"stop {lawn} takes 2 gal kept from before" in packet
    for page in (packet, office_page):
        assert f"2 gal of WEED (2 gal at stop {lawn})" in page
        assert "no lawn of this truck: keep it, marked" in page


def test_a_rinse_in_the_yard_leaves_rinse_water_in_the_hose() -> None:
    """The compartment is rinsed through pump, hose and gun: what hung in the hose goes out first,
    and the mix of the day goes in before the truck leaves."""
    for held in ("KILL", "WEED"):
        day, truck = held_day()
        lines = tuple(
            replace(one, hose_mix=held if one.line_id == "A" else None) for one in truck.lines
        )
        tanks = tuple(replace(one, last_mix="KILL") for one in truck.compartments)
        day, truck = held_day(lines=lines, compartments=tanks)
        plan = plan_random(day)
        planned = plan.trucks[0]
        assert planned.cleaning
        page = unescape(packet_pages(plan, day, {}, "", "0")["packets.html"])
        first = next(w for s in planned.stops for w in s.orders if w.line_id == "A")
        gal = f"{truck.line('A').hose_gal:.1f}"
        assert f"run the {gal} gal of {held} in the hose of line A into a marked" in page
        assert f"run {gal} gal of {first.mix_id} through before leaving" in page
        assert "nothing goes in first" not in page
        # The change of mix that the plan has at the first lawn is done in the yard.
        changes = sum(
            w.displaced_mix_id is not None for s in planned.stops for w in s.orders
        ) - sum(w.displaced_mix_id is not None for w in firsts(planned))
        assert page.count("gal out first") == changes


def firsts(planned: TruckPlan) -> list[Work]:
    works = [work for stop in planned.stops for work in stop.orders]
    return list({work.line_id: work for work in works[::-1]}.values())
