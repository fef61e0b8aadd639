"""How functions become machine code, and where it is kept.

The functions of these rooms are plain Python and stay so: whoever calls one gets plain Python.
Their machine code is made of copies that call each other (in_machine_code), once somebody asks for
it, by numba, which is imported then only.

Where it is kept, and whether what lies there may be run: planner/routing/compiled/kept_code.py.
"""

from collections.abc import Callable
from importlib.util import find_spec
from pathlib import Path
from types import FunctionType, ModuleType
from typing import Any, TypeVar, cast

import numpy as np

from planner.routing.compiled import columns
from planner.routing.compiled.kept_code import folder_of_this_process
from planner.routing.compiled.optimize_once import optimize_once

Function = TypeVar("Function", bound=Callable[..., Any])
Kind = TypeVar("Kind")

# `_nrt=False`: no counting of references, which none of these functions needs (they make no
# arrays) and which would be half of the machine code. The options are not in numba's type hints.
_OPTIONS: dict[str, Any] = {"cache": True, "nogil": True, "error_model": "numpy", "_nrt": False}
_marked: dict[Callable[..., Any], dict[str, Any]] = {}
_compiled: dict[Callable[..., Any], Callable[..., Any]] = {}
_handed_over: list[type] = []


def entry(function: Function) -> Function:
    """Decorator: its machine code can be called by Python, and runs without Python's lock."""
    _marked[function] = _OPTIONS
    return function


def compiled(function: Function) -> Function:
    """Decorator: as entry, for functions that only compiled code calls: without the doors to
    Python and C, which take longer to compile than what is behind them, and kept as a part of the
    entries only."""
    doorless = {"cache": False, "no_cpython_wrapper": True, "no_cfunc_wrapper": True}
    _marked[function] = _OPTIONS | doorless
    return function


def handed_over(kind: type[Kind]) -> type[Kind]:
    """Decorator: compiled functions hand each other this named tuple of numbers and tables by its
    address."""
    _handed_over.append(kind)
    return kind


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
        _copy_all(folder_of_this_process())
    return cast(Function, _compiled[function])


def compile_into(folder: Path) -> None:
    """Have numba read from and write into that folder, whatever the environment says."""
    _copy_all(folder)


def _copy_all(folder: Path) -> None:
    """Copies of all marked functions, each in a copy of its module where the others' copies are
    what their names mean."""
    from numba import config, njit

    from planner.routing.compiled.handed_over import hand_over

    optimize_once()
    for kind in _handed_over:
        hand_over(kind)

    # Read when a function is handed to numba; it names its settings at run time only.
    vars(config)["CACHE_DIR"] = str(folder)
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
