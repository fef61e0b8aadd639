"""One file: whole or not at all, and never over what somebody typed. What the planner wrote has
its checksum in a small hidden file of the same folder.

It goes where the folder goes. Without it, or when it is damaged, nothing counts as the
planner's.
"""

import contextlib
import hashlib
import json
import os
import re
import secrets
import shutil
import stat
import tempfile
import time
from collections.abc import Callable, Mapping
from itertools import count
from pathlib import Path
from typing import Final

from planner.outputs.told import OutputError, OutputRefused, Written, failed

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


STALE_SECONDS: Final = 24 * 3600

Make = Callable[[Path], object]
"""Writes the file that it is given; an empty one is there."""


def write_file(
    target: Path, content: str | Make, *, force: bool = False, old_aside: str = ""
) -> Written:
    """Write a file that a person finds. One that differs from what the planner wrote there is
    kept: the new one goes beside it under a numbered name, or, with old_aside (a name to be
    numbered), the old one goes there. force: it is overwritten.

    Raises OutputError; what was there is then untouched.
    """
    try:
        real = target.resolve()
        # What stands behind a device like stdout may be a file, and is no place for one beside it.
        device = Path(os.devnull).parent in target.absolute().parents
        if device or (real.exists() and not real.is_file()):
            what = "a folder" if real.is_dir() else "no plain file"
            raise OutputRefused(f"{target} is {what}; name a file")
        aside = _made(real, content)
        try:
            return _placed(target, real, aside, force, old_aside)
        finally:
            aside.unlink(missing_ok=True)
    except OSError as error:
        raise failed(target, error) from error
    except RuntimeError as error:  # a link that points to itself, before Python 3.13
        raise OutputRefused(f"{target} is a link that points to itself; remove it") from error


def place_new(target: Path, make: Make) -> None:
    """Write a file whole, unless one of that name is there by then. Raises OSError."""
    aside = _made(target, make)
    try:
        _claim(aside, target)
    finally:
        aside.unlink(missing_ok=True)


def replace_file(
    target: Path, content: str | bytes | Make, last_look: Callable[[], None] = lambda: None
) -> None:
    """Write a file over whatever is there: one of the planner's own that nobody types in, or one
    that the caller was told to overwrite. Its folder is made. last_look: called when the new file
    is whole and before it takes its place; what it raises leaves everything as it was. Raises
    OutputError."""
    replace_files({target: content}, lambda _: last_look())


def replace_unchanged(
    target: Path, before: bytes | None, content: bytes, otherwise: Exception
) -> None:
    """replace_file where the file still holds `before`; else raises `otherwise`."""

    def last_look() -> None:
        if target.read_bytes() != before:
            raise otherwise

    replace_file(target, content, last_look)


def replace_files(
    files: Mapping[Path, str | bytes | Make | None], last_look: Callable[[Path], None]
) -> None:
    """replace_file for files that belong together: all are whole beside their places before the
    first takes its own, in this order, so that a full disk changes none. None: the file goes."""
    asides: dict[Path, Path] = {}
    target = Path()
    try:
        for target, content in files.items():
            target.parent.mkdir(parents=True, exist_ok=True)
            if content is not None:
                asides[target] = _made(target, content)
        for target in files:
            last_look(target)
            if target in asides:
                asides[target].replace(target)
            else:
                target.unlink(missing_ok=True)
    except OSError as error:
        raise failed(target, error) from error
    finally:
        for aside in asides.values():
            aside.unlink(missing_ok=True)


def sync_folder(folder: Path) -> None:
    """What was renamed in it survives a power cut, as far as the disk tells the truth. Folders
    cannot be synced everywhere (Windows, some shared drives)."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def is_open(file: Path) -> bool:
    """Whether an office program's lock file says that somebody has the file open."""
    name = file.name
    return any(
        os.path.lexists(file.with_name(lock))
        for lock in (f".~lock.{name}#", f"~${name}", f"~${name[2:]}")
    )


def _private(name: str, flags: int) -> int:
    return os.open(name, flags, 0o600)


def _made(target: Path, content: str | bytes | Make) -> Path:
    # The name is known before the file is there, so that no Ctrl-C leaves one behind.
    begin = f".{target.name[:40]}-"
    aside = target.with_name(f"{begin}{secrets.token_hex(4)}")
    try:
        _tidy(target.parent, re.compile(re.escape(begin) + "[0-9a-f]{8}"))
        with open(aside, "xb", opener=_private) as file:
            if isinstance(content, str | bytes):
                file.write(content.encode() if isinstance(content, str) else content)
            else:
                content(aside)
            file.flush()
            os.fsync(file.fileno())
        # It was private; the result is for everybody who may read its folder.
        mode = stat.S_IMODE(target.stat().st_mode) if target.exists() else 0o644
        aside.chmod(mode)
    except BaseException:
        aside.unlink(missing_ok=True)
        raise
    return aside


def _tidy(folder: Path, ours: re.Pattern[str]) -> None:
    """Remove what killed runs left half-written a day ago or earlier."""
    with contextlib.suppress(OSError):  # A folder may be written into and not be looked into.
        for entry in os.scandir(folder):
            left = ours.fullmatch(entry.name) and entry.is_file(follow_symlinks=False)
            if left and time.time() - entry.stat().st_mtime > STALE_SECONDS:
                Path(entry.path).unlink()


def _placed(target: Path, real: Path, aside: Path, force: bool, old_aside: str) -> Written:
    sha = sha256_of(aside) or ""
    told: list[str] = []
    place = real
    for number in count(1):
        if not os.path.lexists(place):
            if _claim(aside, place):
                break
            continue
        ours = _is_ours(place, sha)
        if ours or (force and place == real):
            if not ours:
                told = [f"{target} was overwritten, as asked."]
            aside.replace(place)
            break
        if old_aside:
            kept = _kept_copy(place, old_aside)
            told = [f"{target} was changed since the planner wrote it; it is kept as {kept.name}."]
            aside.replace(place)
            break
        place = real.with_name(f"{real.stem}-{number}{real.suffix}")
    if place != real:
        told = [
            f"{target} was not written by the planner, or was changed since, and is kept. The new "
            f"one is {place.name} (--force overwrites)."
        ]
    note_written(place, sha)
    sync_folder(place.parent)
    return Written(target if place == real else target.with_name(place.name), tuple(told))


def _is_ours(file: Path, new_sha: str) -> bool:
    """Whether nothing that somebody typed is lost with the file."""
    sha = sha256_of(file)
    if sha is None or is_open(file):
        return False
    return sha in (new_sha, folded(written_in(file.parent)).get(file.name.casefold()))


def _claim(aside: Path, place: Path) -> bool:
    """Give the file its name unless somebody took it meanwhile."""
    try:
        os.link(aside, place)
    except FileExistsError:
        return False
    except OSError:  # a disk without hard links
        if os.path.lexists(place):
            return False
        aside.rename(place)
    return True


def _kept_copy(file: Path, name: str) -> Path:
    """A copy under the name with a number, unless there is one like it."""
    sha = sha256_of(file)
    stem, suffix = Path(name).stem, Path(name).suffix
    for number in count(1):
        place = file.with_name(f"{stem}-{number}{suffix}")
        if os.path.lexists(place):
            if sha is not None and sha256_of(place) == sha:
                return place
            continue
        copy = _made(place, lambda aside: shutil.copyfile(file, aside))
        try:
            with contextlib.suppress(OSError):
                shutil.copystat(file, copy)
            if _claim(copy, place):
                return place
        finally:
            copy.unlink(missing_ok=True)
    raise OutputError(f"{file} cannot be kept")
