"""The server looks for garbage when nobody waits."""

from __future__ import annotations

import asyncio
import gc
from collections.abc import Iterator
from typing import Any

import pytest

from planner.serve import quiet
from planner.serve.quiet import CollectsWhenQuiet
from tests.office_server import outside


@pytest.fixture(autouse=True)
def thresholds() -> Iterator[None]:
    """This process looks for garbage as before when a test is over."""
    before = gc.get_threshold()
    yield
    gc.set_threshold(*before)


def test_garbage_waits_for_the_last_answer(monkeypatch: pytest.MonkeyPatch) -> None:
    found: list[str] = []
    monkeypatch.setattr(gc, "collect", lambda: found.append("looked"))
    monkeypatch.setattr(quiet, "QUIET_S", 0.0)

    async def site(scope: Any, receive: Any, send: Any) -> None:
        found.append(scope["path"])
        if scope["path"] == "/bad":
            raise ZeroDivisionError

    async def ask() -> None:
        app: Any = CollectsWhenQuiet(site)
        await app({"path": "/one"}, None, None)
        await app({"path": "/two"}, None, None)  # Nobody was quiet in between.
        with pytest.raises(ZeroDivisionError):
            await app({"path": "/bad"}, None, None)
        await asyncio.sleep(0.01)
        await app({"path": "/three"}, None, None)
        await asyncio.sleep(0.01)

    outside(ask())
    assert found == ["/one", "/two", "/bad", "looked", "/three", "looked"]
    assert gc.get_threshold()[2] >= 1_000_000
