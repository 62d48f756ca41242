"""HTTP of spreadsheets: a revision out, an edited file in."""

from urllib.parse import parse_qsl, urlencode

import msgspec
from litestar import Response, get, post
from litestar.datastructures import State
from litestar.di import NamedDependency
from litestar.params import FromPath
from msgspec.structs import replace
from sqlmodel import Session

from snapline.wire.spreadsheets import SpreadsheetImportQuery, SpreadsheetQuery, SpreadsheetReport
from snapline_service.access.callers import Caller, needs
from snapline_service.catalogue import store
from snapline_service.database import reading
from snapline_service.errors import NotFound
from snapline_service.idempotency import once
from snapline_service.idempotency.once import Done, perform
from snapline_service.listing import filters_of
from snapline_service.reads import filters
from snapline_service.spreadsheets import exporting, importing
from snapline_service.writing import Asked, person_of

IMPORT = "/v1/spreadsheets/import"


@get(
    "/v1/revisions/{revision:str}/spreadsheet",
    operation_id="export_spreadsheet",
    tags=["spreadsheets"],
    guards=[needs("read")],
    sync_to_thread=True,
    opt={
        "query": SpreadsheetQuery,
        "file": (exporting.XLSX, exporting.ZIP, "text/csv"),
        "refused": ["404"],
    },
)
def export_spreadsheet(
    revision: FromPath[str], caller: NamedDependency[Caller], request: Asked, state: State
) -> Response[bytes]:
    """Export a revision's vehicles, placements, fixtures and disturbances, to be edited and imported again.

    ``revision`` is a number or 'current'. A workbook has four sheets and one about it; as CSV there is a ZIP
    file of all of them, or one sheet alone.
    """
    query = filters_of(request, SpreadsheetQuery)
    with reading(state.engine) as session:
        number = number_of(session, caller.principal.group_id, revision)
        body = exporting.write(session, caller.principal.group_id, number, query)
    media, end = exporting.media_of(query)
    name = f"catalogue-{number}{end}"
    headers = {
        "content-disposition": f'attachment; filename="{name}"',
        "cache-control": "private, no-store",
    }
    return Response(body, media_type=media, headers=headers)


@post(
    IMPORT,
    operation_id="import_spreadsheet",
    tags=["spreadsheets"],
    guards=[needs("edit")],
    sync_to_thread=True,
    opt={
        "query": SpreadsheetImportQuery,
        "answers": SpreadsheetReport,
        "writes": True,
        "upload": True,
        "refused": ["404", "408", "409", "413"],
    },
)
def import_spreadsheet(caller: NamedDependency[Caller], request: Asked, state: State) -> Response[bytes]:
    """Read an edited workbook, ZIP file or CSV file back: the cells that differ become a new draft.

    Compared is with the revision that was exported; a cell that another revision has changed meanwhile is a
    problem, and both values are told. With any problem nothing is written: the errors point to sheet, row and
    column. With ``validate_only`` the answer is a report with the cells. The kind of file is told by its
    content, whatever its media type; it may have 20 MB.
    """
    asked, only_validates = _asked(request), once.only_validates(request)
    group_id, body = caller.principal.group_id, request.scope["state"]["body"]
    with reading(state.engine) as session:
        found = importing.find(session, group_id, body, asked)
    if only_validates and found.report.problems:
        report = msgspec.json.encode(found.report)
        return Response(report, status_code=200, media_type="application/json")
    importing.refuse(found.report)

    def work(session: Session) -> Done:
        report = importing.keep(session, group_id, person_of(caller), found, asked.note)
        status = 201 if report.draft_id else 200
        return Done(status=status, answer=report, again=report, validated=replace(report, draft_id=None))

    return perform(state.engine, group_id, request, work)


def _asked(request: Asked) -> SpreadsheetImportQuery:
    """Return what the query says beside ``validate_only``. Raises BadInput."""
    pairs = parse_qsl(request.scope["query_string"].decode("latin-1"), keep_blank_values=True)
    rest = urlencode([pair for pair in pairs if pair[0] != "validate_only"]).encode()
    asked: SpreadsheetImportQuery = filters(SpreadsheetImportQuery, rest)
    return asked


def number_of(session: Session, group_id: str, revision: str) -> int:
    """Return the number of a revision, or of that in force. Raises NotFound."""
    newest = store.newest_revision(session, group_id)
    number = int(revision) if revision.isdecimal() and len(revision) < 10 else 0
    if revision == "current" and newest:
        return newest.number
    if not number or store.revision(session, group_id, number) is None:
        message = f"There is no revision '{revision[:80]}'."
        raise NotFound(message, mend="Give a number that GET /v1/revisions lists, or 'current'.")
    return number


HANDLERS = [export_spreadsheet, import_spreadsheet]
