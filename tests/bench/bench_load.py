"""A large office: python -m tests.bench.bench_load [--folder FOLDER] [--orders-at-one N]

`planner check` of 20,000 properties, 60,000 orders and 200,000 past applications is to take at most
12 s of the processor and 400 MB; `planner plan` of the 150 orders that are due on one day, by
nearest-fit, 10 s more. Rows are those of the demo day, moved and renumbered; orders of one property
or many. Exit code 1 when a bar is missed.
"""

from __future__ import annotations

import argparse
import csv
import os
import random
import shutil
import subprocess
import sys
import tempfile
from datetime import date, timedelta
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
DEMO = ROOT / "demo_data" / "spring_day"
DAY = date(2027, 4, 14)
PROPERTIES, ORDERS, HISTORY, DUE = 20_000, 60_000, 200_000, 150
CHECK_S, PLAN_MORE_S, MOST_MB = 12.0, 10.0, 400.0


def rows_of(name: str) -> list[dict[str, str]]:
    """Rows of a table of the demo day."""
    with (DEMO / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def write(folder: Path, name: str, rows: list[dict[str, str]]) -> None:
    """A table of the large office."""
    with (folder / f"{name}.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)


def make(folder: Path, one_property: bool = False) -> Path:
    """The workbook. one_property: all orders that are not due are one property's."""
    rng = random.Random(1)
    shutil.copytree(DEMO, folder, dirs_exist_ok=True)
    (folder / "planner.toml").unlink(missing_ok=True)
    homes, orders = rows_of("properties"), rows_of("orders")
    past = [row for row in rows_of("history") if row["amount"]]
    properties = []
    for number in range(PROPERTIES):
        home = rng.choice(homes)
        moved = {
            "property": f"Q{number}",
            "customer": f"Customer {number}",
            "address": f"{number} Long Road",
            # A grid of 30 ft, so that no two share a point.
            "lat": f"{40.52 + number // 200 * 0.0001:.6f}",
            "lon": f"{-83.56 + number % 200 * 0.0004:.6f}",
        }
        properties.append(home | moved)
    write(folder, "properties", properties)
    many = []
    for number in range(ORDERS):
        due = number < DUE
        day = DAY if due else DAY + timedelta(days=3 + number // PROPERTIES * 30)
        place = "Q19999" if one_property and not due else f"Q{number % PROPERTIES}"
        order = orders[number * 7 % len(orders)] if due else orders[number // PROPERTIES]
        changes = {"order": f"N{number}", "property": place, "windows": ""}
        # Small lawns, so that the day's trucks can do them all: what is measured is the load.
        changes["area_ft2"] = "1500" if due else ""
        changes |= {"date": day.isoformat(), "due_from": "", "due_to": "", "note": ""}
        many.append(order | changes | {"only_trucks": "", "never_trucks": ""})
    write(folder, "orders", many)
    done = []
    for number in range(HISTORY):
        day = DAY - timedelta(days=200 + number // PROPERTIES * 90)
        row = rng.choice(past)
        done.append(row | {"property": f"Q{number % PROPERTIES}", "date": day.isoformat()})
    write(folder, "history", done)
    return folder


def measured(words: list[str]) -> tuple[float, float, int, str]:
    """Seconds of the processor, MB, exit code and the last line of a command."""
    with tempfile.TemporaryFile("w+") as out:
        process = subprocess.Popen(
            [sys.executable, "-m", "planner", *words], cwd=ROOT, stdout=out, stderr=out
        )
        _, status, usage = os.wait4(process.pid, 0)
        process.returncode = os.waitstatus_to_exitcode(status)
        out.seek(0)
        lines = [line for line in out.read().splitlines() if line.strip()] or [""]
    return (
        usage.ru_utime + usage.ru_stime, usage.ru_maxrss / 1024, process.returncode, lines[-1],
    )  # fmt: skip


def main() -> int:
    """Measure and print; 1 when a bar is missed."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--folder", type=Path, help="where the workbook is made and kept")
    parser.add_argument("--one-property", action="store_true", help="all orders at one property")
    parser.add_argument("--check-only", action="store_true")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as scratch:
        folder = options.folder or Path(scratch) / "book"
        if not (folder / "orders.csv").exists():
            make(folder, options.one_property)
        check_s, check_mb, code, last = measured(["check", str(folder)])
        print(f"check {check_s:5.1f} s {check_mb:5.0f} MB  exit {code}: {last[:150]}", flush=True)
        if options.check_only:
            return int(check_s > CHECK_S or check_mb > MOST_MB)
        out = str(Path(scratch) / "day")
        words = ["plan", str(folder), "--date", DAY.isoformat(), "--out", out]
        plan_s, plan_mb, code, last = measured([*words, "--engine", "nearest-fit"])
        print(f"plan  {plan_s:5.1f} s {plan_mb:5.0f} MB  exit {code}: {last[:150]}")
    return int(check_s > CHECK_S or check_mb > MOST_MB or plan_s > check_s + PLAN_MORE_S)


if __name__ == "__main__":
    sys.exit(main())
