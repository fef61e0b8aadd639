"""What a crew writes on the way, message by message, and how it becomes records exactly once.

Each message (a tick) is kept in the store under its own id before it is answered; sent again, it is
known. What the ticks of one row say together is the row as it would stand on the actuals sheet: it
goes through the same checks as the sheet does, and is recorded as soon as nothing is missing. Until
then it waits, and what it lacks is told.
"""

import math
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

from planner.day.day import Workbook
from planner.plan.model import Plan
from planner.problems import PlannerError, Problem
from planner.records.codes import CONFIRMABLE
from planner.records.current import TICKED, current
from planner.records.day_log import LoggedTruckDay, Step, replay, truck_days
from planner.records.entries import KEPT, Manner
from planner.records.events import Event, EventDraft
from planner.records.needed import BLANK, UNSAID
from planner.records.parts import Body
from planner.records.record import recording
from planner.records.sheet import COLUMNS, FILL, LEFT, SPRAY, Actual
from planner.tables.columns import Column

NOT_WRITTEN: Final = ("truck", "stop", "what", "order", "compartment", "plan")
"""Columns of the actuals sheet that say which row it is."""

BESIDE: Final = {
    "arrived": replace(COLUMNS["start"], column="arrived"),
    "level": replace(COLUMNS["gal"], column="level"),
}
"""What is written beside the sheet's columns: when the crew came, and the level at the glass."""

WRITABLE: Final[Mapping[str, Column]] = {
    name: column for name, column in COLUMNS.items() if name not in NOT_WRITTEN
} | BESIDE

MOST_TEXT: Final = 500
"""Letters of a cell."""

WHY: Final = "changed by the crew on the phone"
SHEET: Final = "phone"
"""Stands where a problem names the sheet."""

_ID = re.compile(r"[0-9a-f]{16,64}")
_PLAN = re.compile(r"[0-9a-f]{4,64}")
_UNIT = re.compile("_(mph|f|ft2|gal)$")
_MINUTES_A_DAY = 24 * 60


class TickError(PlannerError):
    """A message that is none, in words."""


@dataclass(frozen=True)
class Tick:
    """One message. tick_id: given by the phone; at: by the phone's clock (ISO); plan: checksum of
    the plan that it was written under; cells: column -> value, None = not written after all."""

    tick_id: str
    at: str
    plan: str
    truck: str
    what: str
    stop: int
    order: str
    compartment: str
    mix: str
    cells: Mapping[str, Any]

    @property
    def key(self) -> str:
        """Of the row that it is about, within its truck."""
        return row_key(self.what, self.stop, self.order, self.compartment)


@dataclass(frozen=True)
class Lacking:
    """What keeps a row from becoming a record. column: to write in, '' = none helps; sure: it can
    be confirmed with a note."""

    key: str
    column: str
    words: str
    sure: bool


@dataclass(frozen=True)
class Settled:
    """Where a truck's rows stand. drafts: records that can be appended now; lacking: of rows that
    wait; recorded: keys of rows whose last word is in the records; cells: of every row as it is
    known, by key."""

    drafts: tuple[EventDraft, ...]
    lacking: tuple[Lacking, ...]
    recorded: tuple[str, ...]
    cells: dict[str, dict[str, Any]]


def row_key(what: str, stop: int, order: str, compartment: str) -> str:
    """How pages and office name a row of the actuals sheet: the same in every plan that has it."""
    if what == SPRAY:
        return f"{SPRAY} {order}"
    return f"{FILL} {stop} {compartment}" if what == FILL else f"{LEFT} {compartment}"


def read_tick(value: Any) -> Tick:
    """A message out of JSON. Raises TickError."""
    if not isinstance(value, dict):
        raise TickError("a tick is an object")
    texts = {name: value.get(name, "") for name in ("at", "truck", "order", "compartment", "mix")}
    if not all(isinstance(text, str) and len(text) <= MOST_TEXT for text in texts.values()):
        raise TickError("a tick names its row in short texts")
    tick_id, plan = value.get("id"), value.get("plan")
    if not (isinstance(tick_id, str) and _ID.fullmatch(tick_id)):
        raise TickError("a tick carries an id of 16 to 64 hex digits")
    if not (isinstance(plan, str) and _PLAN.fullmatch(plan)):
        raise TickError("a tick names the plan that it was written under")
    what, stop, cells = value.get("what"), value.get("stop"), value.get("cells")
    if what not in (FILL, SPRAY, LEFT):
        raise TickError(f"'{what}' is none of {FILL}, {SPRAY}, {LEFT}")
    if not isinstance(stop, int) or isinstance(stop, bool) or not 0 <= stop < 1000:
        raise TickError("a tick names its stop by number")
    if not isinstance(cells, dict):
        raise TickError("a tick holds cells")
    found = {str(name): _cell(str(name), cell) for name, cell in cells.items()}
    return Tick(tick_id, plan=plan, what=what, stop=stop, cells=found, **texts)


