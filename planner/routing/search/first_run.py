"""The search compiled by a process of its own, once on a machine, so that a stop need not wait for
it: compiling holds Python up and cannot be told to end."""

from __future__ import annotations

import os
import pickle
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import planner
from planner.routing.compiled import columns as c
from planner.routing.compiled.day_arrays import DayArrays
from planner.routing.compiled.machine_code import code_folder, is_first_run
from planner.routing.problem import StopToken
from planner.routing.search.parallel import Searcher

LOOK_S = 0.1
_COMMAND = "from planner.routing.search.first_run import compile_here; compile_here()"


class FirstRun:
    """Compiling, if nothing is compiled yet. day: any day; its arrays say the types."""

    def __init__(self, day: DayArrays) -> None:
        self._process: subprocess.Popen[bytes] | None = None
        if not is_first_run():
            return
        path = os.pathsep.join([str(Path(planner.__file__).parent.parent), *sys.path])
        try:
            self._process = subprocess.Popen(
                [sys.executable, "-c", _COMMAND],
                env=os.environ | {"NUMBA_CACHE_DIR": str(code_folder()), "PYTHONPATH": path},
                stdin=subprocess.PIPE,
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
                start_new_session=True,
            )
            assert self._process.stdin is not None
            with self._process.stdin as pipe:
                pickle.dump(day, pipe)
        except OSError:
            # It may not start programs, or the program ended: then it is compiled here.
            return

    @property
    def is_needed(self) -> bool:
        """Whether there is something to wait for."""
        return self._process is not None

    def done(self, stop: StopToken, tell: Callable[[], None]) -> bool:
        """Wait for it; False when the stop came first (and then it is given up)."""
        process = self._process
        while process is not None and process.poll() is None:
            if stop.is_set:
                process.kill()
                process.wait()
                return False
            tell()
            time.sleep(LOOK_S)
        return True


def compile_here() -> None:
    """Compile for the day on the standard input; its machine code is kept on disk."""
    day: DayArrays = pickle.load(sys.stdin.buffer)
    nothing: list[list[int]] = [[] for _ in day.truck]
    Searcher(day, 0).start_from(day.truck_at[:, c.FIRST_LOAD].tolist(), nothing)
