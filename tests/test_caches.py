"""Caches are never trusted and never fatal: what is damaged, a stranger's or half-made is not used,
and a compiler that fails ends its own process only."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from planner import caches
from planner.compare.run import KeptResults
from planner.routing.compiled import kept_code
from planner.routing.engines import engine_named, why_not
from planner.routing.problem import Effort, SolveOptions, StopToken
from planner.routing.search import first_run
from planner.routing.search.first_run import FirstRun
from tests.routing_cases import random_problem

needs_root = pytest.mark.skipif(
    not hasattr(os, "getuid") or os.getuid() != 0, reason="only root may give files away"
)


@pytest.fixture(autouse=True)
def cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A cache of its own, in which this process has not looked yet."""
    monkeypatch.setenv("PLANNER_CACHE_DIR", str(tmp_path / "cache"))
    monkeypatch.setattr(kept_code, "_trusted", None)
    monkeypatch.setattr(kept_code, "code_name", lambda: "sources-1")
    monkeypatch.setattr(first_run, "_why_not", [])
    return tmp_path / "cache"


@pytest.fixture
def code(cache: Path) -> Path:
    """Machine code as a process leaves it that has compiled."""
    made = kept_code.new_folder()
    (made / "room").mkdir()
    for name in ("a.nbi", "a.1.nbc", "b.nbi"):
        (made / "room" / name).write_bytes(name.encode() * 1000)
    kept_code.seal(made)
    kept_code.keep(made)
    kept_code._trusted = None
    return cache / "search" / "sources-1"


