"""What a workbook holds beside values: cells far out, errors, formulas; and files that mean to be misread."""

import io
import zipfile
from collections.abc import Mapping

import pytest

from service.drafts.office import Office
from snapline.wire.spreadsheets import SpreadsheetImportQuery
from snapline_service.errors import BodyTooLarge, InvalidValue
from snapline_service.spreadsheets import sheet_xml, xlsx_files
from snapline_service.spreadsheets.importing import open_file
from snapline_service.spreadsheets.sheets import Table

IMPORT = "/v1/spreadsheets/import"
SHEET = "xl/worksheets/sheet1.xml"
MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
HEADINGS = '<row r="1"><c r="A1" t="str"><v>fixture_id</v></c><c r="B1" t="str"><v>mass_kg</v></c></row>'
BOARD = '<c r="A2" t="str"><v>board</v></c>'


def sheet(rows: str) -> str:
    start = f'<worksheet xmlns="{MAIN}"><dimension ref="A1"/>'  # which is not believed
    return f"{start}<sheetData>{rows}</sheetData></worksheet>"


def workbook(rows: str, others: Mapping[str, bytes] | None = None, before: str = "") -> bytes:
    """Return a workbook whose sheet of fixtures has these rows below its headings, with parts exchanged."""
    file = io.BytesIO()
    xlsx_files.write({"fixtures": [["fixture_id", "mass_kg"]]}, file)
    source = zipfile.ZipFile(file)
    parts = {name: source.read(name) for name in source.namelist()}
    parts |= {SHEET: (before + sheet(HEADINGS + rows)).encode(), **(others or {})}
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as files:
        for name, content in parts.items():
            files.writestr(name, content)
    return packed.getvalue()


def opened(body: bytes) -> Table:
    (table,) = open_file(body, SpreadsheetImportQuery()).tables
    return table


@pytest.mark.parametrize(
    ("row", "cell"),
    [
        ('<row r="1048576"><c r="XFD1048576"><v>1</v></c></row>', "XFD1048576"),
        ('<row r="1048576"><c><v>1</v></c><c r="AZ1048576"><v>1</v></c></row>', "AZ1048576"),
        ('<row><c r="IV9"/><c><v>1</v></c></row>', "IW2"),
        ('<row r="6000000"/><row><c r="A2"/><c><v>1</v></c></row>', "B6000001"),
        ('<row r="2"><c r="XFD2" t="inlineStr"><is><t>x</t></is></c></row>', "XFD2"),
        ('<row r="2"><c r="XFD2" t="e"/></row>', "XFD2"),
        ('<x:row xmlns:x="y" r="2"><x:c r="XFD2"><x:v>1</x:v></x:c></x:row>', "XFD2"),
    ],
)
def test_a_cell_far_out_is_refused_by_name_before_room_is_made_for_it(row: str, cell: str) -> None:
    with pytest.raises(InvalidValue, match=f"fixtures: {cell} lies beyond") as refused:
        opened(workbook(row))
    assert "Delete the empty rows and columns" in refused.value.mend


def test_all_sheets_together_have_a_bound(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sheet_xml, "MAX_CELLS", 6)
    file = io.BytesIO()
    xlsx_files.write({"fixtures": [["fixture_id", "mass_kg"]] * 2, "vehicles": [["vehicle_id"]] * 3}, file)
    with pytest.raises(InvalidValue, match="vehicles: A3 lies beyond"):
        open_file(file.getvalue(), SpreadsheetImportQuery())


def test_empty_cells_that_only_have_a_format_may_lie_anywhere() -> None:
    row = f'<row r="2">{BOARD}<c r="B2"><v>19</v></c><c r="XFD2" s="0"/></row><row r="1048576" s="0"/>'
    assert list(opened(workbook(row)).rows) == [(2, ["board", 19.0])]


@pytest.mark.parametrize("address", ["", "5", "B", "B0", "$B$2", "B4294967299", "ABCD2", "B-2", "٣"])
def test_an_address_that_is_none_is_refused(address: str) -> None:
    with pytest.raises(InvalidValue, match="the address"):
        opened(workbook(f'<row r="2"><c r="{address}"><v>1</v></c></row>'))


@pytest.mark.parametrize("number", ["", "x", "0", "-1", "99999999999"])
def test_a_row_with_a_number_that_is_none_is_refused(number: str) -> None:
    with pytest.raises(InvalidValue, match="the number"):
        opened(workbook(f'<row r="{number}"><c><v>1</v></c></row>'))