def _cell(name: str, value: Any) -> Any:
    column = WRITABLE.get(name)
    if column is None:
        raise TickError(f"'{name}' is no column that a phone writes")
    if value is None:
        return None
    if column.kind == "yes_no":
        good = isinstance(value, bool)
    elif column.kind in ("number", "time"):
        good = isinstance(value, int | float) and not isinstance(value, bool)
        most = _MINUTES_A_DAY if column.most is None else column.most
        good = good and math.isfinite(value) and (column.least or 0.0) <= value <= most
    elif column.choices:
        good = value in column.choices
    else:
        good = isinstance(value, str) and len(value) <= MOST_TEXT
    if not good:
        raise TickError(f"{name}: {str(value)[:40]!r} cannot be")
    return float(value) if column.kind in ("number", "time") else value


def tick_draft(tick: Tick, day: str) -> EventDraft:
    """The message as the store keeps it."""
    body: Body = {name: value for name, value in vars(tick).items() if name != "tick_id"}
    body["cells"] = dict(tick.cells)
    return EventDraft(TICKED, day, f"{day} tick {tick.tick_id}", tick.plan, body)


def ticks_in(events: Iterable[Event]) -> dict[str, tuple[Event, Tick]]:
    """Id -> the messages among the day's events, in the order in which they came."""
    found = {}
    for event in events:
        if event.kind == TICKED:
            tick_id = event.subject.rpartition(" ")[2]
            found[tick_id] = (event, Tick(tick_id, **event.body))
    return found


def settled(
    plan: Plan,
    checksum: str,
    truck_id: str,
    events: Sequence[Event],
    seen: Workbook,
    table: Workbook,
) -> Settled:
    """Where the rows of one truck stand by the day's events, in which its ticks are. checksum: of
    the plan's text; seen, table: the workbook with the records of days before, and as written."""
    days = {row.truck_id: row for row in truck_days(plan, checksum, seen, table)}
    truck = days.get(truck_id)
    steps = {step_key(step): step for step in truck.steps} if truck is not None else {}
    walk = _TickWalk(plan, checksum, truck, steps, list(events), seen, table)
    for event, tick in ticks_in(events).values():
        if tick.truck == truck_id:
            walk.hear(event, tick)
    return walk.settle()


def step_key(step: Step) -> str:
    """The key of a planned step's row."""
    return row_key(step.what, step.stop, step.order_id, step.compartment_id)


