"""Random days planned by the search: evaluator and schedule agree to the second and the hundredth
of a gallon, the audit finds nothing (tests/bench/bench_audit.py does the same 200 times)."""

from __future__ import annotations

import pytest

from tests.agreement import disagreements

pytest.importorskip("numba")


@pytest.mark.parametrize("seed", range(300, 316))
def test_a_day_of_the_search(seed: int) -> None:
    assert disagreements(seed, ("small", "medium")[seed % 2], "search", count=3) == []


@pytest.mark.parametrize("seed", range(320, 350))
def test_a_day_of_the_yardstick(seed: int) -> None:
    assert disagreements(seed, ("small", "medium")[seed % 2], "nearest-fit", count=1) == []
