"""An office's way from another program's export to a printed packet, and every import after it."""

from __future__ import annotations

import csv
import json
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from planner.cli.main import main
from planner.outputs import file
from tests import odd_export
from tests.excel import excel_of

DEMO = odd_export.DEMO
TOWN = Path(__file__).resolve().parents[1] / "maps" / "alder-mills.osm.pbf"

ANSWERS = {
    '"Cell" = "?"': '"Cell" = "614"',
    '"Grub Shield" = "?"': '"Grub Shield" = "INSECT"',
    '"Fungus + Green" = "?"': '"Fungus + Green" = ["DISEASE", "GREEN"]',
    '"orders.due_from" = "?"': '"orders.due_from" = "2027-04-14"',
    '"see map" = "?"': '"see map" = "8,000"',
}
"""All that the office has to decide."""


def run(*arguments: object) -> Result:
    return CliRunner().invoke(main, [str(argument) for argument in arguments])


@pytest.fixture
def office(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The demo company without customers; its folder's name is 'spring'."""
    monkeypatch.setenv("PLANNER_CACHE_DIR", str(tmp_path / "cache"))
    monkeypatch.chdir(tmp_path)
    book = tmp_path / "spring"
    shutil.copytree(DEMO, book)
    for table in ("properties", "orders", "history"):
        file = book / f"{table}.csv"
        file.write_text(file.read_text().splitlines()[0] + "\n")
    (book / "planner.toml").write_text(f'roads = "{TOWN}"\n')
    Path("customers.csv").write_bytes(odd_export.text().encode("cp1252"))
    return book


@pytest.fixture
def imported(office: Path) -> Path:
    """The same with its 57 active customers."""
    assert run("import", office, "customers.csv").exit_code == 0
    answer(office / "import.toml")
    done = run("import", office, "customers.csv")
    assert done.exit_code == 0, done.output
    Path("said.txt").write_text(done.stdout)
    return office


def answer(mapping: Path) -> None:
    text = mapping.read_text(encoding="utf-8")
    for question, reply in ANSWERS.items():
        assert text.count(question) == 1, question
        text = text.replace(question, reply)
    assert '"?"' not in text.replace('every "?"', "")
    mapping.write_text(text, encoding="utf-8")


def table(book: Path, name: str) -> dict[str, dict[str, str]]:
    with (book / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    key = next(iter(rows[0]))
    return {row[key]: row for row in rows}


def contents(book: Path) -> dict[str, bytes]:
    return {file.name: file.read_bytes() for file in sorted(book.iterdir())}


def export_of(customers: list[list[str]]) -> None:
    Path("customers.csv").write_bytes(odd_export.text(customers).encode("cp1252"))


def changed(number: str, header: str, text: str) -> list[list[str]]:
    """The export's rows with one cell changed."""
    rows = odd_export.rows()
    for row in rows:
        if row[0] == number:
            row[odd_export.HEADERS.index(header)] = text
    return rows


def test_from_a_strange_export_to_a_packet(office: Path) -> None:
    """Round one is the mapping with its questions; there is no round two, and no cell of the export
    is edited."""
    export = Path("customers.csv").read_bytes()
    tables = {file.name: file.read_bytes() for file in office.glob("*.csv")}
    first = run("import", office, "customers.csv")
    assert first.exit_code == 0
    assert first.stdout.count("To decide") == 4
    asked = run("import", office, "customers.csv")
    assert asked.exit_code == 1
    assert asked.stderr.count("IMPORT-1") == len(ANSWERS)
    assert {file.name: file.read_bytes() for file in office.glob("*.csv")} == tables
    answer(office / "import.toml")
    done = run("import", office, "customers.csv")
    assert done.exit_code == 0, done.output
    assert "left out: Active? is N (3)" in done.stdout
    assert "Row 65 was passed over: it is a total" in done.stdout
    assert "New properties (57)" in done.stdout
    assert "planner locate" in done.stdout
    located = run("locate", office, "--out", "located.csv")
    assert "57 exact number" in located.stdout, located.output
    shutil.move("located.csv", office / "properties.csv")
    checked = run("check", office)
    assert checked.exit_code == 0, checked.output
    planned = run(
        "plan", office, "--date", "2027-04-14", "--out", "monday", "--engine", "nearest-fit"
    )
    assert planned.exit_code in (0, 3), planned.output
    packet = Path("monday/truck-T1.html").read_text(encoding="utf-8")
    assert "Applegarth" in packet
    assert Path("customers.csv").read_bytes() == export
    before = contents(office)
    again = run("import", office, "customers.csv")
    assert "Nothing changes" in again.stdout
    assert contents(office) == before


def test_what_the_cells_became(imported: Path) -> None:
    """By hand from the rows of tests/odd_export.py; an acre is 43,560 sq ft (NIST Handbook 44)."""
    homes, orders = table(imported, "properties"), table(imported, "orders")
    assert len(homes) == 57
    assert "C1004" not in homes, "not active"
    first = homes["C1000"]
    assert (first["customer"], first["address"]) == ("Avis Applegarth", "732 Vista Trail")
    assert (first["town"], first["state"], first["zip"]) == ("Alder Mills", "OH", "43998")
    assert (first["grass"], first["sign"], first["dog_note"]) == ("KBG", "no", "Dogs")
    assert homes["C1007"]["customer"] == "Brightwell", "no first name"
    assert homes["C1011"]["address"].endswith(" Unit 2")
    areas = {key: homes[key]["lawn_ft2"] for key in ("C1000", "C1001", "C1002", "C1003", "C1010")}
    assert areas == {
        "C1000": "6700",
        "C1001": f"{0.24 * 43560:.0f}",
        "C1002": "9300",
        "C1003": "11200",
        "C1010": f"{43560 / 4:.0f}",
    }
    assert homes["C1020"]["lawn_ft2"] == "8000", "what the mapping says of 'see map'"
    phones = [homes[key]["phone"] for key in ("C1000", "C1001", "C1002", "C1003", "C1009")]
    assert phones == [f"(614) 555-{number:04d}" for number in (0, 1, 2, 3, 9)]
    assert homes["C1030"]["phone"] == "", "a spreadsheet has lost its digits"
    assert homes["C1001"]["phone_2"] == "", "n/a is no number"
    spans = {(row["due_from"], row["due_to"]) for row in orders.values()}
    assert (
        "Row 6: one price for several services" in imported.parent.joinpath("said.txt").read_text()
    )
    last_days = ("04-16", "04-18", "04-19", "04-20", "04-21")
    assert spans == {("2027-04-14", f"2027-{day}") for day in last_days}
    of_one = {key: row["mix"] for key, row in orders.items() if row["property"] == "C1010"}
    assert of_one == {"C1010-DISEASE-270421": "DISEASE", "C1010-GREEN-270421": "GREEN"}
    assert orders["C1000-PRE-270416"]["revenue"] == "45"
    assert orders["C1010-GREEN-270421"]["revenue"] == "", "one price for two services"


def test_only_what_the_export_changed_changes(imported: Path) -> None:
    homes = (imported / "properties.csv").read_text().replace("(614) 555-0000", "614-555-9999")
    (imported / "properties.csv").write_text(homes.replace("left side", "mind the step", 1))
    before = contents(imported)
    export_of(changed("C1001", "Type of Grass", "zoysia"))
    dry = run("import", imported, "customers.csv", "--dry-run")
    assert "C1001, grass: 'tall fescue' -> 'zoysia'" in dry.stdout
    assert contents(imported) == before
    done = run("import", imported, "customers.csv", "--json")
    told = json.loads(done.stdout)
    assert [(one["key"], one["column"]) for one in told["properties"]["changed"]] == [
        ("C1001", "grass")
    ]
    now = table(imported, "properties")
    assert (now["C1001"]["grass"], now["C1000"]["phone"]) == ("zoysia", "614-555-9999")
    lines = before["properties.csv"].splitlines(keepends=True)
    after = contents(imported)["properties.csv"].splitlines(keepends=True)
    assert [one for one in after if one not in lines] == [after[2]], "no other line is touched"


def test_what_was_typed_stays_and_is_named_once(imported: Path) -> None:
    homes = (imported / "properties.csv").read_text().replace("(614) 555-0000", "614-555-9999")
    (imported / "properties.csv").write_text(homes)
    export_of(changed("C1000", "Cell", "614-555-0777"))
    done = run("import", imported, "customers.csv")
    line = "  C1000, phone: '614-555-9999'; the export says '(614) 555-0777'"
    assert line in done.stdout
    assert table(imported, "properties")["C1000"]["phone"] == "614-555-9999"
    assert "C1000, phone" not in run("import", imported, "customers.csv").stdout
    taken = run("import", imported, "customers.csv", "--take-export")
    assert "C1000, phone: '614-555-9999' -> '(614) 555-0777'" in taken.stdout


def test_the_same_said_in_another_way_is_no_conflict(imported: Path) -> None:
    homes = (imported / "properties.csv").read_text().replace(",10454,", ',"0.24 ac",')
    (imported / "properties.csv").write_text(homes.replace(",6700,", ',"6,700 sq ft",', 1))
    (imported / "import-memory.json").unlink()
    done = run("import", imported, "customers.csv")
    assert "Kept in" not in done.stdout, "0.24 acres are 10,454.4 sq ft, which nobody measures"
    assert "Nothing changes" in done.stdout


def test_who_is_gone_is_named_and_cancelled_on_wish(imported: Path) -> None:
    export_of(changed("C1000", "Active?", "N"))
    before = contents(imported)
    gone = run("import", imported, "customers.csv")
    assert "No longer in the export, properties (1): C1000." in gone.stdout
    assert "No longer in the export, orders (1): C1000-PRE-270416." in gone.stdout
    assert contents(imported) == before, "nobody is deleted"
    run("import", imported, "customers.csv", "--cancel-gone")
    order = table(imported, "orders")["C1000-PRE-270416"]
    assert (order["status"], order["status_reason"]) == ("cancelled", "no longer in the export")
    assert "orders (1)" not in run("import", imported, "customers.csv").stdout
    export_of(odd_export.rows())
    run("import", imported, "customers.csv")
    order = table(imported, "orders")["C1000-PRE-270416"]
    assert (order["status"], order["status_reason"]) == ("", ""), "it is in the export again"


def test_a_row_that_somebody_removed_stays_away(imported: Path) -> None:
    lines = (imported / "properties.csv").read_text().splitlines(keepends=True)
    (imported / "properties.csv").write_text("".join(lines[:1] + lines[2:]))
    done = run("import", imported, "customers.csv")
    assert "Removed by hand and not brought back, properties (1): C1000." in done.stdout
    assert "C1000" not in table(imported, "properties")
    run("import", imported, "customers.csv", "--bring-back")
    assert table(imported, "properties")["C1000"]["customer"] == "Avis Applegarth"


def test_an_order_whose_day_moves_stays_the_same_order(imported: Path) -> None:
    export_of(changed("C1000", "Due By", "4/28/27"))
    run("import", imported, "customers.csv")
    orders = table(imported, "orders")
    assert orders["C1000-PRE-270416"]["due_to"] == "2027-04-28"
    export_of(changed("C1000", "Due By", "6/30/27"))
    done = run("import", imported, "customers.csv")
    assert "New orders (1): C1000-PRE-270630" in done.stdout, "the next round is another order"
    assert "No longer in the export, orders (1): C1000-PRE-270416" in done.stdout


def test_refused_rows_and_all_others(imported: Path) -> None:
    rows = changed("C1002", "Turf K", "5000-6000")
    rows[5][odd_export.HEADERS.index("Services Due")] = "Pre-M; Snow"
    rows[6][odd_export.HEADERS.index("Type of Grass")] = "zoysia"
    export_of(rows)
    before = contents(imported)
    refused = run("import", imported, "customers.csv")
    assert refused.exit_code == 1
    assert "customers.csv, row 6, column 'Turf K': this is no single area" in refused.stderr
    assert "'5000-6000' = \"...\"" not in refused.stderr
    assert '"5000-6000" = "..." under [words."Turf K"] in import.toml' in refused.stderr
    assert "customers.csv, row 9, column 'Services Due'" in refused.stderr
    assert contents(imported) == before
    rest = run("import", imported, "customers.csv", "--without-refused")
    assert rest.exit_code == 1
    assert table(imported, "properties")["C1006"]["grass"] == "zoysia"
    assert "No longer" not in rest.stdout, "rows that were refused are not gone"


def test_another_export_than_the_mapping_is_for_is_told_once(imported: Path) -> None:
    other = Path("other.csv")
    other.write_text("truck,does,what\nT1,load,PRE\nT1,order,O1\n", encoding="utf-8")
    result = run("import", imported, other)
    assert result.exit_code == 1
    assert result.stderr.count("[IMPORT-3]") == 1
    assert "other.csv has none of its columns; take the export" in result.stderr


def test_what_is_typed_while_an_import_writes_is_kept(
    office: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert run("import", office, "customers.csv").exit_code == 0
    answer(office / "import.toml")
    made = file._made

    def slowly(target: Path, content: object) -> Path:
        aside = made(target, content)  # type: ignore[arg-type]
        if target.name == "orders.csv":
            with target.open("a") as opened:
                opened.write("typed by hand\n")
        return aside

    monkeypatch.setattr(file, "_made", slowly)
    refused = run("import", office, "customers.csv")
    assert refused.exit_code == 1
    assert "orders.csv was changed meanwhile" in refused.stderr
    assert (office / "orders.csv").read_text().endswith("\ntyped by hand\n")


def test_a_new_workbook_without_customers(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    for name in ("spring", "spring.xlsx"):
        made = run("new", name, "--date", "2027-04-14", "--without-customers")
        assert f"planner import {name} EXPORT" in made.stdout, made.output
        problems = json.loads(run("check", name, "--json").stdout)["problems"]
        assert [one["code"] for one in problems] == ["TABLE-4", "TABLE-4"]


def test_an_excel_workbook_and_an_excel_export(office: Path) -> None:
    book = excel_of(office, Path("spring.xlsx"))
    shutil.move(office / "planner.toml", "planner.toml")
    shutil.rmtree(office)
    assert run("import", book, "customers.csv").exit_code == 0
    answer(Path("spring-import.toml"))
    done = run("import", book, "customers.csv")
    assert done.exit_code == 0, done.output
    read = run("check", book, "--json")
    problems = [one["code"] for one in json.loads(read.stdout)["problems"]]
    assert problems == ["PLACE-7"], "the new customers have no coordinates yet"
    data = book.read_bytes()
    assert "Nothing changes" in run("import", book, "customers.csv").stdout
    assert book.read_bytes() == data
