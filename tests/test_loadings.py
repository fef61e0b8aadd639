"""Loadings against the rules, and against an enumeration written apart."""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from dataclasses import replace

import pytest

from planner.day.day import Workbook
from planner.day.fleet import Compartment, Line, Truck
from planner.day.places import Site
from planner.day.products import ANY_OTHER, KeepApart, Scope
from planner.mixing.separation import separation
from planner.routing.loading.allowed import MOST_LOADINGS, loadings
from planner.routing.problem import Loading
from tests import days
from tests.random_days import random_day

NEED = {"WEED": 60.0, "FEED": 40.0, "KILL": 1.5}
OZ = "1 fl oz/1000 sq ft"


def book(
    *compartments: Compartment,
    lines: tuple[Line, ...] = (),
    keep_apart: tuple[KeepApart, ...] = (),
    sites: tuple[Site, ...] = (),
) -> Workbook:
    """One truck T1; WEED (broadleaf), FEED (fertilizer), KILL (non-selective)."""
    return days.workbook(
        sites=sites or (days.site("Y1", 40.0, -83.0),),
        trucks=(days.truck("T1", lines or (days.line("A"), days.line("N")), compartments),),
        products=(
            days.product("w", "broadleaf", OZ),
            days.product("f", "fertilizer", OZ),
            days.product("k", "non-selective", OZ),
        ),
        mixes=(
            days.mix("WEED", 2.0, w=OZ),
            days.mix("FEED", 3.0, f=OZ),
            days.mix("KILL", 1.0, k=OZ),
        ),
        properties=(),
        orders=(),
        keep_apart=keep_apart,
    )


def found(workbook: Workbook, need: Mapping[str, float] = NEED) -> tuple[Loading, ...]:
    truck = next(iter(workbook.trucks.values()))
    return loadings(workbook, truck, separation(workbook), need)


def mixes_of(workbook: Workbook, need: Mapping[str, float] = NEED) -> set[tuple[str | None, ...]]:
    return {one.mix_of for one in found(workbook, need)}


def tank(name: str, gal: float, line: str = "A", **changes: object) -> Compartment:
    return days.compartment(name, gal, line, int(name), **changes)


KILL_ALONE = (KeepApart("non-selective", ANY_OTHER, Scope.LINE, "kills grass"),)


def test_the_small_day_is_loaded_as_a_person_would() -> None:
    workbook = days.small_day().workbook
    first = loadings(workbook, workbook.trucks["T1"], separation(workbook), NEED)[0]
    assert first == Loading(("WEED", "FEED", "KILL"), ())


def test_one_mix_hangs_on_one_line_only() -> None:
    workbook = book(tank("1", 50.0), tank("2", 50.0, "N"))
    assert ("WEED", "WEED") not in mixes_of(workbook)
    assert ("WEED", "FEED") in mixes_of(workbook)


def test_mixes_kept_apart_by_line_do_not_share_it() -> None:
    workbook = book(tank("1", 50.0), tank("2", 40.0), tank("3", 10.0, "N"), keep_apart=KILL_ALONE)
    for mix_of in mixes_of(workbook):
        on_a = {mix_id for mix_id in mix_of[:2] if mix_id is not None}
        assert not ("KILL" in on_a and len(on_a) > 1)
    assert ("WEED", "FEED", "KILL") in mixes_of(workbook)


def test_mixes_kept_apart_by_truck_do_not_share_it() -> None:
    apart = (KeepApart("non-selective", ANY_OTHER, Scope.TRUCK, "house rule"),)
    workbook = book(tank("1", 50.0), tank("2", 10.0, "N"), keep_apart=apart)
    assert mixes_of(workbook) == {
        ("WEED", "FEED"),
        ("FEED", "WEED"),
        ("KILL", None),
        (None, "KILL"),
    }


def test_a_reserved_compartment_takes_only_its_group() -> None:
    workbook = book(tank("1", 50.0), tank("2", 10.0, "N", reserved_for="non-selective"))
    assert {mix_of[1] for mix_of in mixes_of(workbook)} <= {"KILL", None}


def test_a_mix_with_a_compartment_of_its_own_goes_into_no_other() -> None:
    workbook = book(tank("1", 50.0), tank("2", 10.0, "N", reserved_for="non-selective"))
    assert {mix_of[0] for mix_of in mixes_of(workbook)} == {"WEED", "FEED"}


