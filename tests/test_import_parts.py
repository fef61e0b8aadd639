"""The parts of an import: exports as programs write them, cells, cut addresses, names of orders,
and cells written into files of which nothing else may change. Expected values were worked by hand;
the spellings are common practice in US offices, no source."""

from __future__ import annotations

import csv
import io
import shutil
import zipfile
from pathlib import Path

import openpyxl
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from openpyxl.chart import BarChart, Reference

from planner.importing.cells import DAY_FIRST, MONTH_FIRST, date_text, split_cell, zip_text
from planner.importing.guess import guess, is_known_header
from planner.importing.mapping import read_mapping
from planner.importing.rows import open_export
from planner.importing.run import Wishes, look, run, take_back, write
from planner.importing.tables_now import read_tables
from planner.importing.wanted import Due, named_orders
from planner.tables.clock_cells import read_date
from planner.tables.columns import read_header
from planner.tables.edits import EditError, PlacedEdit, TableEdit, edited_csv, edited_xlsx, placed
from planner.tables.sheets import read_csv_file
from planner.tables.text import CellError
from planner.tables.xlsx_files import read_xlsx_file
from tests.bad_workbooks import BASE

HEADERS = ("Cust #", "First", "Last", "Sq Ft")
MIXES = {"PRE": "Crabgrass barrier", "GREEN": "Green-up feed", "BROAD": "Broadleaf weeds"}


def export(tmp_path: Path, text: str, encoding: str = "utf-8"):
    file = tmp_path / "export.csv"
    file.write_bytes(text.encode(encoding))
    return open_export(file, "", is_known_header)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "cp1252"])
@pytest.mark.parametrize("separator", [",", ";", "\t", "|"])
def test_encodings_and_separators(tmp_path: Path, encoding: str, separator: str) -> None:
    lines = [HEADERS, ("1", "Zoë", "Alder, Jr." if separator != "," else "Alder", "7700")]
    found = export(tmp_path, "\n".join(separator.join(row) for row in lines), encoding)
    assert found.headers == HEADERS
    assert found.rows == ((2, lines[1]),)
    assert bool(found.notes) == (encoding == "cp1252"), "a guess is said"


def test_titles_totals_repeated_headers_and_nameless_columns(tmp_path: Path) -> None:
    lines = [
        "Customers of the north route,,,,",
        "",
        "Cust #,Name,Phone,Phone,",
        "1,A. Alder,614-555-0100,614-555-0101,gate 5",
        "Cust #,Name,Phone,Phone,",
        "",
        "2,Total Lawn Care Inc,614-555-0102,,",
        "Grand total,2,,,",
        "printed by MK,,,,",
    ]
    found = export(tmp_path, "\n".join(lines))
    assert found.headers == ("Cust #", "Name", "Phone", "Phone (2)", "column E")
    assert [number for number, _ in found.rows] == [4, 7], "a customer's name may be Total"
    assert [note.split(":")[0] for note in found.notes] == [
        "Row 5 was passed over",
        "Row 8 was passed over",
        "Row 9 was passed over",
    ]


