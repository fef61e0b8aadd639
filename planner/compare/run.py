"""Tasks on the cores of this machine, or on a Dask cluster (the only door of joblib and Dask),
their results kept on disk by their content, so that a day is planned once with a fleet."""

import contextlib
import functools
import hashlib
import importlib.metadata
import json
import os
import signal
import tempfile
import threading
import time
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, Final, TypeVar
from uuid import uuid4

from joblib import Parallel, cpu_count, delayed, parallel_config

from planner.caches import own_folder
from planner.compare.model import DayResult
from planner.deadline import end_with
from planner.plain_files import read_json
from planner.plan.document import PlanFileError, plain, read_value
from planner.problems import PlannerError
from planner.weeks.model import Calendar

Kept = TypeVar("Kept", DayResult, Calendar)

FORMAT: Final = "lawn spray day planner compared day 1"
FILES_KEPT: Final = 50_000
"""About 6 kB each; the oldest beyond these are thrown away."""
LEFT_BEHIND_S: Final = 86_400

NOT_PLANNING: Final = ("cli", "papers", "maps", "exports", "records", "compare")
"""Rooms whose code changes no plan; of the last, these files do:"""
PLANNING_FILES: Final = ("tasks.py", "results.py", "model.py", "days.py", "calendars.py")


def planning_version() -> str:
    """A fingerprint of all code that a result depends on, the solvers' versions included."""
    package = Path(__file__).resolve().parents[1]
    text = hashlib.sha256()
    for name in ("ortools", "numba", "numpy"):
        with contextlib.suppress(importlib.metadata.PackageNotFoundError):
            text.update(f"{name} {importlib.metadata.version(name)} ".encode())
    for source in sorted([*package.rglob("*.py"), *package.rglob("*.csv")]):
        parts = source.relative_to(package).parts
        if parts[0] in NOT_PLANNING and parts not in {("compare", file) for file in PLANNING_FILES}:
            continue
        text.update("/".join(parts).encode() + source.read_bytes())
    return text.hexdigest()


class KeptResults:
    """Results by key (see planner.compare.tasks.key_of), in the user's cache folder where nobody
    else can write to it. A file that is broken, foreign or of another format counts as not there;
    figures that its owner changed are believed."""

    def __init__(self, folder: Path | None = None) -> None:
        self.folder = folder or own_folder("compared")
        """None: nothing is kept."""

    def get(self, key: str, fleet: str) -> DayResult | None:
        """The result under a key, under the name that the fleet has now; None when there is
        none."""
        result = self._get(key, DayResult)
        return None if result is None else replace(result, fleet=fleet)

    def calendar(self, key: str) -> Calendar | None:
        """The calendar under a key; None when there is none."""
        return self._get(key, Calendar)

    def _get(self, key: str, kind: type[Kept]) -> Kept | None:
        if self.folder is None:
            return None
        try:
            raw = read_json(self._file(key).read_text(encoding="utf-8"))
            if not isinstance(raw, dict) or (raw.get("format"), raw.get("key")) != (FORMAT, key):
                return None
            result = read_value(kind, raw["result"], "result")
        except (OSError, ValueError, KeyError, PlanFileError):
            return None
        assert isinstance(result, kind)
        return result

    def put(self, key: str, result: Kept, engine: str) -> Kept:
        """Keep a result or a calendar, if the engine that was asked for made it; returns it as
        get() will give it. A disk that is full is no error."""
        content = plain(result)
        text = json.dumps({"format": FORMAT, "key": key, "result": content}, ensure_ascii=False)
        if self.folder is not None and result.engine == engine:
            with contextlib.suppress(OSError):
                self._write(self._file(key), text)
        # Through the same rounding as what is read back, so that a resumed comparison gives the
        # same bytes.
        read = read_value(type(result), json.loads(json.dumps(content)), "result")
        assert isinstance(read, type(result))
        return read

    def throw_away_oldest(self) -> None:
        """Keep the folder within FILES_KEPT."""
        ages, left_behind = [], []
        for file in self.folder.glob("*/*.*") if self.folder is not None else ():
            with contextlib.suppress(OSError):
                made = file.stat().st_mtime
                if file.suffix == ".json":
                    ages.append((made, file))
                elif time.time() - made > LEFT_BEHIND_S:  # By a run that was killed.
                    left_behind.append(file)
        too_old = [file for _, file in sorted(ages)[: max(0, len(ages) - FILES_KEPT)]]
        for file in too_old + left_behind:
            with contextlib.suppress(OSError):
                file.unlink()

    def _file(self, key: str) -> Path:
        assert self.folder is not None
        return self.folder / key[:2] / f"{key}.json"

    def _write(self, file: Path, text: str) -> None:
        file.parent.mkdir(parents=True, exist_ok=True)
        handle, aside = tempfile.mkstemp(suffix=".tmp", dir=file.parent)
        try:
            with os.fdopen(handle, "w", encoding="utf-8") as out:
                out.write(text)
            Path(aside).replace(file)
        finally:
            Path(aside).unlink(missing_ok=True)


