"""What every check shares."""

import gc
import os
import shutil
import subprocess
import sys
import tempfile
import threading
import time
from importlib.util import find_spec

import pytest
from _pytest.runner import runtestprotocol
from hypothesis import settings

from planner.routing.compiled.python_api import use_kept_machine_code
from tests.own_cache import RUN_FOLDER, compile_search

# Hundreds of processes are started here: where Python keeps no compiled modules, each compiles all
# that it imports anew, which takes longer than what most of them are started for.
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
sys.dont_write_bytecode = False

# No check asserts on a clock: a loaded machine must not turn a slow example into a failure.
settings.register_profile("no clock", deadline=None)
settings.load_profile("no clock")

COMPILE = "from tests.own_cache import compile_search; compile_search()"

compiling = pytest.StashKey[int]()

# Nothing that modules make while they are read goes away: looking for circles in it takes a fifth
# of the time that reading them takes.
gc.disable()


def pytest_sessionstart(session: pytest.Session) -> None:
    """Before the workers start: a folder that they share; and when all tests run, the search is
    compiled while the workers read the tests. Else each of them would compile parts of it for
    itself until the first plan by the search keeps them."""
    config = session.config
    if hasattr(config, "workerinput") or not config.getoption("numprocesses", None):
        return
    os.environ[RUN_FOLDER] = tempfile.mkdtemp(prefix="planner-tests-")
    config.add_cleanup(lambda: shutil.rmtree(os.environ.pop(RUN_FOLDER), ignore_errors=True))
    if config.args_source is pytest.Config.ArgsSource.TESTPATHS and find_spec("numba"):
        process = subprocess.Popen([sys.executable, "-c", COMPILE], cwd=config.rootpath)
        config.stash[compiling] = process.pid
        threading.Thread(target=process.wait, daemon=True).start()


@pytest.hookimpl(optionalhook=True)
def pytest_configure_node(node) -> None:  # type: ignore[no-untyped-def]
    node.workerinput["compiling"] = node.config.stash.get(compiling, 0)


def pytest_collection_finish(session: pytest.Session) -> None:
    """A worker's first test waits for the compiler."""
    gc.freeze()
    gc.enable()
    pid = getattr(session.config, "workerinput", {}).get("compiling", 0)
    while pid:
        try:
            os.kill(pid, 0)
        except ProcessLookupError:
            break
        time.sleep(0.1)


@pytest.hookimpl(tryfirst=True)
def pytest_runtest_protocol(item: pytest.Item, nextitem: pytest.Item | None) -> bool | None:
    """A worker tells of a test once. Else five messages go to the process that prints: for
    thousands of tests of a few milliseconds that costs more than the tests."""
    if not hasattr(item.config, "workerinput") or item.config.getoption("durations"):
        return None
    for report in runtestprotocol(item, log=False, nextitem=nextitem):
        if report.when == "call" or not report.passed:
            item.ihook.pytest_runtest_logreport(report=report)
    return True


def pytest_sessionfinish() -> None:
    """A browser that tests shared is ended by the process that started it."""
    if "tests.browser" in sys.modules:
        sys.modules["tests.browser"].end_chromium()


@pytest.fixture(scope="session")
def machine_code() -> None:
    """Refills are placed by machine code in this process from here on, compiled first where it is
    not kept yet: hundreds of days are planned in a tenth of the time. The same program as plain
    Python, with the same stops: tests/test_routing_refills.py."""
    if find_spec("numba") and compile_search():
        use_kept_machine_code()
