"""A cache folder of a test's own."""

from __future__ import annotations

import shutil
from pathlib import Path

from planner.caches import own_folder


def cache_with_machine_code(folder: Path) -> str:
    """A new cache folder that holds nothing but this checkout's machine code, where it is compiled
    already: a test of other caches need not wait for the compiler."""
    folder.mkdir(mode=0o700)
    here = own_folder("search")
    if here is not None:
        shutil.copytree(here, folder / "search", ignore=shutil.ignore_patterns("making-*"))
    return str(folder)
