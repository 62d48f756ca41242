"""The flat parts of the catalogue as spreadsheets: exported, edited, imported into a draft."""

from pathlib import Path
from typing import Literal, TypedDict, Unpack
from uuid import uuid4

from msgspec import structs, to_builtins

from snapline.calls import Call, get, whole
from snapline.resources.base import AsyncResource, Resource
from snapline.wire.spreadsheets import (
    SheetName,
    SpreadsheetImportQuery,
    SpreadsheetQuery,
    SpreadsheetReport,
)

XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
CSV = "text/csv"
ZIP = "application/zip"
_FILE = "application/octet-stream"
File = bytes | str | Path


class SpreadsheetFields(TypedDict, total=False):
    """The fields of ``SpreadsheetQuery``."""

    format: Literal["xlsx", "csv"]
    sheet: SheetName | None


class SpreadsheetImportFields(TypedDict, total=False):
    """The fields of ``SpreadsheetImportQuery``."""

    base_revision: int | None
    sheet: SheetName | None
    delimiter: Literal["comma", "semicolon", "tab"] | None
    decimal: Literal["point", "comma"] | None
    encoding: Literal["utf-8", "utf-16", "windows-1252"] | None
    units: Literal["mm", "in"] | None
    note: str


def export_spreadsheet(revision: int | None, query: SpreadsheetQuery) -> Call[bytes]:
    """Describe the export of a revision."""
    chosen = "current" if revision is None else str(revision)
    call = get("/v1/revisions/{revision}/spreadsheet", bytes, query=query, revision=chosen)
    media = CSV if query.sheet else XLSX if query.format == "xlsx" else ZIP
    return structs.replace(call, accept=media)


def import_spreadsheet(
    file: bytes, query: SpreadsheetImportQuery, idempotency_key: str | None, *, validate_only: bool
) -> Call[SpreadsheetReport]:
    """Describe the import of an edited file. Its Idempotency-Key makes it safe to repeat.

    Only validated, nothing is written, and the report holds the problems cell by cell.
    """
    checked = {"validate_only": True} if validate_only else {}
    return Call(
        method="POST",
        route="/v1/spreadsheets/import",
        answer=SpreadsheetReport,
        query={**to_builtins(query), **checked},
        file=file,
        headers={"idempotency-key": f'"{idempotency_key or uuid4()}"', "content-type": _FILE},
        safe=True,
    )


def _content(file: File) -> bytes:
    return file if isinstance(file, bytes) else Path(file).read_bytes()


class Spreadsheets(Resource):
    """Vehicles, placements, fixtures and disturbances as a workbook or as CSV."""

    def export(
        self,
        revision: int | None = None,
        query: SpreadsheetQuery | None = None,
        /,
        **fields: Unpack[SpreadsheetFields],
    ) -> bytes:
        """Return a revision, by default that in force: a workbook, a ZIP file of CSV files, or one sheet."""
        return self._answer(export_spreadsheet(revision, whole(SpreadsheetQuery, query, fields)))

    def import_file(
        self,
        file: File,
        query: SpreadsheetImportQuery | None = None,
        /,
        *,
        validate_only: bool = False,
        idempotency_key: str | None = None,
        **fields: Unpack[SpreadsheetImportFields],
    ) -> SpreadsheetReport:
        """Put what was edited in a file (path or content) into a new draft; BadRequest for bad cells."""
        asked = whole(SpreadsheetImportQuery, query, fields)
        call = import_spreadsheet(_content(file), asked, idempotency_key, validate_only=validate_only)
        return self._answer(call)


class AsyncSpreadsheets(AsyncResource):
    """Vehicles, placements, fixtures and disturbances as a workbook or as CSV."""

    async def export(
        self,
        revision: int | None = None,
        query: SpreadsheetQuery | None = None,
        /,
        **fields: Unpack[SpreadsheetFields],
    ) -> bytes:
        """Return a revision, by default that in force: a workbook, a ZIP file of CSV files, or one sheet."""
        return await self._answer(export_spreadsheet(revision, whole(SpreadsheetQuery, query, fields)))

    async def import_file(
        self,
        file: File,
        query: SpreadsheetImportQuery | None = None,
        /,
        *,
        validate_only: bool = False,
        idempotency_key: str | None = None,
        **fields: Unpack[SpreadsheetImportFields],
    ) -> SpreadsheetReport:
        """Put what was edited in a file (path or content) into a new draft; BadRequest for bad cells."""
        asked = whole(SpreadsheetImportQuery, query, fields)
        call = import_spreadsheet(_content(file), asked, idempotency_key, validate_only=validate_only)
        return await self._answer(call)
