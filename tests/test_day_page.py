"""The office's page as text: what a change makes other, figures as on paper, hostile text."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from pathlib import Path

import pytest

from planner.by_hand.sheet import StopOrderError
from planner.office.changes import Refused
from planner.office.day import DayState
from planner.office.facts import Made
from planner.office.open_day import SharedDay
from planner.pages import day_page as pages
from planner.pages.asked import compared_part
from planner.pages.yard import customers
from planner.papers.direction import plain_direction
from planner.papers.render import gal_text
from tests.office_server import straight_day
from tests.sample_plan import HOSTILE, sample_day


@pytest.fixture(scope="module")
def day(tmp_path_factory: pytest.TempPathFactory) -> SharedDay:
    return straight_day(sample_day(), tmp_path_factory.mktemp("office"))


def made(state: DayState) -> dict[str, str]:
    return {name: part.make() for name, part in pages.day_parts(state).items()}


def a_visit(state: DayState) -> tuple[str, str]:
    """An order and its truck."""
    truck = next(truck for truck in state.trucks if truck.orders > 3)
    return next(item.what for item in truck.items if item.kind == "order"), truck.truck_id


def test_every_part_is_one_element_with_its_id(day: SharedDay) -> None:
    page = pages.day_page(day.state)
    for name, text in made(day.state).items():
        assert re.match(rf'\s*<\w+[^>]* id="{name}"', text) or text.lstrip().startswith(
            f'<div id="{name}"'
        ), name
        assert text.strip() in page


def test_no_inline_script_or_style_stands_in_the_page(day: SharedDay) -> None:
    """The server's content policy lets none through."""
    page = pages.day_page(day.state)
    assert not re.search(r"\sstyle=|\son\w+=|<style|javascript:", page)
    assert all("src=" in tag for tag in re.findall(r"<script[^>]*>", page))


def test_a_change_makes_only_its_trucks_sheets_other(day: SharedDay) -> None:
    before = {name: part.key for name, part in pages.day_parts(day.state).items()}
    order, truck = a_visit(day.state)
    state = day.change(day.state.revision, {"kind": "remove", "orders": [order]})
    parts = pages.day_parts(state)
    other = {name for name, part in parts.items() if part.key != before[name]}
    number = 1 + [row.truck_id for row in state.trucks].index(truck)
    assert {name for name in other if name.startswith("sheet-")} == {f"sheet-{number}"}
    assert {"facts", "acts", "notright", "outs", f"stall-{number}"} <= other
    assert f"order {order}" in parts["outs"].make()
    answer = {name: parts[name].make() for name in other}
    assert len(json.dumps(answer)) < 40_000
    back = day.change(state.revision, {"kind": "undo"})
    assert pages.day_parts(back)[f"sheet-{number}"].key == before[f"sheet-{number}"]


def test_the_sheet_shows_the_gallons_of_the_plan(day: SharedDay) -> None:
    """What is filled and what is left at the end are plan.json's figures, rounded as on paper."""
    text = made(day.state)
    for number, facts in enumerate(day.state.trucks, start=1):
        sheet = text[f"sheet-{number}"]
        filled = [f"+{gal_text(fill.gal)}" for stop in facts.plan.stops for fill in stop.fills]
        assert sorted(re.findall(r'class="add">([^<]+)<', sheet)) == sorted(filled)
        home = sheet[sheet.rfind('<tr class="row return') :]
        truck = day.state.planned.day.workbook.trucks[facts.truck_id]
        left = [
            gal_text(facts.plan.end_gal[tank.compartment_id])
            for tank in sorted(truck.compartments, key=lambda tank: tank.position)
        ]
        if facts.plan.stops:
            assert re.findall(r"<span[^>]*>([^<]+)</span></td>", home) == left


def test_a_compartment_that_is_filled_no_further_says_so(day: SharedDay) -> None:
    facts = next(truck for truck in day.state.trucks if truck.orders)
    name, mix = next((name, mix) for name, mix in facts.plan.loading.items() if mix)
    load = {"kind": "load", "truck": facts.truck_id, "compartment": name, "mix": mix}
    state = day.change(day.state.revision, {**load, "fill_to_gal": 12.5})
    number = 1 + [row.truck_id for row in state.trucks].index(facts.truck_id)
    assert f"compartment {name} of truck {facts.truck_id}, at most 12.5 gal" in state.said
    assert re.search(r'data-most="12.5".*at most 12.5 of ', made(state)[f"sheet-{number}"])
    # What says nothing of gallons leaves them; blank lifts them.
    state = day.change(state.revision, load)
    assert state.trucks[number - 1].plan.fill_to_gal == {name: 12.5}
    state = day.change(state.revision, {**load, "fill_to_gal": None})
    assert not state.trucks[number - 1].plan.fill_to
    for bad in (-1, True, "12", float("nan"), 1e6):
        with pytest.raises((Refused, StopOrderError)):
            day.change(state.revision, {**load, "fill_to_gal": bad})
    for _ in range(3):
        day.change(day.state.revision, {"kind": "undo"})


def test_hostile_text_shows_as_text(tmp_path: Path) -> None:
    opened = straight_day(sample_day(hostile=True), tmp_path)
    page = pages.day_page(opened.state)
    opened.close()
    assert "<script>alert" not in page
    assert "&lt;script&gt;alert(1)" in page
    assert plain_direction(HOSTILE) == HOSTILE.replace("\u202e", "")
    assert "\u202e" not in page


def test_two_drafts_differ_where_a_stop_was_moved(day: SharedDay) -> None:
    state = day.state
    plan = state.planned.plan
    assert "Every stop stands on the same truck" in compared_part(state, "B", plan, 0)
    order, truck = a_visit(state)
    changed = day.change(state.revision, {"kind": "remove", "orders": [order]})
    text = compared_part(changed, "B", plan, 0)
    assert "not in the day" in text
    assert re.search(rf"<td>{truck} \d+:\d\d [AP]M</td>", text)
    day.change(changed.revision, {"kind": "undo"})


def test_a_draft_counts_what_a_rule_keeps_back_as_the_list_does(
    day: SharedDay, monkeypatch: pytest.MonkeyPatch
) -> None:
    order, _ = a_visit(day.state)
    state = day.change(day.state.revision, {"kind": "remove", "orders": [order]})
    made_of = SharedDay._plan_of

    def with_held(self: SharedDay, revision: int) -> Made:
        found = made_of(self, revision)
        return replace(found, plan=replace(found.plan, held=found.plan.unserved))

    monkeypatch.setattr(SharedDay, "_plan_of", with_held)
    state = day.change(state.revision, {"kind": "pin", "orders": [a_visit(state)[0]]})
    assert "Not in this day: 2<" in made(state)["outs"]
    assert [row.out for row in state.drafts] == [2]
    monkeypatch.undo()
    for _ in ("pin", "remove"):
        state = day.change(state.revision, {"kind": "undo"})


def test_customers_are_found_by_parts_of_name_and_street(day: SharedDay) -> None:
    book = day.state.planned.day.workbook
    home = next(iter(book.properties.values()))
    words = f"{home.customer.split()[-1][:4]} {home.address.split()[0]}".upper()
    assert home.property_id in {found for found, _ in customers(state_day(day), words)}
    assert customers(state_day(day), "  ") == []


def state_day(day: SharedDay):  # type: ignore[no-untyped-def]
    return day.state.planned.day
