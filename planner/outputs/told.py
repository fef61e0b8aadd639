"""What is told about writing: where things lie, what was kept, and why something cannot be."""

import errno
from dataclasses import dataclass
from pathlib import Path

from planner.problems import PlannerError

NOT_WRITTEN = 5
"""Exit code."""


class OutputError(PlannerError):
    """Something cannot be written: one sentence with the cure. What was there is untouched."""


class OutputRefused(OutputError):
    """The place that was named is not one to write to."""


@dataclass(frozen=True)
class Written:
    """path: where it lies now, perhaps under a numbered name. told: what was kept or overwritten, a
    sentence each; empty when there was nothing of the kind."""

    path: Path
    told: tuple[str, ...] = ()


WHY = {
    errno.ENOSPC: ("the disk is full", "make room, or name a place on another disk"),
    errno.EDQUOT: ("your share of the disk is used up", "make room, or name another place"),
    errno.EFBIG: ("no file may be so large here", "name a place on another disk"),
    errno.ENAMETOOLONG: ("the name is too long", "name a shorter one"),
    errno.ELOOP: ("the link points to itself", "remove it, or name another place"),
    errno.ENOENT: ("its folder is not there", "make the folder first, or name another place"),
    errno.EEXIST: ("a part of its path is a file", "name another place"),
    errno.ENOTDIR: ("a part of its path is a file", "name another place"),
}
BARRED = (
    "it, or its folder, is read-only or in use by another program",
    "close it there and see that you may write to it, or name another place",
)


def failed(target: Path, error: OSError) -> OutputError:
    """The error of the system as a sentence with the cure."""
    why, cure = WHY.get(error.errno or 0, ("", ""))
    if not why and error.errno in (errno.EACCES, errno.EPERM, errno.EROFS, errno.EBUSY):
        why, cure = BARRED
    why, cure = why or error.strerror or str(error), cure or "name another place"
    return OutputError(f"{target} cannot be written: {why}. Cure: {cure}.")
