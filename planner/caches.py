"""Where the planner keeps what takes long to make: graphs of roads, machine code, results of
compare, answers of an address service. All of it can be made anew.

Only a folder that nobody but its user can write to is read or written: what lies in the others may
be anybody's. On Windows the user's own folders are taken to be so.
"""

import os
import stat
from pathlib import Path

from planner.outputs.local_folder import CACHE_VARIABLE, cache_folder

OTHERS_WRITE, GROUP_WRITES = stat.S_IWOTH, stat.S_IWGRP


def own_folder(name: str) -> Path | None:
    """The folder of one cache, made if need be; None when there is none to be used (why_unused)."""
    folder = cache_folder() / name
    return None if _fault(folder) else folder


def why_unused() -> str:
    """A sentence with the cure when the user's cache cannot be used, else empty."""
    folder = cache_folder() / "roads"
    fault = _fault(folder)
    cure = f"Cure: `chmod go-w` there, or name a folder of your own in {CACHE_VARIABLE}."
    return f"The cache is not used, so all is made anew each time: {fault}. {cure}" if fault else ""


def others_who_write(folder: Path) -> str:
    """Who else can change what lies in a folder, in words; '' = nobody. Raises OSError."""
    if not hasattr(os, "getuid"):
        return ""
    me = os.getuid()
    for place in (folder, *folder.parents):
        facts = place.stat()
        if facts.st_uid not in (me, 0):
            return f"{place} belongs to another user"
        # Root and its files are everybody's lot; a folder such as /tmp lets nobody touch what is
        # another's; a group with the user's own number is his alone.
        shared = facts.st_mode & (OTHERS_WRITE | GROUP_WRITES)
        if facts.st_gid == me:
            shared &= ~GROUP_WRITES
        if shared and (place == folder or not facts.st_mode & stat.S_ISVTX):
            return f"others may write to {place}"
    return ""


def _fault(folder: Path) -> str:
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        return others_who_write(folder.resolve())
    except (OSError, RuntimeError) as error:
        return f"{folder}: {getattr(error, 'strerror', '') or error}"
