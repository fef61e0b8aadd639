"""Cells to be written into a table that is there, all else left as it is: of a CSV file every
other byte, of an Excel workbook all but the XML of those cells. Formulas, charts, looks and
other sheets stay, which a library that loads and saves them loses."""

import datetime as dt
import io
import posixpath
import re
import zipfile
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from xml.etree import ElementTree
from xml.sax.saxutils import escape

from planner.problems import PlannerError
from planner.tables.columns import Header, columns_of
from planner.tables.sheets import Sheet, column_letters


class EditError(PlannerError):
    """A table that cannot be written into; one sentence with the cure."""


@dataclass(frozen=True)
class TableEdit:
    """cells: row number -> column -> text. new_rows: column -> text of each. Columns that the table
    does not have are added at its right."""

    table: str
    cells: Mapping[int, Mapping[str, str]] = field(default_factory=dict)
    new_rows: Sequence[Mapping[str, str]] = ()

    def __bool__(self) -> bool:
        return bool(self.cells or self.new_rows)


@dataclass(frozen=True)
class PlacedEdit:
    """cells: row number -> cell index -> text. numbers: cell indexes of columns that hold numbers.
    like: row whose looks new rows take, 0 = none. gone: rows that are taken out; those below them
    move up in a CSV file and stay where they are in Excel."""

    cells: Mapping[int, Mapping[int, str]]
    numbers: frozenset[int]
    like: int
    gone: frozenset[int] = frozenset()


def placed(edit: TableEdit, sheet: Sheet | None, header: Header | None) -> PlacedEdit:
    """Where each cell of an edit goes. sheet, header: of the table as it is, None = it has none.

    Raises EditError for a column that the table joins from several.
    """
    rows = [*edit.cells.values(), *edit.new_rows]
    named = [name for name in columns_of(edit.table) if any(name in row for row in rows)]
    index = dict(header.index) if header else {}
    joined = [name for name in named if header and header.joined.get(name)]
    if joined and header:
        raise EditError(
            f"{edit.table}: '{joined[0]}' is joined from {header.office[joined[0]]} in the table; "
            "make one column of them before it can be written"
        )
    head_row, width = (header.row, header.width) if header else (1, 0)
    cells: dict[int, dict[int, str]] = {}
    for name in named:
        if name not in index:
            index[name] = width
            cells.setdefault(head_row, {})[width] = name
            width += 1
    last = max((number for number, _ in sheet.rows), default=0) if sheet else 0
    like = last if header and last > header.row else 0
    last = max(last, head_row)
    new = enumerate(edit.new_rows, start=last + 1)
    cells |= {
        last + step: dict.fromkeys(range(width), "") for step in range(1, len(edit.new_rows) + 1)
    }
    for number, row in [*edit.cells.items(), *new]:
        cells.setdefault(number, {}).update({index[name]: text for name, text in row.items()})
    columns = columns_of(edit.table)
    numbers = {index[name] for name in named if columns[name].unit or columns[name].kind == "whole"}
    return PlacedEdit(cells, frozenset(numbers), like)


_UTF_8_MARK = b"\xef\xbb\xbf"
_UTF_16_MARKS = {b"\xff\xfe": "utf-16-le", b"\xfe\xff": "utf-16-be"}
_LINE = re.compile(r"[^\r\n]*(?:\r\n|\n|\r|$)")


def edited(before: bytes, sheet: Sheet, edit: PlacedEdit) -> bytes:
    """A table's file with the edit, CSV or Excel. Raises EditError."""
    if sheet.separator:
        return edited_csv(before, sheet, edit)
    return edited_xlsx(before, {sheet.name: edit})


def edited_csv(data: bytes, sheet: Sheet | None, edit: PlacedEdit) -> bytes:
    """The file with the cells in place. data: of the file as it is, b'' for a new one; sheet: what
    was read from it."""
    encoding = sheet.encoding if sheet else "utf-8"
    if encoding == "utf-8-sig" and not data.startswith(_UTF_8_MARK):
        encoding = "utf-8"
    mark = b""
    if encoding == "utf-16" and data[:2] in _UTF_16_MARKS:
        # Python would write the mark and the order of bytes of this machine.
        mark, encoding = data[:2], _UTF_16_MARKS[data[:2]]
    text = data[len(mark) :].decode(encoding)
    separator = sheet.separator if sheet else ","
    records = list(_records(text, separator))
    end = next(
        (ending for ending in ("\r\n", "\n", "\r") if records and records[0].endswith(ending)), "\n"
    )
    # A first line 'sep=;' is obeyed and not counted.
    told = records[:1] if records and records[0].casefold().lstrip('"').startswith("sep=") else []
    records = records[len(told) :]
    for number, cells in sorted(edit.cells.items()):
        while len(records) < number:
            if records and not records[-1].endswith(("\n", "\r")):
                records[-1] += end
            records.append(end)
        records[number - 1] = _changed(records[number - 1], cells, separator)
    kept = [row for number, row in enumerate(records, start=1) if number not in edit.gone]
    return mark + "".join([*told, *kept]).encode(encoding)


