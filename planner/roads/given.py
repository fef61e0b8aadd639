"""Times and miles from a table that somebody else made: CSV with from, to, minutes, miles."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from planner.plain_files import text_of, why
from planner.roads.straight_line import NoNetwork
from planner.roads.travel import Place, RoadError, Travel, VehicleLimits

COLUMNS = ("from", "to", "minutes", "miles")
MOST = 1440
"""Minutes of a day; no trip of a crew has as many miles either."""
FASTEST_MILES_PER_MIN = 2.0
MOST_NAMED = 20
"""A message names this many pairs or rows and counts the rest."""


class GivenRoads(NoNetwork):
    """Times and miles by pairs of place ids; see the Roads protocol."""

    credit = ""

    def __init__(self, name: str, pairs: dict[tuple[str, str], tuple[float, float]]) -> None:
        self._name, self._pairs = name, pairs
        self.description = f"times and miles given in {name}"
        self.warning = (
            f"Drive times come from the table {name}, not from a road map; lines on the map are "
            "straight."
        )

    def travel(self, places: Sequence[Place], limits: VehicleLimits | None = None) -> Travel:
        """Minutes and miles between all places; limits change nothing. Raises RoadError naming
        every pair that the table lacks (each direction is a pair of its own)."""
        ids = tuple(place.place_id for place in places)
        missing = [(a, b) for a in ids for b in ids if a != b and (a, b) not in self._pairs]
        if missing:
            named = _some([f"{a} to {b}" for a, b in missing])
            lacking = dict.fromkeys(place for pair in missing for place in pair)
            raise RoadError(f"{self._name} has no row for {named}", tuple(lacking))
        both = np.array(
            [[self._pairs[a, b] if a != b else (0.0, 0.0) for b in ids] for a in ids],
            dtype=np.float64,
        ).reshape(len(ids), len(ids), 2)
        return Travel(ids, both[:, :, 0].copy(), both[:, :, 1].copy())


def given(path: Path) -> GivenRoads:
    """Roads from a table file. Raises RoadError with everything that is wrong in it."""
    try:
        text = text_of(path, "utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise RoadError(f"the table of times {path.name} cannot be read: {why(error)}") from error
    lines = text.splitlines()
    separator = ";" if lines and ";" in lines[0] else ","
    rows = list(csv.reader(lines, delimiter=separator))
    header = [cell.strip().lower() for cell in rows[0]] if rows else []
    lacking = [column for column in COLUMNS if column not in header]
    if lacking:
        raise RoadError(
            f"{path.name} needs the columns {', '.join(COLUMNS)}; it lacks {', '.join(lacking)}"
        )
    at = [header.index(column) for column in COLUMNS]
    pairs: dict[tuple[str, str], tuple[float, float]] = {}
    wrong: list[str] = []
    for number, row in enumerate(rows[1:], start=2):
        cells = [cell.strip() for cell in row]
        if not any(cells):
            continue
        start, end, minutes, miles = (cells[i] if i < len(cells) else "" for i in at)
        drive_min, drive_miles = _amount(minutes), _amount(miles)
        if not start or not end:
            wrong.append(f"row {number}: from or to is blank")
        elif drive_min is None or drive_miles is None:
            found = f"{minutes[:20]!r} and {miles[:20]!r}"
            wrong.append(
                f"row {number}: minutes and miles must be from 0 to {MOST:,} (found {found})"
            )
        elif drive_miles > 1 and drive_miles > drive_min * FASTEST_MILES_PER_MIN:
            wrong.append(f"row {number}: {miles} miles in {minutes} minutes; no truck is so fast")
        elif pairs.setdefault((start, end), (drive_min, drive_miles)) != (drive_min, drive_miles):
            wrong.append(f"row {number}: {start} to {end} stands twice with different times")
    if wrong:
        raise RoadError(f"{path.name}: {_some(wrong)}")
    return GivenRoads(path.name, pairs)


def _amount(text: str) -> float | None:
    try:
        value = float(text)
    except ValueError:
        return None
    return value if 0 <= value <= MOST else None


def _some(texts: list[str]) -> str:
    more = len(texts) - MOST_NAMED
    return "; ".join(texts[:MOST_NAMED]) + (f"; and {more} more" if more > 0 else "")
