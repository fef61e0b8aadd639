"""No figure and no name of a plan goes unchecked: each is changed alone, and the audit must say
so; and whatever a person writes into a plan, the audit answers instead of falling over."""

from __future__ import annotations

import copy
import json
import random
from collections.abc import Iterator
from typing import Any

import pytest

from planner.plan.audit import audit
from planner.plan.document import PlanFileError, from_json, to_json
from tests.hand_plan import TRAVEL, hand_day, hand_plan

RAW = json.loads(to_json(hand_plan()))
DAY = hand_day()
NOT_RULED = {"seed", "effort", "engine", "roads", "roads_warning", "reason", "why"}
"""How the plan came about, and words for people: no rule says what they must be."""

Path = tuple[str | int, ...]


def leaves(value: Any, path: Path = ()) -> Iterator[Path]:
    if isinstance(value, dict):
        for key, item in value.items():
            yield from leaves(item, (*path, key))
    elif isinstance(value, list):
        for number, item in enumerate(value):
            yield from leaves(item, (*path, number))
    else:
        yield path


def value_at(raw: Any, path: Path) -> Any:
    for step in path:
        raw = raw[step]
    return raw


def changed(path: Path, value: Any) -> str:
    raw = copy.deepcopy(RAW)
    value_at(raw, path[:-1])[path[-1]] = value
    return json.dumps(raw)


NOT_KNOWN_HERE = {("version",), ("unserved", 0, "code")}
"""The file reader refuses another version; codes of unserved orders belong to the engines."""

EVERY = [path for path in leaves(RAW) if path[-1] not in NOT_RULED and path not in NOT_KNOWN_HERE]


@pytest.mark.parametrize("path", EVERY, ids=lambda path: ".".join(map(str, path)))
def test_every_figure_and_name_is_checked(path: Path) -> None:
    old = value_at(RAW, path)
    if isinstance(old, str):
        new: Any = old + "x"
    elif old is None:
        new = "WEED"
    elif isinstance(old, int):
        new = old + 1
    else:
        new = old + max(0.05, 0.01 * old)
    assert audit(from_json(changed(path, new)), DAY, TRAVEL)


@pytest.mark.parametrize("first", range(0, 300, 20))
def test_the_audit_answers_whatever_is_written(first: int) -> None:
    for seed in range(first, first + 20):
        audit_answers(seed)


def audit_answers(seed: int) -> None:
    """About a plan with one to six figures that stand for others, rows twice and rows gone."""
    rng = random.Random(seed)
    raw = copy.deepcopy(RAW)
    for _ in range(rng.randint(1, 6)):
        path = rng.choice(list(leaves(raw)))
        parent = value_at(raw, path[:-1])
        kind = rng.randrange(4)
        if kind == 0 and isinstance(parent, list):
            parent.insert(0, copy.deepcopy(rng.choice(parent)))
        elif kind == 1 and len(path) > 2 and isinstance(value_at(raw, path[:-2]), list):
            value_at(raw, path[:-2]).pop(path[-2])
        else:
            other = value_at(raw, rng.choice(list(leaves(raw))))
            parent[path[-1]] = rng.choice((other, -1.0, 0.0, 1e9, "", "P1", "T1", "1", None))
    try:
        plan = from_json(json.dumps(raw))
    except PlanFileError:
        return
    assert isinstance(audit(plan, DAY, TRAVEL), tuple)
