"""What a hose holds overnight: rule 9 of planner/docs/rules.md from the tables to the sheets."""

from __future__ import annotations

import csv
import random
from copy import deepcopy
from dataclasses import replace
from datetime import timedelta
from html import unescape

import pytest

from planner.again.plan import told_by_records
from planner.day.day import Day, Workbook, day_of
from planner.day.fleet import Caught, Truck
from planner.day.products import Form, KeepApart, Scope
from planner.papers.container_label import taken_texts
from planner.papers.packet import packet_pages
from planner.phone.page import phone_pages
from planner.plan.audit import audit
from planner.plan.caught import KEPT, NO_LAWN, as_told, catches, taken_gal, with_handed
from planner.plan.done_part import Told
from planner.plan.model import TruckPlan, Work
from planner.plan.off_rate import off_rate_lines
from planner.records.current import current
from planner.records.day_log import from_body, replay, truck_days
from planner.records.outcome import laid_over
from planner.records.sheet import actuals_sheet
from planner.units import parse_amount
from tests import days
from tests.hand_plan import hand_day, hand_plan
from tests.random_days import random_day, straight_travel
from tests.random_plans import plan_random
from tests.records_cases import kept, office, record, recorded


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
        assert f"takes {text.replace('caught at', 'of')}" in page, name


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
    compartment. The refill adds 4 gal in place of the plan's 6, of 0.005 gal of product each, and
    the evening's level is the plan's 1.94. 2 gal of FEED go on O2 after the last fill, so that
    1.94 + 2 are left of it."""
    book = office()
    some = (Caught("WEED", 2.0), Caught("FEED", 2.0))
    with_some = replace(book.trucks["T1"], service_containers=some)
    book = replace(book, trucks={**book.trucks, "T1": with_some})
    found = record(book=book)
    bodies = {draft.subject: draft.body for draft in found.drafts}
    (logged,) = from_body(bodies[found.drafts[0].subject])
    done = replay(logged, bodies)
    assert done.level_gal == pytest.approx({"1": 1.94, "2": 3.94, "3": 0.0}, abs=0.001)
    assert [(one.mix_id, one.gal) for one in done.containers] == [("WEED", 3.06)]
    order = next(body for body in bodies.values() if body.get("order_id") == "O1")
    assert {one["compartment_id"]: one["gal"] for one in order["compartments"]} == {
        "1": 8.0,
        "service container": 2.0,
    }
    refill = next(body for body in bodies.values() if body.get("gal") == 4.0)
    # 4 x 0.005 gal are 2.56 fl oz, 2.6 in tenths.
    assert refill["products"][0]["amount"] * 128 == pytest.approx(2.6, abs=1e-3)
    # Planned again, the plan's 6 gal count: with 4 its levels would run 2 gal short of the truth.
    facts = told_by_records(Told(), tuple(current(kept(found)).values()), hand_plan(), book)
    assert facts.fill_gal == {("T1", 0, "1"): 15.0, ("T1", 2, "1"): 6.0, ("T1", 2, "2"): 17.0}
    text = actuals_sheet(hand_plan(), replace(hand_day(), workbook=book), "0" * 10)
    rows = list(csv.DictReader(text.lstrip("\ufeff").splitlines()))
    told = [(row["what"], row["mix"], float(row["planned_gal"])) for row in rows]
    assert told == [
        ("fill", "WEED", 15.0),
        ("spray", "WEED", 10.0),
        ("fill", "WEED", 4.0),
        ("fill", "FEED", 17.0),
        ("spray", "WEED", 6.0),
        ("spray", "FEED", 12.0),
        ("left", "WEED", 1.94),
        ("left", "FEED", 3.94),
    ]


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
    assert "2 gal of this mix are kept from before today. Check its label." in packet
    assert f"stop {lawn} takes 2 gal kept from before today" in packet
    assert "<b>2 caught</b>" in packet
    for page in (packet, office_page):
        assert f"2 gal of WEED: spray 2 gal first at stop {lawn}" in page
        assert "1 gal of KILL: keep 1 gal, marked: no lawn here takes it" in page


def with_containers(day: Day, seed: int) -> Day:
    """The day with mix in service containers of its trucks, and every third refill short."""
    rng, book = random.Random(seed), with_hoses(day, seed).workbook
    trucks = {
        name: replace(
            truck,
            service_containers=tuple(
                Caught(mix_id, round(rng.uniform(0.5, 9.0), 1))
                for mix_id in book.mixes
                if rng.random() < 0.5
            ),
        )
        for name, truck in book.trucks.items()
    }
    return replace(day, workbook=replace(book, trucks=trucks))


@pytest.mark.parametrize("seed", range(330, 360))
def test_what_the_papers_tell_is_true_for_whoever_follows_them(seed: int) -> None:
    """Walked here by hand, gallon by gallon: nothing overflows, every lawn gets all of its gallons,
    no compartment ever has less than the plan counts on, none is heavier after a fill than by the
    plan and what its containers have lost, and levels, fills and the evening's rest are the
    told ones."""
    day = with_containers(random_day(seed, "small" if seed % 2 else "medium"), seed)
    plan = plan_random(day)
    book = with_handed(plan, day.workbook)
    told = as_told(plan, book)
    assert as_told(told, with_handed(told, book)) == told, "papers of papers are the same"
    held = {
        (name, one.mix_id): 0.0
        for name, truck in book.trucks.items()
        for one in truck.service_containers
    }
    for books, sign in ((day.workbook, 1), (book, -1)):
        for truck in books.trucks.values():
            for one in truck.service_containers:
                key = truck.yard_id, one.mix_id
                held[key] = held.get(key, 0.0) + sign * one.gal
    assert all(abs(gal) < 0.06 for gal in held.values()), "handed over is not lost"
    for planned, row in zip(plan.trucks, told.trucks, strict=True):
        truck = book.trucks[row.truck_id]
        rinsed = {truck.compartment(one.compartment_id).line_id for one in row.cleaning}
        taken = dict(taken_gal(planned, truck))
        levels, by_plan = dict(row.start_gal), dict(planned.start_gal)
        spared = 0.0
        for before, stop in zip(planned.stops, row.stops, strict=True):
            for old, fill in zip(before.fills, stop.fills, strict=True):
                name = fill.compartment_id
                assert fill.level_before_gal == pytest.approx(max(0.0, levels[name]), abs=0.051)
                levels[name] += fill.gal
                by_plan[name] += old.gal
                room_gal = truck.compartment(name).capacity_gal
                assert levels[name] <= room_gal + 1e-6
                if not rinsed:
                    assert fill.gal <= old.gal
                    assert levels[name] >= min(by_plan[name], room_gal) - 1e-6
            for old, work in zip(before.orders, stop.orders, strict=True):
                out = sum(one.gal for one in work.compartments)
                caught = min(work.gal, max(0.0, taken.get((stop.seq, work.mix_id), 0.0)))
                taken[stop.seq, work.mix_id] = taken.get((stop.seq, work.mix_id), 0.0) - caught
                assert out + caught == pytest.approx(old.gal, abs=1e-6)
                spared += caught
                for one in (*work.compartments, *work.hose_compartments):
                    levels[one.compartment_id] -= one.gal
                for one in (*old.compartments, *old.hose_compartments):
                    by_plan[one.compartment_id] -= one.gal
            assert sum(levels.values()) <= sum(by_plan.values()) + spared + 1e-6
            if not rinsed:
                assert sum(levels.values()) >= sum(by_plan.values()) - 1e-6
        if row.stops:
            ends = {name: max(0.0, gal) for name, gal in levels.items()}
            assert row.end_gal == pytest.approx(ends, abs=0.051)


@pytest.mark.parametrize("seed", [330, 334, 340])
def test_fills_off_their_rate_are_told_anew_where_another_truck_hands_a_container_over(
    seed: int,
) -> None:
    """The same day of a truck, beside a truck that leaves the yard and beside one that stays."""
    day = with_containers(random_day(seed, "medium"), seed)
    plan = plan_random(day)
    size = {Form.DRY: parse_amount("2 lb"), Form.LIQUID: parse_amount("1 qt")}
    products = {
        name: replace(one, packet=size[one.form]) for name, one in day.workbook.products.items()
    }
    day = replace(day, workbook=replace(day.workbook, products=products))
    before, other = off_rate_lines(plan, day), 0
    for giver in plan.trucks:
        stays = tuple(replace(row, stops=()) if row is giver else row for row in plan.trucks)
        now = off_rate_lines(replace(plan, trucks=stays), day)
        assert now == off_rate_lines(deepcopy(replace(plan, trucks=stays)), day)
        other += now != {name: said for name, said in before.items() if name != giver.truck_id}
    assert other


def test_a_container_that_changes_trucks_is_on_both_packets_and_in_the_records() -> None:
    """By hand: T1 has 5 gal of FEED and sprays none of it, T2 sprays 9 gal of it at its only lawn:
    T2 takes all of it over and has 5 gal more in the evening; T1 has none."""
    day = days.small_day()
    base = day.workbook.trucks["T1"]
    trucks = {
        "T1": replace(base, service_containers=(Caught("FEED", 5.0),)),
        "T2": replace(base, truck_id="T2"),
    }
    feed = next(one for one in day.workbook.orders.values() if one.mix_id == "FEED")
    weed = next(one for one in day.workbook.orders.values() if one.mix_id == "WEED")
    orders = {
        "F": replace(feed, order_id="F", area_ft2=3000.0, only_trucks=("T2",)),
        "W": replace(weed, order_id="W", only_trucks=("T1",)),
    }
    for yard in (base.yard_id, "N"):
        trucks["T2"] = replace(trucks["T2"], yard_id=base.yard_id)
        book = replace(day.workbook, trucks=trucks, orders=orders)
        plan = plan_random(day_of(book, days.DAY))
        assert [len(row.stops) > 0 for row in plan.trucks] == [True, True]
        trucks["T2"] = replace(trucks["T2"], yard_id=yard)
        book = replace(book, trucks=trucks)
        handed = with_handed(plan, book)
        goes = yard == base.yard_id
        assert (handed != book) == goes
        by_plan = {row.truck_id: row.end_gal for row in plan.trucks}
        by_paper = {row.truck_id: row.end_gal for row in as_told(plan, handed).trucks}
        more = {
            name: sum(by_paper[name].values()) - sum(by_plan[name].values()) for name in by_plan
        }
        assert more == pytest.approx({"T1": 0.0, "T2": 5.0 if goes else 0.0}, abs=1e-6)
        if not goes:
            continue
        assert handed.trucks["T1"].service_containers == ()
        assert handed.trucks["T2"].service_containers == (Caught("FEED", 5.0, "T1"),)
        pages = packet_pages(plan, day_of(book, days.DAY), {}, "", "0")
        one, two = (unescape(pages[f"truck-{name}.html"]) for name in ("T1", "T2"))
        assert f"hand the container over to {trucks['T2'].title} before both leave" in one
        assert f"take the container over from {base.title} before both leave" in two
        assert "takes 5 gal from T1" in two
        assert "<b>5 caught</b>" in two
        phone = unescape(phone_pages(plan, day_of(book, days.DAY), {}, (), "0")["T2"])
        assert "First the <b>5 gal from T1</b>, out of the container; then 4 gal" in phone
        logged = {row.truck_id: row for row in truck_days(plan, "0" * 10, book, book)}
        assert logged["T1"].containers == ()
        assert logged["T2"].containers == (("FEED", 5.0),)


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


def test_a_container_of_a_truck_that_stays_in_the_yard_is_the_offices_to_move() -> None:
    day = days.small_day()
    base = day.workbook.trucks["T1"]
    idle = replace(base, truck_id="T0", service_containers=(Caught("FEED", 5.0),))
    book = replace(day.workbook, trucks={"T1": base})
    plan = plan_random(day_of(book, days.DAY))
    stays = replace(plan.trucks[0], truck_id="T0", stops=(), loading={}, cleaning=())
    plan = replace(plan, trucks=(*plan.trucks, stays))
    book = replace(book, trucks={**book.trucks, "T0": idle})
    assert with_handed(plan, book) is book
    page = unescape(packet_pages(plan, day_of(book, days.DAY), {}, "", "0")["index.html"])
    assert "5 gal of FEED: keep 5 gal, marked: no lawn here takes it" in page
    assert f"{base.title} sprays FEED: to use it there, write the gallons into" in page
