"""Workbooks (Office Open XML): one sheet for each table, and one about the file."""

import io
import re
import zipfile
from collections.abc import Iterable, Iterator, Mapping
from typing import IO, Any
from xml.etree import ElementTree

from python_calamine import CalamineError, CalamineSheet, CalamineWorkbook

from snapline.wire.spreadsheets import CellProblem, SpreadsheetImportQuery
from snapline_service.errors import InvalidValue
from snapline_service.spreadsheets.archives import formulas
from snapline_service.spreadsheets.cells import Reading
from snapline_service.spreadsheets.csv_files import revision_in
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


def read(body: bytes, asked: SpreadsheetImportQuery) -> tuple[list[Table], int | None, list[CellProblem]]:
    """Return the sheets of a workbook, the revision that it names, and the cells that hold formulas.

    Raises InvalidValue if it cannot be read at all.
    """
    try:
        book = CalamineWorkbook.from_filelike(io.BytesIO(body))
        sheets = {name: book.get_sheet_by_name(name) for name in book.sheet_names}
        found = list(_formula_problems(body))
    except (CalamineError, ElementTree.ParseError, KeyError, OSError, ValueError) as error:
        message = f"The workbook cannot be read: {error}."
        raise InvalidValue(message, mend="Save it again as .xlsx, without a password.") from None
    reading = Reading(asked.decimal, stated=asked.decimal is not None, guarded=False)
    tables = []
    about = revision_in(cells for _, cells in _rows(sheets[ABOUT])) if ABOUT in sheets else None
    for name, sheet in sheets.items():
        if name in SHEETS:
            rows = _rows(sheet)
            _, headings = next(rows, (1, []))
            tables.append(Table(header=header_of(SHEETS[name], headings), rows=rows, reading=reading))
    return tables, about, found


def _rows(sheet: CalamineSheet) -> Iterator[tuple[int, list[object]]]:
    """Yield the rows as the file numbers them; what is empty above and to the left counts."""
    first_row, first_column = sheet.start or (0, 0)
    before: list[object] = [None] * first_column
    for number, cells in enumerate(sheet.iter_rows(), first_row + 1):
        yield number, [*before, *cells]


def _formula_problems(body: bytes) -> Iterator[CellProblem]:
    names: dict[str, str] | None = None
    for part, address in formulas(body):
        names = _sheet_names(body) if names is None else names
        found = re.fullmatch(r"([A-Z]+)(\d+)", address)
        if found and names.get(part) in SHEETS:
            yield CellProblem(
                sheet=names[part],
                row=int(found[2]),
                column=found[1],
                name=None,
                value="",
                detail="The cell holds a formula, which is never worked out here.",
                mend="Replace it by its value.",
            )


def _sheet_names(body: bytes) -> dict[str, str]:
    """Return which part of a workbook is which sheet."""
    with zipfile.ZipFile(io.BytesIO(body)) as files:
        book = ElementTree.fromstring(files.read("xl/workbook.xml"))  # noqa: S314 - expat bounds entities
        links = ElementTree.fromstring(files.read("xl/_rels/workbook.xml.rels"))  # noqa: S314
    targets = {link.get("Id"): str(link.get("Target")) for link in links}
    found: dict[str, str] = {}
    for sheet in book.iter():
        if sheet.tag.endswith("}sheet"):
            link = next((value for key, value in sheet.attrib.items() if key.endswith("}id")), None)
            target = targets.get(link, "").removeprefix("/")
            found[target if target.startswith("xl/") else f"xl/{target}"] = str(sheet.get("name"))
    return found
