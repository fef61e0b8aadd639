"""Programs that tests start and interrupt."""

from __future__ import annotations

import signal
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def hearing_ctrl_c() -> Iterator[None]:
    """What is started inside hears Ctrl-C as in a terminal. A shell tells what it starts in the
    background to ignore it, the tests may be part of that, and a program starts with what its
    parent ignores."""
    before = signal.signal(signal.SIGINT, signal.SIG_DFL)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)
