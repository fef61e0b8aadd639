"""The records store: one SQLite file, append-only, safe against a kill at any moment.

The only door to sqlite3. Each event carries a SHA-256 over itself and the event before it, and the
head counts them: a changed, lost or foreign row is found.

* A rollback journal, not a write-ahead log: the workbook's folder is often a shared drive, where
  a write-ahead log does not work (its index lives in shared memory of one machine,
  https://www.sqlite.org/wal.html), and one file is all there is to copy. A day is one short
  transaction; nobody waits for another.
* synchronous = EXTRA, which is FULL and also syncs the folder after the journal is gone
  (https://www.sqlite.org/pragma.html#pragma_synchronous): what was acknowledged survives a power
  cut as far as the disk tells the truth.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import gc
import hashlib
import json
import os
import sqlite3
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from planner.problems import PlannerError
from planner.records.parts import Body as Body
from planner.records.parts import Parts
from planner.records.schema import APPLICATION_ID, MIGRATIONS

BUSY_SECONDS: Final = 30.0
"""How long a second office waits for the first one's transaction, which takes parts of a second."""

_COLUMNS = "seq, kind, day, subject, plan, recorded_at, recorded_by, body, previous, sha"


class StoreError(PlannerError):
    """A store that cannot be read or written, in words with the cure."""


class Conflict(StoreError):
    """Somebody recorded the same thing first. subjects: of what."""

    def __init__(self, subjects: Sequence[str]) -> None:
        self.subjects = tuple(subjects)
        super().__init__(f"recorded by somebody else in the meantime: {', '.join(subjects)}")


@dataclass(frozen=True)
class Draft:
    """An event to append. subject: what it tells of; replaces: the subject's last event that the
    writer knows (None = there is none); day: ISO date. plan: checksum of the plan."""

    kind: str
    day: str
    subject: str
    plan: str
    body: Body
    replaces: int | None = None


@dataclass(frozen=True)
class Event:
    """One thing that was recorded. seq: its number; recorded_at: UTC; sha: of it and all before."""

    seq: int
    kind: str
    day: str
    subject: str
    plan: str
    recorded_at: str
    recorded_by: str
    body: Body
    sha: str = ""