FAR = sheet('<row r="1"><c r="XFD1048576"><v>1</v></c></row>').encode()
LINKS = (
    '<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">'
    '<Relationship Id="rId1" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/worksheet"'
    ' Target="{}"/></Relationships>'
)


@pytest.mark.parametrize(
    ("others", "before"),
    [
        ({SHEET.upper(): FAR}, ""),
        ({"xl/worksheets/other.xml": FAR}, ""),
        ({"xl/far.bin": FAR, "xl/_rels/workbook.xml.rels": LINKS.format("far.bin").encode()}, ""),
        ({"content.xml": b"<x/>"}, ""),
        ({}, '<!DOCTYPE worksheet [<!ATTLIST row r CDATA "1">]>'),
        ({}, '<?xml version="1.0" encoding="no-such"?>'),
    ],
)
def test_a_workbook_that_could_be_read_in_two_ways_is_not_read(others: dict[str, bytes], before: str) -> None:
    with pytest.raises(InvalidValue):
        opened(workbook(f'<row r="2">{BOARD}</row>', others, before))
    assert opened(workbook(f'<row r="2">{BOARD}</row>'))


@pytest.mark.parametrize("error", ["#REF!", "#DIV/0!", "#N/A", "#VALUE!", "#NAME?"])
def test_a_cell_with_an_error_is_a_fault_and_no_empty_cell(error: str, office: Office) -> None:
    body = workbook(f'<row r="2">{BOARD}<c r="B2" t="e"><v>{error}</v></c></row>')
    answer = office.ada.http.post(IMPORT, content=body)
    assert answer.status_code == 422
    (fault,) = answer.json()["errors"]
    assert fault["pointer"] == "/fixtures/2/mass_kg"
    assert f"row 2, column B (mass_kg), '{error}'" in fault["detail"]


def test_an_error_without_a_word_is_a_fault_too_and_the_cell_after_it_is_none(office: Office) -> None:
    body = workbook('<row r="2"><c r="A2" t="e"><v></v></c><c r="B2"><v>19</v></c></row>')
    (fault,) = office.ada.http.post(IMPORT, content=body).json()["errors"]
    assert fault["pointer"] == "/fixtures/2/fixture_id"


def test_a_formula_is_a_fault_of_its_column_whatever_value_is_kept_of_it(office: Office) -> None:
    for value in ("", "<v>19</v>"):
        body = workbook(f'<row r="2">{BOARD}<c r="B2"><f>10+9</f>{value}</c></row>')
        (fault,) = office.ada.http.post(IMPORT, content=body).json()["errors"]
        assert fault["pointer"] == "/fixtures/2/mass_kg"
        assert "column B (mass_kg): The cell holds a formula" in fault["detail"]


def test_a_row_of_nothing_but_errors_is_told_too(office: Office) -> None:
    body = workbook(
        f'<row r="2">{BOARD}<c r="B2"><v>19</v></c></row><row r="9"><c r="A9"><f>A2</f></c></row>'
    )
    (fault,) = office.ada.http.post(IMPORT, content=body).json()["errors"]
    assert fault["pointer"] == "/fixtures/9/fixture_id"


@pytest.mark.parametrize("cell", ['<c r="C1" t="e"><v>#REF!</v></c>', '<c r="C1"><f>A1</f></c>'])
def test_a_heading_that_is_a_formula_or_an_error_is_told_by_its_letters(cell: str, office: Office) -> None:
    answer = office.ada.http.post(
        IMPORT, content=workbook(f'<row r="1">{cell}</row><row r="2">{BOARD}</row>')
    )
    (fault,) = answer.json()["errors"]
    assert fault["pointer"] == "/fixtures/1/C"
    assert "row 1, column C" in fault["detail"]
    assert "None" not in fault["detail"]


def test_formulas_without_end_are_refused_as_a_whole(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sheet_xml, "MOST_UNUSABLE", 2)
    cells = "".join(f'<row r="{number}"><c r="B{number}"><f>1</f></c></row>' for number in range(2, 5))
    with pytest.raises(InvalidValue, match="More than 2 cells of the sheet fixtures"):
        opened(workbook(cells))


def test_tags_without_end_are_refused_as_too_large(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sheet_xml, "MAX_TAGS", 10_000)
    with pytest.raises(BodyTooLarge):
        opened(workbook("<row>" + "<c/>" * 10_000 + "</row>"))


def test_a_list_of_sheets_without_end_is_refused_as_too_large() -> None:
    with pytest.raises(BodyTooLarge):
        opened(workbook("", {"xl/workbook.xml": b"<a>" + b"<a/>" * 300_000 + b"</a>"}))
