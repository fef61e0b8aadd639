"""Messages of a crew become records: the same as from the sheet, once each, whatever is missing is
told. The day is the hand-worked one of `tests/hand_plan.py`."""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import pytest

from planner.plan.document import to_json
from planner.records.current import TICKED, current
from planner.records.entries import Manner
from planner.records.events import Event, EventDraft
from planner.records.sealed import plan_checksum
from planner.records.ticks import Settled, Tick, TickError, read_tick, settled, tick_draft
from tests.hand_plan import hand_plan
from tests.records_cases import fill, left, office, record, spray

PLAN = hand_plan()
CHECKSUM = plan_checksum(to_json(PLAN))
WEATHER = {"wind_mph": 4.0, "wind_from": "SW", "temperature_f": 61.0}
O1 = {"done": True, "gal": 10.0, "start": 484.0, "end": 489.0}
O3 = {"done": True, "gal": 6.0, "start": 534.0, "end": 537.0}
O2 = {"done": True, "gal": 12.0, "start": 538.0, "end": 544.0}


def message(what: str, place: str, number: int, stop: int = 0, **cells: Any) -> dict[str, Any]:
    mixes = {"O1": "WEED", "O3": "WEED", "O2": "FEED", "1": "WEED", "2": "FEED"}
    return {
        "id": f"{number:016x}",
        "at": "2027-04-14T12:00:00Z",
        "plan": CHECKSUM,
        "truck": "T1",
        "what": what,
        "stop": stop,
        "order": place if what == "spray" else "",
        "compartment": "" if what == "spray" else place,
        "mix": mixes[place],
        "cells": cells,
    }


def whole_day() -> list[dict[str, Any]]:
    """Every tick of the day, a cell each."""
    rows: list[tuple[str, str, int, dict[str, Any]]] = [
        ("fill", "1", 0, {"gal": 15.0, "done": True}),
        ("spray", "O1", 1, WEATHER | O1),
        ("fill", "1", 2, {"gal": 6.0, "done": True}),
        ("fill", "2", 2, {"gal": 17.0, "done": True}),
        ("spray", "O3", 4, WEATHER | O3),
        ("spray", "O2", 4, WEATHER | O2),
        ("left", "1", 5, {"gal": 2.0}),
        ("left", "2", 5, {"gal": 2.0}),
    ]
    cells = [(*row[:3], name, value) for row in rows for name, value in row[3].items()]
    return [
        message(what, place, number, stop, **{name: value})
        for number, (what, place, stop, name, value) in enumerate(cells, start=1)
    ]


def kept(events: Sequence[Event], drafts: Sequence[EventDraft]) -> list[Event]:
    first = len(events) + 1
    return [
        *events,
        *(
            Event(seq, row.kind, row.day, row.subject, row.plan, "2027", "crew", row.body)
            for seq, row in enumerate(drafts, start=first)
        ),
    ]


def heard(
    events: Sequence[Event], messages: Sequence[dict[str, Any]], **more: Any
) -> tuple[list[Event], Settled]:
    """The day's events after these messages, as a server would keep them."""
    ticks = [tick_draft(read_tick(one), PLAN.date) for one in messages]
    book = more.get("book") or office()
    found = kept(events, ticks)
    state = settled(more.get("plan", PLAN), CHECKSUM, "T1", found, book, book)
    return kept(found, state.drafts), state


def bodies(events: Sequence[Event]) -> dict[str, object]:
    return {name: row.body for name, row in current(events).items() if row.kind != TICKED}


def from_the_sheet() -> dict[str, object]:
    rows = [
        fill("1", 0, 15.0),
        spray("O1", **WEATHER, **O1),
        fill("1", 2, 6.0),
        fill("2", 2, 17.0),
        spray("O3", **WEATHER, **O3),
        spray("O2", **WEATHER, **O2),
        left("1", 2.0),
        left("2", 2.0),
    ]
    found = record(rows, Manner())
    assert found.problems == ()
    return {row.subject: row.body for row in found.drafts}


def test_a_day_of_ticks_is_the_day_of_the_sheet() -> None:
    events, state = heard((), whole_day())
    assert state.lacking == ()
    assert bodies(events) == from_the_sheet()
    again, quiet = heard(events, ())
    assert (quiet.drafts, len(again)) == ((), len(events))


@pytest.mark.parametrize("seed", range(4))
def test_one_by_one_and_in_any_batches_it_is_the_same(seed: int) -> None:
    dice = random.Random(seed)
    messages, events = whole_day(), []
    while messages:
        many = dice.randint(1, 6)
        events, _ = heard(events, messages[:many])
        messages = messages[many:]
    assert bodies(events) == from_the_sheet()
    subjects = [row.subject for row in events]
    assert len(subjects) == len(set(subjects)), "something was recorded twice"