class Store:
    """An open records store; a context manager. Every method raises StoreError."""

    def __init__(self, path: Path, *, create: bool = False) -> None:
        """Open the file and bring it to today's version. create: make it when it is missing."""
        if not create and not path.exists():
            raise StoreError(f"{path}: there are no records yet")
        self.path = path
        with _in_words(path):
            self._db = sqlite3.connect(path, timeout=BUSY_SECONDS, isolation_level=None)
            try:
                self._prepare()
            except BaseException:
                self._db.close()
                raise

    def __enter__(self) -> Store:
        return self

    def __exit__(self, *_: object) -> None:
        self._db.close()

    def append(self, drafts: Sequence[Draft], recorded_by: str) -> tuple[Event, ...]:
        """Add the events, all or none; when this returns they are on the disk.

        Raises Conflict when a subject has another last event than the draft knows.
        """
        with _in_words(self.path), self._writing():
            foreign = [draft.subject for draft in drafts if not self._is_last(draft)]
            if foreign:
                raise Conflict(foreign)
            seq, sha = self._db.execute("SELECT events, sha FROM head").fetchone()
            now = dt.datetime.now(dt.UTC).isoformat(timespec="seconds")
            events = []
            for draft in drafts:
                seq += 1
                text = json.dumps(draft.body, ensure_ascii=False, sort_keys=True)
                cells = (seq, draft.kind, draft.day, draft.subject, draft.plan, now, recorded_by)
                row = (*cells, text, sha)
                sha = _sha(row)
                self._db.execute(f"INSERT INTO event ({_COLUMNS}) VALUES ({_MARKS})", (*row, sha))
                events.append(Event(*cells, draft.body, sha))
            self._db.execute("UPDATE head SET events = ?, sha = ?", (seq, sha))
        return tuple(events)

    def events(
        self,
        since: str = "",
        until: str = "9999",
        kinds: Sequence[str] = (),
        only: Sequence[str] = (),
    ) -> tuple[Event, ...]:
        """Events of the days since <= day < until (ISO dates), as they were recorded. kinds: only
        these, () = all. only: what is wanted of their bodies, () = everything; 'products.amount' is
        the amount in each entry of the list products; what a body does not have is None (a list:
        empty). A year of whole bodies takes twice as long to read."""
        parts = Parts.of(only)
        query = f"SELECT {_COLUMNS}{parts.columns} FROM event WHERE day >= ? AND day < ?"
        if kinds:
            query += f" AND kind IN ({', '.join('?' * len(kinds))})"
        with _in_words(self.path), without_collecting():
            values = (*parts.paths, since, until, *kinds)
            rows = self._db.execute(f"{query} ORDER BY seq", values).fetchall()
            return self._events(rows, parts)

    def days_of(self, kind: str, until: str) -> Iterator[str]:
        """Days before `until` with an event of that kind, the latest first."""
        query = "SELECT DISTINCT day FROM event WHERE kind = ? AND day < ? ORDER BY day DESC"
        with _in_words(self.path):
            yield from [day for (day,) in self._db.execute(query, (kind, until))]

    def damage(self) -> tuple[str, ...]:
        """Everything that is wrong in the file, in words; empty when it is whole."""
        try:
            found = [text for (text,) in self._db.execute("PRAGMA integrity_check") if text != "ok"]
            return (*found, *self._chain_damage())
        except sqlite3.DatabaseError as error:
            return (f"the file cannot be read to its end: {error}",)

    def backup(self, target: Path) -> int:
        """Write a consistent, verified copy while the store is in use; returns its events. The
        copy appears whole or not at all."""
        if target.resolve() == self.path.resolve():
            raise StoreError(f"{target} is the store itself; name another file")
        if target.exists() and not _is_store(target):
            raise StoreError(f"{target} is there and is no records store; name another file")
        with _in_words(target):
            handle, name = tempfile.mkstemp(prefix=f".{target.name}-", dir=target.parent)
            os.close(handle)
            aside = Path(name)
            try:
                copy = sqlite3.connect(aside)
                try:
                    self._db.backup(copy)
                finally:
                    copy.close()
                with Store(aside) as written:
                    damage = written.damage()
                    count = len(written.events())
                if damage:
                    raise StoreError(f"the copy is not whole: {damage[0]}")
                aside.chmod(0o644)
                _sync(aside)
                aside.replace(target)
                _sync(target.parent)
            finally:
                aside.unlink(missing_ok=True)
        return count

    def _prepare(self) -> None:
        self._db.execute("PRAGMA journal_mode = DELETE")
        self._db.execute("PRAGMA synchronous = EXTRA")
        version = self._version()
        if version == len(MIGRATIONS) and self._application() == APPLICATION_ID:
            return
        with self._writing():
            # Asked again inside: another office may have brought it up while we waited.
            version = self._version()
            empty = not self._db.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]
            if self._application() != APPLICATION_ID and not (version == 0 and empty):
                raise StoreError(f"{self.path} is no records store")
            if version > len(MIGRATIONS):
                raise StoreError(
                    f"{self.path} was written by a newer planner (version {version}, this one "
                    f"knows {len(MIGRATIONS)}); update the planner"
                )
            for step in MIGRATIONS[version:]:
                for statement in step:
                    self._db.execute(statement)
            self._db.execute(f"PRAGMA application_id = {APPLICATION_ID}")
            self._db.execute(f"PRAGMA user_version = {len(MIGRATIONS)}")

    def _version(self) -> int:
        return int(self._db.execute("PRAGMA user_version").fetchone()[0])

    def _application(self) -> int:
        return int(self._db.execute("PRAGMA application_id").fetchone()[0])

    @contextlib.contextmanager
    def _writing(self) -> Iterator[None]:
        # IMMEDIATE: who reads first and writes later would find the other office's lock half-way.
        self._db.execute("BEGIN IMMEDIATE")
        try:
            yield
            self._db.execute("COMMIT")
        except BaseException:
            # A full disk may have ended the transaction already.
            if self._db.in_transaction:
                self._db.execute("ROLLBACK")
            raise

    def _is_last(self, draft: Draft) -> bool:
        query = "SELECT max(seq) FROM event WHERE subject = ?"
        found = self._db.execute(query, (draft.subject,)).fetchone()[0]
        return bool(found == draft.replaces)

    def _events(self, rows: Sequence[tuple[Any, ...]], parts: Parts) -> tuple[Event, ...]:
        for row in rows:
            # The checksum is over the whole body, whatever of it is wanted.
            if _sha(row[:9]) != row[9]:
                raise _damaged(self.path, f"record {row[0]} does not match its checksum")
        bodies = parts.bodies([row[10:] if parts.paths else (row[7],) for row in rows])
        cells = [(*row[:7], body, row[9]) for row, body in zip(rows, bodies, strict=True)]
        return tuple(Event(*one) for one in cells)

    def _chain_damage(self) -> Iterator[str]:
        sha, count = "", 0
        for row in self._db.execute(f"SELECT {_COLUMNS} FROM event ORDER BY seq"):
            count += 1
            if row[0] != count:
                yield f"record {count} is missing"
                count = row[0]
            elif row[-2] != sha:
                yield f"record {row[0]} does not follow the one before it"
            if _sha(row[:-1]) != row[-1]:
                yield f"record {row[0]} does not match its checksum"
            sha = row[-1]
        head = self._db.execute("SELECT events, sha FROM head").fetchall()
        if head != [(count, sha)]:
            told = head[0][0] if len(head) == 1 else "no"
            yield f"the head tells of {told} records, {count} are there or the last is another"


