"""The rule tables are whole, and say what the collected sources say.

Rows of the published check values that are rules (topics below) run against the tables: every
figure of the source's rule stands in the rows that name it. Source and address stand in the row.
"""

from __future__ import annotations

import csv
import re
from pathlib import Path

import pytest

from planner.day.day import FROM_MEMORY
from planner.rules.data import (
    STATE_NAMES,
    duty_rules,
    fertilizer_rules,
    record_rules,
    truck_rules,
)

HERE = Path(__file__).parent
RULES = HERE.parent / "planner" / "rules"
FILE_OF_TOPIC = {
    "state fertilizer rule": ("fertilizer.csv",),
    "record/notice rule": ("records.csv", "duties.csv"),
    "truck/driver rule": ("trucks.csv",),
}
WORKED_OUT = {"D01", "D02", "D03", "D07", "D12", "D17", "D18", "D19", "D20"}
"""Truck rows that are arithmetic or cases; tests/test_thresholds.py runs them."""


def check_rows() -> list[dict[str, str]]:
    with (HERE / "data" / "check_rules.csv").open(encoding="utf-8", newline="") as file:
        return [row for row in csv.DictReader(file) if row["topic"] in FILE_OF_TOPIC]


def table(name: str) -> list[dict[str, str]]:
    with (RULES / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def figures(text: str) -> set[float]:
    plain = re.sub(r"(?<=\d),(?=\d{3})", "", text)
    return {float(number) for number in re.findall(r"\d+\.\d+|\d+", plain)}


def said(row: dict[str, str]) -> set[float]:
    """Every figure of a row; a last day of a closed season also gives the first open one."""
    found = figures(" ".join(value for name, value in row.items() if name != "check_row"))
    for name, step in (("first", -1), ("last", 1)):
        if row.get(name):
            month, day = (int(part) for part in row[name].split("-"))
            found |= {float(day), float(day + step)}
            if name == "last" and (month, day) == (2, 29):
                found.add(1.0)
    return found


@pytest.mark.parametrize("row", check_rows(), ids=lambda row: f"{row['id']}: {row['computation']}")
def test_rule_of_the_source_stands_in_the_table(row: dict[str, str]) -> None:
    if row["id"] in WORKED_OUT:
        pytest.skip("a case, run in tests/test_thresholds.py")
    ours = [
        rule
        for name in FILE_OF_TOPIC[row["topic"]]
        for rule in table(name)
        if row["id"] in rule["check_row"].split("|")
    ]
    assert ours, "no row of ours names it"
    found = set().union(*(said(rule) for rule in ours))
    assert figures(row["expected"]) <= found, figures(row["expected"]) - found
    if row["topic"] == "state fertilizer rule":
        state = row["computation"].split(":")[0]
        assert {rule["state"] for rule in ours} == {state}
        # Ours may have been read since in a source that the row names.
        assert {rule["provenance"] for rule in ours} <= {row["provenance"], "read"}


@pytest.mark.parametrize(
    "name", ["fertilizer.csv", "duties.csv", "records.csv", "trucks.csv", "licenses.csv"]
)
def test_every_row_says_where_it_comes_from(name: str) -> None:
    ids = [next(iter(row.values())) for row in table(name)]
    assert len(ids) == len(set(ids))
    for row in table(name):
        assert row["section"]
        assert row["provenance"] in ("read", "memory")
        assert bool(row["read"]) == (row["provenance"] == "read"), "a day of reading, or memory"


def test_tables_read_whole() -> None:
    # A new kind holds nothing before state_rules._KINDS and the audit's rules_state know it.
    assert {rule.kind for rule in fertilizer_rules()} == {
        "closed season",
        "most per application",
        "most per year",
        "least slow share",
        "phosphorus ban",
        "setback",
        "caution",
        "recommendation",
    }
    assert {rule.basis for rule in fertilizer_rules()} == {
        "",
        "N or P",
        "N, P or K",
        "total N",
        "readily available N",
        "P2O5",
        "P",
    }
    assert {rule.products for rule in fertilizer_rules()} == {"any", "plain", "enhanced"}
    assert {rule.who for rule in fertilizer_rules()} == {"anyone", "professional", "consumer"}
    states = {rule.state for rule in (*fertilizer_rules(), *duty_rules())}
    assert states <= set(STATE_NAMES)
    assert {duty.kind for duty in duty_rules()} == {"sign", "notice", "information", "caution"}
    assert {duty.when for duty in duty_rules()} == {"before", "at", "after"}
    assert len(record_rules()) == 13
    assert truck_rules()["license group B"].figure == 26_001
    named = {rule.instead_of for rule in fertilizer_rules()} - {""}
    assert named <= {rule.rule_id for rule in fertilizer_rules()}


def test_every_row_of_the_review_is_answered() -> None:
    """Rows by the review's own order and name, in American spelling."""
    review = HERE.parents[1] / "shared" / "reviews" / "rules_review.csv"
    if not review.exists():
        pytest.skip("the review of the tables is not here")
    with review.open(encoding="utf-8", newline="") as file:
        asked = [(row["file"], row["row key"]) for row in csv.DictReader(file)]
    american = [
        (name.replace("ise", "ize"), row.replace("neighbour", "neighbor").replace("nce g", "nse g"))
        for name, row in asked
    ]
    assert [(row["file"], row["row"]) for row in answers()] == american


def test_answers_to_the_review_are_reasoned_and_name_rows_that_exist() -> None:
    ids = {
        next(iter(row.values()))
        for name in ("fertilizer.csv", "duties.csv", "records.csv", "trucks.csv", "licenses.csv")
        for row in table(name)
    }
    for row in answers():
        # Left: its source is not reachable, and the papers say so or ask.
        assert row["answer"] in ("changed", "already right", "disagreed", "left")
        assert row["why"] or row["answer"] == "already right"
        named = re.findall(r"\b[A-Z]{2}-[a-z]+(?:-[a-z]+)*", row["why"])
        assert set(named) <= ids, row


def answers() -> list[dict[str, str]]:
    with (HERE / "data" / "rules_review_answers.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_a_figure_from_memory_is_marked() -> None:
    rules = {rule.rule_id: rule for rule in fertilizer_rules()}
    assert rules["NJ-visit-soluble"].origin.cited.endswith(FROM_MEMORY)
    assert FROM_MEMORY not in rules["NY-season"].origin.cited
