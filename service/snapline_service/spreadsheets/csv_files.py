"""CSV by RFC 4180: one sheet to a file, or several files in a ZIP file."""

import csv
import io
import zipfile
from collections.abc import Iterable, Iterator
from typing import IO

from snapline.wire.spreadsheets import SpreadsheetImportQuery
from snapline_service.errors import InvalidValue
from snapline_service.spreadsheets import detecting
from snapline_service.spreadsheets.cells import Reading, text_of
from snapline_service.spreadsheets.sheets import Table, header_of, likely_sheet
from snapline_service.spreadsheets.tables import SHEETS, Value

csv.field_size_limit(1_000_000)


def write(rows: Iterable[Iterable[Value]], file: IO[bytes]) -> None:
    """Write rows with CRLF, in UTF-8 with the byte order mark by which spreadsheet programs know it."""
    text = io.TextIOWrapper(file, encoding="utf-8-sig", newline="")
    csv.writer(text, lineterminator="\r\n").writerows(map(text_of, row) for row in rows)
    text.flush()
    text.detach()


def read(body: bytes, asked: SpreadsheetImportQuery, sheet_name: str | None = None) -> Table:
    """Return the sheet that a CSV file holds. Raises InvalidValue if it cannot be read at all."""
    decoded = detecting.decode(body, asked.encoding)
    told, text = detecting.separated(decoded.text)
    stated = detecting.DELIMITERS[asked.delimiter] if asked.delimiter else None
    delimiter = detecting.delimiter_of(text, stated or told)
    _, headings = next(_rows(text, delimiter), (1, []))
    name = asked.sheet or sheet_name or likely_sheet(headings)
    header = header_of(SHEETS[name], headings)
    numbers = (
        str(cell)
        for _, cells in _rows(text, delimiter)
        for cell, column in zip(cells, header.columns, strict=False)
        if column and column.form in ("number", "integer")
    )
    decimal = asked.decimal or detecting.decimal_of(numbers, delimiter)
    rows = _rows(text, delimiter)
    next(rows, None)
    return Table(
        header=header,
        rows=rows,
        reading=Reading(decimal, stated=asked.decimal is not None),
        width=max((place for place, heading in enumerate(headings, 1) if str(heading).strip()), default=0),
        delimiter=delimiter,
        encoding=decoded.encoding,
        encoding_confidence=decoded.confidence,
    )


def read_zip(body: bytes, asked: SpreadsheetImportQuery) -> tuple[list[Table], int | None]:
    """Return the sheets in a ZIP file of CSV files, and the revision that its about.csv names."""
    tables, about = [], None
    with zipfile.ZipFile(io.BytesIO(body)) as files:
        for name in files.namelist():
            stem = name.rpartition("/")[2].removesuffix(".csv")
            if stem == "about":
                text = detecting.decode(files.read(name), None).text
                about = revision_in(cells for _, cells in _rows(text, ","))
            elif stem in SHEETS:
                tables.append(read(files.read(name), asked, stem))
    return tables, about


def revision_in(rows: Iterable[list[object]]) -> int | None:
    """Return the revision that a sheet about the file names."""
    for label, *values in (row for row in rows if row):
        if label == "revision" and values and str(values[0]).partition(".")[0].isdigit():
            return int(str(values[0]).partition(".")[0])
    return None


def _rows(text: str, delimiter: str) -> Iterator[tuple[int, list[object]]]:
    """Yield rows with their numbers as spreadsheet programs count: a line break inside a cell begins none."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    number = 0
    try:
        for number, cells in enumerate(reader, 1):
            yield number, list(cells)
    except csv.Error as error:
        detail = f"Row {number + 1} is not CSV: {error}."
        mend = "Put a cell with quotes, delimiters or line breaks in quotes, and double quotes inside it."
        raise InvalidValue(detail, pointer=f"/{number + 1}", mend=mend) from None
