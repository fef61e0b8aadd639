"""The records store: one SQLite file, append-only, safe against a kill at any moment.

The only door to sqlite3. Each event carries a SHA-256 over itself and the event before it, and the
head counts them: a changed, lost or foreign row is found. Texts of plans stand beside the events
under their own SHA-256.

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
import json
import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any, Final

from planner.outputs.file import place_new, write_file
from planner.outputs.told import OutputError, Written
from planner.plain_files import without_collecting
from planner.problems import PlannerError
from planner.records.events import Event as Event
from planner.records.events import EventDraft as EventDraft
from planner.records.finite import no_numbers, without_no_numbers
from planner.records.parts import Body as Body
from planner.records.parts import Parts
from planner.records.schema import APPLICATION_ID, MIGRATIONS
from planner.records.sealed import packed, seal, unpacked
from planner.tables.columns import FORMER_NAMES

BUSY_SECONDS: Final = 30.0
"""How long a second office waits for the first one's transaction, which takes parts of a second."""

_COLUMNS = "seq, kind, day, subject, plan, recorded_at, recorded_by, body, previous, sha"


class StoreError(PlannerError):
    """A store that cannot be read or written, in words with the cure."""


class NotWritten(StoreError, OutputError):
    """The store, or what comes out of it, cannot be written."""


class Conflict(StoreError):
    """Somebody recorded the same thing first. subjects: of what."""

    def __init__(self, subjects: Sequence[str]) -> None:
        self.subjects = tuple(subjects)
        super().__init__(f"recorded by somebody else in the meantime: {', '.join(subjects)}")


