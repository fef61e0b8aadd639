"""The search compiled by a process of its own, once on a machine: a stop need not wait for it, and
a compiler that crashes or finds no room on the disk takes no plan with it."""

import contextlib
import errno
import gc
import os
import pickle
import shutil
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Final

import planner
from planner.caches import own_folder
from planner.deadline import end_with_parent
from planner.routing.compiled import columns as c
from planner.routing.compiled.day_arrays import DayArrays
from planner.routing.compiled.kept_code import keep, kept_code, new_folder, seal, temporary_folder
from planner.routing.compiled.machine_code import compile_into
from planner.routing.problem import StopToken
from planner.routing.search.parallel import Searcher
from planner.routing.tuning import Tuning

LOOK_S: Final = 0.1
LOCK: Final = "compiling.lock"
SILENT_S: Final = 10.0
"""Who compiles touches the lock at every look; the others wait until it has been silent so long."""
DISK_FULL: Final = 28
MOST_SAID: Final = 300
_COMMAND = "from planner.routing.search.first_run import compile_here; compile_here()"

_why_not: list[str] = []


class CannotCompile(Exception):
    """Why the search cannot be compiled here, in words. Another engine serves."""


def why_not_compiled() -> str:
    """Why compiling failed in this process, else empty; it is not tried twice."""
    return _why_not[0] if _why_not else ""


class FirstRun:
    """Compiling, if nothing is compiled yet. day: any day; its arrays say the types. Raises
    CannotCompile."""

    def __init__(self, day: DayArrays) -> None:
        self._day = day
        if _why_not:
            raise CannotCompile(_why_not[0])
        try:
            kept = kept_code()
        except (ImportError, OSError) as error:
            raise _given_up(str(error)) from error
        self.is_needed = kept is None
        """Whether there is something to wait for."""

    def done(self, stop: StopToken, tell: Callable[[], None]) -> bool:
        """Wait for it; False when the stop came first (and then it is given up). Raises
        CannotCompile."""
        base = own_folder("search")
        lock = base / LOCK if base is not None else None
        while kept_code() is None:
            if lock is None or _is_free(lock):
                return self._compiled(lock, stop, tell)
            if stop.is_set:
                return False
            tell()
            time.sleep(LOOK_S)
        return True

    def _compiled(self, lock: Path | None, stop: StopToken, tell: Callable[[], None]) -> bool:
        try:
            for make in (new_folder, temporary_folder):
                folder = make()
                try:
                    code, said = self._run(folder, lock, stop, tell)
                    if code == 0:
                        keep(folder)
                        return True
                finally:
                    shutil.rmtree(folder, ignore_errors=True)
                if code is None:
                    return False
                if code != DISK_FULL:
                    break
            raise _given_up(said or f"compiling it ended with code {code}")
        except OSError as error:
            # It may not start programs, or nothing can be written anywhere.
            raise _given_up(error.strerror or str(error)) from error
        finally:
            if lock is not None:
                with contextlib.suppress(OSError):
                    lock.unlink()

    def _run(
        self, folder: Path, lock: Path | None, stop: StopToken, tell: Callable[[], None]
    ) -> tuple[int | None, str]:
        """The process's exit code, None when the stop came first, and what it said. Raises
        OSError."""
        path = os.pathsep.join([str(Path(planner.__file__).parent.parent), *sys.path])
        process = subprocess.Popen(
            # -P: nothing is imported from the folder that somebody happens to be in.
            [sys.executable, "-P", "-c", _COMMAND, str(folder)],
            env=os.environ | {"PYTHONPATH": path},
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            start_new_session=True,
        )
        assert process.stdin is not None
        assert process.stdout is not None
        try:
            with contextlib.suppress(OSError):
                pickle.dump(self._day, process.stdin)
                process.stdin.flush()  # It stays open: the compiler ends with it.
            while process.poll() is None:
                if stop.is_set:
                    return None, ""
                if lock is not None:
                    with contextlib.suppress(OSError):
                        os.utime(lock)
                tell()
                time.sleep(LOOK_S)
            return process.returncode, process.stdout.read().decode(errors="replace").strip()
        finally:
            process.kill()
            process.wait()
            process.stdout.close()
            with contextlib.suppress(OSError):
                process.stdin.close()


def _given_up(why: str) -> CannotCompile:
    _why_not.append(why)
    return CannotCompile(why)


def _is_free(lock: Path) -> bool:
    """Take the lock, if nobody who compiles holds it."""
    try:
        with lock.open("x"):
            return True
    except FileExistsError:
        with contextlib.suppress(OSError):
            if abs(time.time() - lock.stat().st_mtime) > SILENT_S:
                lock.unlink()
        return False
    except OSError:
        return True


def compile_here() -> None:
    """Compile for the day on the standard input into the folder that is named; says in a line why
    it cannot."""
    day: DayArrays = pickle.load(sys.stdin.buffer)
    end_with_parent(last_s=0)
    folder = Path(sys.argv[1])
    gc.disable()  # A tenth of the time; what is left lying about goes with the process.
    try:
        compile_into(folder)
        nothing: list[list[int]] = [[] for _ in day.truck]
        Searcher(day, 0, Tuning()).start_from(day.truck_at[:, c.FIRST_LOAD].tolist(), nothing)
        seal(folder)
    except Exception as error:
        said = " ".join(f"{type(error).__name__}: {error}".split())[:MOST_SAID]
        if isinstance(error, OSError) and error.errno == errno.ENOSPC:
            sys.stdout.write("the disk is full")
            sys.exit(DISK_FULL)
        sys.stdout.write(said)
        sys.exit(1)
