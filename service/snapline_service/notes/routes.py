"""HTTP of local notes."""

from litestar import Response, delete, get, patch, post
from litestar.datastructures import State
from litestar.di import NamedDependency
from litestar.params import FromPath, JSONBody
from sqlmodel import Session

from snapline.wire.notes import Note, NotePage, NotePatch, NoteQuery, NoteRequest
from snapline_service import conditional, merge_patch
from snapline_service.access.callers import Caller, needs
from snapline_service.database import reading
from snapline_service.listing import filters_of, page_of
from snapline_service.notes import actions, store
from snapline_service.notes.tables import NoteRow
from snapline_service.writing import Asked, person_of, write

_NOTE = "/v1/notes/{note_id:str}"
_CHANGES = {"answers": Note, "writes": True, "tagged": True, "conditional": True, "refused": ["404"]}


@get(
    "/v1/notes",
    operation_id="list_notes",
    tags=["notes"],
    guards=[needs("read")],
    sync_to_thread=True,
    opt={"query": NoteQuery},
)
def list_notes(caller: NamedDependency[Caller], request: Asked, state: State) -> NotePage:
    """List your group's notes, oldest first."""
    group_id, wanted = caller.principal.group_id, filters_of(request, NoteQuery)
    with reading(state.engine) as session:
        items, following = page_of(
            Note, wanted, lambda after, limit: store.notes(session, group_id, wanted, after, limit)
        )
    return NotePage(items=items, next_page_token=following)


@get(
    _NOTE,
    operation_id="get_note",
    tags=["notes"],
    guards=[needs("read")],
    sync_to_thread=True,
    opt={"answers": Note, "tagged": True, "refused": ["404"]},
)
def get_note(
    note_id: FromPath[str], caller: NamedDependency[Caller], request: Asked, state: State
) -> Response[bytes]:
    """Get a note."""
    with reading(state.engine) as session:
        row = actions.row_of(session, caller.principal.group_id, note_id)
    return conditional.answer(request, row.body.encode())


@post(
    "/v1/notes",
    operation_id="create_note",
    tags=["notes"],
    guards=[needs("record")],
    sync_to_thread=True,
    opt={"answers": Note, "writes": True, "tagged": True, "refused": ["404"]},
)
def create_note(
    data: JSONBody[NoteRequest], caller: NamedDependency[Caller], request: Asked
) -> Response[bytes]:
    """Write a note on a vehicle or a procedure of it.

    Only your group sees it, and the requirement stays as it is.
    """

    def change(session: Session) -> Note:
        group_id = caller.principal.group_id
        return actions.write(session, group_id, person_of(caller), caller.catalogue, data)

    return write(caller, request, change, status=201)


@patch(
    _NOTE,
    operation_id="update_note",
    tags=["notes"],
    guards=[needs("record")],
    sync_to_thread=True,
    opt={**_CHANGES, "media": merge_patch.MEDIA_TYPE},
)
def update_note(
    note_id: FromPath[str], data: JSONBody[NotePatch], caller: NamedDependency[Caller], request: Asked
) -> Response[bytes]:
    """Change a note by a merge patch."""

    def change(session: Session) -> Note:
        row = _to_change(session, caller, request, note_id)
        return actions.change(session, row, person_of(caller), caller.catalogue, data)

    return write(caller, request, change)


@delete(
    _NOTE,
    operation_id="delete_note",
    tags=["notes"],
    guards=[needs("record")],
    status_code=200,
    sync_to_thread=True,
    opt=_CHANGES,
)
def delete_note(note_id: FromPath[str], caller: NamedDependency[Caller], request: Asked) -> Response[bytes]:
    """Delete a note; the answer is what it was."""

    def change(session: Session) -> Note:
        row = _to_change(session, caller, request, note_id)
        return actions.remove(session, row, person_of(caller))

    return write(caller, request, change)


def _to_change(session: Session, caller: Caller, request: Asked, note_id: str) -> NoteRow:
    row = actions.row_of(session, caller.principal.group_id, note_id, to_change=True)
    conditional.require_match(request, row.body.encode())
    return row


HANDLERS = [list_notes, get_note, create_note, update_note, delete_note]
