"""Random cases: a file of the office is mutated by letters, cells, lines or values, and a command
that reads it must refuse it well or take it whole."""

from __future__ import annotations

import json
import random
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path
from typing import Any

from tests.fuzz.cases_plans import ACTUALS, READERS, STOPS
from tests.fuzz.harm import DIGITS, cells_of, put_cells
from tests.fuzz.look import ANY, Case
from tests.fuzz.office import ALWAYS, DAY

CHECK = ("check", "office")
PLAN = ("plan", "office", "--date", DAY, *ALWAYS, "--out", "new")
FORECAST = ("forecast", "office", "--from", "hourly.json", "--out", "hours.csv")
IMPORT = ("import", "office", "export.csv")
COMPARE = ("compare", "office", *ALWAYS, "--jobs", "1", "--seeds", "1", "--effort", "1", "--fleet",
           "large=large", "--out", "fleets")  # fmt: skip
TARGETS: tuple[tuple[str, tuple[tuple[str, ...], ...], int], ...] = (
    ("office/*.csv", (CHECK, CHECK, PLAN, ("locate", "office")), 8),
    ("day/plan.json", tuple(READERS.values()), 6),
    ("day/actuals.csv", (ACTUALS,), 3),
    ("day/stop-order.csv", (STOPS,), 3),
    ("office/import.toml", (IMPORT,), 3),
    ("export.csv", (IMPORT,), 3),
    ("hourly.json", (FORECAST,), 3),
    ("large/*", (COMPARE,), 1),
    ("office/planner.toml", (CHECK, FORECAST), 2),
    ("office/records.sqlite", (("record", "office", "--verify"), ("days", "office"), PLAN), 2),
    ("book.xlsx", (("check", "book.xlsx"),), 3),
    ("matrix.csv", ((*PLAN, "--roads", "matrix.csv"),), 2),
    ("map.osm", (("roads", "map.osm"), (*PLAN, "--roads", "map.osm")), 2),
)
"""Files, the commands that read them, and how often they are chosen."""
PLACES = ("yard", "pond", "A", "B")
MATRIX = "from,to,minutes,miles\n" + "".join(
    f"{a},{b},5,2\n"
    for a in ("yard", "pond", "A", "B")
    for b in ("yard", "pond", "A", "B")
    if a != b
)
MAP = """<?xml version="1.0"?><osm version="0.6">
<node id="1" lat="40.50" lon="-83.50"/><node id="2" lat="40.55" lon="-83.52"/>
<node id="3" lat="40.51" lon="-83.51"/><node id="4" lat="40.52" lon="-83.49"/>
<way id="1"><nd ref="1"/><nd ref="3"/><nd ref="2"/><tag k="highway" v="residential"/>
<tag k="maxheight" v="10'6&quot;"/><tag k="name" v="Alder Lane"/></way>
<way id="2"><nd ref="1"/><nd ref="4"/><nd ref="3"/><tag k="highway" v="tertiary"/>
<tag k="oneway" v="no"/></way></osm>
"""
WORDS = (
    "", " ", "0", "-1", "nan", "inf", "1e308", "-1e-320", DIGITS, "½", "1,200", "12,5", "8:30",
    "24:00", "25:61", "0001-01-01", "9999-12-31", "2027-02-29", "4/14/2027", "46491", "yes",
    "N", "#REF!", "any other", "a/b", "=1+1", "\u202e", "\x1b[2J", "\udcff", "\0", "A", "feed",
    "T1", "T1; T1; T1", ";" * 50, '"', "'", "x" * 33_000, "gal", "1.5 fl oz/1000 sq ft",
    "2 % v/v", "-4 pt/A", "1e99 gal", "8-11", "11-8", "mon, mon", "null", "true", "[]", "{}",
    "\\ud800", "1e400", "%s", "{0}", "../../x", "CON", "<b>", "&amp;", "é" * 300,
)  # fmt: skip
ODD: tuple[Any, ...] = (
    None, True, "", "x", [], {}, -1, 0, 1, 10**17, -1e300, 1e-300, 0.5, "1", "nan", ["x"], {"a": 1},
    "\x1b", "2027-04-15", "0001-01-01", "é" * 2_000,
)  # fmt: skip


