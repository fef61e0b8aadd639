"""Comparisons of fleets that the owner starts, watches and stops: `planner compare`, whose plans
are kept one by one, so that stopping loses none."""

from __future__ import annotations

import contextlib
import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Final

from planner.compare.files import VERDICT_FILE
from planner.office.changes import Refused
from planner.office.runs import CommandRun, Run
from planner.tables.fleet_folder import FLEET_TABLES

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
            "Stopped. What is planned is kept: start it again under this name to go on."
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
