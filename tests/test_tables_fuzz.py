"""Whatever stands in the files, problems come back and nothing is raised."""

from __future__ import annotations

import csv
import io
import shutil
import tempfile
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from planner.chain import check_workbook
from planner.problems import Problem
from planner.tables.columns import columns_of, table_names
from planner.tables.office import load_office_file
from tests.bad_workbooks import BASE
from tests.few import few

ROWS = {file.stem: list(csv.reader(file.read_text().splitlines())) for file in BASE.glob("*.csv")}

ODD_WORDS = (
    "|0|-1|1e308|1,200|12,5|8:30|1:00|24:00|8-11|4/14/2027|46491|yes|x|#REF!|any other|a/b|gal"
    "|1.5 fl oz/1000 sq ft|2 % v/v|4 pt/A|0.5 lb N/1000 sq ft|1-2 oz/M|\u0664|½|=1+1|\u202e|A"
    "|feed|T1|--|'|#|# x|;|, "
)
WORDS = st.sampled_from(ODD_WORDS.split("|"))
CELLS = st.one_of(WORDS, st.text(max_size=12))


def read(folder: Path) -> None:
    # Through the chain, so that the rules of the labels too meet workbooks that are half built.
    reading = check_workbook(folder)
    for problem in reading.problems:
        assert isinstance(problem, Problem)
        assert str(problem)


@pytest.mark.parametrize("table", table_names())
@given(data=st.data())
@settings(max_examples=few(8, of=25), deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_random_cells(table: str, data: st.DataObject) -> None:
    # A table that the folder lacks begins with its header and a blank row.
    columns = list(columns_of(table))
    rows = [list(row) for row in ROWS.get(table, [columns, [""] * len(columns)])]
    for _ in range(data.draw(st.integers(1, 6))):
        row = data.draw(st.integers(0 if data.draw(st.booleans()) else 1, len(rows) - 1))
        place = data.draw(st.integers(0, len(rows[row]) - 1))
        rows[row][place] = data.draw(CELLS)
    text = io.StringIO(newline="")
    csv.writer(text, delimiter=data.draw(st.sampled_from(",;\t"))).writerows(rows)
    with tempfile.TemporaryDirectory() as folder:
        book = Path(shutil.copytree(BASE, Path(folder) / "book"))
        (book / f"{table}.csv").write_text(text.getvalue(), encoding="utf-8", errors="replace")
        read(book)


@given(content=st.one_of(st.binary(max_size=200), st.text(max_size=80).map(str.encode)))
@settings(max_examples=few(25, of=80), deadline=None)
def test_random_bytes(content: bytes) -> None:
    with tempfile.TemporaryDirectory() as folder:
        book = Path(shutil.copytree(BASE, Path(folder) / "book"))
        (book / "orders.csv").write_bytes(content)
        (book / "planner.toml").write_bytes(content)
        read(book)
        load_office_file(book)


@given(start=st.binary(max_size=60))
@settings(max_examples=few(12, of=30), deadline=None)
def test_random_excel_file(start: bytes) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "book.xlsx"
        path.write_bytes(b"PK\x03\x04" + start)
        read(path)
