"""Drafts as lines of steps: where each stands, what undo and redo lead to."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Final

from planner.office.journal import JournalStep

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
