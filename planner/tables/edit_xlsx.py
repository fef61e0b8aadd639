"""Cells written into an Excel workbook. Only the XML of those cells changes: formulas, charts,
looks and all other sheets stay as Excel saved them, which a library that loads and saves them
loses."""

from __future__ import annotations

import io
import posixpath
import re
import zipfile
from collections.abc import Mapping
from xml.etree import ElementTree
from xml.sax.saxutils import escape

from planner.tables.edits import EditError, PlacedEdit
from planner.tables.sheets import column_letters

_MAIN = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
_RELATION = "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}id"
_SHEET_DATA = re.compile(r"<sheetData\s*/>|<sheetData>(.*)</sheetData>", re.DOTALL)
_ROW = re.compile(r"<row\b([^>]*?)(?:/>|>(.*?)</row>)", re.DOTALL)
_CELL = re.compile(r"<c\b([^>]*?)(?:/>|>(.*?)</c>)", re.DOTALL)
_NUMBER = re.compile(r"-?\d+(\.\d+)?")
_DIMENSION = re.compile(r"<dimension\b[^>]*/>")
_CALCULATION = re.compile(r"<calcPr\b(?![^>]*fullCalcOnLoad)")


def edited_xlsx(data: bytes, edits: Mapping[str, PlacedEdit]) -> bytes:
    """The workbook with the cells in place; edits by sheet name. Excel works its formulas out anew
    when it opens it. Raises EditError where a sheet is not as spreadsheet programs write it, or a
    cell to be written holds a formula."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(out, "w") as new:
        parts = _sheet_parts(old)
        wanted = {parts[name]: (name, edit) for name, edit in edits.items()}
        for item in old.infolist():
            content = old.read(item)
            if item.filename in wanted:
                name, edit = wanted[item.filename]
                content = _edited_sheet(content.decode("utf-8"), name, edit).encode()
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


def _edited_sheet(xml: str, name: str, edit: PlacedEdit) -> str:
    data = _SHEET_DATA.search(xml)
    if data is None:
        raise _strange(name)
    rows: dict[int, str] = {}
    for written in _ROW.finditer(data[1] or ""):
        rows[_number_of(written[1], name)] = written[0]
    looks = _looks(rows.get(edit.like, ""), name)
    for number, cells in edit.cells.items():
        found = _ROW.fullmatch(rows.get(number, ""))
        attributes = found[1] if found else f' r="{number}"'
        inside = found[2] or "" if found else ""
        rows[number] = (
            f"<row{attributes}>{_edited_row(inside, number, cells, looks, edit, name)}</row>"
        )
    inside = "".join(rows[number] for number in sorted(rows) if number not in edit.gone)
    whole = f"{xml[: data.start()]}<sheetData>{inside}</sheetData>{xml[data.end() :]}"
    # It says how far the cells reach, and may be left out.
    return _DIMENSION.sub("", whole, count=1)


def _edited_row(
    inside: str,
    number: int,
    cells: Mapping[int, str],
    looks: Mapping[int, str],
    edit: PlacedEdit,
    name: str,
) -> str:
    there: dict[int, str] = {}
    for cell in _CELL.finditer(inside):
        there[_place_of(cell[1], name)] = cell[0]
    is_new = not there
    for place, text in cells.items():
        old = there.get(place, "")
        if "<f" in old:
            raise EditError(
                f"{name}, cell {column_letters(place)}{number}: a formula is not written over; put "
                "its value in its place"
            )
        look = re.search(r'\bs="(\d+)"', old.split(">")[0])
        style = look[1] if look else looks.get(place, "") if is_new else ""
        there[place] = _cell(f"{column_letters(place)}{number}", text, style, place in edit.numbers)
    return "".join(there[place] for place in sorted(there))


def _cell(reference: str, text: str, style: str, is_number: bool) -> str:
    begin = f'<c r="{reference}"' + (f' s="{style}"' if style else "")
    if not text:
        return f"{begin}/>"
    if is_number and _NUMBER.fullmatch(text):
        return f"{begin}><v>{text}</v></c>"
    return f'{begin} t="inlineStr"><is><t xml:space="preserve">{escape(text)}</t></is></c>'


def _looks(row: str, name: str) -> dict[int, str]:
    """Cell index -> style of a row."""
    found = {}
    for cell in _CELL.finditer(row):
        look = re.search(r'\bs="(\d+)"', cell[1])
        if look:
            found[_place_of(cell[1], name)] = look[1]
    return found


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
