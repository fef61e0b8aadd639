"""`planner demo --season`: what it asks of the comparison, and how it is misused."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner

from planner.cli import comparing
from planner.cli.demo import DEMO_SEASON, SEASON_FLEETS
from planner.cli.main import main


@pytest.fixture
def asked(monkeypatch: pytest.MonkeyPatch) -> list[tuple[comparing.Asked, Path]]:
    """What was to be compared, and where it was to be written; nothing is planned."""
    seen: list[tuple[comparing.Asked, Path]] = []

    def note(what: comparing.Asked, out: Path, *more: object) -> int:
        seen.append((what, out))
        return 0

    monkeypatch.setattr(comparing, "run_compare", note)
    return seen


def test_season_compares_its_three_fleets(asked: list[tuple[comparing.Asked, Path]]) -> None:
    done = CliRunner().invoke(main, ["demo", "--season"])
    assert done.exit_code == 0, done.output
    ((what, out),) = asked
    assert out == Path("out/season")
    request = what.request()
    assert request.workbook == DEMO_SEASON
    assert list(request.folders) == list(SEASON_FLEETS)
    assert all((folder / "fleet.toml").exists() for folder in request.folders.values())
    usual = comparing.Request(DEMO_SEASON)
    assert (request.engine, request.count) == (usual.engine, usual.count)


def test_season_takes_what_was_asked_for(asked: list[tuple[comparing.Asked, Path]]) -> None:
    told = ["--engine", "ortools", "--effort", "7", "--seed", "3", "--out", "spring"]
    assert CliRunner().invoke(main, ["demo", "--season", *told]).exit_code == 0
    ((what, out),) = asked
    assert out == Path("spring")
    request = what.request()
    assert (request.engine, request.count, request.seed) == ("ortools", 7, 3)


def test_fleets_are_not_compared_by_the_clock(asked: list[tuple[comparing.Asked, Path]]) -> None:
    done = CliRunner().invoke(main, ["demo", "--season", "--seconds", "5"])
    assert done.exit_code == 2
    assert "give --effort" in done.output
    assert not asked
