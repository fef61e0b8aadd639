"""How functions become machine code, and where it is kept.

The functions of these rooms are plain Python and stay so: whoever calls one gets plain Python.
Their machine code is made of copies that call each other (in_machine_code), once somebody asks for
it, by numba, which is imported then only.

Where it is kept, and whether what lies there may be run: planner/routing/compiled/kept_code.py.
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from functools import partial
from importlib.util import find_spec
from pathlib import Path
from types import FunctionType, ModuleType
from typing import Any, TypeVar, cast

import numpy as np

from planner.routing.compiled import columns
from planner.routing.compiled.kept_code import folder_of_this_process

Function = TypeVar("Function", bound=Callable[..., Any])

# `_nrt=False`: no counting of references, which none of these functions needs (they make no
# arrays) and which would be half of the machine code. The options are not in numba's type hints.
_OPTIONS: dict[str, Any] = {"cache": True, "nogil": True, "error_model": "numpy", "_nrt": False}
_OURS = "planner."
_LINKED = "_get_module_for_linking"
_marked: dict[Callable[..., Any], dict[str, Any]] = {}
_compiled: dict[Callable[..., Any], Callable[..., Any]] = {}


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


def _optimize_once() -> None:
    """Have numba keep what only our compiled code calls as it was written, until an entry that calls
    it is made machine code. By itself it optimizes each function together with all that it calls and
    makes it machine code, at every level of the calls: the program for refills a dozen times over.
    Rests on numba's inner names; a numba without them compiles as it always does, only longer."""
    from numba import _dynfunc  # type: ignore[attr-defined]
    from numba.core import codegen, cpu

    plain = cpu.CPUContext.get_executable
    if plain.__module__ != cpu.__name__ or not hasattr(codegen.CPUCodeLibrary, _LINKED):
        return

    def get_executable(context: Any, library: Any, about: Any, env: Any) -> Any:
        doorless = not library._finalized  # What was read from disk is whole.
        with suppress(NameError):
            library.get_function(about.llvm_cpython_wrapper_name)
            doorless = False
        if doorless and about.modname.startswith(_OURS):
            library.finalize = partial(_only_link, library)
            name = about.qualname.rpartition(".")[2]
            return _dynfunc.make_function(about.lookup_module(), name, "", 0, env, (library,))
        return plain(context, library, about, env)

    cpu.CPUContext.get_executable = get_executable


def _only_link(library: Any) -> None:
    """A code library with all that it calls, neither optimized nor made machine code."""
    for other in dict.fromkeys(library._linking_libraries):
        library._reload_init.update(other._reload_init)
        library._final_module.link_in(other._get_module_for_linking(), preserve=True)
    library._finalized = True


def _copy_all(folder: Path) -> None:
    """Copies of all marked functions, each in a copy of its module where the others' copies are
    what their names mean."""
    from numba import config, njit

    _optimize_once()

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