class _TickWalk:
    def __init__(
        self,
        plan: Plan,
        checksum: str,
        truck: LoggedTruckDay | None,
        steps: Mapping[str, Step],
        events: list[Event],
        seen: Workbook,
        table: Workbook,
    ) -> None:
        self.plan, self.checksum, self.truck, self.steps = plan, checksum, truck, steps
        self.events, self.seen, self.table = events, seen, table
        self.cells: dict[str, dict[str, Any]] = {}
        self.last: dict[str, tuple[int, Tick]] = {}

    def hear(self, event: Event, tick: Tick) -> None:
        self.cells.setdefault(tick.key, {}).update(tick.cells)
        self.last[tick.key] = (event.seq, tick)

    def settle(self) -> Settled:
        drafts: list[EventDraft] = []
        lacking: dict[str, list[Lacking]] = {}
        recorded: list[str] = []
        waiting = list(self.last)
        # What is left is measured against everything else of the day: it comes last.
        waiting.sort(key=lambda key: self.last[key][1].what == LEFT)
        while True:
            before = len(waiting)
            for key in list(waiting):
                added, wrong = self._row(key)
                lacking[key] = wrong
                if not wrong:
                    drafts += added
                    recorded.append(key)
                    waiting.remove(key)
            # One record may be what another one waited for: a fill, for what was sprayed of it.
            if len(waiting) == before:
                break
        self._records_speak(recorded)
        found = tuple(one for key in waiting for one in lacking[key])
        return Settled(tuple(drafts), found, tuple(recorded), self.cells)

    def _row(self, key: str) -> tuple[list[EventDraft], list[Lacking]]:
        seq, tick = self.last[key]
        step = self.steps.get(key)
        if step is None or self.truck is None:
            words = "The plan of record no longer has this on this truck; tell the office."
            return [], [Lacking(key, "", words, False)]
        if tick.what != SPRAY and tick.mix and tick.mix != step.mix_id:
            words = f"The plan has {step.mix_id} in there, not {tick.mix}; tell the office."
            return [], [Lacking(key, "", words, False)]
        known = current(self.events)
        before = known.get(step.subject)
        if before is not None and before.seq > seq:
            return [], []
        if tick.what == LEFT and self._open(known):
            words = "It is recorded once everything before it is."
            return [], [Lacking(key, "", words, False)]
        row = _actual(tick, self.cells[key])
        found = recording(
            self.plan,
            self.checksum,
            [row],
            self.events,
            self.seen,
            self.table,
            Manner(correct=before is not None),
            WHY if before is not None else "",
        )
        if found.problems:
            fills = self._unwritten_fills(step, known)
            return [], [lacking_of(key, one, fills) for one in found.problems]
        for draft in found.drafts:
            number = max((event.seq for event in self.events), default=0) + 1
            cells = (draft.kind, draft.day, draft.subject, draft.plan)
            self.events.append(Event(number, *cells, "", "", draft.body))
        return list(found.drafts), []

    def _unwritten_fills(self, step: Step, known: Mapping[str, Event]) -> str:
        """Compartments with the step's mix whose fill before it nobody has written, in words."""
        names = [
            row.compartment_id
            for row in self.steps.values()
            if (row.what, row.mix_id) == (FILL, step.mix_id)
            and row.stop < step.stop
            and row.subject not in known
        ]
        return ", ".join(dict.fromkeys(names))

    def _open(self, known: Mapping[str, Event]) -> bool:
        assert self.truck is not None
        return bool(replay(self.truck, {name: row.body for name, row in known.items()}).still_open)

    def _records_speak(self, recorded: Sequence[str]) -> None:
        """Where the office recorded or corrected after the crew wrote, its word is the last."""
        known = current(self.events)
        for key, step in self.steps.items():
            event = known.get(step.subject)
            if event is None or (key in self.last and key not in recorded):
                continue
            told = {column: event.body.get(name) for column, name in KEPT.items()}
            cells = self.cells.setdefault(key, {})
            # A note may hold more than the crew wrote.
            cells.update({name: cell for name, cell in told.items() if name != "note" or not cell})
            cells.setdefault("note", told["note"])


def _actual(tick: Tick, cells: Mapping[str, Any]) -> Actual:
    told = {name: value for name, value in cells.items() if name not in BESIDE}
    texts = [name for name, column in WRITABLE.items() if column.kind == "text"]
    told |= {name: told.get(name) or "" for name in texts}
    level = cells.get("level")
    if level is not None:
        told["note"] = "; ".join(filter(None, (told["note"], f"mark read {level:g} gal")))
    stop = tick.stop if tick.what == FILL else None
    return Actual(SHEET, 1, tick.truck, tick.what, stop, tick.order, tick.compartment, **told)


def lacking_of(key: str, problem: Problem, unwritten_fills: str = "") -> Lacking:
    """A problem in words without options of the command. unwritten_fills: compartments, in words,
    whose fill is to be written first."""
    column, message = problem.column or "", problem.message
    if problem.code == "REC-3":
        # The cures of the sheet name options of the command.
        what = _UNIT.sub("", column).replace("_", " ")
        words = f"{message}."
        if message == BLANK:
            words = f"{what} not written."
        elif message == UNSAID:
            words = f"{what} not written: yes or no."
        return Lacking(key, column, f"{words[:1].upper()}{words[1:]}", False)
    words = f"{message[:1].upper()}{message[1:]}."
    if problem.code == "REC-6" and unwritten_fills:
        return Lacking(key, "", f"{words} First write the fill of {unwritten_fills}.", False)
    if problem.code in CONFIRMABLE:
        cure = "Correct it; if it is right, say so and write a note."
        return Lacking(key, column, f"{words} {cure}", True)
    if problem.found:
        words = f"{words[:-1]} (found '{problem.found}')."
    cure = f" {problem.cure[0].upper()}{problem.cure[1:].rstrip('.')}." if problem.cure else ""
    return Lacking(key, column, words + cure, False)