def test_an_excel_export_with_what_excel_does_to_numbers(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    sheet = book.worksheets[0]
    sheet.append(["Cust #", "Name", "Street", "City", "Zip", "Lawn sq ft", "Mobile", "Due"])
    sheet.append([7, "B. Birch", "2 Birch Lane", "Alder", 2139, 7700.0, 6145550123, 46482])
    sheet.append([None, None, None, None, "Total", "=SUM(F2)", None, None])
    file = tmp_path / "export.xlsx"
    book.save(file)
    book = BASE
    mapping = tmp_path / "import.toml"
    found = look(book, file, mapping, "")
    assert found.export.notes == ("Row 3 was passed over: it is a total ('Total').",)
    assert not found.guess.open_columns
    assert not found.unread


@pytest.mark.parametrize(
    ("text", "order", "iso"),
    [
        ("3/4/27", MONTH_FIRST, "2027-03-04"),
        ("3/4/27", DAY_FIRST, "2027-04-03"),
        ("14/4/27", "", "2027-04-14"),
        ("4/14/27", "", "2027-04-14"),
        ("4/4/27", "", "2027-04-04"),
        ("5/3", MONTH_FIRST, "2027-05-03"),
        ("3-May", "", "2027-05-03"),
        ("May 3", "", "2027-05-03"),
        ("2027-05-03 08:15:00", "", "2027-05-03"),
        ("5/3/2027 8:15 AM", MONTH_FIRST, "2027-05-03"),
        ("46510.0", "", "2027-05-03"),
    ],
)
def test_dates_of_several_styles(text: str, order: str, iso: str) -> None:
    assert read_date(date_text(text, order, 2027)).isoformat() == iso


@pytest.mark.parametrize(("text", "cure"), [("3/4/27", "order = "), ("May 3", "year = ")])
def test_dates_that_only_the_office_can_settle(text: str, cure: str) -> None:
    with pytest.raises(CellError) as caught:
        date_text(text, "", None)
    assert cure in caught.value.cure


def test_zip_codes_without_their_zeros() -> None:
    codes = {
        text: zip_text(text) for text in ("2139", "43210", "2139.0", "432101234", "43210-1234")
    }
    assert list(codes.values()) == ["02139", "43210", "02139", "43210-1234", "43210-1234"]
    with pytest.raises(CellError):
        zip_text("OH")


WHOLE = ("address", "town", "state", "zip")


@pytest.mark.parametrize(
    ("text", "columns", "parts"),
    [
        ("12 Oak St, Alder, OH 43210", WHOLE, ["12 Oak St", "Alder", "OH", "43210"]),
        ("12 Oak St Unit 4, St. Ives OH 43210-1234, USA", WHOLE, None),
        ("12 Oak St\nAlder, oh 43210", WHOLE, ["12 Oak St", "Alder", "OH", "43210"]),
        ("12 Oak St, Apt 4, Alder, OH", WHOLE, ["12 Oak St, Apt 4", "Alder", "OH"]),
        ("New Alder, OH 43210", WHOLE[1:], ["New Alder", "OH", "43210"]),
        ("12 Oak St, Alder", WHOLE[:2], ["12 Oak St", "Alder"]),
        ("(40.51, -83.2)", ("lat", "lon"), ["40.51", "-83.2"]),
        ("5/3/27-5/7/27", ("due_from", "due_to"), ["5/3/27", "5/7/27"]),
        ("2027-05-03 to 2027-05-07", ("due_from", "due_to"), ["2027-05-03", "2027-05-07"]),
        ("614-555-0100 / 614-555-0101", ("phone", "phone_2"), ["614-555-0100", "614-555-0101"]),
    ],
)
def test_cells_that_hold_several_things(
    text: str, columns: tuple[str, ...], parts: list[str] | None
) -> None:
    found = split_cell(text, columns)
    parts = parts or ["12 Oak St Unit 4", "St. Ives", "OH", "43210-1234"]
    assert found == dict(zip(columns, parts, strict=False))


@pytest.mark.parametrize("text", ["12 Oak St Alder OH 43210", "43210", "40.51"])
def test_cells_that_cannot_be_cut(text: str) -> None:
    with pytest.raises(CellError) as caught:
        split_cell(text, ("lat", "lon") if "." in text else WHOLE)
    assert caught.value.code == "SPLIT-1"


def test_what_is_guessed_and_what_is_asked(tmp_path: Path) -> None:
    head = (
        "Client ID,Client,Bill To Address,Job Street,Job City,Acres,Lot,Date,Treatment,Status,Ph 1"
    )
    rows = ["1,A. Alder,PO Box 1,1 Oak St,Alder,0.3,5,3/4/27,Crabgrass + Green,Active,555-0100"]
    rows.append("2,B. Birch,PO Box 2,2 Oak St,Alder,7.5K,6,3/5/27,Green,Lead,614-555-0101")
    rows.append("3,C. Cedar,PO Box 3,3 Oak St,Alder,0.2,7,3/6/27,Crabgrass,Active,614-555-0102")
    found = guess(export(tmp_path, "\n".join([head, *rows])), MIXES)
    assert found.needs_area_code == ["Ph 1"]
    columns = found.mapping.columns
    assert columns["Client ID"] == ("properties.property",)
    assert columns["Job Street"] == ("properties.address",)
    assert columns["Job City"] == ("properties.town",)
    assert columns["Acres"] == ("properties.lawn_ft2",)
    assert columns["Bill To Address"] == columns["Lot"] == ()
    assert found.mapping.units == {"Acres": "acre"}
    assert found.mapping.keep == {"Status": ("Active",)}
    assert found.mapping.services == {"Crabgrass": ("PRE",), "Green": ("GREEN",)}
    assert found.mapping.between.endswith("+"), "both of its words also stand alone"
    assert found.asks_dates, "no day is over 12"
    assert not found.open_days


def test_spans_in_one_cell_and_a_lot_that_may_be_the_lawn(tmp_path: Path) -> None:
    lines = ["Acct,Treatment,Due,Lot Size", "1,Green,5/3/27 - 5/14/27,9000", "2,Green,5/17/27,8000"]
    found = guess(export(tmp_path, "\n".join(lines)), MIXES)
    assert found.mapping.columns["Due"] == ("orders.due_from", "orders.due_to")
    assert found.open_columns == {"Lot Size": ["properties.lawn_ft2"]}
    assert not found.open_days
    assert set(split_cell("5/17/27", ("due_from", "due_to")).values()) == {"5/17/27"}


def test_what_is_due_may_be_a_service_and_its_days_a_window(tmp_path: Path) -> None:
    lines = ["Acct,Svc Due,Due Window", "1,Green,5/3/27 - 5/14/27", "2,Rd 2 Green,4/19/27 - 5/1/27"]
    found = guess(export(tmp_path, "\n".join(lines)), MIXES)
    assert found.mapping.columns["Svc Due"] == ("services",)
    assert found.mapping.columns["Due Window"] == ("orders.due_from", "orders.due_to")
    assert found.open_services == ["Rd 2 Green"]
    dated = guess(export(tmp_path, "Acct,Svc Due\n1,Mar 3\n2,ASAP"), MIXES)
    assert dated.mapping.columns["Svc Due"] == ("orders.date",)


def test_headers_of_an_office_are_known(tmp_path: Path) -> None:
    """How such exports head these columns: common practice, no source."""
    rows = " Cust #;Job Site;Service Code;Sched Date\n 7;15 Elder Way;green;5/3/2027"
    columns = guess(export(tmp_path, rows), MIXES).mapping.columns
    assert columns["Job Site"] == ("properties.address",)
    assert columns["Service Code"] == ("services",)
    assert columns["Sched Date"] == ("orders.date",)


def test_a_mapping_tells_all_that_is_wrong_in_it(tmp_path: Path) -> None:
    file = tmp_path / "import.toml"
    file.write_text(
        '[columns]\n"A" = "properties.lawnft2"\n"B" = "?"\n"C" = ["zip", "orders.date"]\n'
        '"D" = "lawn_ft2"\n"E" = "properties.lawn_ft2"\n"F" = "customer"\n"G" = "customer"\n'
        '[colums]\n[dates]\norder = "year first"\n[keep]\n"H" = ["Y"]\n[otherwise]\n"x" = 1\n'
    )
    mapping, problems = read_mapping(file)
    assert sorted(problem.message.split("]")[0][1:] for problem in problems) == [
        "columns",
        "columns",
        "columns",
        "columns, A",
        "colums",
        "dates",
        "keep",
        "otherwise",
    ]
    assert mapping.headers_of("properties.customer") == ["F", "G"]
    file.write_text(
        '[columns]\n"D" = "lawn_ft2"\n"E" = "lawn_ft2"\n[glue]\n"properties.lawn_ft2" = "+"'
    )
    assert read_mapping(file)[1] == [], "a front and a back lawn are added up"
    file.write_text("[columns\n")
    assert [problem.code for problem in read_mapping(file)[1]] == ["FILE-4"]


def due(day: str, mix: str = "PRE", own: str = "") -> Due:
    return Due(2, own, {"property": "7", "mix": mix, "date": day})


def test_names_of_orders() -> None:
    first = named_orders([due("2027-04-14"), due("2027-04-14", "GREEN"), due("2027-06-14")], {}, ())
    names = [name for name, _ in first]
    assert names == ["7-PRE-270414", "7-GREEN-270414", "7-PRE-270614"]
    before = {name: one.cells for name, one in first}
    moved = [due("2027-06-20"), due("2027-04-20"), due("2027-09-01"), due("2027-04-14", own="W9")]
    found = [name for name, _ in named_orders(moved, before, ())]
    assert found == ["7-PRE-270614", "7-PRE-270414", "7-PRE-270901", "W9"]
    done = named_orders([due("2027-04-20")], before, {"7-PRE-270414"})
    assert done[0][0] == "7-PRE-270420", "what is done is done; this is a visit of its own"


CSV_CELL = st.text(st.sampled_from('ab,;" \n5'), max_size=6)


@given(
    st.lists(st.lists(CSV_CELL, min_size=2, max_size=4), min_size=1, max_size=5),
    st.sampled_from([",", ";", "\t"]),
    st.sampled_from(["\n", "\r\n"]),
    st.booleans(),
)
@example([["a", 'x"y'], ["", ""]], ",", "\r\n", True)
def test_a_csv_file_changes_only_where_it_is_told_to(
    rows: list[list[str]], separator: str, end: str, has_last_end: bool
) -> None:
    out = io.StringIO(newline="")
    csv.writer(out, delimiter=separator, lineterminator=end).writerows(rows)
    text = out.getvalue() if has_last_end else out.getvalue()[: -len(end)]
    sheet = read_of(separator)
    edit = PlacedEdit({len(rows): {1: "new, cell"}, len(rows) + 1: {0: "9"}}, frozenset(), 0)
    changed = edited_csv(text.encode(), sheet, edit).decode()
    out = io.StringIO(newline="")
    csv.writer(out, delimiter=separator, lineterminator=end).writerows(rows[:-1])
    assert changed.startswith(out.getvalue()), "records without a change keep their bytes"
    read = list(csv.reader(io.StringIO(changed, newline=""), delimiter=separator))
    assert read[-1] == ["9"]
    assert read[-2] == [rows[-1][0], "new, cell", *rows[-1][2:]]


def read_of(separator: str):
    from planner.tables.sheets import Sheet

    return Sheet("t.csv", (), separator, encoding="utf-8-sig")


def test_a_csv_file_keeps_its_mark_notes_and_odd_quotes(tmp_path: Path) -> None:
    file = tmp_path / "properties.csv"
    data = 'sep=;\r\nOur homes;;\r\nproperty;customer;grass\r\nA;5" hose;"x ""y"""\r\n# note;;\r\n'
    file.write_bytes(b"\xef\xbb\xbf" + data.encode())
    sheet = read_csv_file(file, ["property", "customer", "grass"])
    header, _ = read_header("properties", sheet, {})
    edit = TableEdit("properties", {3: {"grass": "rye"}}, [{"property": "B", "zip": "02139"}])
    changed = edited_csv(file.read_bytes(), sheet, placed(edit, sheet, header))
    assert changed.decode() == (
        '\ufeffsep=;\r\nOur homes;;\r\nproperty;customer;grass;zip\r\nA;5" hose;"rye"\r\n'
        "# note;;\r\nB;;;02139\r\n"
    )


def test_an_excel_workbook_changes_only_where_it_is_told_to(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    homes, other = book.worksheets[0], book.create_sheet("_money")
    homes.title = "properties"
    homes.append(["property", "customer", "lawn_ft2", "grass_since"])
    homes.append(["A", "A. Alder & Co", 6000, "=DATE(2020,5,1)"])
    homes["C2"].number_format = "#,##0"
    other.append(["sum", "=SUM(properties!C2:C9)"])
    chart = BarChart()
    chart.add_data(Reference(homes, min_col=3, min_row=1, max_row=2))
    other.add_chart(chart, "D2")
    file = tmp_path / "spring.xlsx"
    book.save(file)
    before = file.read_bytes()
    sheet = next(one for one in read_xlsx_file(file) if one.name == "properties")
    header, _ = read_header("properties", sheet, {})
    new = [{"property": "B", "customer": "<B>", "lawn_ft2": "7700", "zip": "02139"}]
    edit = TableEdit("properties", {2: {"lawn_ft2": "6500"}}, new)
    after = edited_xlsx(before, {"properties": placed(edit, sheet, header)})
    file.write_bytes(after)
    changed = openpyxl.load_workbook(file)["properties"]
    assert [[cell.value for cell in row] for row in changed.iter_rows()] == [
        ["property", "customer", "lawn_ft2", "grass_since", "zip"],
        ["A", "A. Alder & Co", 6500, "=DATE(2020,5,1)", None],
        ["B", "<B>", 7700, None, "02139"],
    ]
    assert changed["C3"].number_format == "#,##0", "a new row looks like the one above"
    old, new_parts = (zipfile.ZipFile(io.BytesIO(data)) for data in (before, after))
    differing = {n for n in old.namelist() if old.read(n) != new_parts.read(n)}
    assert differing == {"xl/worksheets/sheet1.xml"}, "charts and all other sheets stay"
    formula = TableEdit("properties", {2: {"grass_since": "2021-05-01"}})
    with pytest.raises(EditError, match="D2: a formula"):
        edited_xlsx(after, {"properties": placed(formula, sheet, header)})


def test_a_table_changed_after_it_was_read_is_not_written_over(tmp_path: Path) -> None:
    book = shutil.copytree(BASE, tmp_path / "office")
    now = read_tables(book)
    with (book / "orders.csv").open("a") as orders:
        orders.write("9,A,feed,2027-04-14\n")
    with pytest.raises(EditError, match="changed meanwhile"):
        now.files([TableEdit("orders", {2: {"note": "of another row by now"}})])


@pytest.mark.parametrize("cut", range(3))
def test_what_is_taken_back_and_cut_off_is_whole_after_the_next_import(
    cut: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    book = shutil.copytree(BASE, tmp_path / "office")
    file = tmp_path / "export.csv"
    text = "Cust #,Customer,Address,Lat,Lon,Lawn sq ft,Service,Due\n"
    text += "1,C. Cedar,3 Cedar Lane,40.51,-83.50,5000,feed,4/14/2027\n"
    file.write_text(text)
    how = (book, file, book / "import.toml", "", Wishes())
    how[2].write_text(look(*how[:4]).text)
    write(run(*how))
    more = "3,E. Elm,5 Elm Lane,40.52,-83.50,4000,feed,4/15/2027\n"
    file.write_text(text.replace("5000", "6000") + more)
    done = run(*how)
    write(done)
    times = iter(range(9))

    def killed(aside: Path, target: Path) -> None:
        if next(times) == cut:
            raise KeyboardInterrupt
        aside.rename(target)

    with monkeypatch.context() as patch:
        patch.setattr(Path, "replace", killed)
        with pytest.raises(KeyboardInterrupt):
            take_back(done)
    write(run(*how))
    assert {one: one.read_bytes() for one in done.files} == done.files
    take_back(done)
    assert [one.read_bytes() for one in done.files] == [done.before[one] for one in done.files]
