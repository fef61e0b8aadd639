"""A process of its own that plans the rest of the day again, while changes go on.

It is started with the day, so that it is warm when it is asked: it has read its modules, its
machine code (or made it, once on a machine) and the day. The two talk by its standard input and
output; stopping takes the best so far.
"""

import contextlib
import os
import pickle
import signal
import subprocess
import sys
import threading
import time
import traceback
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any, Final

from planner.day.day import Day
from planner.office.changes import Refused
from planner.office.day import Offer, Searching
from planner.office.facts import Made
from planner.plan.keep import moves
from planner.plan.model import Plan
from planner.roads.travel import Travel

TELL_EVERY_S: Final = 0.25
ENDS_WITHIN_S: Final = 2.0
NICE: Final = 5
"""Steps down in the system's order of who works first."""


@dataclass(frozen=True)
class DayToSearch:
    """What the other process needs of a day. roads: description and warning."""

    day: Day
    travel_by_truck: Mapping[str, Travel]
    roads: tuple[str, str]
    opened: Plan


class RestOffers:
    """Better plans for the rest of the open day, found by the other process and offered. lock: the
    day's; work_out: a plan worked out once more before it is offered; told: what is searched, at
    every change. progress, better and ended are called from a thread of their own; ticket: of the
    call that they answer."""

    def __init__(
        self,
        lock: threading.RLock,
        work_out: Callable[[Made], Made],
        told: Callable[[Searching], None],
    ) -> None:
        self._lock, self._work_out, self._told = lock, work_out, told
        self.trouble: Callable[[str], None] = lambda _text: None
        self.searching = Searching()
        self._found: dict[int, Made] = {}
        self._base = -1
        self._base_made: Made | None = None
        self._ticket = 0
        self._searcher: RestSearcher | None = None

    def start(self, day: DayToSearch) -> None:
        """Start the process."""
        self._searcher = RestSearcher(day, self)

    def begin(self, revision: int, made: Made, effort: int) -> None:
        """Plan the rest again from the plan of a revision. Raises Refused."""
        if self._searcher is None:
            raise Refused("The process that plans is not there; start the page anew.")
        if self.searching.running:
            raise Refused("The rest is being planned already.")
        self._ticket += 1
        self._base, self._base_made = revision, made
        self._found.clear()
        self._searcher.begin(self._ticket, made, effort, self._ticket)
        self._is(Searching(True, 0.0, "getting ready; the first time can take a minute"))

    def stop(self) -> None:
        """End with the best so far."""
        with self._lock:
            if self._searcher is not None and self.searching.running:
                self._searcher.stop()
                self._is(replace(self.searching, text="stopping"))

    def take_day(self, day: DayToSearch) -> None:
        """Go on with other tables. What is still found on those before is no offer: it may name
        what is gone."""
        self._found.clear()
        self._base_made = None
        if self._searcher is not None:
            self._searcher.day(day)

    def taken(self, offer: object, revision: int) -> Made:
        """The plan of an offer. Raises Refused, also where the plan is of another revision."""
        taken = self._found.get(offer) if isinstance(offer, int) else None
        if taken is None:
            raise Refused("There is no such plan to take.")
        if self._base != revision:
            raise Refused("The plan has changed since; plan the rest again.")
        return taken

    def close(self) -> None:
        """End the process."""
        if self._searcher is not None:
            self._searcher.close()

    def progress(self, ticket: int, share: float, text: str) -> None:
        """How far it is."""
        with self._lock:
            if ticket == self._ticket and self.searching.running:
                # The page has a button for what the terminal does by Ctrl-C.
                text = text.partition("; Ctrl-C")[0]
                self._is(replace(self.searching, share=share, text=text))

    def better(self, ticket: int, plan: Plan) -> None:
        """A plan that beats all before."""
        with self._lock:
            base = self._base_made
            if ticket != self._ticket or base is None:
                return
            found = self._work_out(Made(plan, (), base.trucks_out))
            if found.violations:
                return
            number = len(self.searching.offers) + 1
            self._found[number] = found
            cost = found.plan.totals.totals.cost - base.plan.totals.totals.cost
            said = moves(base.plan, found.plan) or "every order stays on its truck"
            offer = Offer(number, self._base, found.plan, cost, said)
            self._is(replace(self.searching, offers=(*self.searching.offers, offer)))

    def ended(self, ticket: int, trouble: str) -> None:
        """It is over. trouble: a traceback, '' = none."""
        with self._lock:
            if ticket != self._ticket:
                return
            text = (
                "a better plan was found" if self.searching.offers else "nothing better was found"
            )
            if trouble:
                text = "planning has failed"
                self.trouble(trouble)
            self._is(replace(self.searching, running=False, share=1.0, text=text))

    def _is(self, searching: Searching) -> None:
        self.searching = searching
        self._told(searching)


