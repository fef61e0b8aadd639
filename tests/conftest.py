"""What every check shares."""

from importlib.util import find_spec

import pytest
from hypothesis import settings

from planner.routing.compiled.day_arrays import day_arrays
from planner.routing.compiled.python_api import use_kept_machine_code
from planner.routing.problem import StopToken
from planner.routing.search.first_run import CannotCompile, FirstRun
from tests.routing_cases import random_problem

# No check asserts on a clock: a loaded machine must not turn a slow example into a failure.
settings.register_profile("no clock", deadline=None)
settings.load_profile("no clock")


@pytest.fixture(scope="session")
def machine_code() -> None:
    """Refills are placed by machine code in this process from here on, compiled first where it is
    not kept yet: hundreds of days are planned in a tenth of the time. The same program as plain
    Python, with the same stops: tests/test_routing_refills.py."""
    if find_spec("numba") is None:
        return
    try:
        FirstRun(day_arrays(random_problem(1))).done(StopToken(), lambda: None)
    except CannotCompile:
        return
    use_kept_machine_code()
