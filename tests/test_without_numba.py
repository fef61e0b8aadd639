"""Where numba cannot be imported, an engine that needs no compiling takes the search's place."""

from __future__ import annotations

import subprocess
import sys

PROGRAM = """
import sys

class Blocked:
    def find_spec(self, name, path=None, target=None):
        if name.split(".")[0] == "numba":
            raise ImportError(name)

import importlib.util
real = importlib.util.find_spec
importlib.util.find_spec = lambda name, *rest: None if name == "numba" else real(name, *rest)
sys.meta_path.insert(0, Blocked())
from planner.routing.engines import engine_named
from planner.routing.problem import Effort
from tests.routing_cases import random_problem

engine = engine_named("search")
problem = random_problem(4, orders=9, trucks=2)
answer = engine.solve(problem, Effort(count=2), 1, lambda share, text: None)
served = sum(stop.kind == "order" for route in answer.routes for stop in route.stops)
assert served + len(answer.unserved) == 9 and served > 4, answer
assert "numba" not in sys.modules
print(engine.name)
"""


def test_another_engine_serves() -> None:
    run = subprocess.run([sys.executable, "-c", PROGRAM], capture_output=True, text=True)
    assert (run.returncode, run.stdout.strip()) == (0, "ortools"), run.stderr
