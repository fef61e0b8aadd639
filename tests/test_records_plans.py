"""One plan of record a date: prints and namings, their numbers, folders, texts and what is open.

Expected values: worked by hand from `tests/hand_plan.py`.
"""

from __future__ import annotations

import threading
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import pytest

from planner.plan.document import to_json
from planner.plan.model import Plan
from planner.records.outcome import store_path
from planner.records.plans import (
    KeptPlan,
    name_plan,
    note_print,
    papers_of,
    plan_of_record,
    plans_of_record,
    text_of,
    withdraw,
)
from planner.records.sealed import plan_checksum
from planner.records.store import Event, EventDraft, Store
from tests.hand_plan import hand_plan
from tests.records_cases import AS_PLANNED, AS_WRITTEN, record, spray

DAY = "2027-04-14"
MORNING = hand_plan()
OTHER = replace(MORNING, seed=2)
LOCKED = spray("O1", done=False, note="gate locked")


@pytest.fixture
def book(tmp_path: Path) -> Path:
    folder = tmp_path / "office"
    folder.mkdir()
    return folder


def printed(book: Path, plan: Plan, folder: str) -> KeptPlan:
    out = book.parent / folder
    out.mkdir(exist_ok=True)
    (out / "plan.json").write_text(to_json(plan), encoding="utf-8")
    return note_print(book, plan, out, (), "Kim")


def checksums(book: Path) -> list[str]:
    return [plan.mark for plan in plans_of_record(book)[DAY].plans]


def test_without_a_store_there_is_no_plan_of_record_and_none_is_made(book: Path) -> None:
    assert plans_of_record(book) == {}
    assert plan_of_record(book, DAY) is None
    assert not store_path(book).exists()


def test_the_last_print_is_the_days_plan_and_its_text_is_kept(book: Path) -> None:
    first, second = printed(book, MORNING, "a"), printed(book, OTHER, "b")
    assert [first.number, second.number] == [1, 2]
    assert second.mark == f"{plan_checksum(to_json(OTHER))}, print 2"
    assert plan_of_record(book, DAY) == second
    assert plan_of_record(book, "2027-04-15") is None
    assert text_of(book, second) == to_json(OTHER)
    assert printed(book, MORNING, "c").number == 3
    assert plan_of_record(book, DAY).checksum == first.checksum  # type: ignore[union-attr]


def test_the_office_names_another_plan_and_a_draft(book: Path) -> None:
    first, second = printed(book, MORNING, "a"), printed(book, OTHER, "b")
    named = name_plan(book, MORNING, book.parent / "a", (), "Lee")
    assert (named.mark, named.by) == (first.mark, "Lee")
    draft = replace(MORNING, seed=3)
    assert name_plan(book, draft, None, ("WINDOW", "WINDOW"), "Lee").mark == plan_checksum(
        to_json(draft)
    )
    assert plan_of_record(book, DAY).broken == ("WINDOW",)  # type: ignore[union-attr]
    assert checksums(book)[:2] == [first.mark, second.mark]
    assert printed(book, draft, "d").number == 3


def test_a_print_that_came_to_nothing_leaves_the_one_before_and_its_number_is_not_used_again(
    book: Path,
) -> None:
    first, second = printed(book, MORNING, "a"), printed(book, OTHER, "b")
    withdraw(book, second, "Kim")
    assert plan_of_record(book, DAY) == first
    assert checksums(book) == [first.mark]
    assert printed(book, OTHER, "b").number == 3


def test_papers_are_found_where_they_are_now(book: Path, tmp_path: Path) -> None:
    first = printed(book, MORNING, "a")
    assert papers_of(book, first) == tmp_path / "a"
    (tmp_path / "a" / "plan.json").write_text(to_json(OTHER), encoding="utf-8")
    assert papers_of(book, first) is None
    printed(book, MORNING, "a")
    moved = tmp_path / "elsewhere"
    moved.mkdir()
    for name in ("a", "office"):
        (tmp_path / name).rename(moved / name)
    assert papers_of(moved / "office", first) == moved / "a"
    assert papers_of(moved / "office", replace(first, folder="", near="")) is None


def test_two_offices_that_print_at_once_get_two_numbers(book: Path) -> None:
    def office(seed: int) -> None:
        for number in range(5):
            numbers.append(
                note_print(book, replace(MORNING, seed=10 * seed + number), book, (), "x").number
            )

    numbers: list[int | None] = []
    printed(book, MORNING, "a")
    offices = [threading.Thread(target=office, args=(seed,)) for seed in (1, 2)]
    for one in offices:
        one.start()
    for one in offices:
        one.join()
    assert sorted(str(number) for number in numbers) == sorted(str(n) for n in range(2, 12))
    with Store(store_path(book)) as store:
        assert store.damage() == ()


def test_what_is_open_of_the_days_plan(book: Path) -> None:
    printed(book, MORNING, "a")
    day = plans_of_record(book)[DAY]
    assert day.orders == day.open_orders == ("O1", "O3", "O2")
    assert len(day.open_fills) == len(day.of_record.fills) > 1  # type: ignore[union-attr]
    append(book, record([LOCKED], AS_WRITTEN).drafts)
    day = plans_of_record(book)[DAY]
    assert day.open_orders == ("O3", "O2")
    assert (day.sprayed, day.skipped) == (0, 1)
    append(book, record([], AS_PLANNED, known(book)).drafts)
    day = plans_of_record(book, DAY, f"{DAY}~")[DAY]
    assert (day.open_orders, day.open_fills, day.sprayed) == ((), (), 2)
    assert plans_of_record(book, until=DAY) == {}


def test_a_day_that_an_earlier_planner_recorded(book: Path) -> None:
    append(book, record([LOCKED], AS_WRITTEN).drafts)
    day = plans_of_record(book)[DAY]
    assert day.of_record is None
    assert day.checksum == plan_checksum(to_json(MORNING))
    assert (day.orders, day.open_orders) == (("O1", "O3", "O2"), ("O3", "O2"))


def append(book: Path, drafts: Sequence[EventDraft]) -> None:
    assert drafts
    with Store(store_path(book), create=True) as store:
        store.append(drafts, "office")


def known(book: Path) -> tuple[Event, ...]:
    with Store(store_path(book)) as store:
        return store.events()
