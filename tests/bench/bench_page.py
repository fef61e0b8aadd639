"""The page's server: milliseconds of the processor a change and a question, bytes of answers, time
to start, changes against the command line's reckoning, changes and edits of tables kept through
kills.

Run `python -m tests.bench.bench_page --moves 1000 --kills 100`. The demo day on its streets and a
random day of 200 orders over straight lines, both planned by the plain engine. Ends with exit code
1 when an answer differs in a byte or a change that was answered is lost.
"""

from __future__ import annotations

import argparse
import gc
import gzip
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from starlette.responses import JSONResponse

from planner.chain import open_day, open_day_roads, plan_day
from planner.cli.demo import DEMO_DATE, DEMO_WORKBOOK
from planner.office.journal import Journal
from planner.office.open_day import SharedDay
from planner.office.ready import OfficeDay
from planner.plan.document import to_json
from planner.plan.model import Plan
from planner.routing.problem import Effort, SolveOptions
from planner.serve.app import PACKED_HOW, Pieces
from tests.bad_workbooks import BASE
from tests.office_changes import kept_line, open_tables, some_change, tried
from tests.office_server import straight_day
from tests.random_days import random_day
from tests.sample_plan import sample_day
from tests.test_serve import as_the_command_reckons


@contextmanager
def days(folder: Path, plan: Path | None) -> Iterator[list[tuple[str, SharedDay]]]:
    """(name, open day). plan: of the demo day, None = one by the plain engine."""
    (folder / "demo").mkdir()
    (folder / "large").mkdir()
    day = open_day(DEMO_WORKBOOK, DEMO_DATE)
    roads = open_day_roads(DEMO_WORKBOOK, day, None)
    if plan is None:
        made = plan_day(day, roads, SolveOptions(Effort(count=1), engine="nearest-fit")).plan
    else:
        from planner.chain import read_plan

        made = read_plan(plan)[0]
    demo = SharedDay(OfficeDay(day, roads, made), Journal(folder / "demo" / "j.sqlite"), folder)
    found = [("demo day", demo)]
    if plan is None:
        found.append(("200 orders", straight_day(random_day(9001, 200), folder / "large")))
    gc.collect()
    gc.freeze()
    yield found
    for _, one in found:
        one.close()


