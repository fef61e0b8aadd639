"""The store's tables, version by version.

A file carries its version (SQLite's user_version); one that is older is brought up inside the
transaction that opens it, one that is newer is refused.
"""

from typing import Final

APPLICATION_ID: Final = 0x4C535250
"""Stands in the file's header and tells a records store from any other SQLite file."""

MIGRATIONS: Final[tuple[tuple[str, ...], ...]] = (
    (
        """
        CREATE TABLE event (
            seq INTEGER PRIMARY KEY,
            kind TEXT NOT NULL
                CHECK (kind IN ('planned', 'filled', 'sprayed', 'skipped', 'left', 'corrected')),
            day TEXT NOT NULL,
            subject TEXT NOT NULL,
            plan TEXT NOT NULL,
            recorded_at TEXT NOT NULL,
            recorded_by TEXT NOT NULL,
            body TEXT NOT NULL,
            previous TEXT NOT NULL,
            sha TEXT NOT NULL
        ) STRICT
        """,
        "CREATE INDEX event_by_subject ON event (subject, seq)",
        "CREATE INDEX event_by_day ON event (day, seq)",
        """
        CREATE TABLE head (
            one INTEGER PRIMARY KEY CHECK (one = 1),
            events INTEGER NOT NULL,
            sha TEXT NOT NULL
        ) STRICT
        """,
        "INSERT INTO head VALUES (1, 0, '')",
        """
        CREATE TRIGGER event_is_never_changed BEFORE UPDATE ON event
        BEGIN SELECT RAISE(ABORT, 'records are never changed'); END
        """,
        """
        CREATE TRIGGER event_is_never_erased BEFORE DELETE ON event
        BEGIN SELECT RAISE(ABORT, 'records are never erased'); END
        """,
    ),
    (
        # Kinds of events are no longer fixed in the file, or each new one would copy it again.
        """
        CREATE TABLE event_copy (
            seq INTEGER PRIMARY KEY,
            kind TEXT NOT NULL,
            day TEXT NOT NULL,
            subject TEXT NOT NULL,
            plan TEXT NOT NULL,
            recorded_at TEXT NOT NULL,
            recorded_by TEXT NOT NULL,
            body TEXT NOT NULL,
            previous TEXT NOT NULL,
            sha TEXT NOT NULL
        ) STRICT
        """,
        "INSERT INTO event_copy SELECT * FROM event",
        "DROP TABLE event",
        "ALTER TABLE event_copy RENAME TO event",
        "CREATE INDEX event_by_subject ON event (subject, seq)",
        "CREATE INDEX event_by_day ON event (day, seq)",
        "CREATE INDEX event_by_kind ON event (kind, day)",
        """
        CREATE TRIGGER event_is_never_changed BEFORE UPDATE ON event
        BEGIN SELECT RAISE(ABORT, 'records are never changed'); END
        """,
        """
        CREATE TRIGGER event_is_never_erased BEFORE DELETE ON event
        BEGIN SELECT RAISE(ABORT, 'records are never erased'); END
        """,
        """
        CREATE TABLE plan_text (sha256 TEXT PRIMARY KEY, packed BLOB NOT NULL) STRICT
        """,
        """
        CREATE TRIGGER plan_text_is_never_changed BEFORE UPDATE ON plan_text
        BEGIN SELECT RAISE(ABORT, 'records are never changed'); END
        """,
        """
        CREATE TRIGGER plan_text_is_never_erased BEFORE DELETE ON plan_text
        BEGIN SELECT RAISE(ABORT, 'records are never erased'); END
        """,
    ),
)
"""Statements that lead from version N to N + 1, at index N. Add at the end, never change one."""
