"""calendar.json: written, read back, and refused in words."""

from __future__ import annotations

from pathlib import Path

import pytest

from planner.kept_home import calendar_path
from planner.weeks.model import (
    CALENDAR_VERSION,
    Calendar,
    CalendarError,
    LaidOrder,
    TruckShare,
    WaitingOrder,
    read_calendar,
    write_calendar,
)

LAID = LaidOrder(
    "1", "P1", "GREEN", 12.5, "2027-04-12", "2027-04-20", 3, 0, True, "", "2027-04-15", 2.5
)
SHARE = TruckShare(
    "2027-04-14", "T1", (LAID,), ("GREEN", None), {"GREEN": 12.5}, 80.0, 480.0, 0.0, 9.0, 0, 61.5
)
WAITS = WaitingOrder("2", "P2", "GREEN", "FULL", "no room", "2027-04-16", "2027-04-16")
MADE = Calendar(
    version=CALENDAR_VERSION,
    workbook_sha256="0" * 64,
    days=("2027-04-14", "2027-04-15"),
    closed={"2027-04-17": "Saturday"},
    wet=(),
    out=("T2@2027-04-15",),
    trucks=("T1", "T2"),
    shares=(SHARE,),
    waiting=(WAITS,),
    told={"1": "2027-04-14"},
    rain_percent=20.0,
    cost=61.5,
    miles=9.0,
    engine="search",
    effort="count 10",
    seed=1,
    roads="straight lines",
    roads_warning="",
)


def test_a_calendar_comes_back_as_it_was_written(tmp_path: Path) -> None:
    path = calendar_path(tmp_path)
    assert read_calendar(path) is None
    write_calendar(path, MADE)
    assert read_calendar(path) == MADE
    assert MADE.day_of == {"1": "2027-04-14"}
    assert calendar_path(tmp_path / "spring.xlsx").name == "spring-calendar.json"


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('"version": 1', '"version": 9', "version 1 expected, found 9"),
        ('"cost": 61.5,\n "miles"', '"cost": "much",\n "miles"', "calendar.cost: float expected"),
        ('"days": [\n  "2027-04-14"', '"days": [\n  "soon"', "isoformat"),
        ('"days": [\n  "2027-04-14",\n  "2027-04-15"\n ]', '"days": []', "it has no days"),
        ("{", "", "cannot be read"),
    ],
)
def test_a_broken_calendar_is_refused_in_words(
    tmp_path: Path, old: str, new: str, said: str
) -> None:
    path = tmp_path / "calendar.json"
    write_calendar(path, MADE)
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(CalendarError, match=said):
        read_calendar(path)
