"""HTTP of drafts: begin, list, annotate, drop."""

import msgspec
from litestar import Response, delete, get, patch, post
from litestar.datastructures import State
from litestar.di import NamedDependency
from litestar.params import FromPath, JSONBody
from sqlmodel import Session

from snapline.wire.drafts import (
    Draft,
    DraftChange,
    DraftChangePage,
    DraftChangeQuery,
    DraftPage,
    DraftPatch,
    DraftQuery,
    DraftRequest,
)
from snapline.wire.revisions import RestoreRequest
from snapline_service import conditional, merge_patch
from snapline_service.access.callers import Caller, needs
from snapline_service.catalogue import draft_store
from snapline_service.catalogue.tables import DraftChangeRow, DraftRow
from snapline_service.database import reading
from snapline_service.drafts import drafts
from snapline_service.listing import after, filters_of, next_token
from snapline_service.writing import Asked, person_of, write

DRAFT = "/v1/drafts/{draft_id:str}"


@post(
    "/v1/drafts",
    operation_id="create_draft",
    tags=["drafts"],
    guards=[needs("edit")],
    sync_to_thread=True,
    opt={"answers": Draft, "writes": True, "tagged": True},
)
def create_draft(
    data: JSONBody[DraftRequest], caller: NamedDependency[Caller], request: Asked
) -> Response[bytes]:
    """Begin a draft on top of the revision in force."""

    def change(session: Session) -> Draft:
        row = drafts.begin(session, caller.principal.group_id, person_of(caller), data.note)
        return drafts.shown(session, row)

    return write(caller, request, change, status=201)


@post(
    "/v1/revisions/{number:int}/restore",
    operation_id="restore_revision",
    tags=["revisions"],
    guards=[needs("edit")],
    sync_to_thread=True,
    opt={"answers": Draft, "writes": True, "tagged": True, "refused": ["404", "409"]},
)
def restore_revision(
    number: FromPath[int], data: JSONBody[RestoreRequest], caller: NamedDependency[Caller], request: Asked
) -> Response[bytes]:
    """Begin a draft that brings back all content of an older revision.

    It is reviewed and published like any other. The new revision has the old one's content hash.
    """

    def change(session: Session) -> Draft:
        group_id = caller.principal.group_id
        draft = drafts.restore(session, group_id, person_of(caller), number, data.note)
        return drafts.shown(session, draft)

    return write(caller, request, change, status=201)


@get(
    "/v1/drafts",
    operation_id="list_drafts",
    tags=["drafts"],
    guards=[needs("read")],
    sync_to_thread=True,
    opt={"query": DraftQuery},
)
def list_drafts(caller: NamedDependency[Caller], request: Asked, state: State) -> DraftPage:
    """List the drafts of your group, newest first."""
    query = filters_of(request, DraftQuery)
    (before,) = after(query, str) or (None,)
    with reading(state.engine) as session:
        rows = draft_store.listing(
            session, caller.principal.group_id, query.state, before, query.page_size + 1
        )
        items = tuple(drafts.shown(session, row) for row in rows[: query.page_size])
    return DraftPage(items=items, next_page_token=next_token(query, rows, lambda row: [row.id]))


@get(
    DRAFT,
    operation_id="get_draft",
    tags=["drafts"],
    guards=[needs("read")],
    sync_to_thread=True,
    opt={"answers": Draft, "tagged": True, "refused": ["404"]},
)
def get_draft(
    draft_id: FromPath[str], caller: NamedDependency[Caller], request: Asked, state: State
) -> Response[bytes]:
    """Get a draft: its state, who edited it, how much it changes."""
    with reading(state.engine) as session:
        shown = drafts.shown(session, drafts.found(session, caller.principal.group_id, draft_id))
    return conditional.answer(request, msgspec.json.encode(shown))


@patch(
    DRAFT,
    operation_id="update_draft",
    tags=["drafts"],
    guards=[needs("edit")],
    sync_to_thread=True,
    opt={
        "answers": Draft,
        "writes": True,
        "tagged": True,
        "conditional": True,
        "refused": ["404", "409"],
        "media": merge_patch.MEDIA_TYPE,
    },
)
def update_draft(
    draft_id: FromPath[str], data: JSONBody[DraftPatch], caller: NamedDependency[Caller], request: Asked
) -> Response[bytes]:
    """Change a draft's note by a merge patch."""

    def change(session: Session) -> Draft:
        draft = draft_to_change(session, caller, request, draft_id)
        if data.note is not msgspec.UNSET:
            drafts.annotate(session, draft, data.note)
        return drafts.shown(session, draft)

    return write(caller, request, change)


@delete(
    DRAFT,
    operation_id="drop_draft",
    tags=["drafts"],
    guards=[needs("edit")],
    status_code=200,
    sync_to_thread=True,
    opt={"answers": Draft, "writes": True, "tagged": True, "conditional": True, "refused": ["404", "409"]},
)
def drop_draft(draft_id: FromPath[str], caller: NamedDependency[Caller], request: Asked) -> Response[bytes]:
    """Give a draft up. It stays readable and changes no more."""

    def change(session: Session) -> Draft:
        draft = draft_to_change(session, caller, request, draft_id)
        drafts.drop(session, draft, person_of(caller))
        return drafts.shown(session, draft)

    return write(caller, request, change)


@get(
    f"{DRAFT}/changes",
    operation_id="list_draft_changes",
    tags=["drafts"],
    guards=[needs("read")],
    sync_to_thread=True,
    opt={"query": DraftChangeQuery, "refused": ["404"]},
)
def list_draft_changes(
    draft_id: FromPath[str], caller: NamedDependency[Caller], request: Asked, state: State
) -> DraftChangePage:
    """List the documents that a draft adds, changes or retires, ordered by kind and name."""
    query = filters_of(request, DraftChangeQuery)
    kind_and_name = after(query, str, str)
    with reading(state.engine) as session:
        draft = drafts.found(session, caller.principal.group_id, draft_id)
        behind = (kind_and_name[0], kind_and_name[1]) if kind_and_name else None
        rows = draft_store.changes(session, draft.id, behind, query.page_size + 1)
        items = tuple(_change(session, draft, row) for row in rows[: query.page_size])
    token = next_token(query, rows, lambda row: [row.kind, row.name])
    return DraftChangePage(items=items, next_page_token=token)


def _change(session: Session, draft: DraftRow, row: DraftChangeRow) -> DraftChange:
    base = drafts.base_hash(session, draft, row.kind, row.name)
    return DraftChange(
        kind=row.kind,  # type: ignore[arg-type] # the kinds that documents have
        name=row.name,
        act="retires" if row.hash is None else "changes" if base else "adds",
        changed_at=row.changed_at,
        changed_by=row.changed_by,
    )


def draft_to_change(session: Session, caller: Caller, request: Asked, draft_id: str) -> DraftRow:
    """Return a draft that If-Match names as it is, held until the write is done.

    Raises NotFound, PreconditionRequired, PreconditionFailed.
    """
    draft = drafts.found(session, caller.principal.group_id, draft_id, to_change=True)
    conditional.require_match(request, msgspec.json.encode(drafts.shown(session, draft)))
    return draft


HANDLERS = [
    create_draft,
    restore_revision,
    list_drafts,
    get_draft,
    update_draft,
    drop_draft,
    list_draft_changes,
]