def cases(count: int, seed: int) -> Iterator[Case]:
    """So many; the same for the same seed."""
    rng = random.Random(seed)
    weights = [weight for _, _, weight in TARGETS]
    for number in range(count):
        pattern, commands, _ = rng.choices(TARGETS, weights)[0]
        words = rng.choice(commands)
        own = rng.randrange(2**60)
        name = f"{seed}/{number}: {words[0]} with {pattern} changed"
        yield Case(name, words, partial(_spoil, pattern, own), ANY | {5}, writes=_written(words))


def _written(words: tuple[str, ...]) -> tuple[str, ...]:
    return {"locate": ("properties-located", ".planner"), "compare": (".fleets-asked",)}.get(
        words[0], ()
    )


def _spoil(pattern: str, seed: int, home: Path) -> None:
    rng = random.Random(seed)
    if pattern == "matrix.csv":
        (home / pattern).write_text(MATRIX)
    if pattern == "map.osm":
        (home / pattern).write_text(MAP)
    files = sorted(home.glob(pattern))
    file = rng.choice([file for file in files if file.is_file()])
    ways: list[Callable[[random.Random, Path], None]] = [_letters, _letters, _lines]
    if file.suffix == ".csv":
        ways = [_letters, _lines, _cells, _cells, _cells, _cells]
    elif file.suffix == ".json":
        ways = [_letters, _values, _values, _values]
    elif file.suffix in (".sqlite", ".xlsx"):
        ways = [_letters]
    for _ in range(rng.choice((1, 1, 1, 2, 4))):
        rng.choice(ways)(rng, file)


def _letters(rng: random.Random, file: Path) -> None:
    data = bytearray(file.read_bytes())
    for _ in range(rng.choice((1, 1, 3, 10))):
        at = rng.randrange(len(data) + 1)
        how = rng.randrange(5)
        if how == 0:
            data[at : at + 1] = bytes([rng.randrange(256)])
        elif how == 1:
            del data[at : at + rng.choice((1, 2, 20, 500))]
        elif how == 2:
            data[at:at] = rng.choice(WORDS).encode(errors="surrogateescape")
        elif how == 3:
            data[at:at] = data[: rng.randrange(200)]
        elif data:
            at = rng.randrange(len(data))
            data[at] ^= 1 << rng.randrange(8)
    file.write_bytes(data)


def _lines(rng: random.Random, file: Path) -> None:
    lines = file.read_bytes().split(b"\n")
    how, at = rng.randrange(4), rng.randrange(len(lines))
    if how == 0:
        lines.insert(at, rng.choice(lines))
    elif how == 1:
        del lines[at]
    elif how == 2:
        rng.shuffle(lines)
    else:
        lines[at] = rng.choice(WORDS).encode(errors="surrogateescape")
    file.write_bytes(b"\n".join(lines))


def _cells(rng: random.Random, file: Path) -> None:
    try:
        rows = cells_of(file)
    except (UnicodeDecodeError, ValueError):
        return _letters(rng, file)
    except Exception:  # The csv module's own; a mutation before made it no table.
        return _letters(rng, file)
    if not rows or not any(rows):
        return _letters(rng, file)
    for _ in range(rng.choice((1, 1, 1, 3))):
        row = rng.choice([row for row in rows if row])
        at = rng.randrange(len(row))
        other = rng.choice([row for row in rows if row])
        row[at] = rng.choice((rng.choice(WORDS), rng.choice(WORDS), other[min(at, len(other) - 1)]))
    put_cells(file, rows)
    return None


def _values(rng: random.Random, file: Path) -> None:
    try:
        raw = json.loads(file.read_text())
    except (ValueError, RecursionError):
        return _letters(rng, file)
    places: list[tuple[Any, Any]] = []

    def walk(value: Any) -> None:
        keys = value if isinstance(value, dict) else range(len(value))
        for key in keys:
            places.append((value, key))
            if isinstance(value[key], (dict, list)):
                walk(value[key])

    if isinstance(raw, (dict, list)):
        walk(raw)
    for _ in range(rng.choice((1, 1, 2, 5))):
        if not places:
            break
        holder, key = rng.choice(places)
        how = rng.randrange(4)
        try:
            if how == 0:
                del holder[key]
            elif how == 1 and isinstance(holder, list):
                holder.append(holder[key])
            elif how == 2 and isinstance(holder[key], (int, float)):
                holder[key] = holder[key] * rng.choice((-1, 2, 1.001, 1e6)) + rng.choice((0, 1e-3))
            else:
                holder[key] = rng.choice(ODD)
        except (KeyError, IndexError):
            continue
    file.write_text(json.dumps(raw))
    return None
