"""A revision's flat parts as rows, and the files made of them."""

import io
import zipfile
from collections.abc import Iterable, Iterator
from tempfile import SpooledTemporaryFile
from typing import IO

import msgspec
from sqlmodel import Session

from snapline.wire.spreadsheets import SpreadsheetQuery
from snapline_service.catalogue import store
from snapline_service.spreadsheets import csv_files, xlsx_files
from snapline_service.spreadsheets.tables import SHEETS, Sheet, Value

XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
CSV = "text/csv; charset=utf-8; header=present"
ZIP = "application/zip"
_HELD_BYTES = 8 << 20
Row = list[Value]


def media_of(query: SpreadsheetQuery) -> tuple[str, str]:
    """Return the media type of the file that is asked for, and the end of its name."""
    if query.sheet:
        return CSV, f"-{query.sheet}.csv"
    return (XLSX, ".xlsx") if query.format == "xlsx" else (ZIP, ".zip")


def write(session: Session, group_id: str, number: int, query: SpreadsheetQuery) -> bytes:
    """Return a revision's sheets as a file. Raises InvalidValue if a workbook cannot hold them."""
    with SpooledTemporaryFile(max_size=_HELD_BYTES) as file:
        write_to(file, session, group_id, number, query)
        file.seek(0)
        return file.read()


def write_to(file: IO[bytes], session: Session, group_id: str, number: int, query: SpreadsheetQuery) -> None:
    """Write a revision's sheets to a file."""
    if query.sheet:
        csv_files.write(rows(session, group_id, number, SHEETS[query.sheet]), file)
        return
    every = {name: rows(session, group_id, number, sheet) for name, sheet in SHEETS.items()}
    if query.format == "xlsx":
        xlsx_files.write({xlsx_files.ABOUT: about(number), **every}, file)
        return
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as files:
        for name, found in {"about": about(number), **every}.items():
            with files.open(f"{name}.csv", "w") as member:
                buffered = io.BufferedWriter(member)
                csv_files.write(found, buffered)
                buffered.flush()


def rows(session: Session, group_id: str, number: int, sheet: Sheet) -> Iterator[Row]:
    """Yield a sheet's headings and rows."""
    yield [column.name for column in sheet.all_columns]
    hashes = [entry.hash for entry in store.entries(session, group_id, number, sheet.kind)]
    for _, body in store.bodies(session, group_id, hashes):
        document = msgspec.json.decode(body)
        for keys, item in sheet.items(document):
            yield [*keys, *(column.of(item) for column in sheet.columns), None]


def about(number: int) -> Iterable[Row]:
    """Return what a person should know of the file, and the revision that an import compares with."""
    return [
        ["Catalogue spreadsheet", None],
        ["revision", number],
        ["units", "Headings say them: _mm millimetres, _deg degrees, _kg, _ghz, _dbsm."],
        ["inches", "A heading that ends in _in instead of _mm takes inches; 1 in = 25.4 mm exactly."],
        ["may be edited", "Every cell but those of the columns that address a row."],
        ["addresses of rows", "; ".join(f"{s.name}: {_keys(s)}" for s in SHEETS.values())],
        ["to add", "A row with a new address: vehicles, fixtures, placements of a stage, disturbances."],
        ["to retire", "'yes' in the column retire. A row that is left out changes nothing."],
        ["several words", "Markets and named fixtures stand one after the other, with spaces between."],
        [
            "invented",
            "Documents with 'yes' under invented are demonstration data, of no real car or equipment.",
        ],
    ]


def _keys(sheet: Sheet) -> str:
    return ", ".join(column.name for column in sheet.keys)
