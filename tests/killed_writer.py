"""Kills in the middle of a transaction of the records store, as many as asked for.

Run as `python -m tests.killed_writer FOLDER HITS [SEED]`. A forked child records without end and
says what was acknowledged; it is killed while SQLite's journal stands beside the store, which is
from the first changed page to the commit (https://www.sqlite.org/atomiccommit.html, sections 3.5 to
3.11). A kill counts as a hit when the journal is still there after it.
"""

from __future__ import annotations

import json
import os
import random
import signal
import subprocess
import sys
import time
from dataclasses import asdict, dataclass, field
from pathlib import Path

from planner.records.store import EventDraft, Store

EVENTS_EACH = 5
HITS_A_STORE = 25
LONGEST_S = 0.05
"""No transaction of this size stands longer; a waiting process may see it so."""

ROOT = Path(__file__).resolve().parents[1]


def drafts(name: str, number: int) -> list[EventDraft]:
    body = {"number": number, "text": "x" * 400}
    return [
        EventDraft("sprayed", "2027-04-14", f"{name}/{number}/{part}", "plan", body)
        for part in range(EVENTS_EACH)
    ]


@dataclass
class Outcome:
    """hits: kills inside a transaction, of so many kills; lost: acknowledged transactions that are
    not there; torn: those of which only a part is there; damage: what the checks of the stores
    found."""

    kills: int = 0
    hits: int = 0
    acknowledged: int = 0
    lost: int = 0
    torn: int = 0
    damage: list[str] = field(default_factory=list)


def kill_until(folder: Path, hits: int, seed: int) -> Outcome:
    """Kill writers until so many were hit. Forks: for a process without threads."""
    rng = random.Random(seed)
    found = Outcome()
    longest_s = 0.002
    while found.hits < hits:
        path = folder / f"{found.hits // HITS_A_STORE}.sqlite"
        name = f"w{found.kills}"
        hit, acknowledged, seen_s = _kill_one(path, name, rng, longest_s)
        longest_s = min(LONGEST_S, max(longest_s, seen_s))
        _look(path, name, hit, acknowledged, found)
    return found


def _kill_one(
    path: Path, name: str, rng: random.Random, longest_s: float
) -> tuple[bool, int, float]:
    """Whether it was a hit, how many transactions were acknowledged, and how long the journal stood
    where its end was seen."""
    journal = path.with_name(f"{path.name}-journal")
    out, into = os.pipe()
    child = os.fork()
    if child == 0:
        _write_without_end(path, name, into)
    os.close(into)
    # A kill while the file is made or brought up counts as well, so the first is not waited for.
    acknowledged = sum(len(os.read(out, 1)) for _ in range(rng.randrange(4)))
    begun = time.perf_counter()
    while not journal.exists():
        assert os.waitpid(child, os.WNOHANG) == (0, 0), "the writer ended by itself"
        begun = time.perf_counter()
    wait_s, seen_s = rng.random() * longest_s, 0.0
    while (passed_s := time.perf_counter() - begun) < wait_s:
        if not seen_s and not journal.exists():
            seen_s = passed_s
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    hit = journal.exists()
    with os.fdopen(out, "rb") as told:
        return hit, acknowledged + len(told.read()), seen_s


def _write_without_end(path: Path, name: str, into: int) -> None:
    number = 0
    try:
        # A new store each time is what a command does; its opening is a point to be killed at, too.
        while True:
            with Store(path, create=True) as store:
                for _ in range(20):
                    store.append(drafts(name, number), name)
                    os.write(into, b".")
                    number += 1
    finally:
        os._exit(1)


def _look(path: Path, name: str, hit: bool, acknowledged: int, found: Outcome) -> None:
    counts: dict[int, int] = {}
    with Store(path, create=True) as store:
        damage = store.damage()
        for event in store.events():
            if event.recorded_by == name:
                number = event.body["number"]
                counts[number] = counts.get(number, 0) + 1
    found.kills += 1
    found.hits += hit
    found.acknowledged += acknowledged
    found.lost += sum(counts.get(number, 0) != EVENTS_EACH for number in range(acknowledged))
    found.torn += sum(count != EVENTS_EACH for count in counts.values())
    found.damage += damage


def kill_in_a_process(folder: Path, hits: int, seed: int) -> Outcome:
    """kill_until, for a process that has threads."""
    words = [sys.executable, "-m", "tests.killed_writer", str(folder), str(hits), str(seed)]
    done = subprocess.run(words, cwd=ROOT, capture_output=True, text=True, check=True)
    return Outcome(**json.loads(done.stdout))


if __name__ == "__main__":
    place, wanted, *more = sys.argv[1:]
    print(json.dumps(asdict(kill_until(Path(place), int(wanted), int(more[0] if more else 1)))))
