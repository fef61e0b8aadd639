"""A folder of results: it appears whole or not at all, and what people typed in the one before it
is kept.

A folder in which anything differs from what the planner wrote is kept whole, beside the new one:
a filled-in sheet stays with the plan that it belongs to, and is not taken for the new plan's.
"""

import contextlib
import errno
import hashlib
import os
import shutil
import signal
import tempfile
import threading
import time
from collections.abc import Iterator, Mapping, Sequence
from itertools import count
from pathlib import Path
from typing import Final

from planner.outputs.file import (
    MANIFEST,
    STALE_SECONDS,
    folded,
    is_open,
    manifest_text,
    sha256_of,
    sync_folder,
    written_in,
)
from planner.outputs.told import OutputError, OutputRefused, Written, failed

MARKS: Final = ("plan.json", "comparison.json", "links.html", "weeks.html")
"""The file that a folder of each kind of result holds: one of the same kind may be replaced, no
other folder is."""
NOT_RESULTS: Final = ("planner.toml", "records.sqlite", "orders.csv", "properties.csv")
"""A folder holding one of these is a workbook, whatever else lies in it."""
RECORDS: Final = "-records.sqlite"
LITTER: Final = (".DS_Store", "Thumbs.db", "desktop.ini")
"""What file managers leave behind in every folder; nobody misses it."""
NAMED: Final = 5
"""So many kept files are named; the rest is counted."""
TRIES: Final = 50
"""Of two writers at once, the slower one tries again."""


def write_folder(
    target: Path, files: Mapping[str, str], *, force: bool = False, marks: Sequence[str] = ()
) -> Written:
    """Write the files (name -> text) as a folder: aside first, then renamed into place.

    An earlier result goes if nothing in it was changed or added; else it stays whole under a
    numbered name. force: files of the planner's own names that were changed go all the same; files
    of other names never do. marks: as of check_folder, () = of the files. Raises OutputError; what
    was there is then untouched.
    """
    check_folder(target, force=force, marks=marks or [name for name in MARKS if name in files])
    try:
        real = target.resolve()
        real.parent.mkdir(parents=True, exist_ok=True)
        _tidy(real)
        with finished_first():
            aside = Path(tempfile.mkdtemp(prefix=f".{real.name[:40]}-", dir=real.parent))
            try:
                sums = {name: _write(aside / name, text) for name, text in files.items()}
                _write(aside / MANIFEST, manifest_text(sums))
                # mkdtemp makes a private folder; the result is for everybody who may read here.
                aside.chmod(0o755)
                before = _swap(aside, real)
            finally:
                shutil.rmtree(aside, ignore_errors=True)
            sync_folder(real.parent)
            told = [line for old in before for line in _settle(old, target, sums, force)]
    except OSError as error:
        raise failed(target, error) from error
    return Written(target, tuple(told))


def check_folder(target: Path, *, force: bool = False, marks: Sequence[str] = MARKS[:1]) -> None:
    """Whether a folder of results may go there, before any work is done for it. marks: a folder
    that holds one of these files may be replaced. Raises OutputError."""
    try:
        real = target.resolve()
        _probe(real)
        names = _names_in(real)
        if names is None:
            return
    except OSError as error:
        raise failed(target, error) from error
    except RuntimeError as error:  # a link that points to itself, before Python 3.13
        raise OutputRefused(f"{target} is a link that points to itself; remove it") from error
    known = folded({name: name for name in names})
    other = [name for name in MARKS if name in known and name not in marks]
    if other:
        raise OutputRefused(
            f"{target} holds results of another kind ({other[0]}); name another folder"
        )
    if names and not any(mark in known for mark in (*marks, MANIFEST)):
        raise OutputRefused(
            f"{target} holds other files and no {' or '.join(marks)}; name another folder"
        )
    # The records of an Excel workbook lie beside it.
    tables = [name for name in known if name in NOT_RESULTS or name.endswith(RECORDS)]
    tables = [name for name in tables if name not in marks]
    if tables:
        raise OutputRefused(f"{target} is a workbook, it holds {tables[0]}; name another folder")
    if _here().is_relative_to(real):
        raise OutputRefused(f"{target} is the folder you are in; name another, or go out of it")
    opened = [name for name in names if is_open(real / name)]
    if opened and not force:
        raise OutputRefused(
            f"{target / opened[0]} is open in another program; save and close it there (if nobody "
            "has it open, --force goes on)"
        )


def save_elsewhere(target: Path, files: Mapping[str, str]) -> Path | None:
    """The finished result in another place, when its own cannot be written: all of it, else its
    first file alone, in the temporary folder, at home or here. None when no place takes it."""
    first = dict(list(files.items())[:1])
    places = []
    for name in (tempfile.gettempdir, Path.home, Path.cwd):
        with contextlib.suppress(OSError, RuntimeError):
            places.append(Path(name()))
    for part in (files, first):
        for place in places:
            form = _plain(place / f"planner-{target.resolve().name[:60]}-saved") + "-{}"
            try:
                return write_folder(_free(form), part).path
            except (OutputError, OSError):
                continue
    return None


