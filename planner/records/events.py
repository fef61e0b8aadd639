"""One thing that is recorded: as it is to be appended, and as the store has it."""

from dataclasses import dataclass

from planner.records.parts import Body


@dataclass(frozen=True)
class EventDraft:
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
