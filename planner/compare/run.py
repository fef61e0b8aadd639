"""Tasks on the cores of this machine, or on a Dask cluster; the only door of joblib and Dask."""

from __future__ import annotations

import contextlib
import functools
import os
import signal
import threading
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from typing import Any, Final, TypeVar
from uuid import uuid4

from joblib import Parallel, cpu_count, delayed, parallel_config

from planner.compare.kept import planning_version
from planner.deadline import end_with
from planner.problems import PlannerError

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
