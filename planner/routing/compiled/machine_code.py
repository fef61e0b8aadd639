"""How functions become machine code, and where it is kept.

The functions of these rooms are plain Python and stay so: whoever calls one gets plain Python.
Their machine code is made of copies that call each other (in_machine_code), once somebody asks for
it, by numba, which is imported then only.

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
from functools import cache
from importlib.metadata import version
from importlib.util import find_spec
from pathlib import Path
from types import FunctionType, ModuleType
from typing import Any, TypeVar, cast

import numpy as np

from planner.roads.cache import cache_folder
from planner.routing.compiled import columns

Function = TypeVar("Function", bound=Callable[..., Any])

COMPILED_ROOMS = ("compiled", "exact", "search")
"""Rooms whose functions, or constants in them, are compiled."""
FOLDERS_KEPT = 3
"""Machine code of older versions beyond this many is thrown away."""

# `_nrt=False`: no counting of references, which none of these functions needs (they make no
# arrays) and which would be half of the machine code. The options are not in numba's type hints.
_OPTIONS: dict[str, Any] = {"cache": True, "nogil": True, "error_model": "numpy", "_nrt": False}
_marked: dict[Callable[..., Any], dict[str, Any]] = {}
_compiled: dict[Callable[..., Any], Callable[..., Any]] = {}


def entry(function: Function) -> Function:
    """Decorator: its machine code can be called by Python, and runs without Python's lock."""
    _marked[function] = _OPTIONS
    return function


def compiled(function: Function) -> Function:
    """Decorator: as entry, for functions that only compiled code calls. Without the doors to
    Python and C, which take longer to compile than what is behind them."""
    _marked[function] = _OPTIONS | {"no_cpython_wrapper": True, "no_cfunc_wrapper": True}
    return function


def merged(function: Function) -> Function:
    """Decorator: compiled as a part of each function that calls it. For functions high up in the
    calls: each function is compiled together with all that it calls, so every level between the top
    and the large program for refills would compile that once more."""
    _marked[function] = _OPTIONS | {"inline": "always"}
    return function


def can_compile() -> bool:
    """Whether numba is installed."""
    return find_spec("numba") is not None


def is_compiled() -> bool:
    """Whether this process has asked for machine code already."""
    return bool(_compiled)


def in_machine_code(function: Function) -> Function:
    """The machine code of an entry; compiled when first called with arguments of these types, or
    read from where it is kept. Raises ImportError without numba."""
    if function not in _compiled:
        _copy_all()
    return cast(Function, _compiled[function])


def _copy_all() -> None:
    """Copies of all marked functions, each in a copy of its module where the others' copies are
    what their names mean."""
    from numba import config, njit

    # Read when a function is handed to numba; it names its settings at run time only.
    vars(config)["CACHE_DIR"] = str(code_folder())
    _drop_old(code_folder())
    modules: dict[str, dict[str, Any]] = {}
    made = {}
    for function, options in _marked.items():
        assert isinstance(function, FunctionType)
        space = modules.setdefault(function.__module__, dict(function.__globals__))
        twin = FunctionType(function.__code__, space, function.__name__)
        twin.__module__, twin.__qualname__ = function.__module__, function.__qualname__
        made[cast(Callable[..., Any], function)] = njit(**options)(twin)
    for space in modules.values():
        for name, value in space.items():
            if isinstance(value, FunctionType) and value in made:
                space[name] = made[value]
        if space.get("c") is columns:
            space["c"] = _typed(columns)
    _compiled.update(made)


def _typed(module: ModuleType) -> ModuleType:
    """The columns with numbers for arguments and first values as numpy's: numba compiles a function
    once more for each literal number that it meets as an argument, which would double the time to
    compile; numpy's are plain numbers to it."""
    typed = ModuleType(module.__name__)
    vars(typed).update(vars(module))
    vars(typed).update({name: np.int64(vars(module)[name]) for name in ("ZERO", "ONE", "NONE")})
    vars(typed)["NO"] = np.bool_(module.NO)
    return typed


@cache
def code_folder() -> Path:
    """Where the machine code of these sources is kept; in a temporary folder when the user's
    cache cannot be written."""
    if "NUMBA_CACHE_DIR" in os.environ:
        return Path(os.environ["NUMBA_CACHE_DIR"])
    text = hashlib.sha256(version("numba").encode())
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


def is_first_run() -> bool:
    """Whether the search is not compiled yet, so that the next one begins by compiling."""
    return next(code_folder().rglob("anneal.*.nbc"), None) is None
