"""A command of the planner in a process of its own, started, watched and stopped from a page; so
are comparisons, whose plans are kept one by one, so that stopping loses none."""

import contextlib
import os
import re
import signal
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

from planner.compare.files import VERDICT_FILE, asked_file
from planner.deadline import WITH_PARENT
from planner.office.changes import Refused
from planner.plain_files import read_json, text_of
from planner.tables.open_sheets import FLEET_TABLES

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


PREFIX: Final = "compared-"
"""Of the folders with results, beside what is printed."""
_NAME: Final = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,39}")
_SWEEP: Final = re.compile(r"(trucks|compartments|gallons)=[0-9.,%]{1,40}")


class Comparisons:
    """Of one workbook; one at a time. folder: where results lie; extract: roads that go before
    those of planner.toml."""

    def __init__(self, workbook: Path, folder: Path, extract: Path | None = None) -> None:
        self.workbook, self.folder, self._extract = workbook, folder, extract
        # Not stopped as by Ctrl-C: its helpers ignore that.
        self.run = CommandRun(
            "Stopped. If a plan was made by then, it is kept and stands below, to go on with."
        )

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

    def unfinished(self) -> list[str]:
        """Names of those that were stopped before their end, and can go on."""
        own = str(self.workbook.resolve())
        pattern = asked_file(self.folder / f"{PREFIX}*").name
        found = []
        for file in sorted(self.folder.glob(pattern)):
            name = file.name.removeprefix(f".{PREFIX}").removesuffix(pattern.rpartition("*")[2])
            with contextlib.suppress(OSError, ValueError):
                asked = read_json(text_of(file))
                if isinstance(asked, dict) and asked.get("workbook") == own:
                    found.append(name)
        return [name for name in found if not self.run.state.running or name != self.run.state.name]

    def go_on(self, name: str) -> Run:
        """Go on with one of them. Raises Refused."""
        if name not in self.unfinished():
            raise Refused(f"{name}: there is no comparison that was stopped.")
        out = self.folder / f"{PREFIX}{name}"
        return self.run.start(name, ["compare", str(self.workbook), "--out", str(out), "--resume"])

    def verdict(self, name: str) -> str:
        """The first line of what a finished comparison says; '' = none is there."""
        with contextlib.suppress(OSError, UnicodeError):
            text = (self.folder / f"{PREFIX}{name}" / VERDICT_FILE).read_text(encoding="utf-8")
            return text.partition("\n")[0]
        return ""

    def page(self, name: str) -> str | None:
        """The page of a comparison."""
        if name not in self.results():
            return None
        return (self.folder / f"{PREFIX}{name}" / "index.html").read_text(encoding="utf-8")

    def file(self, name: str, file: str) -> Path | None:
        """One of the files that a comparison's page links; None = there is no such one."""
        folder = self.folder / f"{PREFIX}{name}"
        found = {one.name: one for one in folder.glob("*.*")} if name in self.results() else {}
        return found.get(file)

    def start(
        self, name: str, fleets: Sequence[str], sweeps: Sequence[str], days: Mapping[str, str]
    ) -> Run:
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
        return self.run.start(name, words)
