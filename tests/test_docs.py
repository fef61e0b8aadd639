"""README, DEVELOPERS.md and planner/docs cannot drift from commands, tables, codes and rooms."""

from __future__ import annotations

import re
from pathlib import Path

import click
import pytest

from planner.cli.common import EXIT_CODES
from planner.cli.main import COMMANDS, main
from planner.tables.columns import table_names
from tests.reference import MARK, reference

ROOT = Path(__file__).resolve().parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
DOCS = {
    file.name: file.read_text(encoding="utf-8")
    for file in sorted((ROOT / "planner" / "docs").glob("*.md"))
}


def command_of(name: str) -> click.Command:
    assert isinstance(main, click.Group)
    command = main.get_command(click.Context(main), name)
    assert command is not None
    return command


@pytest.mark.parametrize("name", sorted(COMMANDS))
def test_each_command_has_help_an_example_and_a_line_in_the_readme(name: str) -> None:
    command = command_of(name)
    assert command.help
    assert "Example:" in command.help
    assert command.short_help
    assert f"`planner {name}" in README
    for parameter in command.params:
        if isinstance(parameter, click.Option):
            assert parameter.help, f"{name} {parameter.opts} has no help"


def test_every_exit_code_is_in_the_readme() -> None:
    for code, meaning in EXIT_CODES.items():
        assert f"| {code} | {meaning} |" in README


def test_codes_and_commands_are_listed_as_they_are() -> None:
    assert DOCS["reference.md"].endswith(reference()), "run: python -m tests.reference"
    assert DOCS["reference.md"].count(MARK) == 1


def test_every_table_is_in_the_readme() -> None:
    for table in table_names():
        assert f"`{table}`" in README


def test_every_room_and_dependency_is_explained() -> None:
    for room in sorted((ROOT / "planner").iterdir()):
        if room.is_dir() and (room / "__init__.py").exists():
            assert f"`{room.name}/`" in DEVELOPERS, room.name
    pyproject = (ROOT / "pyproject.toml").read_text(encoding="utf-8")
    names = re.findall(r'^    "([a-zA-Z0-9-]+)[^"]*",$', pyproject, re.MULTILINE)
    assert len(names) > 12
    for name in names:
        assert f"| {name} |" in DOCS["dependencies.md"], f"{name} has no line in the table"


def test_files_named_in_the_documents_exist() -> None:
    named = re.findall(
        r"`((?:planner|tests|demo_data|maps)/[\w./-]+)`",
        "\n".join([DEVELOPERS, README, *DOCS.values()]),
    )
    assert len(named) > 20
    for path in named:
        assert (ROOT / path).exists(), path


def test_the_job_stands_first_in_the_readme() -> None:
    first = " ".join(README.split("\n\n")[1].split())
    for word in ("compartment", "label rates", "refill", "OR-Tools", "folium", "mix sheet"):
        assert word in first


def test_each_document_is_named_where_developers_start() -> None:
    for name in DOCS:
        assert f"`planner/docs/{name}`" in DEVELOPERS, name


def test_the_first_documents_stay_short() -> None:
    assert len(DEVELOPERS.encode()) <= 15_000
    assert len(README.splitlines()) <= 170
