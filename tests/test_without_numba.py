"""Without the extras (pyproject.toml) an office still plans: no module of theirs can be imported
here, and an engine that needs no compiling takes the search's place."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from pathlib import Path

DEMO_DAY = Path(__file__).resolve().parents[1] / "demo_data" / "spring_day"

WITHOUT_NUMBA = """
import sys

EXTRAS = {
    "numba", "llvmlite", "dask", "distributed", "pyvrp", "valhalla", "geojson", "gpxpy", "httpx",
    "hypothesis", "icalendar", "playwright", "axe_playwright_python", "pytest", "xdist", "mypy",
}

class Blocked:
    def find_spec(self, name, path=None, target=None):
        if name.split(".")[0] in EXTRAS:
            raise ImportError(name)

import importlib.util
real = importlib.util.find_spec
importlib.util.find_spec = lambda name, *rest: (
    None if name.split(".")[0] in EXTRAS else real(name, *rest)
)
sys.meta_path.insert(0, Blocked())
"""

ENGINE = """
from planner.routing.engines import engine_named
from planner.routing.problem import Effort, SolveOptions
from tests.routing_cases import random_problem

engine = engine_named("search")
problem = random_problem(4, orders=6, trucks=1)
answer = engine.solve(problem, SolveOptions(Effort(count=1)))
served = sum(stop.kind == "order" for route in answer.routes for stop in route.stops)
assert served + len(answer.unserved) == 6 and served > 2, answer
assert "numba" not in sys.modules
print(engine.name)
"""

COMMAND = """
from planner.cli.main import main
try:
    main(sys.argv[1:])
finally:
    assert "numba" not in sys.modules
"""


def run(program: str, *words: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-c", WITHOUT_NUMBA + program, *words]
    return subprocess.run(command, capture_output=True, text=True)


def test_another_engine_serves() -> None:
    done = run(ENGINE)
    assert (done.returncode, done.stdout.strip()) == (0, "ortools"), done.stderr


def test_the_demo_day_is_planned_and_the_command_says_by_what(tmp_path: Path) -> None:
    office, out = tmp_path / "office", tmp_path / "day"
    shutil.copytree(DEMO_DAY, office)
    # Every ninth order: without machine code the whole day takes a minute of the processor.
    head, *rows = (office / "orders.csv").read_text(encoding="utf-8").splitlines()
    few = "\n".join([head, *rows[::9]])
    (office / "orders.csv").write_text(few, encoding="utf-8")
    words = ("plan", str(office), "--date", "2027-04-14", "--out", str(out), "--effort", "1")
    roads = DEMO_DAY.parents[1] / "maps" / "alder-mills.osm.pbf"
    done = run(COMMAND, *words, "--roads", str(roads))
    assert done.returncode in (0, 3), done.stderr
    assert "Engine 'search' cannot run on this machine (numba is not installed)" in done.stderr
    assert "'ortools' made the plan" in done.stderr
    plan = json.loads((out / "plan.json").read_text(encoding="utf-8"))
    assert plan["engine"] == "ortools"
    papers = {"index.html", "map.html", "pick-list.html", "legs.csv", "plan.json", "stops.csv"}
    assert papers <= {file.name for file in out.iterdir()}
    assert sum(len(stop["orders"]) for truck in plan["trucks"] for stop in truck["stops"]) > 5
