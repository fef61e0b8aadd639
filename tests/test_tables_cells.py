"""Cells as offices write them. Expected values were worked by hand; the spellings are common
practice in US offices, no source."""

from __future__ import annotations

import datetime as dt
import re
from pathlib import Path

import pytest

from planner.day.clock import DateSpan, Window
from planner.tables.cells import Style, read_cell, read_email, read_phone
from planner.tables.clock_cells import read_date, read_dates, read_time, read_weekdays, read_windows
from planner.tables.columns import Column, all_columns, columns_of, key_columns, table_names
from planner.tables.text import CellError, clean, did_you_mean, header_name, nearest
from planner.units import UnitError

PLANNER = Path(__file__).resolve().parents[1] / "planner"


def column(kind: str, unit: str = "") -> Column:
    return Column("orders", "x", kind, unit, False, False, "", None, None, "")


SEMICOLONS = Style(semicolons=True)
DECIMAL_COMMAS = Style(semicolons=True, decimal_commas=True)


@pytest.mark.parametrize(
    ("text", "minutes"),
    [
        ("8:30", 510),
        ("08:30", 510),
        ("8:30 AM", 510),
        ("8:30am", 510),
        ("8:30 a.m.", 510),
        ("8:30 P", 1230),
        ("0830", 510),
        ("830", 510),
        ("16:30:00", 990),
        ("8", 480),
        ("4 pm", 960),
        ("noon", 720),
        ("12:30 AM", 30),
        ("12:30 PM", 750),
        ("24:00", 1440),
        ("00:00", 0),
        ("01:00", 60),
        ("1:00 AM", 60),
        ("0.354166666666667", 510),
        ("0.5", 720),
    ],
)
def test_times(text: str, minutes: float) -> None:
    assert read_time(text) == minutes


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("8.5", "TIME-1"),
        ("8:60", "TIME-1"),
        ("25:00", "TIME-1"),
        ("13:00 PM", "TIME-1"),
        ("0:30 AM", "TIME-1"),
        ("midnight", "TIME-1"),
        ("1.5", "TIME-1"),
        ("-8:00", "TIME-1"),
        ("1:00", "TIME-2"),
        ("4:30", "TIME-2"),
        ("430", "TIME-2"),
    ],
)
def test_times_refused(text: str, code: str) -> None:
    with pytest.raises(CellError) as caught:
        read_time(text)
    assert caught.value.code == code


@pytest.mark.parametrize(
    "text",
    [
        "2027-04-05",
        "2027-4-5",
        "2027/04/05",
        "4/5/2027",
        "04/05/27",
        "4-5-2027",
        "5-Apr-2027",
        "5-Apr-27",
        "5 April 2027",
        "April 5, 2027",
        "Apr 5 2027",
        "Monday, April 5, 2027",
        "Mon 4/5/2027",
        "2027-04-05 00:00:00",
        "2027-04-05T00:00",
        "4/5/2027 12:00 AM",
        # Day 1 is 1900-01-01 and Excel counts a 29 February 1900 (Microsoft, 'DATE function',
        # from memory): 46117 = 2026-04-05, and 365 days later.
        "46482",
    ],
)
def test_dates(text: str) -> None:
    assert read_date(text) == dt.date(2027, 4, 5)


def test_day_numbers_may_count_from_1904() -> None:
    assert read_date("45020", epoch_1904=True) == dt.date(2027, 4, 5)


@pytest.mark.parametrize(
    "text",
    ["14/4/2027", "2027-02-30", "4/5", "tomorrow", "2027-04-05 08:30", "1", "99999999", "4/5/1"],
)
def test_dates_refused(text: str) -> None:
    with pytest.raises(CellError) as caught:
        read_date(text)
    assert caught.value.code == "DATE-1"


@pytest.mark.parametrize(
    ("text", "windows"),
    [
        ("8:00-11:30; 13:00-15:00", [(480, 690), (780, 900)]),
        ("13:00-15:00, 8:00-11:30", [(480, 690), (780, 900)]),
        ("8 to 11:30", [(480, 690)]),
        ("8:00–11:30 and 1 PM–3 PM", [(480, 690), (780, 900)]),
        ("1-3 PM", [(780, 900)]),
        ("11-1 PM", [(660, 780)]),
        ("8-11:30 AM", [(480, 690)]),
        ("8-10; 9-12", [(480, 720)]),
        ("8-10; 10-12", [(480, 720)]),
        ("8:00-11:30;", [(480, 690)]),
    ],
)
def test_windows(text: str, windows: list[tuple[float, float]]) -> None:
    assert read_windows(text) == tuple(Window(*window) for window in windows)


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("mornings", "TIME-3"),
        ("9:00", "TIME-3"),
        (";", "TIME-3"),
        ("8-10-12", "TIME-3"),
        ("8:00-", "TIME-3"),
        ("11:30-8:00", "TIME-4"),
        ("9:00-9:00", "TIME-4"),
        ("8:00-3:00", "TIME-2"),
        ("8:00-soon", "TIME-1"),
        # What Excel makes of '8-11' in a cell that is not text.
        ("2027-08-11", "TIME-3"),
    ],
)
def test_windows_refused(text: str, code: str) -> None:
    with pytest.raises(CellError) as caught:
        read_windows(text)
    assert caught.value.code == code


