"""Hostile and odd input, each case by name (tests/fuzz): it ends with a documented exit code and
without a traceback, says which file, writes nothing by halves and leaves the input as it was."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import pytest

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="this system does not fork")
if hasattr(os, "fork"):
    from tests.fuzz import cases_options, cases_places, cases_plans, cases_tables, office, stopped
    from tests.fuzz.look import Case, faults
    from tests.fuzz.server import Server

    EVERY = [
        case for module in (cases_tables, cases_options, cases_plans) for case in module.cases()
    ]
    CASES = [case for at, case in enumerate(EVERY) if at % 5 in (0, 2)]
    CASES += cases_places.cases()
    """All of them, and random ones: `python -m tests.fuzz`."""


@pytest.fixture(scope="module")
def warm(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Path, Server]]:
    """The unspoiled office, and the process that runs the commands."""
    home = tmp_path_factory.mktemp("fuzz") / "made"
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("PLANNER_CACHE_DIR", str(home.parent / "cache"))
        server = Server()
    office.make(home, server)
    yield home, server
    server.close()


@pytest.mark.parametrize("case", CASES, ids=[case.name for case in CASES])
def test_case(case: Case, warm: tuple[Path, Server], tmp_path: Path) -> None:
    made, server = warm
    assert faults(case, made, tmp_path / "home", server) == []


def test_names_are_unique() -> None:
    assert len({case.name for case in EVERY}) == len(EVERY)
    assert len(CASES) >= 500


def test_stopped_at_random_moments(warm: tuple[Path, Server], tmp_path: Path) -> None:
    made, server = warm
    assert stopped.run_all(10, 1, made, tmp_path / "home", server) == []
