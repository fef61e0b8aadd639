"""Programs that tests start in a terminal and interrupt."""

from __future__ import annotations

import os
import pty
import signal
import subprocess
import sys
from collections.abc import Sequence


def interrupted(words: Sequence[str], at: str) -> tuple[int, str]:
    """Exit code of the planner and what a terminal showed, when Ctrl-C comes as soon as it shows
    `at`. As in a terminal, it goes to the whole group of processes.

    A shell tells what it starts in the background to ignore Ctrl-C, the tests may be part of that,
    and a program starts with what its parent ignores: so it is heard here again for a moment.
    """
    terminal, inside = pty.openpty()
    before = signal.signal(signal.SIGINT, signal.SIG_DFL)
    try:
        process = subprocess.Popen(
            [sys.executable, "-m", "planner", *words],
            stderr=inside,
            stdout=inside,
            start_new_session=True,
        )
    finally:
        signal.signal(signal.SIGINT, before)
    os.close(inside)
    shown, sent = "", False
    while True:
        try:
            data = os.read(terminal, 4096)
        except OSError:  # the other end is closed: the process is done
            break
        if not data:
            break
        shown += data.decode(errors="replace")
        if not sent and at in shown:
            sent = True
            os.killpg(process.pid, signal.SIGINT)
    os.close(terminal)
    assert sent, shown
    return process.wait(), shown
