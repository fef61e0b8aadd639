"""A small season for tests of comparisons: the starter workbook with a few days and fleets."""

from __future__ import annotations

import csv
from datetime import date, timedelta
from pathlib import Path

from planner.tables.starter import starter_files

FIRST = date(2027, 5, 3)

ORDERS = (
    "order,property,mix,date,due_from,due_to,area_ft2,windows,priority,"
    "only_trucks,never_trucks,note\n"
)
WORK = (
    (("P-1", "spring-feed"), ("P-2", "spring-feed"), ("P-3", "weeds"), ("P-6", "weeds")),
    (("P-4", "spring-feed"), ("P-5", "weeds"), ("P-2", "weeds")),
    (("P-6", "spring-feed"), ("P-1", "weeds"), ("P-3", "spring-feed"), ("P-5", "spring-feed")),
)
"""Property and mix of each day's orders."""


def season_folder(folder: Path) -> Path:
    """A workbook of three days with three or four orders each, and no history."""
    folder.mkdir(parents=True)
    for name, text in starter_files(FIRST).items():
        (folder / name).write_text(text, encoding="utf-8")
    (folder / "history.csv").unlink()
    (folder / "weather.csv").unlink()
    rows = [
        f"{day + 1}{at},{home},{mix},{FIRST + timedelta(days=day)},,,,,2,,,\n"
        for day, work in enumerate(WORK)
        for at, (home, mix) in enumerate(work, start=1)
    ]
    (folder / "orders.csv").write_text(ORDERS + "".join(rows), encoding="utf-8")
    return folder


def fleet_folder(workbook: Path, folder: Path, trucks: tuple[str, ...], prices: str = "") -> Path:
    """A fleet of some of the workbook's trucks. prices: text of its fleet.toml."""
    folder.mkdir(parents=True)
    for table in ("trucks", "lines", "compartments"):
        with (workbook / f"{table}.csv").open(encoding="utf-8", newline="") as file:
            header, *rows = list(csv.reader(file))
        with (folder / f"{table}.csv").open("w", encoding="utf-8", newline="") as file:
            csv.writer(file).writerows([header, *(row for row in rows if row[0] in trucks)])
    if prices:
        (folder / "fleet.toml").write_text(prices, encoding="utf-8")
    return folder


def edit(file: Path, old: str, new: str) -> None:
    """Replace a text that must be there."""
    text = file.read_text(encoding="utf-8")
    assert old in text, (file, old)
    file.write_text(text.replace(old, new), encoding="utf-8")
