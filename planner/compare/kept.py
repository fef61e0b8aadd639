"""Results of tasks kept on disk by their content, so that a day is planned once with a fleet."""

from __future__ import annotations

import contextlib
import hashlib
import importlib.metadata
import json
import os
import tempfile
import time
from dataclasses import replace
from pathlib import Path
from typing import Final, TypeVar

from planner.caches import own_folder
from planner.compare.model import DayResult
from planner.plain_json import read_json
from planner.plan.document import PlanFileError, plain, read_value
from planner.weeks.model import Calendar

Kept = TypeVar("Kept", DayResult, Calendar)

FORMAT: Final = "lawn spray day planner compared day 1"
FILES_KEPT: Final = 50_000
"""About 6 kB each; the oldest beyond these are thrown away."""
LEFT_BEHIND_S: Final = 86_400

NOT_PLANNING: Final = ("cli", "papers", "maps", "exports", "records", "compare")
"""Rooms whose code changes no plan; of the last, these files do:"""
PLANNING_FILES: Final = ("tasks.py", "results.py", "model.py", "days.py", "calendars.py")


def planning_version() -> str:
    """A fingerprint of all code that a result depends on, the solvers' versions included."""
    package = Path(__file__).resolve().parents[1]
    text = hashlib.sha256()
    for name in ("ortools", "numba", "numpy"):
        with contextlib.suppress(importlib.metadata.PackageNotFoundError):
            text.update(f"{name} {importlib.metadata.version(name)} ".encode())
    for source in sorted([*package.rglob("*.py"), *package.rglob("*.csv")]):
        parts = source.relative_to(package).parts
        if parts[0] in NOT_PLANNING and parts not in {("compare", file) for file in PLANNING_FILES}:
            continue
        text.update("/".join(parts).encode() + source.read_bytes())
    return text.hexdigest()


class KeptResults:
    """Results by key (see planner.compare.tasks.key_of), in the user's cache folder where nobody
    else can write to it. A file that is broken, foreign or of another format counts as not there;
    figures that its owner changed are believed."""

    def __init__(self, folder: Path | None = None) -> None:
        self.folder = folder or own_folder("compared")
        """None: nothing is kept."""

    def get(self, key: str, fleet: str) -> DayResult | None:
        """The result under a key, under the name that the fleet has now; None when there is
        none."""
        result = self._get(key, DayResult)
        return None if result is None else replace(result, fleet=fleet)

    def calendar(self, key: str) -> Calendar | None:
        """The calendar under a key; None when there is none."""
        return self._get(key, Calendar)

    def _get(self, key: str, kind: type[Kept]) -> Kept | None:
        if self.folder is None:
            return None
        try:
            raw = read_json(self._file(key).read_text(encoding="utf-8"))
            if not isinstance(raw, dict) or (raw.get("format"), raw.get("key")) != (FORMAT, key):
                return None
            result = read_value(kind, raw["result"], "result")
        except (OSError, ValueError, KeyError, PlanFileError):
            return None
        assert isinstance(result, kind)
        return result

    def put(self, key: str, result: Kept, engine: str) -> Kept:
        """Keep a result or a calendar, if the engine that was asked for made it; returns it as
        get() will give it. A disk that is full is no error."""
        content = plain(result)
        text = json.dumps({"format": FORMAT, "key": key, "result": content}, ensure_ascii=False)
        if self.folder is not None and result.engine == engine:
            with contextlib.suppress(OSError):
                self._write(self._file(key), text)
        # Through the same rounding as what is read back, so that a resumed comparison gives the
        # same bytes.
        read = read_value(type(result), json.loads(json.dumps(content)), "result")
        assert isinstance(read, type(result))
        return read

    def throw_away_oldest(self) -> None:
        """Keep the folder within FILES_KEPT."""
        ages, left_behind = [], []
        for file in self.folder.glob("*/*.*") if self.folder is not None else ():
            with contextlib.suppress(OSError):
                made = file.stat().st_mtime
                if file.suffix == ".json":
                    ages.append((made, file))
                elif time.time() - made > LEFT_BEHIND_S:  # By a run that was killed.
                    left_behind.append(file)
        too_old = [file for _, file in sorted(ages)[: max(0, len(ages) - FILES_KEPT)]]
        for file in too_old + left_behind:
            with contextlib.suppress(OSError):
                file.unlink()

    def _file(self, key: str) -> Path:
        assert self.folder is not None
        return self.folder / key[:2] / f"{key}.json"

    def _write(self, file: Path, text: str) -> None:
        file.parent.mkdir(parents=True, exist_ok=True)
        handle, aside = tempfile.mkstemp(suffix=".tmp", dir=file.parent)
        try:
            with os.fdopen(handle, "w", encoding="utf-8") as out:
                out.write(text)
            Path(aside).replace(file)
        finally:
            Path(aside).unlink(missing_ok=True)
