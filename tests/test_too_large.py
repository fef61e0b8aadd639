"""What no table of an office is like is refused, says why, and takes no time or memory.

Limits of a sheet: Microsoft, 'Excel specifications and limits' (from memory)."""

from __future__ import annotations

import shutil
import zipfile
from pathlib import Path

import openpyxl
import pytest

from planner.problems import MOST_FOUND, MOST_SAID, Problem
from planner.tables import sheets
from planner.tables.read import read_workbook
from tests.bad_workbooks import BASE
from tests.excel import excel_of


def problem_of(path: Path) -> Problem:
    (problem,) = read_workbook(path).problems
    return problem


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return Path(shutil.copytree(BASE, tmp_path / "book"))


def add_row(file: Path, row: str) -> None:
    file.write_text(file.read_text() + row + "\n")


def test_cell_longer_than_a_spreadsheet_holds(folder: Path) -> None:
    add_row(folder / "orders.csv", "x" * 200_000)
    problem = problem_of(folder)
    assert (problem.file, problem.code) == ("orders.csv", "CELL-5")
    assert problem.row is not None
    assert len(str(problem)) < 400


def test_quoted_cell_of_half_a_million_letters_is_one_cell(folder: Path) -> None:
    add_row(folder / "orders.csv", '"' + "a," * 250_000 + '"')
    assert problem_of(folder).code == "CELL-5"


def test_row_of_a_million_cells(folder: Path) -> None:
    add_row(folder / "orders.csv", "," * 1_000_000 + "x")
    problem = problem_of(folder)
    assert (problem.file, problem.code) == ("orders.csv", "FILE-6")
    assert "1000001" in problem.message


def test_file_too_large(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sheets, "MOST_BYTES", (folder / "orders.csv").stat().st_size - 1)
    assert "FILE-6" in {p.code for p in read_workbook(folder).problems}


def test_folder_in_place_of_a_file(folder: Path) -> None:
    (folder / "orders.csv").unlink()
    (folder / "orders.csv").mkdir()
    assert problem_of(folder).code == "FILE-1"


def test_stray_cell_in_the_last_row_and_column(folder: Path, tmp_path: Path) -> None:
    path = excel_of(folder, tmp_path / "book.xlsx")
    book = openpyxl.load_workbook(path)
    book["orders"]["XFD1048576"] = "x"
    book.save(path)
    problem = next(p for p in read_workbook(path).problems if p.code == "FILE-6")
    assert "XFD1048576" in problem.message
    # One that is only colored is nobody's fault.
    book["orders"]["XFD1048576"] = None
    book["orders"]["XFD1048576"].fill = openpyxl.styles.PatternFill("solid", fgColor="FF0000")
    book.save(path)
    assert read_workbook(path).problems == read_workbook(folder).problems == ()


def test_whole_sheet_merged(folder: Path, tmp_path: Path) -> None:
    path = excel_of(folder, tmp_path / "book.xlsx")
    with zipfile.ZipFile(path) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    for name in parts:
        if name.endswith("sheet1.xml"):
            merged = b'<mergeCells><mergeCell ref="A1:XFD1048576"/></mergeCells>'
            parts[name] = parts[name].replace(b"</sheetData>", b"</sheetData>" + merged)
    with zipfile.ZipFile(path, "w") as archive:
        for name, content in parts.items():
            archive.writestr(name, content)
    assert "merged into one" in problem_of(path).message


def test_archive_that_unpacks_to_a_disk_full(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(sheets, "MOST_UNPACKED_BYTES", 5_000_000)
    path = excel_of(folder, tmp_path / "book.xlsx")
    with zipfile.ZipFile(path, "a", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/media/image1.png", bytes(5_000_000))
    assert path.stat().st_size < 100_000
    problem = problem_of(path)
    assert (problem.file, problem.code) == ("book.xlsx", "FILE-6")


def test_what_is_found_is_one_line_that_steers_no_terminal() -> None:
    problem = Problem("a.csv", 2, "b", "X-1", "m" * 5000, "\x1b[31m" + "y" * 1_000_000 + "\n")
    assert len(problem.found) <= MOST_FOUND + 1
    assert len(problem.message) <= MOST_SAID + 1
    assert str(problem).isprintable()
