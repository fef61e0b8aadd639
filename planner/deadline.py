"""Waiting for another computer, and no longer than that: a socket's own time-out begins anew with
every byte that trickles in."""

from __future__ import annotations

import queue
import threading
from collections.abc import Callable
from typing import TypeVar

Answer = TypeVar("Answer")


def within(seconds: float, call: Callable[[], Answer]) -> Answer:
    """What the call gives or raises; TimeoutError when it takes longer. It then goes on by itself,
    and does not keep the program from ending."""
    answers: queue.SimpleQueue[tuple[Answer | None, BaseException | None]] = queue.SimpleQueue()

    def run() -> None:
        try:
            answers.put((call(), None))
        except BaseException as error:
            answers.put((None, error))

    threading.Thread(target=run, daemon=True).start()
    try:
        answer, error = answers.get(timeout=seconds)
    except queue.Empty:
        raise TimeoutError("the answer takes too long") from None
    if error is not None:
        raise error
    return answer  # type: ignore[return-value]