def flip(file: Path) -> None:
    content = bytearray(file.read_bytes())
    content[len(content) // 2] ^= 1
    file.write_bytes(content)


HARM: dict[str, Callable[[Path], object]] = {
    "a bit of the code is flipped": lambda f: flip(f / "room/a.1.nbc"),
    "a bit of the index is flipped": lambda f: flip(f / "room/a.nbi"),
    "a bit of the seal is flipped": lambda f: flip(f / "sealed.json"),
    "emptied": lambda f: (f / "room/a.1.nbc").write_bytes(b""),
    "cut off": lambda f: os.truncate(f / "room/a.nbi", 100),
    "junk": lambda f: (f / "room/a.nbi").write_bytes(os.urandom(5000)),
    "a file is gone": lambda f: (f / "room/b.nbi").unlink(),
    "all files are gone": lambda f: shutil.rmtree(f / "room"),
    "never sealed": lambda f: (f / "sealed.json").unlink(),
    "seal is empty": lambda f: (f / "sealed.json").write_text(""),
    "seal is a list": lambda f: (f / "sealed.json").write_text("[]"),
    "seal is no UTF-8": lambda f: (f / "sealed.json").write_bytes(b"\xff\xfe\x00"),
    "seal is nested": lambda f: (f / "sealed.json").write_text("[" * 100_000),
    "sealed for other sources": lambda f: (f / "sealed.json").write_text(
        (f / "sealed.json").read_text().replace("sources-1", "sources-2")
    ),
    "a file is a link": lambda f: (
        shutil.copy(f / "room/a.nbi", f.parent / "a.nbi"),
        (f / "room/a.nbi").unlink(),
        (f / "room/a.nbi").symlink_to(f.parent / "a.nbi"),
    ),
    "the folder is a link": lambda f: (f.rename(f.parent / "x"), f.symlink_to(f.parent / "x")),
    "a file in its place": lambda f: (shutil.rmtree(f), f.write_text("")),
    "a folder in place of a file": lambda f: (
        (f / "room/a.nbi").unlink(),
        (f / "room/a.nbi").mkdir(),
    ),
}


@pytest.mark.parametrize("harm", HARM)
def test_harmed_code_is_thrown_away(code: Path, harm: str) -> None:
    assert kept_code.kept_code() == code
    kept_code._trusted = None
    HARM[harm](code)
    assert kept_code.kept_code() is None
    assert not os.path.lexists(code)


def test_a_file_that_nobody_sealed_is_removed(code: Path) -> None:
    (code / "room" / "c.nbi").write_bytes(b"from elsewhere")
    assert kept_code.kept_code() == code
    assert not (code / "room" / "c.nbi").exists()


def test_what_this_process_added_is_sealed_at_its_end(code: Path) -> None:
    kept_code.kept_code()
    assert kept_code._trusted is not None
    before = kept_code._trusted[1]
    (code / "room" / "c.nbi").write_bytes(b"ours")
    kept_code._seal_more(code, before)
    kept_code._trusted = None
    assert kept_code.kept_code() == code
    assert (code / "room" / "c.nbi").exists()


def test_only_code_that_is_old_and_unused_is_thrown_away(code: Path) -> None:
    older = [code.with_name(f"sources-{number}") for number in range(2, 7)]
    for folder in older:
        shutil.copytree(code, folder)
        os.utime(folder, (0, 0))
    os.utime(code, (0, 0))
    assert kept_code.kept_code() == code  # A planner that starts to use it.
    new_folder = kept_code.new_folder()  # Another copy of the planner compiles.
    assert code.is_dir(), "code in use"
    assert sum(folder.is_dir() for folder in older) == kept_code.FOLDERS_KEPT - 1
    for folder in older:
        shutil.rmtree(folder, ignore_errors=True)
        shutil.copytree(code, folder)
        os.utime(folder)
    kept_code.new_folder()
    assert all(folder.is_dir() for folder in (code, new_folder, *older)), "all in use"


def test_caches_are_private(cache: Path) -> None:
    folder = caches.own_folder("compared")
    assert folder is not None
    assert folder.stat().st_mode & 0o077 == 0
    assert caches.why_unused() == ""


@pytest.mark.skipif(not hasattr(os, "getuid"), reason="needs modes of POSIX")
@pytest.mark.parametrize("place", ["cache", "cache/search", "."])
@pytest.mark.parametrize("mode", [0o777, 0o757])
def test_a_folder_that_others_may_write_to_is_not_used(
    code: Path, cache: Path, place: str, mode: int
) -> None:
    (cache.parent / place).chmod(mode)
    assert kept_code.kept_code() is None
    assert code.exists()
    # A temporary one serves; a predictable name in a common folder would be anybody's.
    made = kept_code.new_folder()
    assert made.stat().st_mode & 0o077 == 0
    assert not made.is_relative_to(cache)
    made.rmdir()


@needs_root
def test_a_group_and_another_owner_are_others(cache: Path, code: Path) -> None:
    (cache / "search").chmod(0o770)
    assert kept_code.kept_code() == code  # Root's own group.
    kept_code._trusted = None
    os.chown(cache / "search", 0, 65534)
    assert kept_code.kept_code() is None
    (cache / "search").chmod(0o700)
    os.chown(cache / "search", 65534, 0)
    assert kept_code.kept_code() is None
    os.chown(cache, 65534, 0)
    assert "belongs to another user" in caches.why_unused()
    assert KeptResults().folder is None


def test_a_cache_that_is_a_file(cache: Path) -> None:
    cache.write_text("")
    assert caches.own_folder("roads") is None
    assert "PLANNER_CACHE_DIR" in caches.why_unused()
    assert KeptResults().get("k", "f") is None


FAILS = {
    "crash": ("import os; os.abort()", 1, "ended with code"),
    "no memory": ("import os, signal; os.kill(os.getpid(), signal.SIGKILL)", 1, "ended with code"),
    "disk full": ("import sys; sys.stdout.write('the disk is full'); sys.exit(28)", 2, "full"),
    "error": ("import sys; sys.stdout.write('TypeError: x'); sys.exit(1)", 1, "TypeError: x"),
}


@pytest.mark.parametrize("how", FAILS)
def test_a_compiler_that_fails(how: str, cache: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    pytest.importorskip("numba")
    program, tries, said = FAILS[how]
    tried: list[Path] = []
    run = FirstRun._run

    def noted(self: FirstRun, folder: Path, *rest: object) -> object:
        tried.append(folder)
        return run(self, folder, *rest)  # type: ignore[arg-type]

    monkeypatch.setattr(FirstRun, "_run", noted)
    monkeypatch.setattr(first_run, "_COMMAND", program)
    problem = random_problem(4, orders=9, trucks=2)
    for _ in range(2):  # The second day of a process does not try again.
        engine = engine_named("search")
        answer = engine.solve(problem, SolveOptions(Effort(count=2)))
        assert engine.name == "ortools"
        served = sum(stop.kind == "order" for route in answer.routes for stop in route.stops)
        assert served + len(answer.unserved) == 9
    assert len(tried) == tries
    assert said in why_not("search")
    assert not any(folder.exists() for folder in tried)
    assert list((cache / "search").iterdir()) == []


def test_a_program_that_cannot_be_started(monkeypatch: pytest.MonkeyPatch) -> None:
    pytest.importorskip("numba")
    monkeypatch.setattr(first_run.sys, "executable", "/nowhere/python")
    engine = engine_named("search")
    engine.solve(random_problem(4, orders=5, trucks=1), SolveOptions(Effort(count=1)))
    assert engine.name == "ortools"


def test_one_process_compiles_and_the_others_wait(
    cache: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    base = caches.own_folder("search")
    assert base is not None
    lock = base / first_run.LOCK
    assert first_run._is_free(lock)
    assert not first_run._is_free(lock)
    os.utime(lock, (1, 1))  # Its process was killed long ago.
    assert not first_run._is_free(lock)
    assert first_run._is_free(lock)
    stop = StopToken()
    waiting = FirstRun.__new__(FirstRun)
    assert waiting.done(stop, stop.set) is False  # A stop ends the wait for another's lock.
    assert lock.exists()