_MARKS = ", ".join("?" * 10)


def _sha(row: Sequence[Any]) -> str:
    """Of everything but the sum itself; `previous` is the last of it. Each cell goes in with its
    length, so that no two rows give one text."""
    texts = [str(cell) for cell in row]
    lengths = ",".join([str(len(text)) for text in texts])
    return hashlib.sha256(f"{lengths}:{''.join(texts)}".encode()).hexdigest()


@contextlib.contextmanager
def without_collecting() -> Iterator[None]:
    """No search for garbage inside. A year's records are a million small values that all stay:
    looking for garbage among them again and again takes longer than reading them."""
    on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if on:
            gc.enable()


def _sync(path: Path) -> None:
    handle = os.open(path, os.O_RDONLY)
    try:
        # Folders cannot be synced everywhere (Windows, some shared drives); the copy is whole.
        with contextlib.suppress(OSError):
            os.fsync(handle)
    finally:
        os.close(handle)


def _is_store(path: Path) -> bool:
    """SQLite's application id stands at byte 68 (https://www.sqlite.org/fileformat2.html)."""
    with path.open("rb") as file:
        head = file.read(72)
    return len(head) == 72 and int.from_bytes(head[68:72], "big") == APPLICATION_ID


def _damaged(path: Path, why: str) -> StoreError:
    return StoreError(
        f"{path}: the records are damaged ({why}); nothing was written. Keep the file, and put "
        "your last backup (`planner record WORKBOOK --backup FILE` makes one) in its place"
    )


@contextlib.contextmanager
def _in_words(path: Path) -> Iterator[None]:
    """SQLite's errors as StoreError with a cure."""
    try:
        yield
    except sqlite3.Error as error:
        name = getattr(error, "sqlite_errorname", "")
        if name.startswith(("SQLITE_BUSY", "SQLITE_LOCKED")):
            raise StoreError(
                f"{path}: another program has been writing for {BUSY_SECONDS:g} seconds; nothing "
                "was recorded, try again"
            ) from error
        if name.startswith(("SQLITE_FULL", "SQLITE_IOERR")):
            raise StoreError(
                f"{path}: the disk is full or cannot be written ({error}); nothing was recorded. "
                "Make room and record again"
            ) from error
        if name.startswith(("SQLITE_READONLY", "SQLITE_CANTOPEN", "SQLITE_PERM", "SQLITE_AUTH")):
            raise StoreError(
                f"{path}: the file or its folder may not be written ({error}); nothing was recorded"
            ) from error
        raise _damaged(path, str(error)) from error
    except OSError as error:
        raise StoreError(f"{path}: {error.strerror or error}; nothing was written") from error
