"""The day that is open in the office: every change on a revision, kept before it is answered."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Final

from planner.by_hand.codes import StopOrderError
from planner.office.changes import Change, Refused
from planner.office.day import Asked, DayState, DraftLine, TruckAnswer
from planner.office.journal import Journal, Step
from planner.office.lines import Lines
from planner.office.made import Made
from planner.office.ready import OfficeDay
from planner.plan.document import to_json

KEPT_PLANS: Final = 300
"""Plans of earlier steps that stay in memory; older ones are worked out again when asked for."""

LONGEST_NAME: Final = 60


class Stale(Exception):
    """The change was made on a revision that is no longer the one on the table."""


class OpenDay:
    """One day of one workbook, for any number of threads. Steps that the journal holds already are
    taken up.

    Raises JournalError.
    """

    def __init__(self, office_day: OfficeDay, journal: Journal, workbook: Path) -> None:
        self._day, self._journal, self.workbook = office_day, journal, workbook
        self._lock = threading.RLock()
        self._made: OrderedDict[int, Made] = OrderedDict()
        self._asked: dict[tuple[int, tuple[str, ...]], tuple[float, tuple[TruckAnswer, ...]]] = {}
        self._notes: list[str] = []
        self.listeners: list[Callable[[DayState], None]] = []
        steps = journal.steps()
        self._bodies = {step.revision: step.body for step in steps if step.body is not None}
        self._lines = Lines(steps)
        self._revision = steps[-1].revision if steps else -1
        self._open()
        self._state = self._state_of(None, self._lines.said[self._lines.line.now])

    @property
    def state(self) -> DayState:
        """The day as it is on the table."""
        return self._state

    def change(self, revision: int, change: Change) -> DayState:
        """Make a change; when this returns it is on the disk. Raises Stale, Refused,
        StopOrderError, JournalError; then nothing has changed."""
        with self._lock:
            if revision != self._revision:
                raise Stale
            before = self._now()
            step, made = self._step_of(change, before)
            self._journal.write(step)
            if step.body is not None and made is not None:
                self._bodies[step.revision] = step.body
                self._keep(step.revision, made)
            self._lines.follow(step)
            self._revision = step.revision
            self._state = self._state_of(before, step.said)
            state = self._state
        for tell in list(self.listeners):
            tell(state)
        return state

    def ask(self, revision: int, lifted: Sequence[str]) -> Asked:
        """Every truck's answer to orders that are lifted. Raises Stale, Refused."""
        with self._lock:
            if revision != self._revision:
                raise Stale
            names = tuple(dict.fromkeys(lifted))
            key = (self._lines.line.now, names)
            for name in names:
                if name not in self._day.day.orders:
                    raise Refused(f"Order {name} is not among those due on the day.")
            if not names:
                raise Refused("Nothing is lifted.")
            if key not in self._asked:
                if len(self._asked) >= KEPT_PLANS:
                    self._asked.clear()
                self._asked[key] = self._day.asker.ask(self._now(), names)
            out_change, trucks = self._asked[key]
            return Asked(revision, names, out_change, trucks)

    @property
    def secret(self) -> bytes:
        """What keys of this day are derived from."""
        return self._journal.secret

    def close(self) -> None:
        """Let the journal go."""
        self._journal.close()

    def _step_of(self, change: Change, before: Made) -> tuple[Step, Made | None]:
        kind, line, number = change.get("kind"), self._lines.line, self._revision + 1
        draft = self._lines.draft
        if kind in ("undo", "redo"):
            what = self._lines.undo if kind == "undo" else self._lines.redo
            if not what:
                raise Refused("There is nothing to undo." if kind == "undo" else "Nothing to redo.")
            self._plan_of(line.made[line.at + (1 if kind == "redo" else -1)])
            said = f"taken back: {what}" if kind == "undo" else f"done again: {what}"
            return Step(number, str(kind), draft, said, None), None
        if kind == "draft_save":
            name = _draft_name(change)
            if name in self._lines.lines:
                raise Refused(f"There is a draft '{name}' already; take another name.")
            return Step(number, "save", name, f"draft '{name}' begun", None), None
        if kind == "draft_open":
            name = _draft_name(change)
            if name not in self._lines.lines:
                raise Refused(f"There is no draft '{name}'.")
            self._plan_of(self._lines.lines[name].now)
            return Step(number, "load", name, f"draft '{name}' on the table", None), None
        made, said = self._day.change(change, before)
        return Step(number, "change", draft, said, made.body), made

    def _open(self) -> None:
        """Begin the journal, or take up what it holds."""
        day = self._day
        if self._revision >= 0:
            try:
                self._now()
                return
            except StopOrderError as error:
                self._notes.append(
                    "What was on the table can no longer be worked out with the tables as they are "
                    f"now ({error.problems[0].message}); the day begins with its plan again."
                )
        text = to_json(day.opened)
        made = day.as_opened(text)
        body = made.body | {"plan": text, "tables": day.opened.workbook_sha256}
        step = Step(self._revision + 1, "open", self._lines.draft, "opened", body)
        self._journal.write(step)
        self._bodies[step.revision] = body
        self._keep(step.revision, made)
        self._lines.follow(step)
        self._revision = step.revision

    def _now(self) -> Made:
        return self._plan_of(self._lines.line.now)

    def _plan_of(self, revision: int) -> Made:
        known = self._made.get(revision)
        if known is None:
            body = self._bodies[revision]
            text = body.get("plan")
            same_tables = body.get("tables") == self._day.day.workbook.sha256
            known = self._day.as_opened(text) if text and same_tables else self._day.from_body(body)
            self._keep(revision, known)
        self._made.move_to_end(revision)
        return known

    def _keep(self, revision: int, made: Made) -> None:
        self._made[revision] = made
        while len(self._made) > KEPT_PLANS:
            self._made.popitem(last=False)

    def _state_of(self, before: Made | None, said: str) -> DayState:
        now, lines = self._now(), self._lines
        return DayState(
            revision=self._revision,
            workbook=self.workbook.name,
            planned=self._day.planned(now),
            before=None if before is None else before.plan,
            opened=self._day.opened,
            said=said,
            trucks=self._day.trucks(now),
            day_violations=tuple(row for row in now.violations if row.truck_id is None),
            draft=lines.draft,
            drafts=tuple(self._draft_line(name) for name in lines.lines),
            undo=lines.undo,
            redo=lines.redo,
            notes=(*self._day.day.notes, *self._day.roads.notes, *self._notes),
            truck_of={
                work.order_id: truck.truck_id
                for truck in now.plan.trucks
                for stop in truck.stops
                for work in stop.orders
            },
        )

    def _draft_line(self, name: str) -> DraftLine:
        revision = self._lines.lines[name].now
        made = self._plan_of(revision)
        return DraftLine(
            name,
            revision,
            made.plan.totals.totals.cost,
            len(made.violations),
            len(made.plan.unserved),
        )


def _draft_name(change: Change) -> str:
    name = change.get("name")
    if not isinstance(name, str) or not name.strip() or len(name) > LONGEST_NAME:
        raise Refused(f"A draft needs a name of 1 to {LONGEST_NAME} letters.")
    return name.strip()
