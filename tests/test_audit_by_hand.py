"""The audit and the schedule against a plan worked out by hand (tests/hand_plan.py)."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

import planner.plan.audit
from planner.plan.audit import audit
from planner.plan.document import from_json, to_json
from tests.hand_plan import TRAVEL, hand_day, hand_plan


def test_the_audit_finds_nothing_in_the_plan_worked_by_hand() -> None:
    assert audit(hand_plan(), hand_day(), TRAVEL) == ()


def test_rounding_in_the_file_does_not_alarm_the_audit() -> None:
    assert audit(from_json(to_json(hand_plan())), hand_day(), TRAVEL) == ()


AUDIT_FILES = sorted(Path(planner.plan.audit.__file__).parent.glob("*.py"))


@pytest.mark.parametrize("path", AUDIT_FILES, ids=lambda path: path.name)
def test_the_audit_shares_no_arithmetic_with_what_it_checks(path: Path) -> None:
    allowed = (
        "planner.day",
        "planner.units",
        "planner.rules.data",
        "planner.rules.grasses",
        "planner.roads.travel",
        "planner.plan.model",
        "planner.plan.audit",
    )
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        names: list[str] = []
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0
            names = [node.module or ""]
        for name in names:
            if name.split(".")[0] == "planner":
                assert name.startswith(allowed), name
