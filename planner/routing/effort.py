"""How much an engine may still do, by count or clock, and whether it was told to stop."""

import signal
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType

from planner.routing.problem import SolveOptions, StopToken

TELL_EVERY_S = 0.3
"""Progress is told at most this often (it never changes what is done)."""


class Spending:
    """Work left for one solve."""

    def __init__(self, options: SolveOptions) -> None:
        self.effort, self.stop, self._progress = options.effort, options.stop, options.progress
        self._begun = time.monotonic()
        self._told = -TELL_EVERY_S
        self._last = (0.0, "")

    @property
    def stopped(self) -> bool:
        """Whether what stands is to be used."""
        return self.stop.is_set

    def until(self, share: float) -> float | None:
        """Clock at which `share` of the effort is spent at last, None for one by count alone."""
        seconds = self.effort.seconds
        return None if seconds is None else self._begun + share * seconds

    def begin_anew(self) -> None:
        """The seconds count from now on: machine code had to be made first."""
        self._begun = time.monotonic()

    @property
    def so_far(self) -> str:
        """' (1:05 so far)', in minutes and seconds."""
        minutes, seconds = divmod(int(time.monotonic() - self._begun), 60)
        return f" ({minutes}:{seconds:02d} so far)"

    def now(self) -> float:
        """The clock that until() speaks of."""
        return time.monotonic()

    def over(self, until: float | None) -> bool:
        """Whether to go on to the next thing now."""
        return self.stopped or (until is not None and time.monotonic() >= until)

    def tell(self, share: float, text: str) -> None:
        """Tell the progress."""
        self._last = share, text
        now = time.monotonic()
        if now - self._told >= TELL_EVERY_S:
            self._told = now
            self._progress(min(1.0, share), text)

    def tell_again(self) -> None:
        """Tell what was told last: it is still being done, and the clock beside it goes on."""
        self.tell(*self._last)


@contextmanager
def ctrl_c_sets(stop: StopToken) -> Iterator[None]:
    """Within, Ctrl-C sets the token; a second one is as everywhere else.

    An exception in the middle of OR-Tools' own code would be lost or worse. Python hands signals to
    the main thread only; elsewhere, and where signals are ignored, nothing changes.
    """
    before = signal.getsignal(signal.SIGINT)
    if threading.current_thread() is not threading.main_thread() or before in (
        signal.SIG_IGN,
        None,
    ):
        yield
        return

    def set_it(signum: int, frame: FrameType | None) -> None:
        stop.set()
        signal.signal(signal.SIGINT, before)

    signal.signal(signal.SIGINT, set_it)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)