@contextlib.contextmanager
def finished_first() -> Iterator[None]:
    """Ctrl-C waits until the writing is done, which takes parts of a second; a second one does
    not."""
    before = signal.getsignal(signal.SIGINT)
    if threading.current_thread() is not threading.main_thread() or not callable(before):
        yield
        return
    came: list[int] = []

    def hold(number: int, frame: object) -> None:
        came.append(number)
        if len(came) > 1:
            raise KeyboardInterrupt

    signal.signal(signal.SIGINT, hold)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)
    if came:
        raise KeyboardInterrupt


def _write(file: Path, text: str) -> str:
    """Its SHA-256."""
    data = text.encode()
    with file.open("wb") as opened:
        opened.write(data)
        opened.flush()
        os.fsync(opened.fileno())
    return hashlib.sha256(data).hexdigest()


def _probe(real: Path) -> None:
    """Raise OSError when nothing can be made in the nearest folder above that is there."""
    above = next((folder for folder in real.parents if folder.exists()), real)
    with finished_first():  # A Ctrl-C between making and removing it would leave it there.
        tempfile.TemporaryDirectory(prefix=f".{real.name[:40]}-", dir=above).cleanup()


def _names_in(folder: Path) -> list[str] | None:
    """None: nothing is there. One look, for another writer may be putting its folder into place."""
    try:
        return [entry.name for entry in folder.iterdir()]
    except FileNotFoundError:
        return None
    except NotADirectoryError as error:
        raise OutputRefused(f"{folder} is a file; name a folder") from error


def _here() -> Path:
    try:
        return Path.cwd().resolve()
    except OSError:
        return Path("/")


def _free(form: str) -> Path:
    """The first name that nobody has; form: a path with {} for the number."""
    return next(
        path for number in count(1) if not os.path.lexists(path := Path(form.format(number)))
    )


def _swap(aside: Path, real: Path) -> list[Path]:
    """Put the folder into place; where those before it lie now. They have names that a person
    sees: a power cut between the two renames hides nothing."""
    moved: list[Path] = []
    for _ in range(TRIES):
        before = _free(f"{_plain(real)}-kept-{{}}")
        away = False
        try:
            if real.exists():
                real.rename(before)
                away = True
            aside.rename(real)
        except BaseException as error:
            if away and not real.exists():
                before.rename(real)
            elif away:
                moved.append(before)
            # Another writer may have been quicker; its folder is then the one before.
            quicker = (errno.EEXIST, errno.ENOTEMPTY, errno.ENOENT)
            if not isinstance(error, OSError) or error.errno not in quicker:
                raise
            continue
        return [*moved, before] if away else moved
    raise OSError(errno.EBUSY, os.strerror(errno.EBUSY))


def _plain(path: Path) -> str:
    return str(path).replace("{", "{{").replace("}", "}}")


def _settle(before: Path, target: Path, sums: Mapping[str, str], force: bool) -> list[str]:
    """Remove the folder before, or keep it; what is told. Looked at only now that it has left its
    place, so that nothing is saved into it between the look and the removal."""
    ours = folded(written_in(before))
    changed, foreign = [], []
    for entry in sorted(os.scandir(before), key=lambda entry: entry.name):
        name = entry.name.casefold()
        if entry.name == MANIFEST or entry.name in LITTER:
            continue
        sha = sha256_of(Path(entry.path))
        if sha is None or sha not in (ours.get(name), sums.get(entry.name)):
            changed.append(entry.name)
            theirs = name not in ours and name not in folded(sums)
            if theirs or entry.is_dir(follow_symlinks=False):
                foreign.append(entry.name)
    if os.access(before, os.W_OK) and (not changed or (force and not foreign)):
        with contextlib.suppress(OSError):
            bin_ = Path(tempfile.mkdtemp(prefix=f".{target.name[:40]}-", dir=before.parent))
            before.rename(bin_ / "old")
            shutil.rmtree(bin_, ignore_errors=True)
            return [f"Overwritten in {target}, as asked: {_some(changed)}."] if changed else []
    why = f"Changed or added by hand in {target}: {_some(changed)}"
    if not changed:
        why = f"{target} was read-only or in use"
    kept = before if target.is_symlink() else target.with_name(before.name)
    return [f"{why}. The old folder is kept whole as {kept}."]


def _some(names: Sequence[str]) -> str:
    more = f" and {len(names) - NAMED} more" if len(names) > NAMED else ""
    return ", ".join(names[:NAMED]) + more


def _tidy(real: Path) -> None:
    """Remove what killed runs left half-written a day ago or earlier."""
    with contextlib.suppress(OSError):  # A folder may be written into and not be looked into.
        for entry in os.scandir(real.parent):
            ours = entry.name.startswith(f".{real.name[:40]}-")
            ours = ours and entry.is_dir(follow_symlinks=False)
            left = ours and not os.path.lexists(Path(entry.path, MANIFEST))
            if left and time.time() - entry.stat().st_mtime > STALE_SECONDS:
                shutil.rmtree(entry.path, ignore_errors=True)
