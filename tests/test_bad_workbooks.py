"""Every problem code has a tiny workbook in demo_data/bad that gives it, and nothing else.

A folder there is named by a code and some words. It holds only what differs from the good workbook
`base`, and `_expected.csv` with the problems it must give. All rows are invented; what is expected
was worked by hand.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from zipfile import ZipFile

import openpyxl
import pytest

from planner.chain import check_workbook
from planner.problems import Problems
from planner.tables.read import read_workbook
from tests.bad_workbooks import BASE, FOLDERS, Place, expected, merged, places
from tests.codes import ADDITION_CODES, CODES, LABEL_CODES, RECIPE_CODES, UNIT_CODES
from tests.excel import excel_of

MADE_AT_TEST_TIME = {
    "FILE-1": "a file that cannot be opened cannot be kept in a repository",
    "FILE-6": "a file that is too large is too large for a repository",
    "CELL-5": "a cell that is too large is too large for a repository",
    "CELL-2": "formulas are in Excel workbooks only",
    "CELL-4": "merged cells are in Excel workbooks only",
    "RECIPE-7": "the tables' own check (MIX-2) names a range first",
}
"""Code -> why it has no folder; tests below, or of recipes, make their workbooks."""


def code_of(folder: Path) -> str:
    return "-".join(folder.name.split("-")[:2])


def test_base_is_good() -> None:
    assert check_workbook(BASE).problems == ()


@pytest.mark.parametrize("folder", FOLDERS, ids=lambda folder: folder.name)
def test_bad_workbook_gives_its_problems_and_no_others_each_with_its_cure(
    folder: Path, tmp_path: Path
) -> None:
    reading = check_workbook(merged(folder, tmp_path))
    assert places(reading.problems) == expected(folder)
    assert code_of(folder) in {problem.code for problem in reading.problems}
    for problem in reading.problems:
        assert problem.message
        assert problem.cure
        assert str(problem).endswith(f"[{problem.code}]")


def test_spans_that_overlap_are_said_with_the_days_of_both(tmp_path: Path) -> None:
    """Of April 14 and April 10 to 20 it is the 14th, of two spans a span; "on the same day" is only
    what two orders of one date are."""
    folder = next(one for one in FOLDERS if one.name.startswith("ORDER-5-"))
    for number, (dates, said) in enumerate(
        (
            (",2027-04-10,2027-04-20", "days of both (Wed 2027-04-14)"),
            ("2027-04-14,,", "the same day"),
        )
    ):
        book = merged(folder, tmp_path / str(number))
        file = book / "orders.csv"
        text = file.read_text(encoding="utf-8")
        assert ",2027-04-10,2027-04-20" in text
        file.write_text(text.replace(",2027-04-10,2027-04-20", dates), encoding="utf-8")
        (found,) = check_workbook(book).problems
        assert found.message == f"row 2 has the same mix on the same lawn on {said}"
        assert ("end the first span" in found.cure) == ("both" in said)


def test_every_code_has_a_workbook() -> None:
    shown = {code_of(folder) for folder in FOLDERS}
    assert shown | set(MADE_AT_TEST_TIME) == set(CODES) | set(UNIT_CODES) | {
        *RECIPE_CODES,
        *LABEL_CODES,
        *ADDITION_CODES,
    }
    assert not shown & set(MADE_AT_TEST_TIME)


def spoil_with_formula(book: openpyxl.Workbook) -> None:
    # openpyxl stores no results, as a program that never computes.
    book["properties"]["G3"] = "=4000+5000"


def spoil_with_merged_cells(book: openpyxl.Workbook) -> None:
    book["orders"].merge_cells("B3:B4")


@pytest.mark.parametrize(
    ("spoil", "place"),
    [
        (spoil_with_formula, ("properties", 3, "lawn_ft2", "CELL-2")),
        (spoil_with_merged_cells, ("orders", 3, "property", "CELL-4")),
    ],
)
def test_cells_that_only_excel_has(
    spoil: Callable[[openpyxl.Workbook], None], place: Place, tmp_path: Path
) -> None:
    path = excel_of(BASE, tmp_path / "book.xlsx")
    book = openpyxl.load_workbook(path)
    spoil(book)
    book.save(path)
    assert place in places(read_workbook(path).problems)


def test_formula_whose_result_is_an_empty_text_is_a_blank_cell(tmp_path: Path) -> None:
    path = excel_of(BASE, tmp_path / "book.xlsx")
    book = openpyxl.load_workbook(path)
    book["orders"]["G2"] = '=IF(1,"","")'
    book.save(path)
    told = tmp_path / "told.xlsx"
    with ZipFile(path) as old, ZipFile(told, "w") as new:
        for name in old.namelist():
            # As Excel writes a formula whose result is an empty text.
            new.writestr(name, old.read(name).replace(b'<c r="G2">', b'<c r="G2" t="str">'))
    assert read_workbook(told).problems == ()


@pytest.mark.parametrize("name", ["book.xlsx", "book.xls", "book.csv"])
def test_file_that_is_no_workbook(name: str, tmp_path: Path) -> None:
    (tmp_path / name).write_bytes(b"PK\x03\x04 not really")
    reading = read_workbook(tmp_path / name)
    assert places(reading.problems) == [(name, None, None, "FILE-1")]
    assert reading.workbook is None


def test_table_that_cannot_be_opened(tmp_path: Path) -> None:
    book = merged(BASE.parent / "SET-1-unknown-setting", tmp_path)
    (book / "settings.csv").unlink()
    (book / "settings.csv").mkdir()
    assert places(read_workbook(book).problems) == [("settings.csv", None, None, "FILE-1")]


def test_folder_without_tables_names_each_required_one(tmp_path: Path) -> None:
    codes = [problem.code for problem in read_workbook(tmp_path).problems]
    assert codes == ["TABLE-1"] * 9


def test_many_problems_of_one_column_are_counted(tmp_path: Path) -> None:
    book = merged(BASE.parent / "NUM-1-not-a-number", tmp_path)
    lines = (book / "orders.csv").read_text().splitlines()
    lines += [f"{number},Z{number},feed,2027-04-14,,,,,,," for number in range(100, 160)]
    (book / "orders.csv").write_text("\n".join(lines))
    problems = Problems()
    problems.extend(read_workbook(book).problems)
    assert len(problems) == 61
    assert any("and 40 more like it [REF-1]" in line for line in problems.lines())


def test_the_same_fault_in_many_rows_is_one_line() -> None:
    problems = Problems()
    for row in (2, 3, 5):
        problems.add("orders.csv", row, "status", "CHOICE-1", "not a word", "Active", "write open")
    for row in range(2, 16):
        problems.add("actuals.csv", row, None, "REC-10", "it was recorded")
    for row in range(2, 24):
        problems.add("import.toml", None, None, "IMPORT-3", "no such column", f"C{row}")
    lines = problems.lines()
    assert lines[:1] + lines[-2:] == [
        "actuals.csv, rows 2, 3, 4, 5, 6, 7, 8, 9, 10, 11 and 4 more: it was recorded [REC-10]",
        "orders.csv, rows 2, 3, 5, column 'status': not a word (found 'Active'); write open "
        "[CHOICE-1]",
        "import.toml: and 2 more like it [IMPORT-3]",
    ]
