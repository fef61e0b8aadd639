"""How functions of the search are compiled, and where their machine code is kept.

numba looks only at a function's own file to decide whether its kept machine code is still good,
not at the files of the functions that it calls. So the folder's name says what all sources of the
rooms with compiled functions are: whoever changes one of them gets a new folder.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar, cast

import numba
from numba import njit

from planner.roads.cache import cache_folder

Function = TypeVar("Function", bound=Callable[..., Any])

COMPILED_ROOMS = ("compiled", "exact", "search")
"""Rooms whose functions, or constants in them, are compiled."""
FOLDERS_KEPT = 3
"""Machine code of older versions beyond this many is thrown away."""


def code_folder() -> Path:
    """Where the machine code of these sources is kept; in a temporary folder when the user's
    cache cannot be written."""
    text = hashlib.sha256(numba.__version__.encode())
    routing = Path(__file__).parent.parent
    for room in COMPILED_ROOMS:
        for source in sorted((routing / room).glob("*.py")):
            text.update(source.read_bytes())
    name = text.hexdigest()[:16]
    for base in (cache_folder().parent, Path(tempfile.gettempdir()) / f"planner-{_user()}"):
        folder = base / "search" / name
        try:
            folder.mkdir(parents=True, exist_ok=True)
            with tempfile.TemporaryFile(dir=folder):
                pass
        except OSError:
            continue
        return folder
    return Path(tempfile.mkdtemp(prefix="planner-search-"))


def _user() -> str:
    return str(os.getuid()) if hasattr(os, "getuid") else os.environ.get("USERNAME", "user")


def _drop_old(folder: Path) -> None:
    """Throw away the machine code of older sources."""
    try:
        others = [other for other in folder.parent.iterdir() if other != folder]
        others.sort(key=lambda other: other.stat().st_mtime, reverse=True)
        for other in others[FOLDERS_KEPT - 1 :]:
            shutil.rmtree(other, ignore_errors=True)
    except OSError:
        # Another run may be tidying up, or the folder may not be ours to read.
        return


def _use_folder() -> Path:
    if "NUMBA_CACHE_DIR" in os.environ:
        return Path(os.environ["NUMBA_CACHE_DIR"])
    folder = code_folder()
    # Read when a function is decorated, below; numba names its settings at run time only.
    vars(numba.config)["CACHE_DIR"] = str(folder)
    _drop_old(folder)
    return folder


CODE_FOLDER = _use_folder()


def is_first_run() -> bool:
    """Whether nothing is compiled yet, so that the next search begins by compiling."""
    return next(CODE_FOLDER.rglob("*.nbc"), None) is None


# `_nrt=False`: no counting of references, which none of these functions needs (they make no
# arrays) and which would be half of the machine code. The options are not in numba's type hints.
_OPTIONS: dict[str, Any] = {"cache": True, "nogil": True, "error_model": "numpy", "_nrt": False}


def entry(function: Function) -> Function:
    """Decorator: machine code, kept on disk, that Python may call; runs without Python's lock."""
    return cast(Function, njit(**_OPTIONS)(function))


def compiled(function: Function) -> Function:
    """Decorator: as entry, for functions that only compiled code calls. Without the doors to
    Python and C, which take longer to compile than what is behind them."""
    doorless = _OPTIONS | {"no_cpython_wrapper": True, "no_cfunc_wrapper": True}
    return cast(Function, njit(**doorless)(function))


def merged(function: Function) -> Function:
    """Decorator: compiled as a part of each function that calls it. For functions high up in the
    calls: each function is compiled together with all that it calls, so every level between the top
    and the large programme for refills would compile that once more."""
    return cast(Function, njit(**_OPTIONS, inline="always")(function))