def test_what_is_missing_is_told_and_then_recorded() -> None:
    half = [
        message("fill", "1", 1, gal=15.0, done=True),
        message("spray", "O1", 2, 1, **O1),
        message("spray", "O1", 3, 1, wind_mph=4.0),
    ]
    events, state = heard((), half)
    assert {(one.key, one.column) for one in state.lacking} == {
        ("spray O1", "temperature_f"),
        ("spray O1", "wind_from"),
    }
    assert not any(" order O1" in name for name in bodies(events))
    rest = message("spray", "O1", 4, 1, temperature_f=61.0, wind_from="SW")
    events, state = heard(events, [rest])
    assert state.lacking == ()
    assert any(" order O1" in name for name in bodies(events))


def test_sprayed_before_the_fill_is_written_waits_for_it() -> None:
    events, state = heard((), [message("spray", "O1", 1, 1, **O1, **WEATHER)])
    (one,) = state.lacking
    assert not one.sure
    assert "held 0.0 gal. First write the fill of 1." in one.words
    events, state = heard(events, [message("fill", "1", 2, gal=15.0, done=True)])
    assert state.lacking == ()
    assert {"fill 0 1", "spray O1"} == set(state.recorded)


def test_wind_over_the_label_is_recorded_only_when_it_is_said_to_be_right() -> None:
    base = office()
    windy = {"three-way": replace(base.products["three-way"], wind_most_mph=10.0)}
    book = replace(base, products=base.products | windy)
    told = O1 | WEATHER | {"wind_mph": 14.0}
    first = [message("fill", "1", 1, gal=15.0, done=True), message("spray", "O1", 2, 1, **told)]
    events, state = heard((), first, book=book)
    assert [(one.column, one.sure) for one in state.lacking] == [("wind_mph", True)]
    sure = message("spray", "O1", 3, 1, sure=True, note="gust as I ended")
    events, state = heard(events, [sure], book=book)
    assert state.lacking == ()
    body = next(row.body for row in events if row.subject.endswith(" order O1"))
    assert (body["confirmed"], body["note"]) == (["REC-9"], "gust as I ended")


def test_written_otherwise_later_is_a_correction() -> None:
    events, _ = heard((), whole_day())
    count = len(events)
    events, state = heard(events, [message("spray", "O1", 99, 1, gal=10.5)])
    assert [row.kind for row in state.drafts] == ["corrected"]
    assert len(events) == count + 2
    body = events[-1].body
    assert (body["gal"], body["is"], body["why"]) == (
        10.5,
        "sprayed",
        "changed by the crew on the phone",
    )


def test_the_office_s_own_record_is_the_last_word() -> None:
    ticks = [message("spray", "O1", 1, 1, gal=9.0)]
    events, _ = heard((), ticks)
    rows = [fill("1", 0, 15.0), spray("O1", **WEATHER, **O1)]
    events = kept(events, record(rows, Manner(), events).drafts)
    events, state = heard(events, ())
    assert (state.drafts, state.lacking) == ((), ())
    assert state.cells["spray O1"]["gal"] == 10.0


def test_a_skip_needs_its_reason() -> None:
    events, state = heard((), [message("spray", "O1", 1, 1, done=False)])
    assert [one.column for one in state.lacking] == ["note"]
    events, state = heard(events, [message("spray", "O1", 2, 1, note="gate locked")])
    assert [row.kind for row in events if row.kind != TICKED] == ["planned", "skipped"]


def test_what_the_plan_no_longer_has_is_told_not_lost() -> None:
    _, state = heard((), [message("spray", "O1", 1, 1, **O1) | {"order": "O5"}])
    assert "no longer has this" in state.lacking[0].words
    other = message("fill", "1", 2, gal=15.0, done=True) | {"mix": "KILL"}
    _, state = heard((), [other])
    assert "not KILL" in state.lacking[0].words


def test_levels_at_the_end_wait_for_the_rest_of_the_day() -> None:
    events, state = heard((), [message("left", "1", 1, 5, gal=2.0)])
    assert [one.words for one in state.lacking] == ["It is recorded once everything before it is."]
    assert [row.kind for row in events] == [TICKED]


def test_a_level_at_the_glass_stands_in_the_note() -> None:
    events, _ = heard((), [message("fill", "1", 1, gal=15.0, level=15.5, done=True, note="ok")])
    assert events[-1].body["note"] == "ok; mark read 15.5 gal"


@pytest.mark.parametrize(
    "change",
    [
        {"id": "x"},
        {"id": 7},
        {"plan": "zz"},
        {"what": "paint"},
        {"stop": -1},
        {"stop": True},
        {"stop": "1"},
        {"truck": 5},
        {"cells": []},
        {"cells": {"seq": 1}},
        {"cells": {"truck": "T2"}},
        {"cells": {"gal": "many"}},
        {"cells": {"gal": True}},
        {"cells": {"gal": -1}},
        {"cells": {"gal": float("nan")}},
        {"cells": {"start": 1441}},
        {"cells": {"wind_from": "up"}},
        {"cells": {"sign": 1}},
        {"cells": {"note": "x" * 501}},
    ],
)
def test_a_message_that_is_none_is_refused(change: dict[str, Any]) -> None:
    good = message("spray", "O1", 1, 1, gal=10.0)
    assert isinstance(read_tick(good), Tick)
    with pytest.raises(TickError):
        read_tick(good | change)
    with pytest.raises(TickError):
        read_tick([good])
