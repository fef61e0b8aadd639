"""A command of the planner in a process of its own, started, watched and stopped from a page."""

from __future__ import annotations

import contextlib
import os
import re
import signal
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, replace
from typing import Final

from planner.deadline import WITH_PARENT
from planner.office.changes import Refused

PROGRESS: Final = "PLANNER_PROGRESS"
"""Set to 'lines', a command says its progress in lines instead of a bar."""


@dataclass(frozen=True)
class Run:
    """The run under way, or the last one. share: 0 to 1; text: how far it is, or how it ended;
    begun: in seconds since 1970."""

    name: str = ""
    running: bool = False
    share: float = 0.0
    text: str = ""
    done: bool = False
    begun: float = 0.0


class CommandRun:
    """One at a time. stopped: said of a run that was stopped; ending: the signal by which its
    command ends with what it has; good: exit codes of one that did what was asked."""

    def __init__(
        self,
        stopped: str,
        ending: signal.Signals = signal.SIGTERM,
        good: Collection[int] = (0,),
    ) -> None:
        self.state = Run()
        self.listeners: list[Callable[[Run], None]] = []
        self._stopped_text, self._ending, self._good = stopped, ending, good
        self._lock = threading.Lock()
        self._process: subprocess.Popen[str] | None = None
        self._follower: threading.Thread | None = None
        self._stopped = False

    def start(
        self, name: str, words: Sequence[str], ended: Callable[[str], None] = lambda _: None
    ) -> Run:
        """Run `planner` with these words. ended: is told what a good run printed. Raises
        Refused."""
        with self._lock:
            if self.state.running:
                raise Refused(f"{self.state.name} is under way; stop it first.")
            printed = tempfile.TemporaryFile("w+", encoding="utf-8")  # noqa: SIM115 - closed below
            self._process = subprocess.Popen(
                [sys.executable, "-m", "planner", *words],
                env=os.environ | {PROGRESS: "lines", WITH_PARENT: "1", "PYTHONIOENCODING": "utf-8"},
                stdin=subprocess.PIPE,
                stdout=printed,
                stderr=subprocess.PIPE,
                text=True,
                encoding="utf-8",
                errors="replace",
                start_new_session=True,
            )

            def follow(process: subprocess.Popen[str]) -> None:
                with printed:
                    said, code = self._heard(process)
                    good = code in self._good
                    if good:
                        printed.seek(0)
                        ended(printed.read())
                text = "finished" if good else "; ".join(said[-6:]) or f"ended with code {code}"
                text = self._stopped_text if self._stopped else text
                self._tell(replace(self.state, running=False, share=1.0, text=text, done=good))

            self._stopped = False
            self._tell(Run(name, True, 0.0, "reading the workbook", begun=time.time()))
            self._follower = threading.Thread(target=follow, args=(self._process,), daemon=True)
            self._follower.start()
        return self.state

    def stop(self) -> Run:
        """End it; what is made is kept."""
        with self._lock:
            if self._process is not None and self.state.running:
                self._stopped = True
                self._tell(replace(self.state, text="stopping"))
                if os.name == "posix":
                    with contextlib.suppress(ProcessLookupError):
                        os.killpg(self._process.pid, self._ending)
                else:  # pragma: no cover
                    self._process.terminate()
            return self.state

    def wait(self) -> None:
        """Wait until it has ended and was told."""
        if self._follower is not None:
            self._follower.join()

    def close(self) -> None:
        """End what is under way and wait for it."""
        self.stop()
        self.wait()

    def _heard(self, process: subprocess.Popen[str]) -> tuple[list[str], int]:
        assert process.stderr is not None
        said: list[str] = []
        for line in process.stderr:
            share, _, text = line.strip().partition(" ")
            if re.fullmatch(r"\d\.\d{3}", share):
                self._tell(replace(self.state, share=float(share), text=text))
            elif line.strip():
                said.append(line.strip())
        assert process.stdin is not None
        with process.stdin:
            return said, process.wait()

    def _tell(self, state: Run) -> None:
        self.state = state
        for tell in list(self.listeners):
            tell(state)