def test_leftover_over_the_heel_takes_the_same_mix_or_rides_along() -> None:
    left = {"heel_gal": 1.0, "last_mix": "FEED", "leftover_gal": 12.0}
    workbook = book(tank("1", 50.0), tank("2", 40.0, **left))
    assert {mix_of[1] for mix_of in mixes_of(workbook)} <= {"FEED", None}
    assert all(one.cleaning == () for one in found(workbook))
    # A mix that may not meet the leftover on its line stays off it.
    workbook = book(tank("1", 50.0), tank("2", 40.0, **left), keep_apart=KILL_ALONE)
    assert all(mix_of[0] != "KILL" for mix_of in mixes_of(workbook))


def test_another_mix_after_a_heel_is_cleaned_for() -> None:
    heel = {"heel_gal": 1.0, "last_mix": "KILL", "leftover_gal": 1.0}
    workbook = book(tank("1", 50.0, **heel), keep_apart=KILL_ALONE)
    by_mix = {one.mix_of[0]: one for one in found(workbook)}
    assert by_mix["KILL"].cleaning == ()
    (entry,) = by_mix["WEED"].cleaning
    assert (entry.last_mix, entry.rinses, entry.minutes) == ("KILL", 3, 24.0)
    assert by_mix["WEED"].cleaning_min == 24.0


def test_an_unloaded_compartment_that_could_spoil_its_line_is_cleaned() -> None:
    # Reserved for a group that is not needed today, its last mix kills grass.
    heel = {"heel_gal": 1.0, "last_mix": "KILL", "leftover_gal": 1.0}
    workbook = book(
        tank("1", 50.0),
        tank("2", 40.0, reserved_for="non-selective", **heel),
        keep_apart=KILL_ALONE,
    )
    for one in found(workbook, {"WEED": 60.0, "FEED": 40.0}):
        assert [entry.compartment_id for entry in one.cleaning] == ["2"]
        assert one.cleaning[0].why.startswith("its last mix KILL must not meet")


def test_a_mix_must_be_makeable_somewhere_or_be_there_already() -> None:
    yard = days.site("Y1", 40.0, -83.0, mixes=frozenset({"WEED"}))
    left = {"last_mix": "KILL", "leftover_gal": 5.0}
    workbook = book(tank("1", 50.0), tank("2", 10.0, "N", **left), sites=(yard,))
    assert mixes_of(workbook) == {("WEED", "KILL")}
    water = days.site("W1", 40.1, -83.0, mixes=frozenset({"FEED"}))
    workbook = book(tank("1", 50.0), tank("2", 10.0, "N"), sites=(yard, water))
    assert mixes_of(workbook) == {("WEED", "FEED"), ("FEED", "WEED")}


def test_mixes_without_need_are_not_loaded() -> None:
    workbook = book(tank("1", 50.0))
    assert mixes_of(workbook, {"WEED": 5.0, "FEED": 0.0}) == {("WEED",)}


def test_a_truck_that_may_carry_nothing_gets_the_loading_of_nothing() -> None:
    workbook = book(tank("1", 50.0, reserved_for="non-selective"))
    assert found(workbook, {"WEED": 5.0}) == (Loading((None,), ()),)


def test_many_mixes_are_bounded_and_every_set_stays() -> None:
    ids = [f"M{number}" for number in range(8)]
    tanks = tuple(
        days.compartment(str(number), 20.0 + 10 * number, "A", number) for number in range(1, 6)
    )
    workbook = days.workbook(
        sites=(days.site("Y1", 40.0, -83.0),),
        trucks=(days.truck("T1", (days.line("A"),), tanks),),
        products=tuple(days.product(f"p{one}", f"g{one}", OZ) for one in ids),
        mixes=tuple(days.mix(one, 2.0, **{f"p{one}": OZ}) for one in ids),
        properties=(),
        orders=(),
    )
    need = {one: 30.0 + 10 * place for place, one in enumerate(ids)}
    kept = found(workbook, need)
    assert len(kept) == MOST_LOADINGS
    assert kept == found(workbook, dict(reversed(list(need.items()))))
    # Largest compartment to largest need; and each mix alone and all sets of five are there.
    assert kept[0].mix_of == ("M3", "M4", "M5", "M6", "M7")
    sets = {frozenset(one.mix_of) for one in kept}
    assert {frozenset(five) for five in itertools.combinations(ids, 5)} <= sets
    assert {frozenset({one}) for one in ids} <= sets


