"""Cases of plan.json and of the sheets that people fill in beside it."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path
from typing import Any

from tests.fuzz.harm import DIGITS, LINES, UNREADABLE, put_cell
from tests.fuzz.look import ANY, FINE, REFUSED, Case
from tests.fuzz.office import ALWAYS, DAY

FAIR = (
    "has a key twice",
    "with an added field",
    # What a plan says beside its stops is not read by who plans on from it.
    "with a stop at number -1",
)
READERS: dict[str, tuple[str, ...]] = {
    "audit": ("audit", "day/plan.json", "office"),
    "packet": ("packet", "day/plan.json", "office", "--out", "again"),
    "record": ("record", "office", "day/plan.json", "--as-planned", "--wind", "4",
               "--wind-from", "SW", "--temperature", "61"),
    "plan --keep": ("plan", "office", "--date", DAY, *ALWAYS, "--out", "new", "--keep",
                    "day/plan.json"),
    "plan --again": ("plan", "office", *ALWAYS, "--out", "noon", "--again", "day/plan.json",
                     "--at", "9:00"),
    "days --use": ("days", "office", "--use", "day/plan.json"),
    "audit --recompute": ("audit", "day/plan.json", "office", "--recompute"),
}  # fmt: skip
STOPS = ("packet", "day", "office", "--stops", "day/stop-order.csv", "--out", "again")
ACTUALS = ("record", "office", "day", "day/actuals.csv")
TEXTS: dict[str, Callable[[str], str]] = {
    "is nested deep": lambda text: "[" * 100_000 + "]" * 100_000,
    "is nested a little": lambda text: '{"a":' * 200 + "1" + "}" * 200,
    "is a number": lambda text: "17",
    "is a list": lambda text: "[]",
    "is null": lambda text: "null",
    "is an empty object": lambda text: "{}",
    "ends early": lambda text: text[: len(text) // 2],
    "has a number of 5,000 digits": lambda text: text.replace(
        '"version": 2', f'"version": {DIGITS}'
    ),
    "has NaN": lambda text: text.replace("0.0", "NaN", 1),
    "has Infinity": lambda text: text.replace("0.0", "-Infinity", 1),
    "has 1e999": lambda text: text.replace("0.0", "1e999", 1),
    "has half a letter": lambda text: text.replace("T1", "\\ud800", 1),
    "has terminal signs": lambda text: text.replace("T1", "\\u001b[2J", 1),
    "has a zero letter": lambda text: text.replace("T1", "\\u0000", 1),
    "has a raw zero": lambda text: text.replace("T1", "\0", 1),
    "has a key twice": lambda text: text.replace("{", '{"date": "2027-04-14", ', 1),
    "has text behind": lambda text: text + "{}",
}


def _of(change: Callable[[Any], object]) -> Callable[[str], str]:
    def do(text: str) -> str:
        raw = json.loads(text)
        change(raw)
        return json.dumps(raw)

    return do


def _stop(raw: Any) -> Any:
    return next(stop for stop in raw["trucks"][0]["stops"] if stop["orders"])


def _order(raw: Any) -> Any:
    return _stop(raw)["orders"][0]


CHANGES: dict[str, Callable[[Any], object]] = {
    "no trucks": lambda raw: raw.update(trucks=[]),
    "trucks are a text": lambda raw: raw.update(trucks="T1"),
    "trucks are null": lambda raw: raw.update(trucks=None),
    "a truck twice": lambda raw: raw["trucks"].append(raw["trucks"][0]),
    "a truck that is not there": lambda raw: raw["trucks"][0].update(truck_id="T99"),
    "a truck without a name": lambda raw: raw["trucks"][0].update(truck_id=""),
    "a stop twice": lambda raw: raw["trucks"][0]["stops"].append(_stop(raw)),
    "no stops": lambda raw: raw["trucks"][0].update(stops=[]),
    "a stop at number -1": lambda raw: _stop(raw).update(seq=-1),
    "a stop at number 10 to the 17": lambda raw: _stop(raw).update(seq=10**17),
    "a stop before the year 1": lambda raw: _stop(raw).update(arrive_min=-1e15),
    "a stop at half past never": lambda raw: _stop(raw).update(arrive_min=1e300),
    "an order that is not there": lambda raw: _order(raw).update(order_id="Z"),
    "a place beyond the pole": lambda raw: _stop(raw).update(lat=1e9),
    "a kind that is none": lambda raw: _stop(raw).update(kind="party"),
    "a number as a text": lambda raw: _stop(raw).update(lat="40"),
    "a truth as a number": lambda raw: _stop(raw).update(seq=True),
    "an added field": lambda raw: raw.update(extra=1),
    "the year 1": lambda raw: raw.update(date="0001-01-01"),
    "the year 9999": lambda raw: raw.update(date="9999-12-31"),
    "a day that is none": lambda raw: raw.update(date="2027-02-30"),
    "a day of 5,000 digits": lambda raw: raw.update(date=DIGITS),
    "a version that is none": lambda raw: raw.update(version=-1),
    "a seed that is no number": lambda raw: raw.update(seed="x"),
    "an order twice in a visit": lambda raw: _stop(raw)["orders"].append(_order(raw)),
    "gallons below nothing": lambda raw: _order(raw).update(gal=-1e300),
    "no compartments": lambda raw: _order(raw).update(compartments=[]),
    "loading of nothing": lambda raw: raw["trucks"][0].update(loading=[]),
    "loading of a number": lambda raw: raw["trucks"][0].update(loading=7),
    "totals of nothing": lambda raw: raw.update(totals={}),
    "no date": lambda raw: raw.pop("date"),
    "a text of 1 MB": lambda raw: _order(raw).update(order_id="x" * 1_000_000),
}


def cases() -> Iterator[Case]:
    """All of them."""
    readers = list(READERS)
    for turn, (how, harm) in enumerate(UNREADABLE.items()):
        reader = readers[turn % len(readers)]
        if how != "is a folder":
            spoil = partial(_harmed, harm)
            yield Case(
                f"{reader}: plan.json {how}", READERS[reader], spoil, REFUSED, ("plan.json",)
            )
    texts = {**TEXTS, **{f"with {how}": _of(change) for how, change in CHANGES.items()}}
    for turn, (how, change) in enumerate(texts.items()):
        for step in (0, 3):
            reader = readers[(turn + step) % len(readers)]
            fair = how in FAIR or reader == "plan --keep"
            codes = ANY if fair or reader.startswith("audit") else frozenset({1, 2, 4})
            yield Case(f"{reader}: plan.json {how}", READERS[reader], partial(_text, change), codes)
    yield from _sheets()


def _harmed(harm: Callable[[Path], object], home: Path) -> None:
    harm(home / "day" / "plan.json")


def _text(change: Callable[[str], str], home: Path) -> None:
    file = home / "day" / "plan.json"
    file.write_text(change(file.read_text()), encoding="utf-8", errors="surrogatepass")


ACTUAL_CELLS = {
    "gal": ("nan", "-5", "1e9", DIGITS),
    "area_ft2": ("inf", "-1", "½"),
    "wind_mph": ("inf", "-1", "999"),
    "temperature_f": ("nan", "-500", "4e5"),
    "start": ("25:00", "nan", DIGITS),
    "end": ("-1:00", "24:01"),
    "done": ("perhaps", "\x1b[2J"),
    "order": ("Z", "x" * 40_000),
    "stop": ("-1", "nan", DIGITS),
    "truck": ("T99", "\x07"),
    "plan": ("plan 0000000000", "nan"),
    "no_such_column": ("1",),
}
STOP_CELLS = {
    "truck": ("T99", "", "\x07"),
    "does": ("party", "", DIGITS),
    "what": ("Z", "", "x" * 40_000),
    "mix": ("Z", "\x1b[2J"),
    "pinned": ("perhaps", "nan"),
    "no_such_column": ("1",),
}


def _sheets() -> Iterator[Case]:
    for file, words, cells in (
        ("actuals.csv", ACTUALS, ACTUAL_CELLS),
        ("stop-order.csv", STOPS, STOP_CELLS),
    ):
        for how, harm in UNREADABLE.items():
            spoil = partial(_at, file, harm)
            codes = REFUSED | FINE if how == "is UTF-16 without a mark" else REFUSED
            yield Case(f"{file} {how}", words, spoil, codes, () if codes >= FINE else (file,))
        for how, change in LINES.items():
            spoil = partial(_line, file, change)
            yield Case(f"{file} with {how}", words, spoil, REFUSED | FINE | {4}, (file,))
        for column, odd in cells.items():
            for text in odd:
                shown = text if len(text) < 20 else f"{text[:3]}... of {len(text)} letters"
                spoil = partial(_cell, file, column, text)
                blank = text in ("", "\x07")
                codes = ANY if blank or column == "no_such_column" else REFUSED
                yield Case(f"{file}: {column} = {shown!r}", words, spoil, codes)


def _at(file: str, harm: Callable[[Path], object], home: Path) -> None:
    harm(home / "day" / file)


def _line(file: str, change: Callable[[str], str], home: Path) -> None:
    place = home / "day" / file
    place.write_text(change(place.read_text(encoding="utf-8-sig")))


def _cell(file: str, column: str, text: str, home: Path) -> None:
    # Rows of an order, not of a loading.
    put_cell(home / "day" / file, column, text, row=3 if file == "actuals.csv" else 4)
