"""Every step of the open day on disk before it is answered: one SQLite row a step.

A write-ahead log with synchronous = FULL: a step is on the disk when it is committed, six times
quicker than with a rollback journal. Such a log does not work on a shared drive
(https://www.sqlite.org/wal.html), so the file lies in a folder of this machine, never beside the
workbook. The file is locked while a day is open: two servers cannot both write to it.

Drafts are lines of steps: where each stands, what undo and redo lead to.
"""

import datetime as dt
import json
import secrets
import sqlite3
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

from planner.problems import PlannerError

APPLICATION_ID: Final = 0x4C534441
_TABLE: Final = """
    CREATE TABLE IF NOT EXISTS step (
        revision INTEGER PRIMARY KEY,
        at TEXT NOT NULL,
        does TEXT NOT NULL,
        draft TEXT NOT NULL,
        said TEXT NOT NULL,
        body TEXT
    ) STRICT
"""
_SECRET: Final = "CREATE TABLE IF NOT EXISTS secret (only BLOB NOT NULL) STRICT"


class JournalError(PlannerError):
    """A journal that cannot be opened or written, in words with the cure."""


@dataclass(frozen=True)
class JournalStep:
    """One row. does: open, change, undo, redo, save, load, or tables (they were read again); draft:
    on the table afterwards; body: what a plan is made from, None where the step makes no new one.
    """

    revision: int
    does: str
    draft: str
    said: str
    body: dict[str, Any] | None


class Journal:
    """The steps of one day. Every method raises JournalError."""

    def __init__(self, path: Path) -> None:
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            # Names of customers and the secret stand in it: for its owner only.
            path.touch(mode=0o600)
            self._db = sqlite3.connect(path, timeout=1.0, check_same_thread=False)
            self._db.execute("PRAGMA locking_mode = EXCLUSIVE")
            self._db.execute("PRAGMA journal_mode = WAL")
            self._db.execute("PRAGMA synchronous = FULL")
            with self._db:
                self._db.execute(f"PRAGMA application_id = {APPLICATION_ID}")
                self._db.execute(_TABLE)
                self._db.execute(_SECRET)
                if self._db.execute("SELECT 1 FROM secret").fetchone() is None:
                    self._db.execute("INSERT INTO secret VALUES (?)", (secrets.token_bytes(32),))
        except sqlite3.OperationalError as error:
            if "locked" in str(error):
                raise JournalError(
                    "this day of this workbook is already open in another `planner serve`; use its "
                    "page, or end it with Ctrl-C first"
                ) from error
            raise JournalError(f"{path}: the journal cannot be opened: {error}") from error
        except (OSError, sqlite3.DatabaseError) as error:
            raise JournalError(
                f"{path}: the journal cannot be opened: {error}; move the file away to begin anew"
            ) from error
        self.path = path

    def steps(self) -> list[JournalStep]:
        """All steps, in order."""
        rows = self._db.execute(
            "SELECT revision, does, draft, said, body FROM step ORDER BY revision"
        )
        return [
            JournalStep(revision, does, draft, said, None if body is None else json.loads(body))
            for revision, does, draft, said, body in rows
        ]

    @property
    def secret(self) -> bytes:
        """What keys are derived from: as long as the journal lasts, the same."""
        found: bytes = self._db.execute("SELECT only FROM secret").fetchone()[0]
        return found

    def write(self, step: JournalStep) -> None:
        """Commit a step; when this returns it is on the disk."""
        body = None if step.body is None else json.dumps(step.body, separators=(",", ":"))
        now = dt.datetime.now(dt.UTC).isoformat(timespec="seconds")
        try:
            with self._db:
                self._db.execute(
                    "INSERT INTO step VALUES (?, ?, ?, ?, ?, ?)",
                    (step.revision, now, step.does, step.draft, step.said, body),
                )
        except sqlite3.Error as error:
            raise JournalError(f"the change was not kept: {error}") from error

    def close(self) -> None:
        """Let the file go."""
        self._db.close()


FIRST_DRAFT: Final = "the plan"
"""Name of the draft that a day is opened with."""


@dataclass
class DraftHistory:
    """One draft. made: revisions whose step made a plan, in order; at: the one on the table."""

    made: list[int] = field(default_factory=list)
    at: int = -1

    @property
    def now(self) -> int:
        """The revision whose plan is on the table."""
        return self.made[self.at]

    def add(self, revision: int) -> None:
        """A new plan; what was undone before it is gone from this line."""
        self.made[self.at + 1 :] = [revision]
        self.at += 1


class Lines:
    """All drafts of a day, as the steps leave them."""

    def __init__(self, steps: Iterable[JournalStep] = ()) -> None:
        self.lines: dict[str, DraftHistory] = {}
        self.draft = FIRST_DRAFT
        self.said: dict[int, str] = {}
        for step in steps:
            self.follow(step)

    @property
    def line(self) -> DraftHistory:
        """The draft on the table."""
        return self.lines.setdefault(self.draft, DraftHistory())

    def follow(self, step: JournalStep) -> None:
        """What a step does to the drafts."""
        if step.does == "undo":
            self.line.at -= 1
        elif step.does == "redo":
            self.line.at += 1
        elif step.does == "save":
            self.lines[step.draft] = DraftHistory([*self.line.made], self.line.at)
            self.draft = step.draft
        elif step.does == "load":
            self.draft = step.draft
        elif step.does != "tables":
            self.said[step.revision] = step.said
            self.line.add(step.revision)

    @property
    def undo(self) -> str:
        """What undo would take back, in words; '' = nothing."""
        line = self.line
        return self.said[line.made[line.at]] if line.at > 0 else ""

    @property
    def redo(self) -> str:
        """What redo would do again."""
        line = self.line
        return self.said[line.made[line.at + 1]] if line.at + 1 < len(line.made) else ""