def _records(text: str, separator: str) -> Iterator[str]:
    """The text cut behind each line end that is not inside quotation marks."""
    begun = ""
    for match in _LINE.finditer(text):
        begun += match[0]
        if '"' not in begun or not _pieces(begun, separator)[1]:
            if begun:
                yield begun
            begun = ""
    if begun:
        yield begun


def _pieces(record: str, separator: str) -> tuple[list[str], bool]:
    """The cells of a record as they are written, and whether the last one's quotation marks are
    still open. As in reading, only a mark at the beginning of a cell opens quotes."""
    cells: list[str] = []
    begin, place, quoted, opened = 0, 0, False, False
    while place < len(record):
        letter = record[place]
        if quoted:
            quoted = letter != '"'
        elif letter == '"' and (place == begin or (opened and record[place - 1] == '"')):
            # Behind a closing mark, a second one stands for itself.
            quoted = opened = True
        elif letter == separator:
            cells.append(record[begin:place])
            begin, opened = place + 1, False
        place += 1
    return [*cells, record[begin:]], quoted


def _changed(record: str, cells: Mapping[int, str], separator: str) -> str:
    body = record.rstrip("\r\n")
    row = _pieces(body, separator)[0]
    row += [""] * (max(cells) + 1 - len(row))
    for place, text in cells.items():
        row[place] = _written(text, row[place], separator)
    return separator.join(row) + record[len(body) :]


def _written(text: str, before: str, separator: str) -> str:
    """A cell, in quotation marks where it needs them or had them."""
    if before[:1] == '"' or any(letter in text for letter in (separator, '"', "\r", "\n")):
        return '"' + text.replace('"', '""') + '"'
    return text


_MAIN = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
_RELATION = "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}id"
_SHEET_DATA = re.compile(r"<sheetData\s*/>|<sheetData>(.*)</sheetData>", re.DOTALL)
_ROW = re.compile(r"<row\b([^>]*?)(?:/>|>(.*?)</row>)", re.DOTALL)
_CELL = re.compile(r"<c\b([^>]*?)(?:/>|>(.*?)</c>)", re.DOTALL)
_NUMBER = re.compile(r"-?\d+(\.\d+)?")
_PLAIN = re.compile(r"-?(0|[1-9]\d{0,13})(\.\d+)?")
_DIMENSION = re.compile(r"<dimension\b[^>]*/>")
_CALCULATION = re.compile(r"<calcPr\b(?![^>]*fullCalcOnLoad)")
_IN_QUOTES = re.compile(r'"[^"]*"|\[[^]]*\]|\\.')
_BUILT_IN = {"9": "0%", "10": "0.00%"} | dict.fromkeys(("14", "15", "16", "17", "22"), "d")
"""Number formats that a workbook does not spell out: ECMA-376 part 1, 18.8.30."""


