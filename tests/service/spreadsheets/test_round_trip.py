"""What goes out comes in again: the whole invented catalogue, and any text that a cell can hold."""

import io
import zipfile

import httpx
import pytest
from hypothesis import given
from hypothesis import strategies as st

from running import Service
from snapline.wire.spreadsheets import SpreadsheetImportQuery
from snapline_service.spreadsheets import csv_files, xlsx_files
from snapline_service.spreadsheets.cells import text_of, value_of
from snapline_service.spreadsheets.tables import SHEETS, Column

FORMATS = ["format=xlsx", "format=csv", *(f"format=csv&sheet={name}" for name in SHEETS)]
TEXT = Column("reason", ("reason",), "text")
# What JSON strings, PostgreSQL and XML can all hold, with what spreadsheet programs mistake mixed in.
TEXTS = st.text(st.characters(exclude_characters="\x00\ufffe\uffff", exclude_categories=["Cs"]), min_size=1)
TRICKY = st.one_of(TEXTS, TEXTS.map(lambda text: "=" + text), TEXTS.map(lambda text: "'@" + text))
NOTHING = SpreadsheetImportQuery()


@pytest.fixture
def http(demo_service: tuple[Service, str]) -> httpx.Client:
    service, key = demo_service
    return httpx.Client(base_url=service.url, headers={"authorization": f"Bearer {key}"}, timeout=60)


@pytest.mark.parametrize("asked", FORMATS)
def test_an_exported_catalogue_imports_as_nothing_changed(asked: str, http: httpx.Client) -> None:
    with http:
        file = http.get(f"/v1/revisions/current/spreadsheet?{asked}")
        assert file.status_code == 200
        answer = http.post("/v1/spreadsheets/import", content=file.content)
    assert answer.status_code == 200, answer.text
    report = answer.json()
    assert report["rows"] > 10
    assert (report["changed_cells"], report["new_rows"], report["draft_id"]) == (0, 0, None)


@given(TRICKY)
def test_any_text_survives_csv(text: str) -> None:
    file = io.BytesIO()
    csv_files.write([["vehicle_id", "system_id", "operation", "extent", "reason"], [*"abcd", text]], file)
    table = csv_files.read(file.getvalue(), NOTHING)
    ((_, cells),) = table.rows
    assert value_of(TEXT, cells[4], table.reading) == text  # type: ignore[arg-type]


@given(TRICKY)
def test_any_text_survives_a_workbook(text: str) -> None:
    file = io.BytesIO()
    xlsx_files.write({"disturbances": [["vehicle_id", "reason"], ["a", text]]}, file)
    (table,), _ = xlsx_files.read(file.getvalue(), NOTHING)
    ((_, cells),) = table.rows
    assert value_of(TEXT, cells[1], table.reading) == text  # type: ignore[arg-type]


@given(st.floats(allow_nan=False, allow_infinity=False, min_value=-1e6, max_value=1e6))
def test_any_number_survives_csv(number: float) -> None:
    column = Column("along_mm", ("along_mm",))
    table = csv_files.read(f"vehicle_id,along_mm\r\na,{text_of(number)}".encode(), NOTHING)
    ((_, cells),) = table.rows
    assert value_of(column, cells[1], table.reading) == number  # type: ignore[arg-type]


def test_a_zip_file_holds_a_file_for_each_sheet_and_one_about_them(http: httpx.Client) -> None:
    with http:
        file = http.get("/v1/revisions/1/spreadsheet?format=csv").content
    names = zipfile.ZipFile(io.BytesIO(file)).namelist()
    assert names == ["about.csv", "vehicles.csv", "placements.csv", "fixtures.csv", "disturbances.csv"]


def test_no_cell_of_an_export_begins_as_a_formula(http: httpx.Client) -> None:
    # OWASP, "CSV Injection": =, +, -, @, tab and carriage return; numbers may begin with a sign.
    with http:
        file = http.get("/v1/revisions/current/spreadsheet?sheet=disturbances").content
    assert file.startswith(b"\xef\xbb\xbf")
    for formula in ("=1+1", "+1", "-1+1", "@SUM(A1)", "\tx", "\rx"):
        assert text_of(formula) == f"'{formula}"
    assert text_of(-500.0) == "-500"
