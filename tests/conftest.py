"""What every check shares."""

import os
import shutil
import subprocess
import sys
import tempfile
import threading
import time
from importlib.util import find_spec

import pytest
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
    pid = getattr(session.config, "workerinput", {}).get("compiling", 0)
    while pid:
        try:
            os.kill(pid, 0)
        except ProcessLookupError:
            break
        time.sleep(0.1)


@pytest.fixture(scope="session")
def machine_code() -> None:
    """Refills are placed by machine code in this process from here on, compiled first where it is
    not kept yet: hundreds of days are planned in a tenth of the time. The same program as plain
    Python, with the same stops: tests/test_routing_refills.py."""
    if find_spec("numba") and compile_search():
        use_kept_machine_code()