def edited_xlsx(data: bytes, edits: Mapping[str, PlacedEdit]) -> bytes:
    """The workbook with the cells in place; edits by sheet name. Excel works its formulas out anew
    when it opens it. Raises EditError where a sheet is not as spreadsheet programs write it, or a
    cell to be written holds a formula."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(out, "w") as new:
        parts = _sheet_parts(old)
        wanted = {parts[name]: (name, edit) for name, edit in edits.items()}
        shown = _shown(old)
        for item in old.infolist():
            content = old.read(item)
            if item.filename in wanted:
                name, edit = wanted[item.filename]
                content = _edited_sheet(content.decode("utf-8"), name, edit, shown).encode()
                ElementTree.fromstring(content)
            elif item.filename == "xl/workbook.xml":
                text = content.decode("utf-8")
                content = _CALCULATION.sub('<calcPr fullCalcOnLoad="1"', text).encode()
            new.writestr(item, content)
    return out.getvalue()


def _sheet_parts(archive: zipfile.ZipFile) -> dict[str, str]:
    """Sheet name -> its file in the archive."""
    links = ElementTree.fromstring(archive.read("xl/_rels/workbook.xml.rels"))
    targets = {link.attrib["Id"]: link.attrib["Target"] for link in links}
    book = ElementTree.fromstring(archive.read("xl/workbook.xml"))
    return {
        sheet.attrib["name"]: posixpath.normpath(
            posixpath.join("/xl", targets[sheet.attrib[_RELATION]])
        ).lstrip("/")
        for sheet in book.iter(f"{_MAIN}sheet")
    }


@dataclass(frozen=True)
class _Shown:
    """What cells show their numbers as. formats: by style; first_day: what day 0 is."""

    formats: Mapping[str, str]
    first_day: dt.date

    def number(self, style: str, text: str) -> str:
        """What is kept where a date or a percentage is shown, '' = the text."""
        code = self.formats.get(style, "")
        if "%" in code and _NUMBER.fullmatch(text.removesuffix("%")):
            return f"{float(text.removesuffix('%')) / 100:.15g}"
        try:
            day = dt.date.fromisoformat(text) if re.search("[dy]", code) else None
        except ValueError:
            day = None
        return "" if day is None else str((day - self.first_day).days)


def _shown(archive: zipfile.ZipFile) -> _Shown:
    there = "xl/styles.xml" in archive.namelist()
    styles = ElementTree.fromstring(archive.read("xl/styles.xml") if there else "<none/>")
    codes = _BUILT_IN | {
        one.attrib["numFmtId"]: _IN_QUOTES.sub("", one.attrib["formatCode"]).casefold()
        for one in styles.iter(f"{_MAIN}numFmt")
    }
    looks = styles.iterfind(f"{_MAIN}cellXfs/{_MAIN}xf")
    ids = (look.get("numFmtId", "0") for look in looks)
    formats = {str(style): codes.get(one, "") for style, one in enumerate(ids)}
    is_1904 = re.search(rb'date1904="(1|true)"', archive.read("xl/workbook.xml"))
    return _Shown(formats, dt.date(1904, 1, 1) if is_1904 else dt.date(1899, 12, 30))


def _edited_sheet(xml: str, name: str, edit: PlacedEdit, shown: _Shown) -> str:
    data = _SHEET_DATA.search(xml)
    if data is None:
        raise _strange(name)
    rows: dict[int, str] = {}
    for written in _ROW.finditer(data[1] or ""):
        rows[_number_of(written[1], name)] = written[0]
    like = _cells_of(rows.get(edit.like, ""), name)
    for number, cells in edit.cells.items():
        found = _ROW.fullmatch(rows.get(number, ""))
        attributes = found[1] if found else f' r="{number}"'
        inside = found[2] or "" if found else ""
        rows[number] = (
            f"<row{attributes}>{_edited_row(inside, number, cells, like, edit, name, shown)}</row>"
        )
    inside = "".join(rows[number] for number in sorted(rows) if number not in edit.gone)
    whole = f"{xml[: data.start()]}<sheetData>{inside}</sheetData>{xml[data.end() :]}"
    # It says how far the cells reach, and may be left out.
    return _DIMENSION.sub("", whole, count=1)


def _edited_row(
    inside: str,
    number: int,
    cells: Mapping[int, str],
    like: Mapping[int, str],
    edit: PlacedEdit,
    name: str,
    shown: _Shown,
) -> str:
    there = _cells_of(inside, name)
    is_new = not there
    for place, text in cells.items():
        old = there.get(place, "")
        if "<f" in old:
            raise EditError(
                f"{name}, cell {column_letters(place)}{number}: a formula is not written over; put "
                "its value in its place"
            )
        style = _style_of(old) or (_style_of(like.get(place, "")) if is_new else "")
        value = shown.number(style, text)
        # Of the office's own columns and keys, what was a number stays one.
        kept = _is_number(old if old.endswith("</c>") else like.get(place, ""))
        is_number = bool(value) or place in edit.numbers or (kept and _PLAIN.fullmatch(text))
        there[place] = _cell(
            f"{column_letters(place)}{number}", value or text, style, bool(is_number)
        )
    return "".join(there[place] for place in sorted(there))


def _cell(reference: str, text: str, style: str, is_number: bool) -> str:
    begin = f'<c r="{reference}"' + (f' s="{style}"' if style else "")
    if not text:
        return f"{begin}/>"
    if is_number and _NUMBER.fullmatch(text):
        return f"{begin}><v>{text}</v></c>"
    return f'{begin} t="inlineStr"><is><t xml:space="preserve">{escape(text)}</t></is></c>'


def _cells_of(row: str, name: str) -> dict[int, str]:
    """Cell index -> XML of a row's cells."""
    return {_place_of(cell[1], name): cell[0] for cell in _CELL.finditer(row)}


def _style_of(cell: str) -> str:
    look = re.search(r'\bs="(\d+)"', cell.split(">")[0])
    return look[1] if look else ""


def _is_number(cell: str) -> bool:
    return "<v>" in cell and not re.search(r'\bt="(?!n")', cell.split(">")[0])


def _number_of(attributes: str, name: str) -> int:
    found = re.search(r'\br="(\d+)"', attributes)
    if found is None:
        raise _strange(name)
    return int(found[1])


def _place_of(attributes: str, name: str) -> int:
    found = re.search(r'\br="([A-Z]+)\d+"', attributes)
    if found is None:
        raise _strange(name)
    place = 0
    for letter in found[1]:
        place = place * 26 + ord(letter) - 64
    return place - 1


def _strange(name: str) -> EditError:
    return EditError(
        f"sheet '{name}' is not written the way Excel does it; open the workbook in Excel, save "
        "it, and import again"
    )
