"""Comparisons of fleets that the owner starts, watches and stops: `planner compare` in a process of
its own, whose plans are kept one by one, so that stopping loses none."""

from __future__ import annotations

import contextlib
import os
import re
import signal
import subprocess
import sys
import threading
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

from planner.office.changes import Refused
from planner.tables.fleet_folder import FLEET_TABLES

PREFIX: Final = "compared-"
"""Of the folders with results, beside what is printed."""
_NAME: Final = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,39}")
_SWEEP: Final = re.compile(r"(trucks|compartments|gallons)=[0-9.,%]{1,40}")
PROGRESS: Final = "PLANNER_PROGRESS"
"""Set to 'lines', a command says its progress in lines instead of a bar."""


@dataclass(frozen=True)
class Comparing:
    """The comparison under way, or the last one. share: 0 to 1; text: how far it is, or how it
    ended."""

    name: str = ""
    running: bool = False
    share: float = 0.0
    text: str = ""
    done: bool = False


class Comparisons:
    """Of one workbook; one at a time. folder: where results lie; extract: roads that go before
    those of planner.toml."""

    def __init__(self, workbook: Path, folder: Path, extract: Path | None = None) -> None:
        self.workbook, self.folder, self._extract = workbook, folder, extract
        self.state = Comparing()
        self.listeners: list[Callable[[Comparing], None]] = []
        self._lock = threading.Lock()
        self._process: subprocess.Popen[str] | None = None
        self._stopped = False

    def fleets(self) -> dict[str, Path]:
        """Name -> folder of fleets that lie in the workbook's folder or beside it."""
        beside = self.workbook.resolve().parent
        places = [self.workbook, self.workbook / "fleets", beside, beside / "fleets"]
        found: dict[str, Path] = {}
        for place in filter(Path.is_dir, places):
            for folder in sorted(place.iterdir()):
                tables = [(folder / f"{name}.csv").is_file() for name in FLEET_TABLES]
                if all(tables) and not (folder / "orders.csv").exists():
                    found.setdefault(folder.name, folder)
        return found

    def results(self) -> list[str]:
        """Names of comparisons that were finished, the latest first."""
        pages = self.folder.glob(f"{PREFIX}*/index.html")
        latest = sorted(pages, key=lambda page: page.stat().st_mtime, reverse=True)
        return [page.parent.name.removeprefix(PREFIX) for page in latest]

    def page(self, name: str) -> str | None:
        """The page of a comparison."""
        if name not in self.results():
            return None
        return (self.folder / f"{PREFIX}{name}" / "index.html").read_text(encoding="utf-8")

    def start(
        self, name: str, fleets: Sequence[str], sweeps: Sequence[str], days: Mapping[str, str]
    ) -> Comparing:
        """Begin. fleets: names of fleets(); days: 'from' and 'to', each a date or '' for all.
        Raises Refused."""
        known = self.fleets()
        unknown = [one for one in fleets if one not in known]
        wrong = [one for one in sweeps if not _SWEEP.fullmatch(one)]
        if not _NAME.fullmatch(name):
            raise Refused("A comparison needs a name of letters, digits and hyphens.")
        if unknown or wrong:
            raise Refused(f"{', '.join([*unknown, *wrong])}: there is no such fleet or sweep.")
        if not fleets and not sweeps:
            raise Refused("Choose a fleet, or say what of the present one is to vary.")
        words = ["compare", str(self.workbook), "--out", str(self.folder / f"{PREFIX}{name}")]
        for option, text in days.items():
            words += [f"--{option}", text] if text else []
        for fleet in fleets:
            words += ["--fleet", f"{fleet}={known[fleet]}"]
        for sweep in sweeps:
            words += ["--sweep", sweep]
        if self._extract is not None:
            words += ["--roads", str(self._extract)]
        with self._lock:
            if self.state.running:
                raise Refused("A comparison is under way; stop it first.")
            self._process = subprocess.Popen(
                [sys.executable, "-m", "planner", *words],
                env=os.environ | {PROGRESS: "lines"},
                stdin=subprocess.DEVNULL,
                stdout=subprocess.DEVNULL,
                stderr=subprocess.PIPE,
                text=True,
                start_new_session=True,
            )
            self._stopped = False
            self.state = Comparing(name, True, 0.0, "reading the workbook and the fleets")
            threading.Thread(target=self._follow, args=(self._process,), daemon=True).start()
        return self.state

    def stop(self) -> Comparing:
        """End it; plans that are made are kept."""
        with self._lock:
            if self._process is not None and self.state.running:
                self._stopped = True
                self._tell(replace(self.state, text="stopping"))
                # Not as Ctrl-C: where the page was started in the background, that is ignored.
                if os.name == "posix":
                    with contextlib.suppress(ProcessLookupError):
                        os.killpg(self._process.pid, signal.SIGTERM)
                else:  # pragma: no cover
                    self._process.terminate()
            return self.state

    def close(self) -> None:
        """End what is under way and wait for it."""
        self.stop()
        if self._process is not None:
            self._process.wait()

    def _follow(self, process: subprocess.Popen[str]) -> None:
        assert process.stderr is not None
        said: list[str] = []
        for line in process.stderr:
            share, _, text = line.strip().partition(" ")
            if re.fullmatch(r"\d\.\d{3}", share):
                self._tell(replace(self.state, share=float(share), text=text))
            elif line.strip():
                said.append(line.strip())
        code = process.wait()
        text = "finished" if code == 0 else "; ".join(said[-6:]) or f"ended with code {code}"
        if self._stopped:
            text = "Stopped. What is planned is kept: start it again under this name to go on."
        self._tell(replace(self.state, running=False, share=1.0, text=text, done=code == 0))

    def _tell(self, state: Comparing) -> None:
        self.state = state
        for tell in list(self.listeners):
            tell(state)
