"""The same tasks on a real Dask scheduler with two workers; one is killed in the middle."""

from __future__ import annotations

import operator
import os
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner

from planner.cli.comparing import ComparisonRequest, all_files
from planner.cli.main import main
from planner.compare import run
from planner.compare.compare import compare, prepare
from planner.compare.run import KeptResults
from tests.own_cache import cache_with_machine_code
from tests.seasons import season_folder

pytest.importorskip("distributed", reason="the extra `cluster` is not installed")

WAIT_S = 60.0


def free_port() -> int:
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return int(one.getsockname()[1])


def started(*words: object) -> subprocess.Popen[bytes]:
    return subprocess.Popen(
        [sys.executable, "-m", "distributed.cli." + str(words[0]), *map(str, words[1:])],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )


class Cluster:
    """A scheduler and its workers, each a process of its own on this machine."""

    def __init__(self, folder: Path) -> None:
        self.address = f"tcp://127.0.0.1:{free_port()}"
        port = self.address.rpartition(":")[2]
        self.folder = folder
        self.scheduler = started(
            "dask_scheduler", "--host", "127.0.0.1", "--port", port, "--no-dashboard"
        )
        self.workers = [self.worker(), self.worker()]
        self.wait()

    def worker(self) -> subprocess.Popen[bytes]:
        words = ("--nthreads", 1, "--no-nanny", "--no-dashboard", "--host", "127.0.0.1")
        return started("dask_worker", self.address, *words, "--local-directory", self.folder)

    def wait(self) -> None:
        from distributed import Client

        until = time.monotonic() + WAIT_S
        while True:
            try:
                with Client(self.address, timeout=5, set_as_default=False) as client:
                    client.wait_for_workers(2, timeout=WAIT_S)
                return
            except OSError:
                assert time.monotonic() < until, "the scheduler does not start"
                time.sleep(0.2)

    def close(self) -> None:
        for process in (*self.workers, self.scheduler):
            process.kill()
            process.wait()


@pytest.fixture(scope="module")
def cluster(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Cluster]:
    """The test that kills a worker comes last."""
    one = Cluster(tmp_path_factory.mktemp("workers"))
    yield one
    one.close()


def test_work_on_a_cluster_is_told_to_end(cluster: Cluster) -> None:
    def asked(stop: run.ClusterStop) -> bool:
        ((_, told),) = run.planned([stop], operator.call, jobs=1, cluster=cluster.address)
        return bool(told)

    ends = threading.Event()
    with run.told_to_end(cluster.address, ends.is_set) as stop:
        assert not asked(stop)
        ends.set()
        while not asked(stop):
            pass


def test_a_killed_worker_changes_nothing(
    cluster: Cluster, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    workbook = season_folder(tmp_path / "office")
    words = ["compare", str(workbook), "--engine", "nearest-fit", "--effort", "1", "--sweep"]
    words += ["trucks=1..2", "--seeds", "2"]
    monkeypatch.setenv("PLANNER_CACHE_DIR", cache_with_machine_code(tmp_path / "cache"))
    result = CliRunner().invoke(main, [*words, "--out", str(tmp_path / "here")])
    assert result.exit_code == 0, result.output

    asked = ComparisonRequest(
        str(workbook), None, None, (), ("trucks=1..2",), None, "nearest-fit", 1, None, 2, None, None
    )
    killed = []

    def told(done: int, before: int, in_all: int) -> None:
        if done >= 3 and not killed:
            killed.append(in_all)
            os.kill(cluster.workers[0].pid, signal.SIGKILL)

    found = compare(
        prepare(asked.request()),
        told,
        jobs=1,
        cluster=cluster.address,
        kept=KeptResults(tmp_path / "kept"),
    )
    assert killed == [12]  # Two trucks are the present fleet.
    assert cluster.workers[0].wait() == -signal.SIGKILL
    for name, text in all_files(found).items():
        assert (tmp_path / "here" / name).read_bytes() == text.encode(), name


def test_no_scheduler_is_told_in_words(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(run, "WAIT_FOR_CLUSTER_S", 1)
    workbook = season_folder(tmp_path / "office")
    words = ["compare", str(workbook), "--engine", "nearest-fit", "--out", str(tmp_path / "out")]
    address = f"tcp://127.0.0.1:{free_port()}"
    result = CliRunner().invoke(main, [*words, "--cluster", address])
    assert result.exit_code == 1
    assert f"no scheduler answers at {address}" in result.stderr
    assert not (tmp_path / "out").exists()
