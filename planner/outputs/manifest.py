"""Checksums of what the planner wrote, in a small hidden file of the same folder.

It goes where the folder goes. Without it, or when it is damaged, nothing counts as the planner's.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import stat
import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import Final

MANIFEST: Final = ".planner-written.json"
MOST_BYTES: Final = 4_000_000
"""A larger one is not the planner's."""


def sha256_of(file: Path) -> str | None:
    """SHA-256 of a plain file; None for links, folders and what cannot be read."""
    try:
        if not stat.S_ISREG(file.lstat().st_mode):
            return None
        with file.open("rb") as opened:
            return hashlib.file_digest(opened, "sha256").hexdigest()
    except OSError:
        return None


def written_in(folder: Path) -> dict[str, str]:
    """Name -> SHA-256 as the planner wrote it."""
    file = folder / MANIFEST
    try:
        facts = file.lstat()
        if not stat.S_ISREG(facts.st_mode) or facts.st_size > MOST_BYTES:
            return {}
        files = json.loads(file.read_text(encoding="utf-8"))["files"]
        return {str(name): str(sha) for name, sha in files.items()}
    except (OSError, ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return {}


def folded(files: Mapping[str, str]) -> dict[str, str]:
    """By name without its case, which some file systems do not tell apart."""
    return {name.casefold(): sha for name, sha in files.items()}


def manifest_text(files: Mapping[str, str]) -> str:
    """files: name -> SHA-256."""
    note = "What the planner wrote here. Files that differ from it are never overwritten."
    return json.dumps({"about": note, "files": dict(sorted(files.items()))}, indent=1) + "\n"


def note_written(file: Path, sha: str) -> None:
    """Put one file into the manifest of its folder. When that fails, the file counts as typed next
    time, which loses nothing."""
    folder = file.parent
    known = {name: old for name, old in written_in(folder).items() if (folder / name).exists()}
    with contextlib.suppress(OSError):
        handle, name = tempfile.mkstemp(prefix=MANIFEST, dir=folder)
        aside = Path(name)
        try:
            with os.fdopen(handle, "w", encoding="utf-8") as opened:
                opened.write(manifest_text({**known, file.name: sha}))
            aside.chmod(0o644)
            aside.replace(folder / MANIFEST)
        finally:
            aside.unlink(missing_ok=True)
