"""No longer than that: waiting for another computer (a socket's own time-out begins anew with every
byte that trickles in), and a process whose starter is gone."""

import functools
import os
import queue
import signal
import threading
import time
from collections.abc import Callable
from typing import Final, TypeVar

Answer = TypeVar("Answer")

WITH_PARENT: Final = "PLANNER_ENDS_WITH_PARENT"
"""Set, a command ends as by Ctrl-C once its stdin ends: when its starter is gone, however."""
LAST_S: Final = 30.0
"""For keeping what it has."""
LOOK_S: Final = 0.5
INTERRUPTED: Final = 130


def end_with_parent(last_s: float = LAST_S) -> None:
    """From now on this process is interrupted when its stdin ends, and ends last_s later; with no
    time to last it is not interrupted, for then it would be chance which of the two ends it."""
    main = threading.main_thread().ident
    assert main is not None

    def watch() -> None:
        while os.read(0, 1024):
            pass
        if last_s == 0:
            os._exit(INTERRUPTED)
        if hasattr(signal, "pthread_kill"):
            signal.pthread_kill(main, signal.SIGINT)  # Wakes what waits, too.
        else:  # pragma: no cover
            signal.raise_signal(signal.SIGINT)
        time.sleep(last_s)
        os._exit(INTERRUPTED)

    threading.Thread(target=watch, daemon=True).start()


@functools.cache
def end_with(parent: int) -> None:
    """From now on this process, which `parent` (its number) started, ends soon after it. Where the
    system does not say that a parent is gone, or another one started it, nothing changes."""

    def watch() -> None:
        while os.getppid() == parent:
            time.sleep(LOOK_S)
        os._exit(INTERRUPTED)

    if os.getppid() == parent:
        threading.Thread(target=watch, daemon=True).start()


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
