"""The day that is open in the office: every change on a revision, kept before it is answered."""

import threading
from collections import OrderedDict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Final

from planner.by_hand.sheet import StopOrderError
from planner.kept_home import kept_home
from planner.office.changes import Change, Refused
from planner.office.day import Asked, DayState, DraftLine, PrintState, Searching, TruckAnswer
from planner.office.facts import Made, same_stops
from planner.office.journal import Journal, JournalStep, Lines
from planner.office.publishing import Papers, Published
from planner.office.ready import OfficeDay
from planner.office.searcher import RestOffers
from planner.plan.document import from_json, to_json
from planner.plan.keep import difference, trucks_of
from planner.plan.model import Plan
from planner.plan.totals import orders_out

KEPT_PLANS: Final = 300
"""Plans of earlier steps that stay in memory; older ones are worked out again when asked for."""

LONGEST_NAME: Final = 60


class Stale(Exception):
    """The change was made on a revision that is no longer the one on the table."""


class SharedDay:
    """One day of one workbook, for any number of threads. Steps that the journal holds already are
    taken up.

    Raises JournalError.
    """

    def __init__(
        self,
        office_day: OfficeDay,
        journal: Journal,
        workbook: Path,
        papers: Papers | None = None,
        reopen: Callable[[], OfficeDay] | None = None,
        laid_later: Callable[[], frozenset[str]] = frozenset,
    ) -> None:
        """papers: None = nothing can be printed; reopen: the day with the tables as they are now,
        None = nothing is written into tables; laid_later: what the calendar has for later days by
        now, of a day that nobody has planned."""
        self._laid_later, self.later = laid_later, laid_later()
        self._papers, self._reopen, self._elsewhere = papers, reopen, False
        self._day, self._journal, self.workbook = office_day, journal, workbook
        self._lock = threading.RLock()
        self._made: OrderedDict[int, Made] = OrderedDict()
        self._asked: dict[tuple[int, tuple[str, ...]], tuple[float, tuple[TruckAnswer, ...]]] = {}
        self.on_search: list[Callable[[DayState], None]] = []
        self.offers = RestOffers(
            self._lock, lambda made: self._day.from_body(made.body), self._search_is
        )
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
            # What is found from here on is no offer: it begins with the plan as it was.
            self.stop_again()
            self._notes.clear()
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

    def start_searcher(self) -> None:
        """Start the process that plans the rest again."""
        self.offers.start(self._day.to_search)

    def plan_again(self, revision: int, effort: int) -> DayState:
        """Begin to plan the rest again from the plan on the table; what is found is offered in the
        state. Raises Stale, Refused."""
        with self._lock:
            if revision != self._revision:
                raise Stale
            self.offers.begin(self._revision, self._now(), effort)
            return self._state

    def stop_again(self) -> DayState:
        """End planning with the best so far."""
        self.offers.stop()
        return self._state

    def read_tables(self) -> None:
        """Go on with the tables as they are now. Raises Refused, WorkbookError, RoadError."""
        if self._reopen is None:
            raise Refused("The tables of this day cannot be read again.")
        with self._lock:
            self._day = self._reopen()
            self.later = self._laid_later()
            # Plans made on the tables before are worked out again when somebody goes back to them.
            self._made.clear()
            self._asked.clear()
            self.offers.take_day(self._day.to_search)

    @property
    def tables_sha256(self) -> str:
        """Fingerprint of the tables that the day is reckoned with."""
        return self._day.day.workbook.sha256

    @property
    def calendar_changed(self) -> bool:
        """Whether the calendar keeps other trucks at home than when the day was read or, where
        nothing is planned yet, has other orders for later days. Raises PlannerError."""
        day = self._day.day
        planned = any(truck.stops for truck in self._state.planned.plan.trucks)
        if not planned and self._laid_later() != self.later:
            return True
        known = {*day.workbook.trucks, *day.barred}
        return set(day.kept_home) != {*kept_home(self.workbook, day.date)} & known

    def take_tables(self) -> DayState:
        """Go on with the tables as they are now, and say so on every page. Raises Refused,
        WorkbookError, RoadError, StopOrderError; the day then stays with the tables as it has
        them."""
        with self._lock:
            kept = self._day
            try:
                self.read_tables()
                self._state_of(None, "")
                said = "the tables were read again"
                step = JournalStep(self._revision + 1, "tables", self._lines.draft, said, None)
                self._journal.write(step)
            except Exception:
                self._day = kept
                self._made.clear()
                raise
            self._revision = step.revision
            self._state = self._state_of(None, said)
            state = self._state
        for tell in list(self.listeners):
            tell(state)
        return state

    def files(self) -> Mapping[str, str]:
        """Every paper of the plan on the table, to be looked at. Raises Refused."""
        if self._papers is None:
            raise Refused("Nothing can be printed of this day.")
        with self._lock:
            return self._papers.files(self._state.planned)

    def publish(self, revision: int, with_violations: bool = False) -> Published:
        """Print: the plan on the table becomes the plan of record and its papers are written.
        Raises Stale, Refused, OutputError, StoreError."""
        from planner.day_files import NO_PAPERS

        if self._papers is None:
            raise Refused("Nothing can be printed of this day.")
        with self._lock:
            if revision != self._revision:
                raise Stale
            planned = self._state.planned
            broken = planned.violations
            if any(row.code.startswith(NO_PAPERS) for row in broken):
                raise Refused("No sheet can be made of this plan: it names what nobody knows.")
            if broken and not with_violations:
                words = f"The plan breaks rules ({broken[0].message})"
                raise Refused(f"{words}; print it all the same, and every sheet says so.")
            done = self._papers.publish(planned)
            self._elsewhere = False
            self._state = replace(self._state, printed=self._papers.state(planned.plan))
            state = self._state
        for tell in list(self.listeners):
            tell(state)
        return done

    def printed_elsewhere(self) -> str:
        """The mark of the plan of record where that was made outside this page since and is not
        what is on the table; '' = it was not. Raises StoreError."""
        if self._papers is None:
            return ""
        with self._lock:
            if self._papers.look():
                self._elsewhere = True
                printed = self._papers.state(self._state.planned.plan)
                self._state = replace(self._state, printed=printed)
            now = self._state.printed
            return now.mark if self._elsewhere and now.again else ""

    def draft_plan(self, name: str) -> Made:
        """The plan of a draft. Raises Refused."""
        with self._lock:
            if name not in self._lines.lines:
                raise Refused(f"There is no draft '{name}'.")
            return self._plan_of(self._lines.lines[name].now)

    def _new_order(self, change: Change) -> str:
        if self._reopen is None:
            raise Refused("Nothing can be written into the tables of this day.")
        from planner.office.new_order import write_order

        name = write_order(self.workbook, self._day.day.date, change)
        self.read_tables()
        return name

    def _order_row(self, redo: bool) -> str:
        """Take the row of a telephone order out of the table when its step is undone, and put it
        back when it is done again; why it is left as it is, in words."""
        line = self._lines.line
        step = line.made[line.at + 1 if redo else line.at]
        name, wanted = self._bodies[step].get("ordered", ("", {}))
        if not name or self._reopen is None:
            return ""
        from planner.office.new_order import take_order_out, write_order

        when = self._day.day.date
        for draft, other in self._lines.lines.items():
            # A draft that was begun with the order in it needs the row.
            if draft != self._lines.draft and step in other.made[: other.at + 1]:
                return "" if redo else f"its row stays in the orders table for the draft '{draft}'"
        if redo:
            if name not in self._day.day.workbook.orders:
                write_order(self.workbook, when, wanted, name)
        else:
            stays = take_order_out(self.workbook, when, wanted, name)
            if stays:
                return stays
        self.read_tables()
        return ""

    def close(self) -> None:
        """End the search and let the journal go."""
        self.offers.close()
        self._journal.close()

    def _search_is(self, searching: Searching) -> None:
        self._state = replace(self._state, searching=searching)
        for tell in list(self.on_search):
            tell(self._state)

    def _step_of(self, change: Change, before: Made) -> tuple[JournalStep, Made | None]:
        kind, line, number = change.get("kind"), self._lines.line, self._revision + 1
        draft = self._lines.draft
        if kind in ("undo", "redo"):
            what = self._lines.undo if kind == "undo" else self._lines.redo
            if not what:
                raise Refused("There is nothing to undo." if kind == "undo" else "Nothing to redo.")
            stays = self._order_row(kind == "redo")
            self._plan_of(line.made[line.at + (1 if kind == "redo" else -1)])
            said = f"taken back: {what}" if kind == "undo" else f"done again: {what}"
            said += f"; {stays}" if stays else ""
            return JournalStep(number, str(kind), draft, said, None), None
        if kind == "draft_save":
            name = _draft_name(change)
            if name in self._lines.lines:
                raise Refused(f"There is a draft '{name}' already; take another name.")
            return JournalStep(number, "save", name, f"draft '{name}' begun", None), None
        if kind == "draft_open":
            name = _draft_name(change)
            if name not in self._lines.lines:
                raise Refused(f"There is no draft '{name}'.")
            self._plan_of(self._lines.lines[name].now)
            return JournalStep(number, "load", name, f"draft '{name}' on the table", None), None
        if kind == "take":
            taken = self.offers.taken(change.get("offer"), self._revision)
            said = f"better plan taken ({difference(before.plan, taken.plan)})"
            return JournalStep(number, "change", draft, said, taken.body | {"taken": True}), taken
        if kind == "new_order":
            name = self._new_order(change)
            made = self._day.from_body(before.body)
            body = made.body | {"ordered": [name, dict(change)]}
            return JournalStep(number, "change", draft, f"order {name} taken", body), made
        made, said = self._day.change(change, before)
        return JournalStep(number, "change", draft, said, made.body), made

    def _open(self) -> None:
        """Begin the journal, or take up what it holds."""
        day = self._day
        text = to_json(day.opened)
        made = day.as_opened(text)
        body = made.body | {"plan": text, "tables": day.opened.workbook_sha256}
        if self._revision >= 0:
            known = any(same_stops(body, step) for step in self._bodies.values())
            try:
                self._now()
                if known or not any(truck.stops for truck in day.opened.trucks):
                    return
                self._notes.append(
                    "The day was opened with a plan that was made elsewhere since; Undo goes back "
                    "to what was on the table here."
                )
            except StopOrderError as error:
                self._notes.append(
                    "What was on the table can no longer be worked out with the tables as they are "
                    f"now ({error.problems[0].message}); the day begins with its plan again."
                )
        said = "a plan made elsewhere was opened" if self._notes else "opened"
        step = JournalStep(self._revision + 1, "open", self._lines.draft, said, body)
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
            as_it_was = (
                text is not None
                and body.get("tables") == self._day.day.workbook.sha256
                and from_json(text).laid_later == self._day.day.laid_later
            )
            known = self._day.as_opened(text) if text and as_it_was else self._day.from_body(body)
            self._keep(revision, known)
        self._made.move_to_end(revision)
        return known

    def _keep(self, revision: int, made: Made) -> None:
        self._made[revision] = made
        while len(self._made) > KEPT_PLANS:
            self._made.popitem(last=False)

    def _state_of(self, before: Made | None, said: str) -> DayState:
        now, lines = self._now(), self._lines
        planned = self._day.planned(now)
        return DayState(
            revision=self._revision,
            workbook=self.workbook.name,
            planned=planned,
            before=None if before is None else before.plan,
            opened=self._opened(),
            said=said,
            trucks=self._day.trucks(now),
            day_violations=tuple(row for row in now.violations if row.truck_id is None),
            draft=lines.draft,
            drafts=tuple(self._draft_line(name) for name in lines.lines),
            undo=lines.undo,
            redo=lines.redo,
            notes=tuple(self._notes),
            printed=PrintState() if self._papers is None else self._papers.state(now.plan),
            searching=self.offers.searching,
            truck_of=trucks_of(now.plan),
        )

    def _opened(self) -> Plan:
        """The plan that changes are told against: where nobody had planned the day when it was
        opened, the first plan that was taken here."""
        opened, line = self._day.opened, self._lines.line
        if any(truck.stops for truck in opened.trucks):
            return opened
        taken = (step for step in line.made[: line.at + 1] if self._bodies[step].get("taken"))
        first = next(taken, None)
        return opened if first is None else self._plan_of(first).plan

    def _draft_line(self, name: str) -> DraftLine:
        revision = self._lines.lines[name].now
        made = self._plan_of(revision)
        return DraftLine(
            name,
            revision,
            made.plan.totals.totals.cost,
            len(made.violations),
            orders_out(made.plan, self._day.day.orders),
        )


def _draft_name(change: Change) -> str:
    name = change.get("name")
    if not isinstance(name, str) or not name.strip() or len(name) > LONGEST_NAME:
        raise Refused(f"A draft needs a name of 1 to {LONGEST_NAME} letters.")
    return name.strip()
