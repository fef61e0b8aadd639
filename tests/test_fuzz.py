"""Hostile and odd input, each case by name (tests/fuzz): it ends with a documented exit code and
without a traceback, says which file, writes nothing by halves and leaves the input as it was."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.few import few

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="this system does not fork")
if hasattr(os, "fork"):
    from tests.fuzz import cases_options, cases_places, cases_plans, cases_tables, office, stopped
    from tests.fuzz.look import Case, faults
    from tests.fuzz.office import MADE
    from tests.fuzz.server import Request, Server

    EVERY = [
        case for module in (cases_tables, cases_options, cases_plans) for case in module.cases()
    ]
    CASES = EVERY[:: few(4, of=1)]
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


PAIRS = {
    "plan and plan into one folder": (MADE["plan"], MADE["plan"]),
    "record and record": (office.RECORD, office.RECORD),
    "plan and record": (MADE["plan"], office.RECORD),
    "record and its backup": (office.RECORD, ["record", "office", "--backup", "copy.sqlite"]),
    "import and plan": (office.IMPORT, MADE["plan"]),
    "import and import": (office.IMPORT, office.IMPORT),
    "import and forecast": (office.IMPORT, ["forecast", "office", "--from", "hourly.json"]),
    "import and locate": (office.IMPORT, ["locate", "office"]),
}
"""Two commands at once on one workbook."""


@pytest.mark.parametrize("pair", PAIRS)
def test_two_at_once(pair: str, warm: tuple[Path, Server], tmp_path: Path) -> None:
    made, server = warm
    one, other = PAIRS[pair]
    home = office.copy(made, tmp_path / "home", [*one, *other, "day"])
    ended = server.both(Request(list(one), str(home), beside=list(other)))
    for each in ended:
        assert each.code in (0, 1, 3), each
        assert "Traceback" not in each.err, each
        # One may find what the other has half done before it, and says so.
        assert each.code != 1 or "bug" not in each.err, each
    assert 0 in [each.code for each in ended] or 3 in [each.code for each in ended], ended
    assert stopped.whole(home) == []
    if "import" in pair:
        again = server.run(Request(list(office.IMPORT), str(home)))
        assert (again.code, "Nothing changes" in again.out) == (0, True), (ended, again)
    if "record" in pair:
        again = server.run(Request(list(office.RECORD), str(home)))
        assert "recorded already" in again.out + again.err, (ended, again)


def test_stopped_at_random_moments(warm: tuple[Path, Server], tmp_path: Path) -> None:
    made, server = warm
    assert stopped.run_all(10, 1, made, tmp_path / "home", server) == []
