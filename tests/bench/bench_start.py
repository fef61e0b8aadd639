"""How long people wait: `planner --help` against a bare Python start, `planner check`, the page of
the demo day, and the demo command.

Run `python -m tests.bench.bench_start [--only help,check,page,demo]`. Prints the least of several
runs: seconds by the clock, and of the processor with all processes that a command starts, which a
busy machine changes less. The page is asked for the first time (no plan of record yet) and with
one. Asserts nothing.
"""

from __future__ import annotations

import argparse
import os
import re
import shutil
import subprocess
import sys
import tempfile
import time
import urllib.request
from collections.abc import Sequence
from http.cookiejar import CookieJar
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
DEMO = ROOT / "demo_data" / "spring_day"
DAY = "2027-04-14"
PLANNER = (sys.executable, "-m", "planner")


def run(command: Sequence[str], page: bool = False) -> tuple[float, float]:
    """Seconds by the clock and of the processor. page: of a server, until its page has answered;
    the processor's then without the process that plans."""
    begun = time.perf_counter()
    process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL)
    assert process.stdout is not None
    if not page:
        process.stdout.read()
        spent = os.wait4(process.pid, 0)[2]
        return time.perf_counter() - begun, spent.ru_utime + spent.ru_stime
    found = re.search(rb"Open (\S+)", process.stdout.readline())
    assert found is not None
    opener = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(CookieJar()))
    with opener.open(found[1].decode()) as answer:
        assert b"yard" in answer.read()
    waited = time.perf_counter() - begun
    ticks = Path(f"/proc/{process.pid}/stat").read_text().rpartition(")")[2].split()[11:13]
    process.terminate()
    process.wait()
    process.stdout.close()
    return waited, sum(map(int, ticks)) / os.sysconf("SC_CLK_TCK")


def told(name: str, command: Sequence[str], times: int, page: bool = False) -> None:
    """Run it so often and print the least."""
    waited, spent = zip(*(run(command, page) for _ in range(times)), strict=True)
    print(f"{name}: {min(waited):.2f} s, of the processor {min(spent):.2f} s", flush=True)


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--only", default="help,check,page,demo")
    only = parser.parse_args().only.split(",")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        book = str(shutil.copytree(DEMO, folder / "offices" / "demo"))
        shutil.copytree(ROOT / "maps", folder / "maps")
        os.environ["XDG_STATE_HOME"] = str(folder / "state")
        # Compiled modules are kept, as beside an installed package: the first run makes them.
        os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
        os.environ["PYTHONPYCACHEPREFIX"] = str(folder / "modules")
        out = ("--out", str(folder / "out"))
        if "help" in only:
            told("python -c pass", (sys.executable, "-c", "pass"), 9)
            told("planner --help", (*PLANNER, "--help"), 9)
        if "check" in only:
            told("planner check", (*PLANNER, "check", book), 5)
        serve = (*PLANNER, "serve", book, "--date", DAY, "--port", "0")
        if "page" in only:
            told("the page, nothing planned", serve, 5, page=True)
        if "page" in only or "plan" in only:
            plan = (*PLANNER, "plan", book, "--date", DAY, "--engine", "nearest-fit", *out)
            told("planner plan, nearest-fit", plan, 1)
        if "page" in only:
            shutil.rmtree(folder / "state", ignore_errors=True)
            told("the page, with a plan of record", serve, 5, page=True)
        if "demo" in only:
            for engine in ("nearest-fit", "ortools"):
                command = (*PLANNER, "demo", "--out", str(folder / engine), "--engine", engine)
                told(f"demo day, {engine}", command, 3)


if __name__ == "__main__":
    main()