@pytest.mark.parametrize(
    ("text", "value", "style"),
    [
        ("1200", 1200, Style()),
        ("1,200", 1200, Style()),
        ("1,234,567.5", 1234567.5, Style()),
        ("+.5", 0.5, Style()),
        ("-83.5", -83.5, Style()),
        ("−83.5", -83.5, Style()),
        ("1.2E+05", 120000, Style()),
        ("1 200", 1200, Style()),
        ("1'234'567.5", 1234567.5, Style()),
        ("- 83.5", -83.5, Style()),
        ("'4350", 4350, Style()),
        ("12,5", 12.5, SEMICOLONS),
        ("0,125", 0.125, SEMICOLONS),
        ("39,96123", 39.96123, SEMICOLONS),
        ("1.234,5", 1234.5, SEMICOLONS),
        ("1,234,567", 1234567, SEMICOLONS),
        ("40.123", 40.123, SEMICOLONS),
        ("1200", 1200, DECIMAL_COMMAS),
        ("40.1234", 40.1234, DECIMAL_COMMAS),
    ],
)
def test_numbers(text: str, value: float, style: Style) -> None:
    assert read_cell(text, column("number"), style) == value


@pytest.mark.parametrize(
    ("text", "code", "style"),
    [
        ("12,5", "NUM-1", Style()),
        ("1,20", "NUM-1", Style()),
        ("12,34,567", "NUM-1", Style()),
        ("about 9", "NUM-1", Style()),
        ("nan", "NUM-1", Style()),
        ("inf", "NUM-1", Style()),
        ("1e999", "NUM-1", Style()),
        ("(5)", "NUM-1", Style()),
        ("22 0", "NUM-1", Style()),
        ("1 .5", "NUM-1", Style()),
        ("3'5", "NUM-1", Style()),
        ("1,200", "NUM-4", SEMICOLONS),
        ("40.123", "NUM-4", DECIMAL_COMMAS),
    ],
)
def test_numbers_refused(text: str, code: str, style: Style) -> None:
    with pytest.raises(CellError) as caught:
        read_cell(text, column("number"), style)
    assert caught.value.code == code


def test_units_and_signs_that_the_column_has_anyway() -> None:
    assert read_cell("$1,200.50", column("money", "$"), Style()) == 1200.5
    assert read_cell("5%", column("number", "%"), Style()) == 5
    assert read_cell("300 ft", column("number", "ft"), Style()) == 300
    with pytest.raises(CellError):
        read_cell("300 yd", column("number", "ft"), Style())


@pytest.mark.parametrize(
    ("text", "ft2", "style"),
    [
        ("7,700 sq ft", 7700, Style()),
        ("7700 SqFt.", 7700, Style()),
        ("7 700", 7700, Style()),
        ("6.7K", 6700, Style()),
        ("6.7 k sq. ft.", 6700, Style()),
        # The acre of 43,560 sq ft: NIST Handbook 44, Appendix C.
        ("0.51 ac", 22215.6, Style()),
        ("1/4 acre", 10890, Style()),
        ("1½ Acres", 65340, Style()),
        ("half an acre", 21780, Style()),
        ("0,51 ac", 22215.6, SEMICOLONS),
        ("850 sq yd", 7650, Style()),
        # 1 ft = 0.3048 m: the same handbook.
        ("100 m²", 100 / 0.3048**2, Style()),
    ],
)
def test_areas_with_their_units(text: str, ft2: float, style: Style) -> None:
    lawn = columns_of("properties")["lawn_ft2"]
    assert read_cell(text, lawn, style) == pytest.approx(ft2, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "code", "cure"),
    [
        ("5000-6000", "AREA-1", "to be treated"),
        ("5 to 6K", "AREA-1", "to be treated"),
        ("~7000", "AREA-1", "to be treated"),
        ("80x120", "AREA-1", "write the area"),
        ("6.7M", "AREA-1", "6.7K"),
        ("7 furlongs", "UNIT-1", "acre"),
        ("0.51", "NUM-3", "acre behind acres"),
        ("1/0 acre", "NUM-1", "0.51 acre"),
        ("4350/2", "NUM-1", "square feet"),
        ("3/2 acre", "NUM-1", "0.51 acre"),
        ("lots", "NUM-1", "0.51 acre"),
        ("12,5 ac", "NUM-1", "0.51 acre"),
    ],
)
def test_areas_refused(text: str, code: str, cure: str) -> None:
    with pytest.raises((CellError, UnitError)) as caught:
        read_cell(text, columns_of("properties")["lawn_ft2"], Style())
    assert (caught.value.code, cure in caught.value.cure) == (code, True), caught.value.cure