T = TypeVar("T")
R = TypeVar("R")

WAIT_FOR_CLUSTER_S: Final = 10
LOOK_S: Final = 0.3
AHEAD: Final = "2 * n_jobs"
"""Tasks handed out beyond those being planned: enough that no core waits, few enough that the
times of a day are not worked out long before they are needed."""


class ClusterError(PlannerError):
    """A cluster that cannot be used; the message says why and what to do."""


def cores() -> int:
    """Cores of this machine that a process may use."""
    return int(cpu_count())


def planned(
    tasks: Iterable[T], work: Callable[[T], R], *, jobs: int, cluster: str | None = None
) -> Iterator[tuple[int, R]]:
    """The results of `work`, a function of a module, as they are done, each with the place of its
    task. Tasks are drawn one after the other, a few ahead of the work.

    jobs: processes on this machine, one core each; cluster: address of a Dask scheduler instead.
    Raises ClusterError, and whatever a task raises. Whoever stops listening stops the work.
    """
    with contextlib.ExitStack() as stack:
        if cluster is not None:
            stack.enter_context(_on_cluster(cluster))
            jobs = -1
        else:
            # Times of a day are no large arrays, and files for them would be left by a kill.
            stack.enter_context(
                parallel_config(
                    "loky", max_nbytes=None, initializer=end_with, initargs=(os.getpid(),)
                )
            )
        parallel = Parallel(
            n_jobs=jobs, return_as="generator_unordered", batch_size=1, pre_dispatch=AHEAD
        )
        version = _version()
        with _no_ctrl_c_for_others():
            results = parallel(_calls(tasks, work))
        try:
            for place, where_version, result in results:
                if where_version != version:
                    raise ClusterError(
                        "a worker of the cluster runs another version of the planner or of its "
                        "solvers; install the same on all machines"
                    )
                yield place, result
        finally:
            results.close()


@contextlib.contextmanager
def _no_ctrl_c_for_others() -> Iterator[None]:
    """Processes that are started within never hear the terminal's Ctrl-C, not even before their
    first task: what is ignored stays so in a new program (a mask would not: joblib clears it). This
    one is deaf for that moment only."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


@functools.cache
def _version() -> str:
    return planning_version()


def _calls(tasks: Iterable[T], work: Callable[[T], R]) -> Iterator[Any]:
    """The calls for joblib. It draws them in a thread of its own, where an exception would be lost
    and the work would stand still: it goes out as a call that raises it."""
    here = os.getpid()
    try:
        for place, task in enumerate(tasks):
            yield delayed(plan_here)(place, task, here, work)
    except Exception as error:
        yield delayed(_raise)(error)


def plan_here(place: int, task: T, asked_by: int, work: Callable[[T], R]) -> tuple[int, str, R]:
    """A task in the process that it was handed to, with its place and the version of the planning
    code there. asked_by: number of the process that handed it out."""
    main = threading.current_thread() is threading.main_thread()
    if os.getpid() != asked_by and main:
        # Ctrl-C reaches every process of the terminal. An engine would end its search early and
        # hand over a plan of less effort than the other fleets'.
        signal.signal(signal.SIGINT, signal.SIG_IGN)
    return place, _version(), work(task)


def _raise(error: Exception) -> None:
    raise error


@dataclass(frozen=True)
class ClusterStop:
    """Whether the work of a cluster is to end, asked by calling it on any of its machines."""

    name: str = field(default_factory=lambda: f"stop-{uuid4().hex}")

    def __call__(self) -> bool:
        """Whether it is to end, by the scheduler."""
        import distributed

        event: Any = distributed.Event
        return bool(event(self.name).is_set())


@contextlib.contextmanager
def told_to_end(address: str, is_set: Callable[[], bool]) -> Iterator[ClusterStop]:
    """For tasks of a cluster: told so once is_set() is true, which is asked now and then. Raises
    ClusterError."""
    stop, over = ClusterStop(), threading.Event()
    with _on_cluster(address) as client:
        import distributed

        make: Any = distributed.Event
        event = make(stop.name, client=client)

        def watch() -> None:
            while not over.wait(LOOK_S):
                if is_set():
                    event.set()
                    return

        thread = threading.Thread(target=watch, daemon=True)
        thread.start()
        try:
            yield stop
        finally:
            over.set()
            thread.join()


@contextlib.contextmanager
def _on_cluster(address: str) -> Iterator[Any]:
    try:
        import distributed
    except ImportError:
        raise ClusterError(
            "the packages for a cluster are not installed; "
            "pip install 'lawn-spray-day-planner[cluster]'"
        ) from None
    connect: Any = distributed.Client
    try:
        client = connect(address, timeout=WAIT_FOR_CLUSTER_S, set_as_default=False)
    except (OSError, TimeoutError, ValueError) as error:
        raise ClusterError(f"no scheduler answers at {address}: {error}") from error
    with client, parallel_config("dask", client=client):
        if not client.ncores():
            raise ClusterError(f"the scheduler at {address} has no workers")
        yield client
