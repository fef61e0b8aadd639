"""A day on its crews' phones: the pages of its plan of record, what the crews write, what a
newer plan changes. What is answered as kept is in the records store. And what that changes for
one truck is told before the crew takes it."""

import threading
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date as Date
from pathlib import Path
from typing import Any, Final

from planner.chain import (
    PlannedDay,
    background_streets,
    checked_workbook,
    day_in,
    legs_of,
    open_day_roads,
    without_later,
)
from planner.day.clock import clock_text
from planner.day.day import Day, Workbook
from planner.papers.lookup import mix_name, place_text, works
from planner.phone.page import phone_pages
from planner.plan.document import from_json
from planner.plan.model import Plan, Stop, TruckPlan, Work
from planner.problems import WorkbookError
from planner.records.current import current
from planner.records.day_log import Step, truck_days
from planner.records.events import Event
from planner.records.outcome import logged_calls, store_path, with_records
from planner.records.plans import KeptPlan, plan_of_record, plans_of_record, text_of
from planner.records.sheet import FILL, LEFT
from planner.records.store import Conflict, Store
from planner.records.ticks import (
    Settled,
    Tick,
    TickError,
    read_tick,
    settled,
    step_key,
    tick_draft,
    ticks_in,
)

WORTH_TELLING_MIN = 5.0
"""Times move by minutes with every change; a crew is told of more (common practice, no source)."""


def change_words(before: TruckPlan | None, after: TruckPlan | None, day: Day) -> tuple[str, ...]:
    """One sentence a change: orders that came, went, or are done at another time, fills that are
    new, gone or of other gallons. None = nothing is planned for the truck."""
    old, new = _orders(before), _orders(after)
    words = [_gone(*old[name], day) for name in old if name not in new]
    for name, (stop, work) in new.items():
        if name not in old:
            words.append(f"New: {_named(stop, work, day)}, {clock_text(work.begin_min)}.")
            continue
        was = old[name][1].begin_min
        if abs(was - work.begin_min) >= WORTH_TELLING_MIN:
            times = f"{clock_text(was)} becomes {clock_text(work.begin_min)}"
            words.append(f"Other time: {_named(stop, work, day)}, {times}.")
    fills_before, fills_after = _fills(before), _fills(after)
    if fills_before != fills_after:
        words.append("Fills are other: look at the yard and the refills before you mix.")
    if [name for name in old if name in new] != [name for name in new if name in old]:
        words.append("The order of the stops is another.")
    return tuple(words) or ("Nothing on this truck but clock times by a few minutes.",)


def _orders(truck_plan: TruckPlan | None) -> dict[str, tuple[Stop, Work]]:
    if truck_plan is None:
        return {}
    return {work.order_id: (stop, work) for stop, work in works(truck_plan)}


def _fills(truck_plan: TruckPlan | None) -> list[tuple[str, str, str]]:
    return [
        (stop.place_id, fill.compartment_id, f"{fill.mix_id} {fill.gal:.1f}")
        for stop in (truck_plan.stops if truck_plan is not None else ())
        for fill in stop.fills
    ]


def _named(stop: Stop, work: Work, day: Day) -> str:
    place = place_text(day, stop.place_id)
    return f"{place.address or place.title} ({mix_name(day, work.mix_id)})"


def _gone(stop: Stop, work: Work, day: Day) -> str:
    return f"No longer on this truck: {_named(stop, work, day)}."


MOST_TICKS: Final = 500
"""Of one message; a truck's whole day has some three hundred."""


@dataclass
class _Opened:
    """A plan of record with everything that its pages and records need."""

    kept: KeptPlan
    tables: tuple[tuple[str, int, int], ...]
    planned: PlannedDay
    seen: Workbook
    table: Workbook
    calls: int
    pages: dict[str, str] = field(default_factory=dict)

    @property
    def plan(self) -> Plan:
        return self.planned.plan


@dataclass(frozen=True)
class Waiting:
    """One truck as the office sees it. heard: when its crew last wrote something, by the phone's
    clock (ISO), '' = not yet; recorded: of its rows; lacking: (which row, what it lacks) of what is
    written and no record yet."""

    truck_id: str
    title: str
    heard: str
    recorded: int
    rows: int
    lacking: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class SheetRow:
    """One row of the actuals sheet as it is known. cells: column -> value, of the records and of
    what the crew wrote; recorded: it is in the records; lacking: (column, words) of what keeps a
    row that the crew wrote from being recorded."""

    truck_id: str
    key: str
    title: str
    step: Step
    cells: Mapping[str, Any]
    recorded: bool
    lacking: tuple[tuple[str, str], ...]


