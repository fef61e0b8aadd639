"""Caches of the tests: what takes long to make is made once in a run."""

from __future__ import annotations

import hashlib
import os
import pickle
import shutil
from collections.abc import Callable
from importlib.util import find_spec
from pathlib import Path
from typing import TypeVar

from planner.caches import own_folder
from planner.routing.compiled.kept_code import ROUTING, code_name, seal

RUN_FOLDER = "PLANNER_TEST_RUN_FOLDER"
"""The workers of one run share the folder of this name, which is gone afterwards."""

Made = TypeVar("Made")


def cache_with_machine_code(folder: Path, clone: Path | None = None) -> str:
    """A new cache folder that holds nothing but this checkout's machine code, where it is compiled
    already: a test of other caches need not wait for the compiler. clone: another checkout of the
    same sources that is to find it."""
    folder.mkdir(mode=0o700)
    here = own_folder("search")
    if here is not None and find_spec("numba") and (here / code_name()).is_dir():
        routing = ROUTING if clone is None else clone / "planner" / "routing"
        kept = folder / "search" / code_name(routing)
        shutil.copytree(here / code_name(), kept)
        for room in [*kept.glob("*_*")]:
            # numba names a room by the folder of the sources and its whole path.
            name = room.name.partition("_")[0]
            path = hashlib.sha1(str(routing / name).encode()).hexdigest()
            room.rename(kept / f"{name}_{path}")
        seal(kept, of=kept.name)
    return str(folder)


def made_once(name: str, make: Callable[[], Made]) -> Made:
    """What `make` answers; in a run of several workers the first one's answer serves the others."""
    run = os.environ.get(RUN_FOLDER)
    if run is None:
        return make()
    kept = Path(run, f"{name}.pickle")
    if kept.exists():
        found: Made = pickle.loads(kept.read_bytes())
        return found
    made = make()
    aside = kept.with_suffix(f".{os.getpid()}")
    aside.write_bytes(pickle.dumps(made))
    aside.replace(kept)
    return made


def compile_search() -> bool:
    """Have the search compiled and kept, unless it is already; whether it could be."""
    from planner.routing.compiled.day_arrays import day_arrays
    from planner.routing.problem import StopToken
    from planner.routing.search.first_run import CannotCompile, FirstRun
    from tests.routing_cases import random_problem

    try:
        return FirstRun(day_arrays(random_problem(1))).done(StopToken(), lambda: None)
    except CannotCompile:
        return False
