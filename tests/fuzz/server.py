"""A process that has imported the planner and forks a child for each command: `python -m
tests.fuzz.server` reads a request a line (JSON, see Request) and answers with an Ended a line."""

from __future__ import annotations

import contextlib
import gc
import importlib
import json
import os
import pkgutil
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import traceback
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import Any, TextIO

ROOT = Path(__file__).resolve().parents[2]
LONGEST_S = 60
"""What takes longer hangs."""
MOST_MEMORY = 8_000_000_000
MOST_OUTPUT = 400_000
CRASHED = 99
"""Exit code of an exception that reached the top."""


@dataclass(frozen=True)
class Request:
    """A command. file_bytes: no file may grow beyond (as on a full disk); closed: streams; stdout:
    file behind it; signal_s: when a signal comes, of that number; beside: another command that
    begins at the same moment, told of after this one."""

    words: list[str]
    folder: str
    env: dict[str, str] = field(default_factory=dict)
    file_bytes: int | None = None
    closed: list[int] = field(default_factory=list)
    stdout: str | None = None
    encoding: str = "utf-8"
    signal_s: float | None = None
    signal_number: int = signal.SIGINT
    beside: list[str] = field(default_factory=list)


@dataclass(frozen=True)
class Ended:
    """code: negative = by that signal."""

    code: int
    out: str
    err: str
    seconds: float


class Server:
    """The warm process, seen from the tests."""

    def __init__(self) -> None:
        env = os.environ | {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
        self._process = subprocess.Popen(
            [sys.executable, "-m", "tests.fuzz.server"],
            cwd=ROOT,
            env=env,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )

    def run(self, request: Request) -> Ended:
        """How the command ended."""
        self._send(request)
        return self.ended()

    def both(self, request: Request) -> tuple[Ended, Ended]:
        """How two commands ended that began at the same moment."""
        self._send(request)
        return self.ended(), self.ended()

    def _send(self, request: Request) -> None:
        assert self._process.stdin is not None
        self._process.stdin.write(json.dumps(asdict(request)) + "\n")
        self._process.stdin.flush()

    def ended(self) -> Ended:
        """The next that ends."""
        assert self._process.stdout is not None
        return Ended(**json.loads(self._process.stdout.readline()))

    def close(self) -> None:
        """End it."""
        self._process.communicate()


def main() -> None:
    """Serve until the input ends."""
    import planner

    for module in pkgutil.walk_packages(planner.__path__, "planner."):
        if not module.name.endswith("__main__"):
            importlib.import_module(module.name)
    for name in ("folium", "scipy.sparse.csgraph", "scipy.spatial", "openpyxl", "phonenumbers"):
        importlib.import_module(name)
    with tempfile.TemporaryDirectory() as folder, Path(os.devnull).open("w") as nowhere:
        _warm(Path(folder), nowhere)
    # A child hears it from where the planner itself begins.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    gc.collect()
    gc.freeze()
    # A child lives for a tenth of a second, too short for circles to fill its memory.
    gc.disable()
    for line in sys.stdin:
        request = Request(**json.loads(line))
        started = [_start(request)]
        if request.beside:
            started.append(_start(replace(request, words=request.beside)))
        for child, places in started:
            sys.stdout.write(json.dumps(asdict(_wait(request, child, places))) + "\n")
            sys.stdout.flush()


def _warm(folder: Path, nowhere: TextIO) -> None:
    """Run what commands share once, so that no child builds units, templates and tables anew."""
    from planner.cli.main import main as planner_command

    book = shutil.copytree(ROOT / "demo_data" / "bad" / "base", folder / "book")
    day = ["--date", "2027-04-14", "--engine", "nearest-fit", "--out", str(folder / "day")]
    for words in (
        ["check", str(book)],
        ["plan", str(book), *day],
        ["record", str(book), str(folder / "day"), "--as-planned"],
        ["audit", str(folder / "day"), str(book)],
        ["new", str(folder / "book.xlsx")],
        ["check", str(folder / "book.xlsx")],
    ):
        with (
            contextlib.redirect_stdout(nowhere),
            contextlib.redirect_stderr(nowhere),
            contextlib.suppress(SystemExit),
        ):
            planner_command(words)


def _start(request: Request) -> tuple[int, list[Path]]:
    handles = [tempfile.mkstemp(prefix="fuzz-", dir=Path(request.folder).parent) for _ in "oe"]
    places = [Path(name) for _, name in handles]
    for handle, _ in handles:
        os.close(handle)
    child = os.fork()
    if child == 0:
        _become(request, places)
    with contextlib.suppress(OSError):  # The child does it, too: whoever is first.
        os.setpgid(child, child)
    return child, places


def _wait(request: Request, child: int, places: list[Path]) -> Ended:
    begun = time.monotonic()
    status: int | None = None
    signalled = request.signal_s is None
    while status is None:
        done, result = os.waitpid(child, os.WNOHANG)
        if done:
            status = result
            break
        passed_s = time.monotonic() - begun
        if not signalled and passed_s >= (request.signal_s or 0.0):
            signalled = True
            _send(child, request.signal_number)
        if passed_s > LONGEST_S:
            _send(child, signal.SIGKILL)
        time.sleep(0.002)
    _send(child, signal.SIGKILL)  # What it left running.
    texts = []
    for place in places:
        with place.open("rb") as file:
            texts.append(file.read(MOST_OUTPUT).decode(errors="replace"))
        place.unlink()
    return Ended(os.waitstatus_to_exitcode(status), *texts, time.monotonic() - begun)


def _send(child: int, number: int) -> None:
    with contextlib.suppress(ProcessLookupError, PermissionError):
        os.killpg(child, number)


def _become(request: Request, places: list[Path]) -> None:
    code: Any = CRASHED
    try:
        with contextlib.suppress(OSError):
            os.setpgid(0, 0)
        os.chdir(request.folder)
        for name, value in request.env.items():
            os.environ[name] = value
        null = os.open(os.devnull, os.O_RDONLY)
        os.dup2(null, 0)
        for stream, place in zip((1, 2), places, strict=True):
            handle = os.open(place, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600)
            os.dup2(handle, stream)
            os.close(handle)
        os.closerange(3, 64)
        if request.stdout is not None:
            os.dup2(os.open(request.stdout, os.O_WRONLY), 1)
        sys.stdin = open(0, encoding="utf-8", closefd=False)  # noqa: SIM115
        sys.stdout = open(1, "w", encoding=request.encoding, closefd=False)  # noqa: SIM115
        sys.stderr = open(  # noqa: SIM115
            2, "w", encoding=request.encoding, errors="backslashreplace", closefd=False
        )
        for stream in request.closed:
            os.close(stream)
            setattr(sys, ("stdin", "stdout", "stderr")[stream], None)
        resource.setrlimit(resource.RLIMIT_AS, (MOST_MEMORY, MOST_MEMORY))
        if request.file_bytes is not None:
            signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
            resource.setrlimit(resource.RLIMIT_FSIZE, (request.file_bytes, request.file_bytes))
        signal.signal(signal.SIGINT, signal.default_int_handler)
        sys.argv = ["planner", *request.words]
        from planner.__main__ import run

        run()
        code = 0
    except KeyboardInterrupt:  # In the moment before the planner begins.
        code = 130
    except SystemExit as end:
        code = end.code if isinstance(end.code, int) else int(bool(end.code))
    except BaseException:
        with contextlib.suppress(BaseException):
            traceback.print_exc()
    finally:
        for stream in (sys.stdout, sys.stderr):
            with contextlib.suppress(BaseException):
                stream.flush()
        os._exit(code)


if __name__ == "__main__":
    main()
