"""Workbooks (Office Open XML): one sheet for each table, and one about the file."""

import io
from collections.abc import Iterable, Iterator, Mapping
from typing import IO, Any
from xml.etree import ElementTree
from xml.parsers.expat import ExpatError

from python_calamine import CalamineError, CalamineSheet, CalamineWorkbook

from snapline.wire.spreadsheets import SpreadsheetImportQuery
from snapline_service.errors import InvalidValue
from snapline_service.spreadsheets.cells import Reading, Unusable
from snapline_service.spreadsheets.csv_files import revision_in
from snapline_service.spreadsheets.sheet_xml import Marked, look_through
from snapline_service.spreadsheets.sheets import Table, header_of
from snapline_service.spreadsheets.tables import SHEETS, Value

ABOUT = "About"
MAX_ROWS = 1_048_575  # below the headings: the format has 2 to the power of 20
_OPTIONS = {
    "constant_memory": True,
    "strings_to_formulas": False,
    "strings_to_urls": False,
    "strings_to_numbers": False,
}


def write(sheets: Mapping[str, Iterable[Iterable[Value]]], file: IO[bytes]) -> None:
    """Write a workbook; the first row of each sheet are its headings. Texts stay texts whatever they hold.

    Raises InvalidValue if a sheet has more rows than the format.
    """
    import xlsxwriter  # noqa: PLC0415 - it would slow the start

    with xlsxwriter.Workbook(file, _OPTIONS) as book:
        bold = book.add_format({"bold": True})
        for name, rows in sheets.items():
            sheet = book.add_worksheet(name)
            sheet.freeze_panes(0 if name == ABOUT else 1, 1)
            sheet.set_column(0, 0, 40)
            for number, row in enumerate(rows):
                if number > MAX_ROWS:
                    detail = f"The sheet {name} has more rows than a workbook holds."
                    raise InvalidValue(detail, pointer="/format", mend="Export it as CSV.")
                _write_row(sheet, number, row, bold if number == 0 else None)


def _write_row(sheet: Any, number: int, row: Iterable[Value], style: Any) -> None:
    for index, value in enumerate(row):
        if isinstance(value, bool):
            sheet.write_string(number, index, "yes" if value else "no", style)
        elif isinstance(value, str):
            sheet.write_string(number, index, value, style)
        elif value is not None:
            sheet.write_number(number, index, value, style)


def read(body: bytes, asked: SpreadsheetImportQuery) -> tuple[list[Table], int | None]:
    """Return the sheets of a workbook, and the revision that it names.

    Raises InvalidValue if it cannot be read at all.
    """
    try:
        marked = look_through(body)
        book = CalamineWorkbook.from_filelike(io.BytesIO(body))
        wanted = [name for name in book.sheet_names if name in (ABOUT, *SHEETS)]
        rows = {name: _rows(book.get_sheet_by_name(name), marked[name]) for name in wanted}
    except (CalamineError, ElementTree.ParseError, ExpatError, LookupError, OSError, ValueError) as error:
        message = f"The workbook cannot be read: {error}."
        raise InvalidValue(message, mend="Save it again as .xlsx, without a password.") from None
    about = revision_in(cells for _, cells in rows.pop(ABOUT, ()))
    reading = Reading(asked.decimal, stated=asked.decimal is not None, guarded=False)
    tables = []
    for name, those in rows.items():
        _, headings = next(those, (1, []))
        tables.append(Table(header=header_of(SHEETS[name], headings), rows=those, reading=reading))
    return tables, about


def _rows(sheet: CalamineSheet, marked: Marked) -> Iterator[tuple[int, list[object]]]:
    """Yield the rows as the file numbers them; what is empty above and to the left counts."""
    first_row, first_column = sheet.start or (0, 0)
    before: list[object] = [None] * first_column
    rest = dict(marked)
    for number, cells in enumerate(sheet.iter_rows(), first_row + 1):
        yield number, _with([*before, *cells], rest.pop(number, {}))
    for number in sorted(rest):  # rows with nothing else in them
        yield number, _with([], rest[number])


def _with(cells: list[object], marked: Mapping[int, Unusable]) -> list[object]:
    """Return a row with the cells that hold no value in their places."""
    for column, cell in marked.items():
        cells += [None] * (column - len(cells))
        cells[column - 1] = cell
    return cells
