"""How much an engine may still do, told by counts or by the clock, and whether it was told to
stop."""

from __future__ import annotations

import signal
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType

from planner.routing.problem import Effort, Progress

TELL_EVERY_S = 0.3
"""Progress is told at most this often (it never changes what is done)."""


class Spending:
    """Work left for one solve. stopped: a KeyboardInterrupt came; what stands is to be used."""

    def __init__(self, effort: Effort, progress: Progress) -> None:
        self.effort, self._progress = effort, progress
        self.stopped = False
        self._begun = time.monotonic()
        self._told = -TELL_EVERY_S

    def until(self, share: float) -> float | None:
        """Clock at which `share` of the effort is spent, None for an effort by count."""
        seconds = self.effort.seconds
        return None if seconds is None else self._begun + share * seconds

    def now(self) -> float:
        """The clock that until() speaks of."""
        return time.monotonic()

    def over(self, until: float | None) -> bool:
        """Whether to go on to the next thing now."""
        return self.stopped or (until is not None and time.monotonic() >= until)

    def tell(self, share: float, text: str) -> None:
        """Tell the progress; an interrupt raised by whoever listens stops the work."""
        now = time.monotonic()
        if now - self._told < TELL_EVERY_S:
            return
        self._told = now
        try:
            self._progress(min(1.0, share), text)
        except KeyboardInterrupt:
            self.stopped = True

    @contextmanager
    def interruptible(self) -> Iterator[None]:
        """Within, Ctrl-C sets `stopped` and raises nothing.

        An exception in the middle of OR-Tools' own code would be lost or worse. Python hands
        signals to the main thread only; elsewhere, and where signals are ignored, nothing changes.
        """
        if threading.current_thread() is not threading.main_thread() or signal.getsignal(
            signal.SIGINT
        ) in (signal.SIG_IGN, None):
            yield
            return

        def stop(signum: int, frame: FrameType | None) -> None:
            self.stopped = True

        before = signal.signal(signal.SIGINT, stop)
        try:
            yield
        finally:
            signal.signal(signal.SIGINT, before)