def allowed_apart(workbook: Workbook, truck: Truck, mix_of: tuple[str | None, ...]) -> bool:
    """Rules 3, 4, 6 and 7 for one assignment, written apart from the product."""
    apart = separation(workbook)
    carried = []
    for one, mix_id in zip(truck.compartments, mix_of, strict=True):
        over_heel = one.leftover_gal > one.heel_gal
        if mix_id is not None and over_heel and mix_id != one.last_mix:
            return False
        groups = {
            workbook.products[part.product_id].group
            for part in (workbook.mixes[mix_id].parts if mix_id else ())
        }
        if mix_id is not None and one.reserved_for and one.reserved_for not in groups:
            return False
        own = {other.reserved_for for other in truck.compartments} & groups
        if own and one.reserved_for is None:
            return False
        inside = mix_id or (one.last_mix if over_heel else None)
        if inside is not None:
            carried.append((inside, one.line_id))
    for mix_id in set(mix_of) - {None}:
        lines = {
            one.line_id
            for one, loaded in zip(truck.compartments, mix_of, strict=True)
            if loaded == mix_id
        }
        if len(lines) > 1:
            return False
    for (one_mix, one_line), (other_mix, other_line) in itertools.combinations(carried, 2):
        scope = Scope.LINE if one_line == other_line else Scope.TRUCK
        if apart.apart_by(one_mix, other_mix, scope):
            return False
    return True


def usable(truck: Truck, mix_of: tuple[str | None, ...]) -> dict[tuple[str, str], float]:
    """(mix, line) -> gallons that the pump can reach."""
    gal: dict[tuple[str, str], float] = {}
    for one, mix_id in zip(truck.compartments, mix_of, strict=True):
        if mix_id is not None:
            key = (mix_id, one.line_id)
            gal[key] = gal.get(key, 0.0) + one.usable_gal
    return gal


def cleaning_min(workbook: Workbook, truck: Truck, mix_of: tuple[str | None, ...]) -> float:
    """Rule 5, written apart from the product."""
    apart, settings = separation(workbook), workbook.settings
    minutes = 0.0
    pairs = list(zip(truck.compartments, mix_of, strict=True))
    for one, mix_id in pairs:
        if one.last_mix is None or mix_id == one.last_mix:
            continue
        if mix_id is not None:
            full = apart.apart(one.last_mix, mix_id) is not None
            minutes += (settings.rinse_count if full else 1) * settings.rinse_min_each
        elif one.leftover_gal <= one.heel_gal and any(
            other_mix is not None
            and other.line_id == one.line_id
            and apart.apart_by(one.last_mix, other_mix, Scope.LINE)
            for other, other_mix in pairs
        ):
            minutes += settings.rinse_count * settings.rinse_min_each
    return minutes


@pytest.mark.parametrize("seed", range(40))
def test_random_trucks_against_every_assignment(seed: int) -> None:
    day = random_day(seed, "medium")
    workbook = day.workbook
    need: dict[str, float] = {}
    for order in day.orders.values():
        carrier = workbook.mixes[order.mix_id].carrier_gal_per_1000_ft2
        need[order.mix_id] = need.get(order.mix_id, 0.0) + order.area_ft2 / 1000 * carrier
    # Every mix may be made everywhere, so that only rules 3 to 7 are compared.
    sites = {name: replace(site, mixes=None) for name, site in workbook.sites.items()}
    workbook = replace(workbook, sites=sites)
    for truck in workbook.trucks.values():
        kept = loadings(workbook, truck, separation(workbook), need)
        assert len({one.mix_of for one in kept}) == len(kept)
        every = [
            mix_of
            for mix_of in itertools.product([*need, None], repeat=len(truck.compartments))
            if any(mix_of) and allowed_apart(workbook, truck, mix_of)
        ]
        if not every:
            assert [one.mix_of for one in kept] == [(None,) * len(truck.compartments)]
            continue
        for one in kept:
            assert one.mix_of in every
            assert one.cleaning_min == pytest.approx(cleaning_min(workbook, truck, one.mix_of))
        if len(kept) == MOST_LOADINGS:
            continue
        facts = [(usable(truck, one.mix_of), one.cleaning_min) for one in kept]
        for mix_of in every:
            gal, minutes = usable(truck, mix_of), cleaning_min(workbook, truck, mix_of)
            assert any(
                kept_min <= minutes
                and all(kept_gal.get(key, -1.0) >= amount for key, amount in gal.items())
                for kept_gal, kept_min in facts
            ), f"{truck.truck_id}: nothing kept is as good as {mix_of}"