def test_a_comma_in_an_area_of_a_semicolon_file() -> None:
    with pytest.raises(CellError, match="thousands or decimals"):
        read_cell("7,700 sq ft", columns_of("properties")["lawn_ft2"], SEMICOLONS)


@pytest.mark.parametrize("text", ["yes", "Y", "TRUE", "true", "x", "X", "1", "✓"])
def test_yes(text: str) -> None:
    assert read_cell(text, column("yes_no"), Style()) is True


@pytest.mark.parametrize("text", ["no", "N", "FALSE", "0"])
def test_no(text: str) -> None:
    assert read_cell(text, column("yes_no"), Style()) is False


def test_choices_forgive_case_and_spaces() -> None:
    kind = columns_of("sites")["kind"]
    assert read_cell("Water_Point", kind, Style()) == "water point"


def test_lists_are_cut_outside_brackets() -> None:
    text = "gloves (nitrile, 14 mil), goggles; long sleeves;"
    assert read_cell(text, column("list:text"), Style()) == (
        "gloves (nitrile, 14 mil)",
        "goggles",
        "long sleeves",
    )


def test_a_decimal_comma_in_a_rate_of_a_semicolon_file() -> None:
    rate = read_cell("1,5 fl oz/1000 sq ft", column("rate"), SEMICOLONS)
    assert rate.most == 1.5  # type: ignore[attr-defined]


def test_clean_takes_away_what_cannot_be_seen() -> None:
    assert clean("\ufeff  A.\u00a0 Alder\n\u200b ") == "A. Alder"
    assert header_name(" Lawn  (ft2) ") == "lawn_ft2"


def test_nearest_names() -> None:
    assert nearest("Lawn sqft", ["lawn_ft2", "grass"]) == "lawn_ft2"
    assert nearest("zebra", ["lawn_ft2", "grass"]) is None
    assert nearest("addr", ["address", "grass"]) == "address"


def test_an_id_is_no_slip_of_another_one() -> None:
    """Of a word with a number in it at most a letter in three may be wrong: `W1` for `W51` is a
    letter of two. Where none is near, all names are told as long as they are few."""
    assert nearest("W1", ["W51", "W52"]) is None
    assert did_you_mean("T9", ["T1", "T2"], "-") == "write one of: T1, T2"
    assert nearest("77", ["1007", "1077"]) is None
    for word, meant in (
        ("W-51", "W51"),
        ("1O02", "1002"),
        ("W512", "W5122"),
        ("truck1", "truck-1"),
    ):
        assert nearest(word, ["1001", "1007", meant]) == meant
    # Two that are equally near are a guess; O for 0 and l for 1 are none.
    for unknown, names in (
        ("truck3", ["truck-1", "truck-2"]),
        ("T12", ["T1", "T2"]),
        ("Q-17", ["Q-1", "Q-7", "Q-19", "Q-11"]),
    ):
        assert nearest(unknown, names) is None
    assert nearest("Q-1O", ["Q-1", "Q-10"]) == "Q-10"
    assert nearest("P-l1", ["P-1", "P-11", "P-41"]) == "P-11"
    # The likeliest by letters is too far, another is not.
    assert nearest("A12", ["A12A2", "A1"]) == "A1"


def test_columns_csv_is_sound() -> None:
    tables = table_names()
    for item in all_columns():
        assert item.meaning, item
        if item.ref_table:
            assert item.ref_table in tables
        if item.least is not None and item.most is not None:
            assert item.least < item.most
        if item.default:
            read_cell(item.default, item, Style())
        assert not (item.required and item.default), "a default for a required cell is never used"
    for table in tables:
        assert key_columns(table), f"{table} has no key"


def test_every_column_is_read_by_some_module() -> None:
    """A column that nothing reads would take the office's figures and pass them over."""
    sources = " ".join(file.read_text(encoding="utf-8") for file in PLANNER.rglob("*.py"))
    words = set(re.findall(r"\w+", sources))
    unread = [
        f"{item.table}.{item.column}"
        for item in all_columns()
        if words.isdisjoint(item.column + end for end in ("", "_min", "_id"))
    ]
    assert unread == [], "no field of planner/day/ has this name, and no module names it"


