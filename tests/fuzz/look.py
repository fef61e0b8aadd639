"""A case, and what must be true of however it ends."""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from planner.cli.common import EXIT_CODES
from tests.fuzz.office import copy, snapshot
from tests.fuzz.server import Ended, Request, Server

REFUSED = frozenset({1, 2})
NOT_WRITTEN = frozenset({5})
FINE = frozenset({0, 3})
ANY = REFUSED | FINE | {4}
LONGEST_LINE = 2_500
LEFT_HALF = re.compile(r"(^|/)(\..+-[a-z0-9_]{8}|.*\.tmp|making-.*)($|/)")
"""Names of what is written aside and renamed when it is whole."""


@dataclass(frozen=True)
class Case:
    """name: unique, in words. spoil: does something to the copied office. codes: exit codes that
    are right. says: each must be in what is said. writes: beginnings of names that may be new or
    changed even when the command is refused."""

    name: str
    words: tuple[str, ...]
    spoil: Callable[[Path], Any] = lambda home: None
    codes: frozenset[int] = REFUSED
    says: tuple[str, ...] = ()
    writes: tuple[str, ...] = ()
    how: dict[str, Any] = field(default_factory=dict)


def faults(case: Case, made: Path, home: Path, server: Server) -> list[str]:
    """What is wrong with how a case ended; empty = nothing. home: a place for the copy."""
    copy(made, home, case.words)
    try:
        case.spoil(home)
        before = snapshot(home)
        ended = server.run(Request(list(case.words), str(home), **case.how))
        return [*_end(case, ended), *_files(case, ended, before, snapshot(home))]
    finally:
        shutil.rmtree(home, ignore_errors=True)


def _end(case: Case, ended: Ended) -> list[str]:
    said = ended.out + ended.err
    found = []
    if ended.code not in EXIT_CODES:
        found.append(f"exit code {ended.code} is none of the documented")
    if ended.code not in case.codes:
        found.append(f"exit code {ended.code}, not {sorted(case.codes)}")
    if "Traceback" in said or "Error in " in ended.err or "Exception ignored" in said:
        found.append("traceback")
    for part in case.says:
        if ended.code in REFUSED and part not in said:
            found.append(f"it does not say {part!r}")
    if ended.code in REFUSED and not said.strip() and 2 not in case.how.get("closed", ()):
        found.append("refused without a word")
    if any(not (sign.isprintable() or sign in "\n\r\t") for sign in said):
        found.append("it prints signs that steer a terminal")
    if ended.code in REFUSED and any(len(line) > LONGEST_LINE for line in said.split("\n")):
        found.append("a line without end")
    if found:
        found.append(f"  planner {' '.join(map(repr, case.words))}\n{said[-1500:]}")
    return found


def _files(case: Case, ended: Ended, before: dict[str, str], after: dict[str, str]) -> list[str]:
    """What was written that should not have been."""
    half = [name for name in after.keys() - before.keys() if LEFT_HALF.search(name)]
    found = [f"half-written: {name}" for name in half]
    if ended.code in REFUSED or ended.code in NOT_WRITTEN:
        changed = [name for name in before.keys() | after if before.get(name) != after.get(name)]
        found += [
            f"refused (code {ended.code}), but {name} was {before.get(name)} and is "
            f"{after.get(name)}: {(ended.out + ended.err)[-600:]}"
            for name in sorted(changed)
            if not any(name.startswith(begin) for begin in case.writes)
        ]
    return found
