"""Reading whole workbooks: forms of files, and what a bad cell does not take with it.

All rows are invented; what is expected was worked by hand.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import shutil
from dataclasses import replace
from pathlib import Path

import openpyxl
import pytest

from planner.day.clock import Window
from planner.day.day import Source, Workbook
from planner.day.products import ANY_OTHER
from planner.tables.read import read_workbook
from planner.tables.starter import starter_files, starter_xlsx
from tests.bad_workbooks import BASE, places
from tests.excel import excel_of

DAY = dt.date(2027, 4, 14)
REPOSITORY = Path(__file__).resolve().parents[1]


@pytest.fixture
def book(tmp_path: Path) -> Path:
    """A copy of the good tiny workbook."""
    return Path(shutil.copytree(BASE, tmp_path / "book"))


def change(book: Path, table: str, old: str, new: str) -> None:
    file = book / f"{table}.csv"
    text = file.read_text(encoding="utf-8")
    assert old in text
    file.write_text(text.replace(old, new), encoding="utf-8")


def good(path: Path) -> Workbook:
    reading = read_workbook(path)
    assert reading.problems == ()
    assert reading.workbook is not None
    return reading.workbook


def without_source(book: Workbook) -> Workbook:
    return replace(book, source=Source({}, {}))


def test_values_of_the_tiny_workbook() -> None:
    book = good(BASE)
    assert list(book.trucks) == ["T1"], "T2 is not in service"
    truck = book.trucks["T1"]
    assert (truck.pay_per_hour, truck.cost_per_mile) == (24.0, 0.72), "from settings"
    assert [tank.position for tank in truck.compartments] == [1, 2]
    assert book.properties["B"].state == "OH", "from settings"
    order = book.orders["1"]
    assert order.area_ft2 == 6000, "the whole lawn"
    assert order.windows == (Window(480, 690), Window(780, 900))
    assert order.only_trucks is None
    assert book.orders["2"].due_to == dt.date(2027, 4, 16)
    assert book.orders["2"].never_trucks == {"T2"}
    assert book.keep_apart[0].b == ANY_OTHER
    assert book.sites["yard"].mixes is None
    assert book.sites["pond"].mixes == {"feed"}
    assert book.source.where("mix_products", "weeds/broad") == ("mix_products.csv", 4)
    assert book.products["granny"].rate_most.unit == "oz wt", "a bare oz of a WDG is a weight"


@pytest.mark.parametrize("folder", ["base", "starter", "spring_day"])
def test_excel_gives_the_same_workbook(folder: str, tmp_path: Path) -> None:
    csv_folder = tmp_path / "csv"
    if folder == "base":
        shutil.copytree(BASE, csv_folder)
    elif folder == "starter":
        csv_folder.mkdir()
        for name, text in starter_files(DAY).items():
            (csv_folder / name).write_text(text, encoding="utf-8")
    else:
        shutil.copytree(REPOSITORY / "demo_data" / folder, csv_folder)
    same = excel_of(csv_folder, tmp_path / "book.xlsx")
    toml = csv_folder / "planner.toml"
    if toml.exists():
        shutil.copy(toml, tmp_path)
    one, other = good(csv_folder), good(same)
    assert one.sha256 == other.sha256
    assert without_source(one) == without_source(other)
    assert one.source.rows == other.source.rows


def test_starter_in_both_forms_is_the_same(tmp_path: Path) -> None:
    for name, text in starter_files(DAY).items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    (tmp_path / "starter.xlsx").write_bytes(starter_xlsx(DAY))
    assert good(tmp_path).sha256 == good(tmp_path / "starter.xlsx").sha256


def respelled(rows: list[list[str]], separator: str) -> str:
    text = io.StringIO(newline="")
    csv.writer(text, delimiter=separator, lineterminator="\r\n").writerows(rows)
    return text.getvalue()


@pytest.mark.parametrize("separator", [",", ";", "\t"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16"])
def test_separators_marks_and_line_ends(book: Path, separator: str, encoding: str) -> None:
    plain = good(BASE)
    for file in book.glob("*.csv"):
        rows = list(csv.reader(file.read_text().splitlines()))
        file.write_bytes(respelled(rows, separator).encode(encoding))
    assert without_source(good(book)) == without_source(plain)


def test_blank_lines_keep_their_row_numbers(book: Path) -> None:
    change(book, "orders", "2,B,weeds", "\n,,,,\n2,B,weeds")
    change(book, "orders", "2,B,weeds", "2,B,weed")
    assert places(read_workbook(book).problems) == [("orders.csv", 5, "mix", "REF-1")]


def test_a_line_end_inside_a_cell_is_no_new_row(book: Path) -> None:
    change(book, "properties", "1 Alder Lane", '"1 Alder Lane\nrear house"')
    change(book, "properties", "9000", "lots")
    assert places(read_workbook(book).problems) == [("properties.csv", 3, "lawn_ft2", "NUM-1")]


def test_a_title_and_notes_around_the_table(book: Path) -> None:
    file = book / "sites.csv"
    file.write_text("Our places,,,\n\n" + file.read_text() + '"# the pond is dry in August",,,\n')
    assert good(book).source.where("sites", "pond") == ("sites.csv", 5)


def test_a_row_that_begins_with_a_hash_and_has_more_is_no_note(book: Path) -> None:
    change(book, "orders", "3,B,edges", "#3,B,edges")
    assert "#3" in good(book).orders


def test_short_rows_are_blank_at_the_end(book: Path) -> None:
    change(book, "orders", "2027-04-14,,,200,,,,", "2027-04-14,,,200")
    assert good(book).orders["3"].area_ft2 == 200


def test_separator_that_the_file_tells(book: Path) -> None:
    file = book / "settings.csv"
    file.write_text("sep=;\nsetting;value\ncompany;Tiny; \nstate;OH\n")
    assert good(book).settings.company == "Tiny"


def test_settings_may_be_missing(book: Path) -> None:
    (book / "settings.csv").unlink()
    change(book, "properties", ",OH,", ",,")
    assert good(book).settings.setup_min_per_visit == 4.0


def test_tables_that_may_be_missing(book: Path) -> None:
    for name in ("settings", "weather", "history", "keep_apart"):
        (book / f"{name}.csv").unlink()
    assert good(book).weather == ()


def test_zip_codes_get_their_zeros_back(book: Path) -> None:
    change(book, "properties", "address,state", "zip,state")
    change(book, "properties", "1 Alder Lane", "1002")
    problems = read_workbook(book).problems
    assert [problem.code for problem in problems] == ["COL-2"]
    change(book, "properties", "zip,state", "address,zip,state")
    change(book, "properties", "1002,", "1 Alder Lane,1002,")
    change(book, "properties", "2 Birch Lane,", "2 Birch Lane,01003-1234,")
    homes = good(book).properties
    assert (homes["A"].zip_code, homes["B"].zip_code) == ("01002", "01003-1234")


def test_how_a_customer_is_reached(book: Path) -> None:
    change(book, "properties", "grass,weather_area", "grass,phone,contact_by,gate_note,dog_note,_x")
    change(book, "properties", "tall fescue,north", "tall fescue,6145550142.0,Text,N,Y,north")
    change(book, "properties", "bluegrass,", "bluegrass,none,,Left side,no,")
    homes = good(book).properties
    assert (homes["A"].phone, homes["A"].contact_by) == ("(614) 555-0142", "text")
    assert (homes["B"].phone, homes["B"].contact_by, homes["B"].language) == ("", "", "")
    assert (homes["A"].gate_note, homes["A"].dog_note) == ("", "There is a dog")
    assert (homes["B"].gate_note, homes["B"].dog_note) == ("Left side", "")


@pytest.mark.parametrize("name", ["properties.xlsx", "Properties.ods", "orders.XLS"])
def test_a_spreadsheet_beside_the_csv_files_is_named(book: Path, name: str) -> None:
    (book / name).write_bytes(b"anything")
    (book / f"~${name}").write_bytes(b"a lock file of Excel")
    (book / "price list.xlsx").write_bytes(b"no table of ours")
    assert places(read_workbook(book).problems) == [(name, None, None, "TABLE-3")]


@pytest.mark.parametrize(
    ("truck", "name", "title"),
    [
        ("T1", "Juniper", "Truck T1 Juniper"),
        ("T1", "Truck 1, old", "T1 Truck 1, old"),
        ("T1", "", "Truck T1"),
        ("Truck 3", "", "Truck 3"),
        ("Truck 3", "Truck 3", "Truck 3"),
        ("3", "3 Maple", "Truck 3 Maple"),
        ("truck-1", "Big one", "truck-1 Big one"),
    ],
)
def test_what_a_truck_is_called(book: Path, truck: str, name: str, title: str) -> None:
    one = next(iter(good(book).trucks.values()))
    assert replace(one, truck_id=truck, name=name or truck).title == title


def test_office_headers(book: Path) -> None:
    change(book, "properties", "lawn_ft2", "Sq Ft")
    (book / "planner.toml").write_text('[columns.properties]\n"sq. ft." = "lawn_ft2"\n')
    assert good(book).properties["A"].lawn_ft2 == 6000
    change(book, "properties", "9000", "lots")
    problem = read_workbook(book).problems[0]
    assert problem.column == "lawn_ft2"
    assert "your 'Sq Ft'" in problem.message
    given = read_workbook(book, {"properties": {"Sq Ft": "lawn_ft2"}})
    assert places(given.problems) == [("properties.csv", 3, "lawn_ft2", "NUM-1")]


def test_office_headers_that_are_ignored_and_joined(book: Path) -> None:
    change(book, "properties", "customer,", "Last,First,")
    change(book, "properties", "A. Alder,", "Alder,Ann,")
    change(book, "properties", "B. Birch,", "Birch,,")
    change(book, "properties", "weather_area", "weather_area,Balance,Program")
    rows = '"First" = "customer"\n"Last" = "customer"\n"Balance" = "ignore"\n'
    office = book / "planner.toml"
    office.write_text(f"[columns.properties]\n{rows}")
    unread = ("properties.csv", 1, None, "COL-1")
    assert places(read_workbook(book).problems) == [unread], "Program is still asked about"
    office.write_text(f'[columns.properties]\n{rows}"*" = "ignore"\n')
    reading = read_workbook(book)
    assert reading.problems == ()
    assert reading.notes == ("properties.csv: not read, as planner.toml says: Balance, Program",)
    assert reading.workbook is not None
    names = [home.customer for home in reading.workbook.properties.values()]
    assert names == ["Ann Alder", "Birch"]
    change(book, "properties", "Birch", "")
    problem = read_workbook(book).problems[0]
    assert problem.message.startswith("(your 'Last + First')")


def test_own_columns_and_files_with_an_underscore_are_passed_over(book: Path) -> None:
    change(book, "properties", "weather_area", "weather_area,_phone")
    (book / "_notes.csv").write_text("anything")
    assert set(good(book).properties) == {"A", "B"}


@pytest.mark.parametrize("other", ["a", "Ａ", "A\u200b"])
def test_names_that_look_the_same_are_two_rows_of_one(book: Path, other: str) -> None:
    change(book, "properties", "B,B. Birch", f"{other},B. Birch")
    change(book, "orders", ",B,", f",{other},")
    change(book, "history", "\nB,", f"\n{other},")
    assert places(read_workbook(book).problems) == [("properties.csv", 3, "property", "KEY-1")]


@pytest.mark.parametrize("other", ["1.0", "01"])
def test_numbers_that_a_spreadsheet_takes_for_the_same(book: Path, other: str) -> None:
    change(book, "orders", "2,B,weeds", f"{other},B,weeds")
    found = read_workbook(book).problems
    assert places(found) == [("orders.csv", 3, "order", "KEY-1")]
    assert "row 2 is nearly the same: '1'" in found[0].message


def test_a_column_without_a_header_is_not_passed_over(book: Path) -> None:
    change(book, "properties", "grass", "")
    found = read_workbook(book).problems
    assert ("column H has cells" in found[0].message, found[0].found) == (True, "tall fescue")
    change(book, "properties", "tall fescue", "")
    change(book, "properties", "9000,blue,", "9000,,")
    assert ("properties.csv", 1, None, "COL-1") not in places(read_workbook(book).problems)


@pytest.mark.parametrize("cells", ["H1:I1", "I1:I2"])
def test_a_merged_header_is_told(tmp_path: Path, cells: str) -> None:
    path = excel_of(BASE, tmp_path / "book.xlsx")
    book = openpyxl.load_workbook(path)
    book["properties"].merge_cells(cells)
    book.save(path)
    assert ("properties", 1, None, "CELL-4") in places(read_workbook(path).problems)


def test_a_bad_row_takes_no_other_with_it(book: Path) -> None:
    change(book, "properties", "6000", "lots")
    change(book, "orders", "2,B,weeds", "2,B,wedes")
    change(book, "trucks", "9000,14000", "9000,heavy")
    change(book, "products", "9.6", "heavy")
    reading = read_workbook(book)
    assert places(reading.problems) == [
        ("orders.csv", 3, "mix", "REF-1"),
        ("products.csv", 3, "density_lb_per_gal", "NUM-1"),
        ("properties.csv", 2, "lawn_ft2", "NUM-1"),
        ("trucks.csv", 2, "gvwr_lb", "NUM-1"),
    ], "names of bad rows are no dangling references, and no check needs the bad cells"
    assert reading.workbook is not None
    assert set(reading.workbook.orders) == {"3"}, "order 1 needs property A, order 2 a mix"
    assert set(reading.workbook.mixes) == {"feed", "edges"}, "weeds has no readable product left"
    assert reading.workbook.trucks == {}


@pytest.mark.parametrize(
    ("data", "row"),
    [
        (b"a,b\r1,2\r3,\xff\r", 3),
        (b'sep=;\na;b\n1;"2\n\n2"\n3;\xff\n', 3),
        (b"\xef\xbb\xbfa,b\r\n1,\xff\r\n", 2),
        (b'a,b\n"1\n",\0\n', 2),
    ],
)
def test_a_letter_that_cannot_be_read_is_told_at_its_row(book: Path, data: bytes, row: int) -> None:
    (book / "mixes.csv").write_bytes(data)
    (problem,) = read_workbook(book).problems
    assert (problem.row, problem.found) == (row, "\\x00" if b"\0" in data else "\\xff")


def test_no_echo_of_a_table_that_cannot_be_read(book: Path) -> None:
    (book / "mixes.csv").write_bytes(b"\xff\x00\xff")
    assert places(read_workbook(book).problems) == [("mixes.csv", 1, None, "FILE-2")]
    (book / "mixes.csv").unlink()
    reading = read_workbook(book)
    assert places(reading.problems) == [("mixes.csv", None, None, "TABLE-1")]
    assert reading.workbook is None


def test_no_echo_of_a_missing_key_column(book: Path) -> None:
    change(book, "mixes", "mix,name", "mixx,name")
    assert places(read_workbook(book).problems) == [
        ("mixes.csv", 1, "mix", "COL-2"),
        ("mixes.csv", 1, None, "COL-1"),
    ]


def test_digest_is_of_what_the_tables_say(book: Path) -> None:
    before = good(book).sha256
    change(book, "properties", "6000", '" 6,000 "')
    change(book, "orders", "2027-04-14", "4/14/2027")
    change(book, "settings", "state,OH", "state,OH\nfill_margin_percent,5")
    assert good(book).sha256 == before
    change(book, "properties", "6,000", "6,001")
    assert good(book).sha256 != before


def test_digest_passes_over_later_columns_that_say_nothing(book: Path) -> None:
    before = good(book).sha256
    # Printed by the planner before it knew prices of wishes and usual trucks (ours, 2026-11).
    assert before[:10] == "36c12c1508"
    change(book, "settings", "state,OH", "state,OH\nkeep_price,25.00\ncompact_price,")
    change(book, "properties", "weather_area", "weather_area,usual_truck")
    assert good(book).sha256 == before
    change(book, "settings", "keep_price,25.00", "keep_price,20")
    dearer = good(book).sha256
    assert dearer != before
    change(book, "properties", "fescue,north", "fescue,north,T1")
    assert good(book).sha256 not in (before, dearer)


def test_digest_tells_later_columns_apart(book: Path) -> None:
    before = good(book).sha256
    change(book, "settings", "state,OH", "state,OH\nworking_days,Mon - Fri\nholidays,")
    change(book, "orders", "never_trucks", "never_trucks,due_dummy")
    for column in ("hold_until", "last_day"):
        change(book, "orders", "due_dummy", column)
        assert good(book).sha256 == before
        change(book, "orders", column, "due_dummy")
    change(book, "orders", "T1,T2", "T1,T2,2027-04-20")
    seen = {before}
    for column in ("status_reason", "last_day"):
        change(book, "orders", "due_dummy", column)
        assert good(book).sha256 not in seen
        seen.add(good(book).sha256)
        change(book, "orders", column, "due_dummy")


def test_former_names_are_read_and_keep_the_fingerprint(book: Path) -> None:
    change(book, "settings", "state,OH", "state,OH\nbusiness_licence,B-7")
    change(book, "trucks", "truck,", "truck,applicator_licence,")
    change(book, "trucks", "T1,", "T1,L-1,")
    change(book, "trucks", "T2,", "T2,,")
    former = good(book)
    assert (former.settings.business_license, former.trucks["T1"].applicator_license) == (
        "B-7",
        "L-1",
    )
    # Printed by the planner when these were the only names (ours, 2026-11).
    assert former.sha256[:10] == "e2f57f10d7"
    change(book, "settings", "business_licence", "business_license")
    change(book, "trucks", "applicator_licence", "applicator_license")
    assert good(book).sha256 == former.sha256
    change(book, "trucks", "applicator_license", "Certificate")
    office = '[columns.trucks]\n"Certificate" = "applicator_licence"\n'
    (book / "planner.toml").write_text(office, encoding="utf-8")
    assert good(book).sha256 == former.sha256


def test_usual_truck_and_prices_of_wishes(book: Path) -> None:
    assert good(book).properties["A"].usual_truck is None
    settings = good(book).settings
    assert (settings.usual_truck_price, settings.keep_price) == (15.0, 25.0)
    assert (settings.compact_price, settings.balance_price) == (2.0, 0.0)
    assert (settings.told_within_min, settings.told_price) == (60.0, 40.0)
    # T2 is out of service, which makes nobody's usual truck wrong.
    change(book, "properties", "weather_area", "weather_area,usual_truck")
    change(book, "properties", "fescue,north", "fescue,north,T2")
    change(book, "settings", "state,OH", "state,OH\nbalance_price,0.5")
    assert good(book).properties["A"].usual_truck == "T2"
    assert good(book).settings.balance_price == 0.5


def test_bad_cells_of_wishes(book: Path) -> None:
    change(book, "properties", "weather_area", "weather_area,usual_truck")
    change(book, "properties", "fescue,north", "fescue,north,T9")
    change(book, "settings", "state,OH", "state,OH\nkeep_price,-1\ncompact_price,much")
    assert places(read_workbook(book).problems) == [
        ("properties.csv", 2, "usual_truck", "REF-1"),
        ("settings.csv", 4, "value", "NUM-3"),
        ("settings.csv", 5, "value", "NUM-1"),
    ]


def test_excel_quirks(tmp_path: Path) -> None:
    path = excel_of(BASE, tmp_path / "book.xlsx")
    book = openpyxl.load_workbook(path)
    homes, orders, trucks = book["properties"], book["orders"], book["trucks"]
    homes["G2"] = "6,000"
    homes["G3"] = "9000 "
    orders["D2"] = 46491  # a date that lost its format: 2027-04-14
    trucks["D2"] = 0.3125  # 7:30 as a bare share of a day
    trucks["E2"] = dt.datetime(1899, 12, 30, 16, 30)
    trucks["D3"] = dt.time(7, 29, 59, 999999)
    trucks["C2"] = "TRUE"
    book["settings"].append(["fill_margin_percent", 0.05])
    book["settings"].cell(4, 2).number_format = "0%"
    book.create_sheet("Sheet9")
    book.create_sheet("_office only").append(["anything"])
    book.save(path)
    assert without_source(good(path)) == without_source(good(BASE))


def test_a_time_in_excel_may_lack_its_pm(tmp_path: Path) -> None:
    path = excel_of(BASE, tmp_path / "book.xlsx")
    book = openpyxl.load_workbook(path)
    cell = book["trucks"]["E2"]
    cell.value, cell.number_format = dt.time(4, 30), "h:mm"
    book.save(path)
    assert places(read_workbook(path).problems) == [("trucks", 2, "shift_end", "TIME-2")]
    cell.number_format = "h:mm AM/PM"
    book.save(path)
    assert places(read_workbook(path).problems) == [("trucks", 2, "shift_end", "PAIR-1")]


def test_excel_of_1904(tmp_path: Path) -> None:
    path = excel_of(BASE, tmp_path / "book.xlsx")
    book = openpyxl.load_workbook(path)
    book.epoch = openpyxl.utils.datetime.CALENDAR_MAC_1904
    for row in range(2, 5):
        for cell in book["orders"][row][3:6]:
            if isinstance(cell.value, dt.datetime):
                cell.value = (cell.value - dt.datetime(1904, 1, 1)).days
                cell.number_format = "General"
    book.save(path)
    assert good(path).orders == good(BASE).orders


def test_unknown_sheet_names_the_nearest(tmp_path: Path) -> None:
    path = excel_of(BASE, tmp_path / "book.xlsx")
    book = openpyxl.load_workbook(path)
    book["orders"].title = "Order"
    book.save(path)
    problems = read_workbook(path).problems
    assert places(problems) == [
        ("Order", None, None, "TABLE-2"),
        ("orders", None, None, "TABLE-1"),
    ]
    assert "'orders'" in problems[0].cure
