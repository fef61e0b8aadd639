"""plan.json reads back as the plan that was written, and says what is wrong when it cannot."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from planner.plan.document import PlanFileError, from_json, to_json
from planner.plan.model import PLAN_VERSION, DayTotals, NotDone, Plan, TruckPlan
from planner.plan.totals import NOTHING
from tests.hand_plan import hand_plan


def empty_plan() -> Plan:
    return Plan(
        version=PLAN_VERSION,
        date="2027-04-14",
        workbook_sha256="0" * 64,
        seed=1,
        effort="count 300",
        engine="nearest-fit",
        roads="straight line",
        roads_warning="not real roads",
        trucks=(TruckPlan("T1", {"1": None}, {"1": 2.5}, (), (), {"1": 2.5}, NOTHING),),
        held=(NotDone("O1", "GRASS", "“fescue” – no"),),
        unserved=(),
        totals=DayTotals(NOTHING, 0, 1),
    )


def test_round_trip() -> None:
    plan = empty_plan()
    assert from_json(to_json(plan)) == plan


def test_text_is_the_same_for_the_same_plan() -> None:
    assert to_json(empty_plan()) == to_json(from_json(to_json(empty_plan())))


def test_rare_fields_stand_in_the_file_only_when_they_say_something() -> None:
    assert "pinned" not in json.loads(to_json(empty_plan()))
    pinned = replace(empty_plan(), pinned=("O7",))
    assert json.loads(to_json(pinned))["pinned"] == ["O7"]
    assert from_json(to_json(pinned)) == pinned


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"version": 99}, "plan version 3 expected, found 99"),
        ({"seed": "one"}, "plan.seed: int expected"),
        ({"trucks": {}}, "plan.trucks: a list expected"),
        ({"color": "red"}, "unknown: color"),
        ({"held": [{"order_id": "O1", "code": "X"}]}, r"plan.held\[0\]: fields missing: reason"),
        ({"totals": 3}, "plan.totals: an object expected"),
    ],
)
def test_a_wrong_file_is_refused_with_its_place(change: dict[str, object], message: str) -> None:
    raw = json.loads(to_json(empty_plan())) | change
    with pytest.raises(PlanFileError, match=message):
        from_json(json.dumps(raw))


def test_a_file_of_version_1_says_what_the_day_began_with() -> None:
    plan = hand_plan()
    raw = json.loads(to_json(plan)) | {"version": 1}
    measured: list[object] = []
    for truck in raw["trucks"]:
        del truck["start_gal"]
        for fill in (fill for stop in truck["stops"] for fill in stop["fills"]):
            # Before version 3 a plan said only what the recipe asks for.
            fill["products"] = fill.pop("measured")
            assert fill.pop("metered_water_gal") >= fill["water_gal"]
            measured.append(fill["products"])
    read = json.loads(to_json(from_json(json.dumps(raw))))
    for truck, planned in zip(read["trucks"], json.loads(to_json(plan))["trucks"], strict=True):
        assert truck["start_gal"] == planned["start_gal"]
        fills = [fill for stop in truck["stops"] for fill in stop["fills"]]
        for fill in fills:
            assert fill["measured"] == fill["products"] == measured.pop(0)
            assert fill["metered_water_gal"] >= fill["water_gal"]


def test_not_json() -> None:
    with pytest.raises(PlanFileError, match="not JSON"):
        from_json("{")


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("[" * 200_000, "in each other"),
        ('{"version": ' + "9" * 5000 + "}", "5000 digits"),
        ('{"version": 1e999}', "1e999 is no number"),
        ('{"version": NaN}', "NaN is no number"),
        ('{"version": -Infinity}', "Infinity is no number"),
        ('{"version": "\\ud800"}', "half a letter"),
        ('{"version": "\\u001b[31m"}', "steer a terminal"),
        ("", "not JSON"),
    ],
)
def test_what_no_plan_holds_is_refused_in_words(text: str, message: str) -> None:
    with pytest.raises(PlanFileError, match=message) as told:
        from_json(text)
    assert len(str(told.value)) < 300


def test_letters_of_two_halves_and_brackets_in_texts_are_fine() -> None:
    raw = json.loads(to_json(empty_plan())) | {"roads": "[" * 500 + "\n \\u001b \U0001f69a"}
    assert from_json(json.dumps(raw)).roads.endswith("\U0001f69a")