@pytest.mark.parametrize(
    ("text", "days"),
    [
        ("Mon; Tue", (0, 1)),
        ("Tuesdays and Thursdays", (1, 3)),
        ("Mon-Fri", (0, 1, 2, 3, 4)),
        ("sat to mon", (0, 5, 6)),
        ("Wed, Thurs/Sat.", (2, 3, 5)),
    ],
)
def test_weekdays(text: str, days: tuple[int, ...]) -> None:
    assert read_weekdays(text) == days


@pytest.mark.parametrize("text", ["Monty", "any", "Mon-", ";", "1", "Mon-Wed-Fri", "mond"])
def test_no_weekdays(text: str) -> None:
    with pytest.raises(CellError) as caught:
        read_weekdays(text)
    assert caught.value.code == "DATE-2"


def span(first: str, last: str = "") -> DateSpan:
    return DateSpan(dt.date.fromisoformat(first), dt.date.fromisoformat(last or first))


@pytest.mark.parametrize(
    ("text", "spans"),
    [
        ("2026-07-04", (span("2026-07-04"),)),
        ("7/4/2026, 2026-05-25", (span("2026-05-25"), span("2026-07-04"))),
        ("July 4, 2026, 5/25/26", (span("2026-05-25"), span("2026-07-04"))),
        (
            "8/1/26-8/14/26; 2026-12-24 to Dec 31, 2026",
            (span("2026-08-01", "2026-08-14"), span("2026-12-24", "2026-12-31")),
        ),
        ("2026-08-01-2026-08-14", (span("2026-08-01", "2026-08-14"),)),
        ("46207", (span("2026-07-04"),)),
    ],
)
def test_lists_of_dates(text: str, spans: tuple[DateSpan, ...]) -> None:
    assert read_dates(text) == spans


@pytest.mark.parametrize(
    ("text", "code"),
    [("summer", "DATE-1"), ("7/4", "DATE-1"), ("8/14/26 to 8/1/26", "DATE-3")],
)
def test_no_dates(text: str, code: str) -> None:
    with pytest.raises(CellError) as caught:
        read_dates(text)
    assert caught.value.code == code


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("614-555-0142", "(614) 555-0142"),
        ("614.555.0142", "(614) 555-0142"),
        ("614/555-0142", "(614) 555-0142"),
        ("(614)5550142", "(614) 555-0142"),
        ("6145550142", "(614) 555-0142"),
        ("6145550142.0", "(614) 555-0142"),
        ("6.145550142E+09", "(614) 555-0142"),
        ("1.6145550142E+10", "(614) 555-0142"),
        ("'6145550142", "(614) 555-0142"),
        ("16145550142", "(614) 555-0142"),
        ("+1 614 555 0142", "(614) 555-0142"),
        ("614–555–0142 x12", "(614) 555-0142 ext. 12"),
        ("614-555-0142 ext 4 (wife Mary)", "(614) 555-0142 ext. 4 (wife Mary)"),
        ("cell: 614-555-0142", "(614) 555-0142 (cell)"),
        ("614-555-0142; 6145550142", "(614) 555-0142"),
        ("+44 20 7946 0018", "+44 20 7946 0018"),
        ("442079460018", "+44 20 7946 0018"),
        ("11442079460018", "+44 20 7946 0018"),
        ("n/a", ""),
        ("None", ""),
        ("-", ""),
    ],
)
def test_phones(text: str, shown: str) -> None:
    """Numbers in 555-0100 to 555-0199 (North America, NANPA) and 020 7946 0000 to 0999 (Ofcom) are
    kept for fiction."""
    assert read_phone(text) == shown
    assert read_phone(shown) == shown


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("6.14555E+09", "PHONE-2"),
        ("6.1E9", "PHONE-2"),
        ("555-0142", "PHONE-1"),
        ("5550142", "PHONE-1"),
        ("614-155-0142", "PHONE-1"),
        ("114-555-0142", "PHONE-1"),
        ("614-555-014", "PHONE-1"),
        ("ask his wife", "PHONE-1"),
        ("614-555-0142 or 614-555-0143", "PHONE-3"),
    ],
)
def test_phones_refused(text: str, code: str) -> None:
    with pytest.raises(CellError) as caught:
        read_phone(text)
    assert caught.value.code == code


def test_emails() -> None:
    assert read_email("pat.o'neil+lawn@mail.example.com") == "pat.o'neil+lawn@mail.example.com"
    assert read_email("Pat O <pat@example.com>") == "pat@example.com"
    assert read_email("mailto:pat@example.com") == "pat@example.com"
    assert read_email("N/A") == ""
    for text in ("pat@example", "pat", "@example.com", "a@b.com; c@d.com", "pat@-a.com", "a b@c.d"):
        with pytest.raises(CellError) as caught:
            read_email(text)
        assert caught.value.code == "EMAIL-1"
