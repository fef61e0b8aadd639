"""An order taken on the telephone while a day is open: what the page shows afterwards."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import count
from pathlib import Path

import pytest

from planner.office.changes import Refused
from planner.office.day import DayState
from planner.office.open_day import SharedDay
from planner.office.opening import open_office
from planner.outputs.local_folder import STATE_VARIABLE
from planner.pages import day_page as pages
from planner.records.plans import note_print, plan_of_record
from planner.serve.app import Pieces
from tests.phone_walk import office_with_a_plan

UNSEEN = count(-1, -1)


@pytest.fixture
def office(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[SharedDay]:
    monkeypatch.setenv(STATE_VARIABLE, str(tmp_path / "state"))
    book = office_with_a_plan(tmp_path)
    opened = open_office(book, None, tmp_path / "day" / "plan.json", None, tmp_path / "day")
    yield opened
    opened.close()


def shown(state: DayState) -> dict[str, str]:
    return {name: part.make() for name, part in pages.day_parts(state).items()}


def made_anew(state: DayState) -> dict[str, str]:
    """The same page where nothing can be remembered: versions that no page has seen."""
    trucks = tuple(replace(row, version=next(UNSEEN)) for row in state.trucks)
    return shown(replace(state, trucks=trucks))


def test_after_a_new_order_the_page_shows_the_plan_on_the_table(office: SharedDay) -> None:
    """Tables that are read again give no version that a page remembers as another truck's day."""
    pieces = Pieces()
    pieces.note(office.state)
    for order in ("1001", "1002"):
        office.change(office.state.revision, {"kind": "remove", "orders": [order]})
        pieces.answer(office.state, office.state.revision - 1, None, "")
    before = office.state.revision
    taken = {"kind": "new_order", "property": "P-2", "mix": "weeds", "close": "12:00"}
    state = office.change(before, taken)
    assert shown(state) == made_anew(state)
    # Every truck's day stands on tables read again: each is drawn again on the map.
    drawn = pieces.answer(state, before, None, "")["map"]
    assert {f"truck {number}" for number in range(1, len(state.trucks) + 1)} <= set(drawn)
    answers = office.ask(state.revision, ["1008"]).trucks
    truck, gap = next((row.truck_id, row.best.gap) for row in answers if row.best is not None)
    move = {"kind": "move", "orders": ["1008"], "truck": truck, "gap": gap}
    state = office.change(state.revision, move)
    assert shown(state) == made_anew(state)
    assert state.truck_of["1008"] == truck


def test_an_order_of_an_unknown_property_changes_nothing(office: SharedDay) -> None:
    before, table = office.state, office.workbook / "orders.csv"
    rows = table.read_bytes()
    with pytest.raises(Refused):
        office.change(before.revision, {"kind": "new_order", "property": "P-99", "mix": "weeds"})
    assert office.state is before
    assert table.read_bytes() == rows


def test_the_plan_of_the_day_still_names_the_packets_to_print_again(office: SharedDay) -> None:
    """Making it the plan of the day writes files; the paper in the trucks is the old one."""
    order, truck = next(iter(office.state.truck_of.items()))
    state = office.change(office.state.revision, {"kind": "remove", "orders": [order]})
    again = f"Print {truck} again"
    assert state.printed.again == (truck,)
    assert again in shown(state)["print"]
    office.publish(state.revision)
    assert office.state.printed.again == ()
    assert again in shown(office.state)["print"]


def test_a_page_says_that_the_day_was_planned_elsewhere(office: SharedDay) -> None:
    """The command plans the day again while the page is open: the page names the plan of record,
    and no longer calls its own the plan of the day."""
    mine = "This is the plan of the day."
    assert office.printed_elsewhere() == ""
    assert mine in shown(office.state)["print"]
    order, truck = next(iter(office.state.truck_of.items()))
    office.change(office.state.revision, {"kind": "remove", "orders": [order]})
    theirs = office.state.planned.plan
    office.change(office.state.revision, {"kind": "undo"})
    note_print(office.workbook, theirs, office.workbook.parent / "noon", (), "the other desk")
    kept = plan_of_record(office.workbook, theirs.date)
    assert kept is not None
    assert office.printed_elsewhere() == kept.mark
    assert mine not in shown(office.state)["print"]
    assert office.state.printed.again == (truck,)
    # Nothing is wrong once it is on the table here, too, or once this one is printed again.
    office.change(office.state.revision, {"kind": "redo"})
    assert office.printed_elsewhere() == ""
    office.change(office.state.revision, {"kind": "undo"})
    assert office.printed_elsewhere() == kept.mark
    office.publish(office.state.revision)
    assert office.printed_elsewhere() == ""


class Unheard:
    """Stands for the process that plans; what it would say, the test says."""

    def __init__(self, *_told: object) -> None: ...

    def begin(self, *_what: object) -> None: ...

    def day(self, *_what: object) -> None: ...

    def close(self) -> None: ...


def test_a_plan_found_on_tables_before_is_no_offer(
    office: SharedDay, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What it names may be gone from the tables; the next search is heard all the same."""
    monkeypatch.setattr("planner.office.searcher.RestSearcher", Unheard)
    office.start_searcher()
    plan = office.plan_again(office.state.revision, 1).planned.plan
    table = office.workbook / "orders.csv"
    gone = next(iter(office.state.truck_of))
    rows = table.read_text(encoding="utf-8").splitlines(keepends=True)
    table.write_text("".join(row for row in rows if gone not in row.split(",")), encoding="utf-8")
    office.read_tables()
    office.offers.better(1, plan)
    office.offers.ended(1, "")
    assert (office.state.searching.offers, office.state.searching.running) == ((), False)


def test_an_order_that_is_undone_leaves_the_table_as_it_was(office: SharedDay) -> None:
    table = office.workbook / "orders.csv"
    before = table.read_bytes()
    taken = {"kind": "new_order", "property": "P-2", "mix": "weeds", "note": "rang twice"}
    with_it = office.change(office.state.revision, taken)
    assert b"rang twice" in table.read_bytes()
    state = office.change(with_it.revision, {"kind": "undo"})
    assert table.read_bytes() == before
    assert "1008" not in {row.order_id for row in state.planned.plan.unserved}
    state = office.change(state.revision, {"kind": "redo"})
    assert b"1008," in table.read_bytes()
    assert "1008" in {row.order_id for row in state.planned.plan.unserved}
    # A draft that was begun with it keeps the row; so does a row that somebody changed.
    state = office.change(state.revision, {"kind": "draft_save", "name": "with it"})
    state = office.change(state.revision, {"kind": "undo"})
    assert "stays in the orders table for the draft" in state.said
    office.change(state.revision, {"kind": "redo"})
    state = office.change(office.state.revision, {"kind": "draft_open", "name": "the plan"})
    table.write_bytes(table.read_bytes().replace(b"rang twice", b"rang once"))
    state = office.change(state.revision, {"kind": "undo"})
    assert b"rang once" in table.read_bytes()
