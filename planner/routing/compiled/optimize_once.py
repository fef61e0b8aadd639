"""numba told to optimize what only compiled code calls once, within what calls it."""

# ruff: noqa: SLF001 - numba has no public name for any of this.

from contextlib import suppress
from functools import partial
from typing import Any

_OURS = "planner."


def optimize_once() -> None:
    """Have numba leave functions without doors as they were written until an entry that calls them
    is made machine code. By itself it optimizes each function together with all that it calls, and
    makes machine code of that, at every level of the calls: the program for refills over and over.
    Rests on numba's inner names (0.68); a numba without them compiles as ever, only longer."""
    from numba import _dynfunc  # type: ignore[attr-defined]
    from numba.core import codegen, cpu

    context_class: Any = cpu.CPUContext
    plain = context_class.get_executable
    known = hasattr(codegen.CPUCodeLibrary, "_get_module_for_linking")
    if plain.__module__ != cpu.__name__ or not known:
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

    context_class.get_executable = get_executable


def _only_link(library: Any) -> None:
    """A code library with all that it calls, neither optimized nor made machine code."""
    for other in dict.fromkeys(library._linking_libraries):
        library._reload_init.update(other._reload_init)
        library._final_module.link_in(other._get_module_for_linking(), preserve=True)
    library._finalized = True