class Store:
    """An open records store; a context manager. Every method raises StoreError."""

    def __init__(self, path: Path, *, create: bool = False) -> None:
        """Open the file and bring it to today's version. create: make it when it is missing."""
        if not path.exists():
            if not create:
                raise StoreError(f"{path}: there are no records yet")
            with _in_words(path):
                place_new(path, _new_store)
        self.path = path
        with _in_words(path):
            if path.is_file() and not path.stat().st_size:
                raise _damaged(path, "the file is empty")
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

    def append(
        self,
        drafts: Sequence[EventDraft],
        recorded_by: str,
        plan_texts: Mapping[str, str] | None = None,
    ) -> tuple[Event, ...]:
        """Add the events, all or none; when this returns they are on the disk. plan_texts: SHA-256
        -> text, kept with them.

        Raises Conflict when a subject has another last event than the draft knows.
        """
        for draft in drafts:
            for place in no_numbers(draft.body):
                raise StoreError(f"{draft.subject}: {place} is no number; nothing was recorded")
        with _in_words(self.path), self._writing():
            self._check_head()
            foreign = [
                draft.subject for draft in drafts if self._last_seq(draft.subject) != draft.replaces
            ]
            if foreign:
                raise Conflict(foreign)
            seq, sha = self._db.execute("SELECT events, sha FROM head").fetchone()
            now = dt.datetime.now(dt.UTC).isoformat(timespec="seconds")
            events = []
            for draft in drafts:
                seq += 1
                text = json.dumps(draft.body, ensure_ascii=False, sort_keys=True, allow_nan=False)
                cells = (seq, draft.kind, draft.day, draft.subject, draft.plan, now, recorded_by)
                row = (*cells, text, sha)
                sha = seal(row)
                self._db.execute(f"INSERT INTO event ({_COLUMNS}) VALUES ({_MARKS})", (*row, sha))
                events.append(Event(*cells, draft.body, sha))
            self._db.execute("UPDATE head SET events = ?, sha = ?", (seq, sha))
            insert = "INSERT OR IGNORE INTO plan_text VALUES (?, ?)"
            for name, text in (plan_texts or {}).items():
                self._db.execute(insert, (name, packed(text)))
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
        parts = Parts.of((*only, *(FORMER_NAMES[name] for name in only if name in FORMER_NAMES)))
        where = "FROM event WHERE day >= ? AND day < ?"
        if kinds:
            where += f" AND kind IN ({', '.join('?' * len(kinds))})"
        with _in_words(self.path), without_collecting():
            self._check_head()
            values = (since, until, *kinds)
            query = f"SELECT {_COLUMNS}{{}} {where} ORDER BY seq"
            try:
                cut = (*parts.paths, *values)
                rows = self._db.execute(query.format(parts.columns), cut).fetchall()
                odd = any("NaN" in row[7] or "Infinity" in row[7] for row in rows)
            except sqlite3.OperationalError as error:
                # A body with NaN is no JSON to older SQLites.
                if "malformed JSON" not in str(error):
                    raise
                rows, odd = self._db.execute(query.format(""), values).fetchall(), True
            for row in rows:
                # The checksum is over the whole body, whatever of it is wanted.
                if seal(row[:9]) != row[9]:
                    raise _damaged(self.path, f"record {row[0]} does not match its checksum")
            if odd:
                bodies = [parts.cut(self._cured(row)) for row in rows]
            else:
                bodies = parts.bodies([row[10:] if parts.paths else (row[7],) for row in rows])
            return tuple(_event(row, body) for row, body in zip(rows, bodies, strict=True))

    def days_of(self, kind: str, until: str) -> Iterator[str]:
        """Days before `until` with an event of that kind, the latest first."""
        query = "SELECT DISTINCT day FROM event WHERE kind = ? AND day < ? ORDER BY day DESC"
        with _in_words(self.path):
            yield from [day for (day,) in self._db.execute(query, (kind, until))]

    def plan_text(self, sha256: str) -> str:
        """The text of a plan that was kept with an event."""
        with _in_words(self.path):
            query = "SELECT packed FROM plan_text WHERE sha256 = ?"
            found = self._db.execute(query, (sha256,)).fetchone()
        if found is None or (text := unpacked(sha256, found[0])) is None:
            raise _damaged(self.path, f"the text of plan {sha256[:10]} is missing or changed")
        return text

    def no_numbers(self) -> tuple[tuple[Event, tuple[str, ...]], ...]:
        """Records that hold, as the last word on their subject, what is no number (earlier planners
        let NaN in), each with the places in words and 'NaN' taken out of its body."""
        with _in_words(self.path):
            query = (
                f"SELECT {_COLUMNS} FROM event WHERE body LIKE '%NaN%' OR body LIKE '%Infinity%'"
            )
            found = []
            for row in self._db.execute(query).fetchall():
                places = tuple(no_numbers(body := json.loads(row[7])))
                if places and self._last_seq(row[3]) == row[0]:
                    found.append((_event(row, without_no_numbers(body)), places))
        return tuple(found)

    def count(self) -> int:
        """How many events there are."""
        with _in_words(self.path):
            return int(self._db.execute("SELECT count(*) FROM event").fetchone()[0])

    def damage(self) -> tuple[str, ...]:
        """Everything that is wrong in the file, in words; empty when it is whole."""
        try:
            found = [text for (text,) in self._db.execute("PRAGMA integrity_check") if text != "ok"]
            return (*found, *self._chain_damage(), *self._plan_damage())
        except (sqlite3.DatabaseError, UnicodeDecodeError) as error:
            return (f"the file cannot be read to its end: {error}",)

    def backup(self, target: Path, force: bool = False) -> tuple[int, Written]:
        """Write a consistent, verified copy while the store is in use; its events and where it
        is. The copy appears whole or not at all. force: overwrites a file that is no backup of
        ours, or was changed since."""
        if target.exists() and target.samefile(self.path):
            raise StoreError(f"{target} is the store itself; name another file")
        counts: list[int] = []

        def copy_to(aside: Path) -> None:
            copy = sqlite3.connect(aside)
            try:
                self._db.backup(copy)
            finally:
                copy.close()
            with Store(aside) as written:
                damage = written.damage()
                counts.append(written.count())
            if damage:
                raise StoreError(f"the copy is not whole: {damage[0]}")

        with _in_words(target):
            made = write_file(target, copy_to, force=force)
        return counts[-1], made

    def _prepare(self) -> None:
        self._db.execute("PRAGMA journal_mode = DELETE")
        self._db.execute("PRAGMA synchronous = EXTRA")
        version = self._version()
        if version == len(MIGRATIONS) and self._application() == APPLICATION_ID:
            return
        try:
            self._bring_up()
        except sqlite3.OperationalError as error:
            # What an older planner wrote can be read where nothing may be written.
            read_only = error.sqlite_errorname.startswith(_NOT_WRITABLE)
            if not (read_only and version and self._application() == APPLICATION_ID):
                raise

    def _bring_up(self) -> None:
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

    def _last_seq(self, subject: str) -> int | None:
        query = "SELECT max(seq) FROM event WHERE subject = ?"
        found: int | None = self._db.execute(query, (subject,)).fetchone()[0]
        return found

    def _cured(self, row: Sequence[Any]) -> Body:
        """A body; figures that are no number are cured only where a later record tells of it."""
        body: Body = json.loads(row[7])
        places = list(no_numbers(body))
        if places and self._last_seq(row[3]) == row[0]:
            raise StoreError(
                f"{self.path}: record {row[0]} ({row[3]}) holds what is no number "
                f"({', '.join(places)}); `planner record WORKBOOK --repair` adds a correction"
            )
        cured: Body = without_no_numbers(body)
        return cured

    def _check_head(self) -> None:
        """Records that are gone from the end leave the chain whole; the head counts them."""
        told, sha, count, last = self._db.execute(
            "SELECT events, sha, (SELECT count(*) FROM event), "
            "(SELECT sha FROM event ORDER BY seq DESC LIMIT 1) FROM head"
        ).fetchone() or (None, "", 0, "")
        if (told, sha) != (count, last or ""):
            raise _damaged(self.path, _head_words(told, count))

    def _chain_damage(self) -> Iterator[str]:
        sha, count = "", 0
        for row in self._db.execute(f"SELECT {_COLUMNS} FROM event ORDER BY seq"):
            count += 1
            if row[0] != count:
                yield f"record {count} is missing"
                count = row[0]
            elif row[-2] != sha:
                yield f"record {row[0]} does not follow the one before it"
            if seal(row[:-1]) != row[-1]:
                yield f"record {row[0]} does not match its checksum"
            sha = row[-1]
        head = self._db.execute("SELECT events, sha FROM head").fetchall()
        if head != [(count, sha)]:
            yield _head_words(head[0][0] if len(head) == 1 else None, count)

    def _plan_damage(self) -> Iterator[str]:
        if self._version() < 2:
            return
        for name, found in self._db.execute("SELECT sha256, packed FROM plan_text"):
            if unpacked(name, found) is None:
                yield f"the text of plan {name[:10]} does not match its checksum"