class PhoneDay:
    """One date of a workbook. Safe to ask from several threads."""

    def __init__(self, workbook: Path, date: str, extract: Path | None = None) -> None:
        """date: ISO; extract: roads instead of those that planner.toml names."""
        self.workbook, self.date, self._extract = workbook, date, extract
        self._lock = threading.Lock()
        self._known: _Opened | None = None

    def trucks(self) -> tuple[str, ...]:
        """Trucks that the plan of record sends out; () without one. Raises as `planner record`."""
        with self._lock:
            now = self._now()
            plans = now.plan.trucks if now is not None else ()
            return tuple(row.truck_id for row in plans if row.stops)

    def page(self, truck_id: str, sent_to: str) -> str | None:
        """The truck's page, None when nothing is planned for it. sent_to: relative address that
        takes what the crew writes."""
        with self._lock:
            now = self._now()
            if now is None:
                return None
            if truck_id not in now.pages:
                planned = now.planned
                legs = legs_of(planned.plan, planned.roads)
                now.pages |= phone_pages(
                    planned.plan,
                    planned.day,
                    legs,
                    background_streets(planned, legs),
                    now.kept.checksum,
                    mark=now.kept.mark,
                    credit=planned.roads.roads.credit,
                    broken=now.kept.broken,
                    only=truck_id,
                    sent_to=sent_to,
                )
            return now.pages.get(truck_id)

    def exchange(self, truck_id: str, message: Mapping[str, Any]) -> dict[str, Any]:
        """Keep what a phone says and answer where everything stands. message: {plan, ticks} of
        phone/send.js; what of it is no tick is refused by its id, the rest is kept. Raises
        TickError for a message that is none, StoreError."""
        ticks = message.get("ticks")
        if not isinstance(ticks, list) or len(ticks) > MOST_TICKS:
            raise TickError(f"a message holds up to {MOST_TICKS} ticks")
        good, refused = _read(truck_id, ticks)
        with self._lock:
            now = self._now()
            state = self._kept(truck_id, good, now)
            told = message.get("plan")
            newer = now is not None and isinstance(told, str) and told != now.kept.checksum
            changes = self._changes(truck_id, str(told), now) if now is not None and newer else ()
        return {
            "kept": [tick.tick_id for tick in good],
            "refused": refused,
            "recorded": state.recorded,
            "missing": [vars(one) for one in state.lacking],
            "cells": state.cells,
            "plan": {
                "checksum": now.kept.checksum if now is not None else "",
                "mark": now.kept.mark if now is not None else "",
                "changes": changes,
            },
        }

    def waiting(self) -> tuple[Waiting, ...]:
        """What the office sees of each truck that goes out."""
        with self._lock:
            now = self._now()
            if now is None:
                return ()
            events = self._events()
            heard = {tick.truck: tick.at for _, tick in ticks_in(events).values()}
            days = truck_days(now.plan, now.kept.checksum, now.seen, now.table)
            found = []
            for truck in days:
                state = self._settled(now, truck.truck_id, events)
                titles = {step_key(step): self._title(step, now) for step in truck.steps}
                found.append(
                    Waiting(
                        truck.truck_id,
                        now.table.trucks[truck.truck_id].title,
                        heard.get(truck.truck_id, ""),
                        len(set(state.recorded) | set(state.cells) - _keys(state)),
                        len(truck.steps),
                        tuple((titles.get(row.key, row.key), row.words) for row in state.lacking),
                    )
                )
            return tuple(found)

    def sheet(self) -> tuple[SheetRow, ...]:
        """Every row of the plan of record by truck; () without one. Raises as `planner record`."""
        with self._lock:
            now = self._now()
            if now is None:
                return ()
            events = self._events()
            known, found = current(events), []
            for truck in truck_days(now.plan, now.kept.checksum, now.seen, now.table):
                state = self._settled(now, truck.truck_id, events)
                for step in truck.steps:
                    key = step_key(step)
                    lacking = tuple(
                        (row.column, row.words) for row in state.lacking if row.key == key
                    )
                    title, cells = self._title(step, now), state.cells.get(key, {})
                    is_recorded = step.subject in known
                    found.append(
                        SheetRow(truck.truck_id, key, title, step, cells, is_recorded, lacking)
                    )
            return tuple(found)

    def _title(self, step: Step, now: _Opened) -> str:
        if step.what == LEFT:
            return f"Level in {step.compartment_id}"
        if step.what == FILL:
            return f"Stop {step.stop}, fill of {step.compartment_id}"
        return f"Stop {step.stop}, {place_text(now.planned.day, step.place_id).title}"

    def _kept(self, truck_id: str, ticks: Sequence[Tick], now: _Opened | None) -> Settled:
        while True:
            events = self._events()
            known = ticks_in(events)
            fresh = {tick.tick_id: tick for tick in ticks if tick.tick_id not in known}
            drafts = [tick_draft(tick, self.date) for tick in fresh.values()]
            last = max((event.seq for event in events), default=0)
            told = [
                Event(
                    last + place,
                    draft.kind,
                    draft.day,
                    draft.subject,
                    draft.plan,
                    "",
                    "",
                    draft.body,
                )
                for place, draft in enumerate(drafts, start=1)
            ]
            state = Settled((), (), (), {})
            if now is not None:
                state = self._settled(now, truck_id, [*events, *told])
            if not drafts and not state.drafts:
                return state
            try:
                with Store(store_path(self.workbook), create=True) as store:
                    store.append([*drafts, *state.drafts], self._by(truck_id, now))
            except Conflict:
                # The office recorded the same meanwhile, or another server kept the same tick.
                continue
            return state

    def _settled(self, now: _Opened, truck_id: str, events: Sequence[Event]) -> Settled:
        return settled(now.plan, now.kept.checksum, truck_id, events, now.seen, now.table)

    def _events(self) -> tuple[Event, ...]:
        file = store_path(self.workbook)
        if not file.exists():
            return ()
        with Store(file) as store:
            return store.events(self.date, f"{self.date}~")

    def _by(self, truck_id: str, now: _Opened | None) -> str:
        truck = now.table.trucks.get(truck_id) if now is not None else None
        return f"{(truck.applicator if truck is not None else '') or truck_id}, phone"

    def _changes(self, truck_id: str, checksum: str, now: _Opened) -> tuple[str, ...]:
        day = plans_of_record(self.workbook, self.date, f"{self.date}~").get(self.date)
        found = [
            plan for plan in (day.plans if day is not None else ()) if plan.checksum == checksum
        ]
        if not found:
            return ("The plan of this page is not known to the office any more.",)
        before = from_json(text_of(self.workbook, found[-1]))
        return change_words(_of(before, truck_id), _of(now.plan, truck_id), now.planned.day)

    def _now(self) -> _Opened | None:
        """The plan of record, opened once for each plan and state of the tables. While the tables
        cannot be read, the crews go on with what was read before."""
        kept = plan_of_record(self.workbook, self.date)
        if kept is None:
            return None
        tables, known = _stamps(self.workbook), self._known
        calls = len(logged_calls(self.workbook, self.date))
        now = (kept.seq, tables, calls)
        if known is None or (known.kept.seq, known.tables, known.calls) != now:
            try:
                self._known = self._open(kept, tables, calls)
            except WorkbookError:
                if known is None or known.kept.sha256 != kept.sha256:
                    raise
        return self._known

    def _open(
        self, kept: KeptPlan, tables: tuple[tuple[str, int, int], ...], calls: int
    ) -> _Opened:
        plan = from_json(text_of(self.workbook, kept))
        when = Date.fromisoformat(self.date)
        table = checked_workbook(self.workbook)
        # A truck that was taken out of service this morning is out all the same.
        table = replace(table, trucks={**table.trucks, **table.out_of_service})
        day = day_in(self.workbook, table, when, plan.taken_in, plan.skipped)
        day = without_later(day, plan.laid_later)
        roads = open_day_roads(self.workbook, day, self._extract)
        seen = with_records(self.workbook, table, when).workbook
        return _Opened(kept, tables, PlannedDay(plan, day, roads, ()), seen, table, calls)


def _keys(state: Settled) -> set[str]:
    return {row.key for row in state.lacking}


def _of(plan: Plan, truck_id: str) -> TruckPlan | None:
    return next((row for row in plan.trucks if row.truck_id == truck_id and row.stops), None)


def _read(truck_id: str, ticks: Sequence[Any]) -> tuple[list[Tick], list[dict[str, str]]]:
    good: list[Tick] = []
    refused = []
    for value in ticks:
        try:
            tick = read_tick(value)
            if tick.truck != truck_id:
                raise TickError("it is of another truck")
            good.append(tick)
        except TickError as error:
            name = value.get("id") if isinstance(value, dict) else None
            refused.append({"id": name if isinstance(name, str) else "", "words": str(error)})
    return good, refused


def _stamps(workbook: Path) -> tuple[tuple[str, int, int], ...]:
    """Names, times and sizes of the tables' files; records do not count."""
    if not workbook.is_dir():
        files = [workbook]
    else:
        files = [file for file in workbook.iterdir() if file.suffix in (".csv", ".xlsx", ".toml")]
    found = [(file.name, file.stat()) for file in sorted(files)]
    return tuple((name, stat.st_mtime_ns, stat.st_size) for name, stat in found)
