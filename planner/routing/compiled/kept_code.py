"""Machine code kept on disk, and whether it may be used.

numba unpickles what it finds in its folder and runs it as it is, so a damaged file ends the
process and a stranger's is obeyed. So a folder is used only if nobody else can write to it and each
of its files is, to the byte, as the process that compiled it left it (SEAL).
"""

import atexit
import contextlib
import hashlib
import json
import os
import shutil
import stat
import sys
import tempfile
import time
from functools import cache
from importlib.metadata import version
from pathlib import Path
from typing import Final

from planner.caches import own_folder

ROUTING: Final = Path(__file__).parent.parent
COMPILED_ROOMS: Final = ("compiled", "exact", "search")
"""Rooms whose functions, or constants in them, are compiled."""
FOLDERS_KEPT: Final = 3
"""Machine code of other versions beyond this many is thrown away once it is LEFT_BEHIND_S old."""
LEFT_BEHIND_S: Final = 86_400
"""Since it was used last. A planner that is planning must find its code there to the end: without
it, it would compile in the middle of its work, where no stop is heard for a minute and more."""
SEAL: Final = "sealed.json"
MAKING: Final = "making-"
CODE: Final = (".nbi", ".nbc")
"""Ends of numba's file names."""

_trusted: tuple[Path, dict[str, str]] | None = None


@cache
def code_name(routing: Path = ROUTING) -> str:
    """What the machine code depends on: sources, compiler, processor, and where the sources are,
    since numba finds nothing for the same ones elsewhere. numba looks only at a function's own
    file, not at those of the functions that it calls. routing: the folder of the rooms."""
    import llvmlite.binding as llvm  # type: ignore[import-untyped]

    text = hashlib.sha256(" ".join([sys.version, *map(version, ("numba", "numpy"))]).encode())
    text.update(f"{llvm.get_host_cpu_name()} {llvm.get_host_cpu_features().flatten()}".encode())
    text.update(str(routing).encode())
    for room in COMPILED_ROOMS:
        for source in sorted((routing / room).glob("*.py")):
            text.update(source.read_bytes())
    return text.hexdigest()[:16]


def kept_code() -> Path | None:
    """The folder of whole machine code of these sources, looked through once in a process, or None.
    One that is damaged is thrown away."""
    global _trusted
    if _trusted is None and (base := own_folder("search")) is not None:
        folder = base / code_name()
        if (files := _whole(folder)) is not None:
            _trusted = folder, files
            with contextlib.suppress(OSError):
                os.utime(folder)
        elif os.path.lexists(folder):
            shutil.rmtree(folder, ignore_errors=True)
            with contextlib.suppress(OSError):
                folder.unlink()
    return _trusted[0] if _trusted else None


def new_folder() -> Path:
    """An empty folder to compile into: where it can be kept, else a temporary one. Raises
    OSError."""
    base = own_folder("search")
    if base is not None:
        _tidy(base)
        with contextlib.suppress(OSError):
            return Path(tempfile.mkdtemp(prefix=MAKING, dir=base))
    return temporary_folder()


def temporary_folder() -> Path:
    """One that nobody else can look into. Raises OSError."""
    return Path(tempfile.mkdtemp(prefix="planner-search-"))


def keep(made: Path) -> None:
    """Use a folder that is compiled and sealed: under its name, unless another process was quicker,
    or as a temporary one that goes when this process ends."""
    global _trusted
    if made.name.startswith(MAKING):
        with contextlib.suppress(OSError):
            made.rename(made.with_name(code_name()))
    if kept_code() is None and (files := _whole(made)) is not None:
        own = temporary_folder()
        atexit.register(shutil.rmtree, own, ignore_errors=True)
        shutil.move(made, own)
        _trusted = own / made.name, files


def folder_of_this_process() -> Path:
    """Where numba is to read and write in this process. What it adds to kept code is sealed, and a
    folder of its own is gone, when the process ends."""
    if kept_code() is not None and _trusted is not None:
        atexit.register(_seal_more, *_trusted)
        return _trusted[0]
    folder = temporary_folder()
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    return folder


def _sums(folder: Path) -> dict[str, str]:
    return {
        file.relative_to(folder).as_posix(): hashlib.sha256(file.read_bytes()).hexdigest()
        for file in sorted(folder.rglob("*"))
        if file.name.endswith(CODE)
    }


def seal(folder: Path, sums: dict[str, str] | None = None, of: str = "") -> None:
    """Say which files lie in a folder that is compiled now. of: its code_name, '' = of these
    sources. Raises OSError."""
    text = json.dumps({"of": of or code_name(), "files": sums or _sums(folder)}, indent=0)
    handle, aside = tempfile.mkstemp(suffix=".tmp", dir=folder)
    try:
        with os.fdopen(handle, "w", encoding="utf-8") as out:
            out.write(text)
        Path(aside).replace(folder / SEAL)
    finally:
        Path(aside).unlink(missing_ok=True)


def _seal_more(folder: Path, before: dict[str, str]) -> None:
    with contextlib.suppress(OSError):
        if (now := _sums(folder)) != before:
            seal(folder, now)


def _whole(folder: Path) -> dict[str, str] | None:
    """The folder's files if they are those that were sealed. What was never sealed is removed."""
    try:
        if not stat.S_ISDIR(folder.lstat().st_mode):
            return None
        sealed = json.loads((folder / SEAL).read_text(encoding="utf-8"))
        files = dict(sealed["files"])
        if sealed["of"] != code_name() or any(map(Path.is_symlink, folder.rglob("*"))):
            return None
        there = _sums(folder)
        for name in there.keys() - files.keys():
            (folder / name).unlink()
            del there[name]
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return None
    return there if there and there == files else None


def _tidy(base: Path) -> None:
    """Throw away the machine code of older sources, and what killed processes left half-made."""
    with contextlib.suppress(OSError):  # Another process may be tidying up.
        used = sorted(((other.stat().st_mtime, other) for other in base.iterdir()), reverse=True)
        whole = [other for _, other in used if not other.name.startswith(MAKING)]
        for last_s, other in used:
            if other not in whole[:FOLDERS_KEPT] and time.time() - last_s > LEFT_BEHIND_S:
                shutil.rmtree(other, ignore_errors=True)