class RestSearcher:
    """This side of the pipe."""

    def __init__(self, day: DayToSearch, told: RestOffers) -> None:
        self._told = told
        # A plain process, as Python's own for this would first run the program that started us.
        self._process = subprocess.Popen(
            [sys.executable, "-c", f"from {__name__} import work; work()"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
        )
        self._closing = False
        self._sending = threading.Lock()
        # It reads when it has imported all it needs; the page does not wait for that, what is
        # sent later does.
        self._sending.acquire()
        self._thread = threading.Thread(target=self._begin, args=(day,), daemon=True)
        self._thread.start()

    def day(self, day: DayToSearch) -> None:
        """Go on with other tables."""
        self._send("day", day)

    def begin(self, ticket: int, made: Made, effort: int, seed: int) -> None:
        """Plan the rest of that plan again. effort: a count as of `planner plan --effort`."""
        self._send("plan", ticket, made, effort, seed)

    def stop(self) -> None:
        """End with the best so far."""
        self._send("stop")

    def close(self) -> None:
        """End the process."""
        self._closing = True
        self._send("end")
        try:
            self._process.wait(ENDS_WITHIN_S)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait()

    def _send(self, *what: Any) -> None:
        with self._sending:
            self._write(what)

    def _write(self, what: tuple[Any, ...]) -> None:
        # A process that was ended from outside is told of by _listen.
        assert self._process.stdin is not None
        with contextlib.suppress(OSError, ValueError):
            pickle.dump(what, self._process.stdin)
            self._process.stdin.flush()

    def _begin(self, day: DayToSearch) -> None:
        try:
            self._write(("day", day))
        finally:
            self._sending.release()
        self._listen()

    def _listen(self) -> None:
        ticket = 0
        assert self._process.stdout is not None
        while True:
            try:
                kind, ticket, *what = pickle.load(self._process.stdout)
            except (EOFError, OSError, pickle.UnpicklingError):
                if not self._closing:
                    self._told.ended(
                        ticket, "the process that plans has ended; start the page anew"
                    )
                return
            getattr(self._told, kind)(ticket, *what)


def work() -> None:
    """The other side: the process's own work."""
    # Ctrl-C is for the server, which ends this process.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    from planner.changing import ReadyDay
    from planner.office.planning import Better, Rest
    from planner.routing.compiled.machine_code import can_compile, is_compiled
    from planner.routing.compiled.python_api import use_kept_machine_code
    from planner.routing.engines import engine_named
    from planner.routing.problem import Effort, SolveOptions, StopToken

    # The page answers first.
    with contextlib.suppress(AttributeError, OSError):
        os.nice(NICE)
    use_kept_machine_code()
    inlet = sys.stdin.buffer
    # What anybody prints must not stand among the answers.
    outlet = os.fdopen(os.dup(sys.stdout.fileno()), "wb")
    os.dup2(sys.stderr.fileno(), sys.stdout.fileno())

    def tell(*what: Any) -> None:
        pickle.dump(what, outlet)
        outlet.flush()

    # What is asked, and asked to stop, while something else is done is stopped with it.
    inbox: list[tuple[StopToken, tuple[Any, ...]]] = []
    tokens: list[StopToken] = []
    came = threading.Condition()

    def listen() -> None:
        while True:
            try:
                what = pickle.load(inlet)
            except (EOFError, OSError, pickle.UnpicklingError):  # The last: cut off amid a day.
                what = ("end",)
            with came:
                if what[0] in ("stop", "end", "plan"):
                    while tokens:
                        tokens.pop().set()
                if what[0] != "stop":
                    tokens.append(StopToken())
                    inbox.append((tokens[-1], what))
                    came.notify()
            if what[0] == "end":
                return

    threading.Thread(target=listen, daemon=True).start()
    ready: ReadyDay | None = None
    while True:
        with came:
            while not inbox:
                came.wait()
            token, (kind, *what) = inbox.pop(0)
        if kind == "end":
            return
        if kind == "day":
            one: DayToSearch = what[0]
            ready = ReadyDay(one.day, one.travel_by_truck, one.roads, one.opened)
            if can_compile() and not is_compiled() and one.day.orders:
                # The shortest search there is: it makes the machine code of them all.
                engine = engine_named("search")
                engine.solve(ready.problem(), SolveOptions(Effort(count=1), stop=token))
            continue
        assert ready is not None
        ticket, made, effort, seed = what
        told = 0.0

        def progress(share: float, text: str, ticket: int = ticket) -> None:
            nonlocal told
            if time.monotonic() - told >= TELL_EVERY_S:
                told = time.monotonic()
                tell("progress", ticket, share, text)

        def better(found: Better, ticket: int = ticket) -> None:
            tell("better", ticket, found.plan)

        trouble = ""
        try:
            Rest(ready, made, effort, progress, token, better).run(seed)
        except Exception:  # Told on the page and in the terminal; the next call may do better.
            trouble = traceback.format_exc()
        tell("ended", ticket, trouble)
