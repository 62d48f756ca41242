"""Whatever is sent as a spreadsheet is read or refused in the domain's words; nothing else escapes."""

import io
import zipfile
from collections.abc import Iterable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from snapline.wire.spreadsheets import SpreadsheetImportQuery
from snapline_service.errors import SnaplineError
from snapline_service.spreadsheets import xlsx_files
from snapline_service.spreadsheets.cells import CellFault, Reading, value_of
from snapline_service.spreadsheets.importing import open_file
from snapline_service.spreadsheets.tables import Column

NOTHING = SpreadsheetImportQuery()
READINGS = [Reading(None), Reading("point"), Reading("comma"), Reading("comma", stated=True)]


def workbook() -> bytes:
    file = io.BytesIO()
    xlsx_files.write({"fixtures": [["fixture_id", "mass_kg"], ["board", 19]]}, file)
    return file.getvalue()


WORKBOOK = workbook()
PARTS = zipfile.ZipFile(io.BytesIO(WORKBOOK)).namelist()


def drained(body: bytes) -> None:
    try:
        for table in open_file(body, NOTHING).tables:
            for _ in table.rows:
                pass
    except SnaplineError:
        pass


@given(st.binary(max_size=200))
def test_any_bytes(body: bytes) -> None:
    drained(body)
    drained(b"fixture_id,mass_kg\r\n" + body)


@given(st.integers(0, len(WORKBOOK) - 1), st.integers(1, 255))
def test_a_workbook_with_a_wrong_byte(place: int, change: int) -> None:
    drained(WORKBOOK[:place] + bytes([WORKBOOK[place] ^ change]) + WORKBOOK[place + 1 :])


def repacked(parts: Iterable[tuple[str, bytes]]) -> bytes:
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w") as files:
        for name, content in parts:
            files.writestr(name, content)
    return file.getvalue()


@pytest.mark.parametrize("without", PARTS)
def test_a_workbook_that_lacks_a_part_or_has_an_unfinished_one(without: str) -> None:
    source = zipfile.ZipFile(io.BytesIO(WORKBOOK))
    drained(repacked((name, source.read(name)) for name in PARTS if name != without))
    cut = {name: source.read(name) for name in PARTS}
    cut[without] = cut[without][: len(cut[without]) // 2]
    drained(repacked(cut.items()))


@given(st.text(), st.sampled_from(READINGS), st.booleans())
def test_any_text_where_a_number_belongs(text: str, reading: Reading, inches: bool) -> None:
    for form in ("number", "integer"):
        try:
            value = value_of(Column("along_mm", ("along_mm",), form), text, reading, inches=inches)
        except CellFault:
            continue
        assert value is None or isinstance(value, int | float)


@given(st.integers(-999_999, 999_999), st.integers(1, 9))
def test_a_number_is_the_same_with_either_mark_once_it_is_known(whole: int, tenth: int) -> None:
    column = Column("along_mm", ("along_mm",))
    point, comma = f"{whole}.{tenth}", f"{whole},{tenth}"
    assert value_of(column, point, Reading("point")) == value_of(column, comma, Reading("comma"))
    assert value_of(column, point, Reading("point")) == float(point)


def test_an_empty_file_is_said_to_be_empty() -> None:
    with pytest.raises(SnaplineError, match="The file is empty"):
        open_file(b"", NOTHING)