def late(values: list[float]) -> tuple[float, float]:
    """Median and 95 %."""
    rows = sorted(values) or [0.0]
    return rows[len(rows) // 2], rows[int(0.95 * (len(rows) - 1))]


def moves(name: str, day: SharedDay, wanted: int, folder: Path, compared: int) -> int:
    """Changes, as many as wanted; how many of those compared differ."""
    rng, pieces = random.Random(f"bench {name}"), Pieces()
    pieces.answer(day.state, None, None, "")
    costs: list[float] = []
    sizes: list[float] = []
    packed: list[float] = []
    differ = made = 0
    while made < wanted:
        before, since = day.state.planned.plan, day.state.revision
        change = some_change(day.state, rng)
        begin = time.process_time()
        if not tried(day, change):
            continue
        answer = JSONResponse(pieces.answer(day.state, since, None, "")).body
        costs.append(1000 * (time.process_time() - begin))
        if change["kind"] == "move":
            sizes.append(len(answer))
            packed.append(len(gzip.compress(answer, PACKED_HOW)))
        made += 1
        after: Plan = day.state.planned.plan
        if made <= compared and change["kind"] not in ("undo", "redo"):
            differ += as_the_command_reckons(day, before, after, folder) != to_json(after)
    asks: list[float] = []
    for order in list(day.state.planned.day.orders)[:60]:
        begin = time.process_time()
        day.ask(day.state.revision, [order])
        asks.append(1000 * (time.process_time() - begin))
    usual, slow = late(costs)
    asked, asked_slow = late(asks)
    (small, large), (_, sent) = late(sizes), late(packed)
    print(
        f"{name}: {made} changes {usual:.1f} / {slow:.1f} ms; asked {asked:.1f} / "
        f"{asked_slow:.1f} ms; a moved stop's answer {small / 1000:.1f} / {large / 1000:.1f} kB "
        f"(as sent {sent / 1000:.1f}; median / 95 %); "
        f"{differ} of {min(made, compared)} differ from the command"
    )
    return differ


def kills(wanted: int, folder: Path) -> int:
    """Writers killed amid changes; how many lost one that they had said was kept."""
    lost = 0
    rng = random.Random("kills")
    command = [sys.executable, "-m", "tests.office_changes", str(folder)]
    for number in range(wanted):
        with subprocess.Popen([*command, str(number)], stdout=subprocess.PIPE, text=True) as writer:
            assert writer.stdout is not None
            said = [writer.stdout.readline()]
            time.sleep(rng.uniform(0.0, 0.4))
            os.kill(writer.pid, signal.SIGKILL)
            said += writer.stdout.readlines()
        whole = [line for line in said if line.endswith("\n")]
        day = straight_day(sample_day(), folder)
        revision, sha = whole[-1].split()
        now = day.state.revision
        same = now > int(revision) or kept_line(day).split()[1] == sha
        lost += not (same and int(revision) <= now <= int(revision) + 1)
        day.close()
    print(f"{wanted} kills, {lost} lost a change that was answered")
    return lost


def table_kills(wanted: int, folder: Path) -> int:
    """Writers into a table killed or interrupted; how many left it cut or lost a kept cell."""
    book, lost, rng = folder / "book", 0, random.Random("tables")
    shutil.copytree(BASE, book)
    command = [sys.executable, "-m", "tests.office_changes", str(folder)]
    for number in range(wanted):
        with subprocess.Popen(
            [*command, str(number), str(book)],
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            text=True,
        ) as writer:
            assert writer.stdout is not None
            said = [writer.stdout.readline()]
            time.sleep(rng.uniform(0.0, 0.4))
            os.kill(writer.pid, signal.SIGINT if number % 2 else signal.SIGKILL)
            said += writer.stdout.readlines()
        row, index, _ = [line for line in said if line.endswith("\n")][-1].split()
        tables = open_tables(book, folder)
        # The next cell may have been written and not be told any more, the same one, too.
        left = tables.state.text("orders", int(row), int(index))
        cut = not (book / "orders.csv").read_bytes().endswith(b"\n")
        lost += cut or not left.startswith("0.")
        tables.close()
    print(f"{wanted} ends amid edits of a table, {lost} left it cut or lost a cell")
    return lost


def start(folder: Path) -> None:
    """Seconds until the command says where the page is."""
    begin = time.monotonic()
    command = [sys.executable, "-m", "planner", "serve", str(DEMO_WORKBOOK), "--port", "0"]
    command += ["--date", DEMO_DATE.isoformat()]
    with subprocess.Popen(
        command,
        stdout=subprocess.PIPE,
        text=True,
        env={**os.environ, "PLANNER_STATE_DIR": str(folder)},
    ) as server:
        assert server.stdout is not None
        server.stdout.readline()
        took = time.monotonic() - begin
        server.send_signal(signal.SIGINT)
        server.wait()
    print(f"start: {took:.1f} s by the clock")


def main() -> int:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--moves", type=int, default=100)
    parser.add_argument("--compared", type=int, help="of them, against the command [default: all]")
    parser.add_argument("--kills", type=int, default=0)
    parser.add_argument("--plan", type=Path, help="a plan.json of the demo day, and that day only")
    asked = parser.parse_args()
    compared = asked.moves if asked.compared is None else asked.compared
    wrong = 0
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        start(folder / "state")
        with days(folder, asked.plan) as found:
            for day_name, day in found:
                wrong += moves(day_name, day, asked.moves, folder, compared)
        if asked.kills:
            (folder / "killed").mkdir()
            wrong += kills(asked.kills, folder / "killed")
            wrong += table_kills(asked.kills, folder / "killed")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
