"""Commands that are interrupted or killed at a random moment: nothing is half-written, and the next
run does what the first was to do."""

from __future__ import annotations

import json
import random
import shutil
import signal
from dataclasses import dataclass
from pathlib import Path

from planner.outputs.file import MANIFEST, sha256_of
from planner.records.store import Store
from tests.fuzz.look import FINE, LEFT_HALF
from tests.fuzz.office import ALWAYS, DAY, copy, snapshot
from tests.fuzz.server import CRASHED, Ended, Request, Server

INTERRUPTED = 130


@dataclass(frozen=True)
class Job:
    """A command, what it writes, and the exit codes of the same command run again behind one that
    came to its end."""

    words: tuple[str, ...]
    makes: tuple[str, ...]
    again: frozenset[int] = FINE


JOBS = {
    "plan": Job(("plan", "office", "--date", DAY, *ALWAYS, "--out", "new"), ("new/plan.json",)),
    "plan over an earlier one": Job(
        ("plan", "office", "--date", DAY, *ALWAYS, "--out", "day"), ("day/plan.json",)
    ),
    "compare": Job(
        ("compare", "office", "--engine", "nearest-fit", "--jobs", "1", "--seeds", "1",
         "--effort", "1", "--fleet", "large=large", "--out", "fleets"),
        ("fleets/comparison.json", "fleets/days.csv"),
    ),
    "record": Job(
        ("record", "office", "day", "--as-planned", "--wind", "4", "--wind-from", "SW",
         "--temperature", "61"),
        ("office/records.sqlite",),
        frozenset({0, 1}),
    ),
    "import": Job(
        ("import", "office", "export.csv"),
        ("office/properties.csv", "office/orders.csv", "office/import-memory.json"),
    ),
    "weeks": Job(
        ("weeks", "office", "--from", DAY, "--days", "2", *ALWAYS, "--effort", "1", "--out",
         "calendar"),
        ("office/calendar.json", "calendar/weeks.html"),
    ),
    "rounds": Job(
        ("rounds", "book.xlsx", "--date", DAY, "--write", "--csv", "rounds.csv"),
        ("rounds.csv",),
    ),
    "forecast": Job(("forecast", "office", "--from", "hourly.json"), ("office/weather.csv",)),
}  # fmt: skip


def seconds_of(job: Job, made: Path, home: Path, server: Server) -> float:
    """How long a command takes that nobody stops."""
    copy(made, home, job.words)
    ended = server.run(Request(list(job.words), str(home)))
    assert ended.code in FINE, ended
    shutil.rmtree(home)
    return ended.seconds


def faults(job: Job, number: int, at_s: float, made: Path, home: Path, server: Server) -> list[str]:
    """What is wrong after a signal of that number at that moment, and after the next run."""
    copy(made, home, job.words)
    try:
        before = snapshot(home)
        request = Request(list(job.words), str(home), signal_s=at_s, signal_number=number)
        ended = server.run(request)
        found = [*_end(ended, number), *whole(home)]
        after = snapshot(home)
        half = [name for name in after.keys() - before.keys() if LEFT_HALF.search(name)]
        if number == signal.SIGINT and half:
            found.append(f"left half-written: {half}")
        for name in before.keys() - after.keys():
            # A folder of results that changes places is its old self under a hidden name, whole.
            if number == signal.SIGINT or not any("plan.json" in other for other in half):
                found.append(f"lost: {name}")
        second = server.run(Request(list(job.words), str(home)))
        if second.code not in job.again:
            found.append(f"the next run ended with {second.code}: {second.err[-600:]}")
        found += whole(home)
        found += [
            f"the next run made no {name}" for name in job.makes if not (home / name).exists()
        ]
        return [f"{fault} (signal {number} at {at_s:.3f} s)" for fault in found]
    finally:
        shutil.rmtree(home, ignore_errors=True)


def _end(ended: Ended, number: int) -> list[str]:
    right = {INTERRUPTED, *FINE} if number == signal.SIGINT else {-number, *FINE}
    if "Traceback" in ended.err or ended.code == CRASHED:
        return [f"traceback: {ended.err[-1500:]}"]
    return [] if ended.code in right else [f"exit code {ended.code}: {ended.err[-600:]}"]


def whole(home: Path) -> list[str]:
    """Every folder of results is as its manifest says, every store and table whole."""
    found = []
    for manifest in home.rglob(MANIFEST):
        if (manifest.parent / "plan.json").exists() or (manifest.parent / "days.csv").exists():
            sums = json.loads(manifest.read_text())["files"]
            for name, sha in sums.items():
                if sha256_of(manifest.parent / name) != sha:
                    found.append(f"{manifest.parent.name}/{name} is not as it was written")
    for name in ("new", "fleets", "day"):
        folder = home / name
        if folder.is_dir() and not (folder / MANIFEST).exists():
            found.append(f"{name} is there and not whole")
    for store in home.rglob("records.sqlite"):
        with Store(store) as opened:
            found += opened.damage()
    for table in (home / "office").glob("*.csv"):
        if not table.read_text().endswith("\n"):
            found.append(f"{table.name} is cut off")
    return found


def run_all(
    times: int, seed: int, made: Path, home: Path, server: Server, says: bool = False
) -> list[str]:
    """So many interrupts and as many kills, spread over the jobs."""
    rng, found = random.Random(seed), []
    for name, job in JOBS.items():
        longest_s = seconds_of(job, made, home, server)
        for turn in range(2 * times // len(JOBS)):
            number = signal.SIGINT if turn % 2 else signal.SIGKILL
            at_s = rng.uniform(0.0, longest_s * 1.02)
            bad = faults(job, number, at_s, made, home, server)
            found += [f"{name}: {fault}" for fault in bad]
        if says:
            print(f"{name}: {2 * times // len(JOBS)} signals within {longest_s:.2f} s", flush=True)
    return found
