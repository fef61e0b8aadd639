"""A child process that records without end and says what was acknowledged; tests kill it.

Run as `python -m tests.killed_writer STORE NAME`: each transaction appends EVENTS_EACH events and
then prints its number in one line.
"""

from __future__ import annotations

import random
import signal
import subprocess
import sys
import threading
import time
from dataclasses import dataclass
from pathlib import Path

from planner.records.store import Draft, Store

EVENTS_EACH = 5
READY = "ready\n"
ROOT = Path(__file__).resolve().parents[1]


def write_without_end(path: Path, name: str) -> None:
    number = 0
    sys.stdout.write(READY)
    sys.stdout.flush()
    # A new store each time is what a command does; its opening is a point to be killed at, too.
    while True:
        with Store(path, create=True) as store:
            for _ in range(20):
                store.append(drafts(name, number), name)
                sys.stdout.write(f"{number}\n")
                sys.stdout.flush()
                number += 1


def drafts(name: str, number: int) -> list[Draft]:
    body = {"number": number, "text": "x" * 400}
    return [
        Draft("sprayed", "2027-04-14", f"{name}/{number}/{part}", "plan", body)
        for part in range(EVENTS_EACH)
    ]


@dataclass(frozen=True)
class Outcome:
    """lost: acknowledged events that are not there; torn: transactions of which only a part is
    there; damage: what the check of the store found."""

    acknowledged: int
    lost: int
    torn: int
    damage: tuple[str, ...]


def kill_one(path: Path, name: str, wait_s: float) -> Outcome:
    """Start a writer, kill it after so long past its first word, and look at the store."""
    child = subprocess.Popen(
        [sys.executable, "-m", "tests.killed_writer", str(path), name],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        text=True,
    )
    said: list[str] = []
    assert child.stdout is not None
    out = child.stdout
    # Not the first acknowledgement: a kill while the file is made or brought up counts as well.
    assert out.readline() == READY
    reader = threading.Thread(target=lambda: said.extend(out))
    reader.start()
    time.sleep(wait_s)
    child.send_signal(signal.SIGKILL)
    child.wait()
    reader.join()
    acknowledged = {int(line) for line in said if line.endswith("\n")}
    with Store(path, create=True) as store:
        counts: dict[int, int] = {}
        for event in store.events():
            if event.recorded_by == name:
                number = event.body["number"]
                counts[number] = counts.get(number, 0) + 1
        return Outcome(
            acknowledged=len(acknowledged),
            lost=sum(counts.get(number, 0) != EVENTS_EACH for number in acknowledged),
            torn=sum(count != EVENTS_EACH for count in counts.values()),
            damage=store.damage(),
        )


def kill_many(folder: Path, kills: int, seed: int, kills_a_store: int = 20) -> list[Outcome]:
    """So many kills at random points, each store killed several times over."""
    rng = random.Random(seed)
    return [
        kill_one(
            folder / f"{number // kills_a_store}.sqlite", f"w{number}", rng.random() ** 2 * 0.15
        )
        for number in range(kills)
    ]


if __name__ == "__main__":
    write_without_end(Path(sys.argv[1]), sys.argv[2])
