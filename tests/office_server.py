"""The office's page served from this process, for a browser and for plain requests."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Coroutine, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import uvicorn

from planner.day.day import Day
from planner.day_roads import DayRoads
from planner.office.journal import Journal
from planner.office.open_day import SharedDay
from planner.office.ready import OfficeDay
from planner.roads.open import StraightLineRoads
from planner.serve.answers import Hub
from planner.serve.app import Office, application
from planner.serve.guard import Keys
from planner.serve.run import HERE, bound
from tests.random_days import straight_travel
from tests.random_plans import plan_random


def outside(asked: Coroutine[Any, Any, None]) -> None:
    """Run it in a thread of its own: in this one the loop of a browser may wait."""
    with ThreadPoolExecutor(1) as one:
        one.submit(asyncio.run, asked).result()


@dataclass
class Served:
    """address: without a path; office: what answers there."""

    address: str
    day: SharedDay
    office: Office

    @property
    def link(self) -> str:
        """Opens the page once."""
        return f"{self.address}/open/{self.office.keys.new_link()}"


def straight_day(day: Day, folder: Path) -> SharedDay:
    """A day on straight lines with a plan of the quick engine, its journal in the folder."""
    travel = straight_travel(day)
    roads = DayRoads(StraightLineRoads(1.3, 26.0), travel, {}, ())
    journal = Journal(folder / "journal.sqlite")
    return SharedDay(OfficeDay(day, roads, plan_random(day)), journal, folder)


@contextmanager
def served(day: SharedDay) -> Iterator[Served]:
    """The day's page at a free port of this machine."""
    listening = bound(0, False)
    port = listening.getsockname()[1]
    hub = Hub()
    office = Office(day, Keys(day.secret), hub, f"planner-{port}")
    config = uvicorn.Config(
        application(office, HERE), log_level="warning", access_log=False, lifespan="off", ws="none"
    )
    server = uvicorn.Server(config)
    hub.ending = lambda: server.should_exit
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
    thread.start()
    try:
        yield Served(f"http://127.0.0.1:{port}", day, office)
    finally:
        server.should_exit = True
        thread.join(10)
        day.close()
