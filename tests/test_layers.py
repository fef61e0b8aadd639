"""Rooms import one way, and each outside package has one door."""

from __future__ import annotations

import ast
from functools import cache
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parents[1] / "planner"

LEVEL = {
    "problems": 0,
    "caches": 2,
    "plain_files": 0,
    "kept_home": 1,
    "shapes": 0,
    "deadline": 0,
    "outputs": 1,
    "units": 1,
    "day": 2,
    "rules": 3,
    "tables": 4,
    "mixing": 4,
    "compliance": 5,
    "roads": 4,
    "routing": 5,
    "rounds": 5,
    "prepare": 6,
    "tuning_file": 6,
    "plan": 7,
    "work_ahead": 7,
    "papers": 8,
    "maps": 9,
    "exports": 9,
    "day_roads": 9,
    "records": 10,
    "by_hand": 10,
    "phone": 11,
    "chain": 11,
    "locating": 11,
    "forecast_service": 11,
    "importing": 11,
    "recording": 12,
    "changing": 13,
    "compare": 13,
    "again": 12,
    "weeks": 12,
    "day_files": 13,
    "phone_files": 13,
    "phone_day": 12,
    "api": 14,
    "office": 14,
    "pages": 15,
    "serve": 16,
    "cli": 17,
    "__main__": 18,
}
"""A module may import rooms of a lower level, and its own room."""

ROUTING_LEVEL = {
    "tuning": 0,
    "problem": 1,
    "effort": 2,
    "loading": 2,
    "exact": 2,
    "build": 3,
    "compiled": 3,
    "repair": 4,
    "search": 4,
    "refills": 4,
    "unserved": 5,
    "shared": 6,
    "engines": 7,
}
"""The same within planner/routing."""

DOORS = {
    "pint": ["units"],
    "pandas": ["api.py"],
    "openpyxl": ["tables/"],
    "osmium": ["roads/"],
    "ortools": ["routing/"],
    "folium": ["maps/"],
    "geopy": ["roads/"],
    "rapidfuzz": ["roads/"],
    "jinja2": ["papers/"],
    "urllib.request": ["forecast_service.py"],
    "click": ["cli/"],
    "scipy": ["roads/", "compare/"],
    "joblib": ["compare/"],
    "distributed": ["compare/"],
    "shapely": ["shapes.py"],
    "platformdirs": ["outputs/"],
    # Two files of different making: the records, safe on a shared drive, and the journal of the
    # open day, quick on this machine.
    "sqlite3": ["records/store.py", "office/journal.py"],
    "starlette": ["serve/"],
    "uvicorn": ["serve/run.py"],
    "phonenumbers": ["tables/"],
    "astral": ["compliance/"],
    "segno": ["phone/"],
}
"""Outside package -> where its imports may stand."""

ONE_FILE = {
    "pint",
    "pandas",
    "openpyxl",
    "osmium",
    "folium",
    "geopy",
    "rapidfuzz",
    "jinja2",
    "platformdirs",
    "shapely",
    "uvicorn",
    "phonenumbers",
    "astral",
    "segno",
    "joblib",
    "distributed",
}
"""Of these, exactly one file is the door. OR-Tools has two: CP-SAT and the routing solver."""

PLANNING = {"planner.day.life", "planner.day.roll"}
"""What decides about a day's orders, which the audit decides for itself."""

FILES = sorted(PACKAGE.rglob("*.py"))


def room(module: str) -> str | None:
    parts = module.split(".")
    return parts[1] if parts[0] == "planner" and len(parts) > 1 else None


@cache
def nodes(file: Path) -> list[ast.AST]:
    """Of imports and classes alone: what the checks below look at."""
    tree = ast.walk(ast.parse(file.read_text(encoding="utf-8")))
    return [node for node in tree if isinstance(node, ast.Import | ast.ImportFrom | ast.ClassDef)]


@cache
def imports(file: Path) -> set[str]:
    found: set[str] = set()
    for node in nodes(file):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            assert node.level == 0, f"{file}: relative import"
            if node.module == "planner":
                found |= {f"planner.{alias.name}" for alias in node.names}
            else:
                found.add(node.module)
    return found


def test_imports_go_one_way() -> None:
    wrong = []
    for file in FILES:
        relative = file.relative_to(PACKAGE)
        own = relative.parts[0].removesuffix(".py")
        for module in imports(file) if own != "__init__" else ():
            other = room(module)
            if other is None or other == own or other.startswith("__"):
                continue
            if LEVEL[other] >= LEVEL[own]:
                wrong.append(f"{relative} imports {module}")
    assert wrong == []


@pytest.mark.parametrize("own", sorted(ROUTING_LEVEL))
def test_rooms_of_routing_import_one_way(own: str) -> None:
    routing = PACKAGE / "routing"
    for file in [routing / f"{own}.py", *(routing / own).glob("*.py")]:
        for module in imports(file) if file.exists() else ():
            if module.startswith("planner.routing."):
                other = module.split(".")[2]
                assert other == own or ROUTING_LEVEL[other] < ROUTING_LEVEL[own], (
                    f"{file}: {module}"
                )


def test_routing_has_these_rooms_and_no_others() -> None:
    found = {path.stem for path in (PACKAGE / "routing").iterdir() if path.suffix in ("", ".py")}
    assert found - {"__init__", "__pycache__"} == set(ROUTING_LEVEL)


def test_no_class_name_is_used_twice() -> None:
    homes: dict[str, list[str]] = {}
    for file in FILES:
        for node in nodes(file):
            if isinstance(node, ast.ClassDef):
                homes.setdefault(node.name, []).append(f"{file.relative_to(PACKAGE)}")
    found = {name: files for name, files in homes.items() if len(files) > 1}
    assert found == {}


def test_the_audit_shares_no_code_with_what_it_audits() -> None:
    for file in (PACKAGE / "plan" / "audit").glob("*.py"):
        for module in imports(file):
            assert room(module) not in {"compliance", "mixing", "routing", "tables"}, (
                f"{file}: {module}"
            )
            if module.startswith("planner.plan.") and not module.startswith("planner.plan.audit"):
                assert module == "planner.plan.model", f"{file}: {module}"
            assert module not in PLANNING, f"{file}: {module}"


@pytest.mark.parametrize("package", sorted(DOORS))
def test_each_outside_package_has_one_door(package: str) -> None:
    users = [
        str(file.relative_to(PACKAGE))
        for file in FILES
        if any(f"{module}.".startswith(f"{package}.") for module in imports(file))
    ]
    assert users, f"{package} is not used: drop it from pyproject.toml"
    for user in users:
        assert any(user.startswith(door) for door in DOORS[package]), f"{user} imports {package}"
    if package in ONE_FILE:
        assert len(users) == 1, users