def _new_store(aside: Path) -> None:
    """Made aside, whole: a file of no bytes is one that was lost, and not one without records."""
    db = sqlite3.connect(aside)
    try:
        db.execute("VACUUM")
    finally:
        db.close()


_MARKS = ", ".join("?" * 10)
_NOT_WRITABLE = ("SQLITE_READONLY", "SQLITE_CANTOPEN", "SQLITE_PERM", "SQLITE_AUTH")


def _event(row: Sequence[Any], body: Body) -> Event:
    for name, former in FORMER_NAMES.items():
        if former in body:
            found = body.pop(former)
            body[name] = body.get(name) or found
    cells = (*row[:7], body, row[9])
    return Event(*cells)


def _head_words(told: int | None, count: int) -> str:
    number = "no" if told is None else told
    return f"the head tells of {number} records, {count} are there or the last is another"


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
            raise NotWritten(
                f"{path}: the disk is full or cannot be written ({error}); nothing was recorded. "
                "Make room and record again"
            ) from error
        if name.startswith(_NOT_WRITABLE):
            raise NotWritten(
                f"{path}: the file or its folder may not be written ({error}); nothing was recorded"
            ) from error
        raise _damaged(path, str(error)) from error
    except UnicodeDecodeError as error:  # Of a text in the file, or of SQLite's own words about it.
        raise _damaged(path, "a text in it is no text") from error
    except OSError as error:
        raise NotWritten(f"{path}: {error.strerror or error}; nothing was written") from error
