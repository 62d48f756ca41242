"""HTTP of drafts that another publication overtook: rebase, and settle what conflicts."""

from litestar import Response, get, post
from litestar.datastructures import State
from litestar.di import NamedDependency
from litestar.params import FromPath, JSONBody
from sqlmodel import Session

from snapline.wire.drafts import (
    Conflict,
    ConflictChoice,
    ConflictList,
    Draft,
)
from snapline_service.access.callers import Caller, needs
from snapline_service.catalogue import draft_store
from snapline_service.catalogue.tables import ConflictRow
from snapline_service.database import reading
from snapline_service.drafts import drafts, rebasing
from snapline_service.drafts.routes import DRAFT, draft_to_change
from snapline_service.writing import Asked, person_of, write


@post(
    f"{DRAFT}/rebase",
    operation_id="rebase_draft",
    tags=["drafts"],
    guards=[needs("edit")],
    status_code=200,
    sync_to_thread=True,
    opt={"answers": Draft, "writes": True, "tagged": True, "conditional": True, "refused": ["404", "409"]},
)
def rebase_draft(draft_id: FromPath[str], caller: NamedDependency[Caller], request: Asked) -> Response[bytes]:
    """Put a draft on top of the revision in force, merged field by field.

    Where both changed the same field differently, both are kept as a conflict until someone chooses. A draft
    in review goes back to its editors. Whoever rebases becomes no editor by that.
    """

    def change(session: Session) -> Draft:
        draft = draft_to_change(session, caller, request, draft_id)
        rebasing.rebase(session, draft, person_of(caller))
        return drafts.shown(session, draft)

    return write(caller, request, change)


@get(
    f"{DRAFT}/conflicts",
    operation_id="list_conflicts",
    tags=["drafts"],
    guards=[needs("read")],
    sync_to_thread=True,
    opt={"refused": ["404"]},
)
def list_conflicts(draft_id: FromPath[str], caller: NamedDependency[Caller], state: State) -> ConflictList:
    """List a draft's conflicts with what was published meanwhile: both sides, and what was chosen."""
    with reading(state.engine) as session:
        draft = drafts.found(session, caller.principal.group_id, draft_id)
        return ConflictList(items=tuple(_conflict(row) for row in draft_store.conflicts(session, draft.id)))


@post(
    f"{DRAFT}/conflicts/{{number:int}}",
    operation_id="settle_conflict",
    tags=["drafts"],
    guards=[needs("edit")],
    status_code=200,
    sync_to_thread=True,
    opt={"answers": Draft, "writes": True, "tagged": True, "conditional": True, "refused": ["404", "409"]},
)
def settle_conflict(
    draft_id: FromPath[str],
    number: FromPath[int],
    data: JSONBody[ConflictChoice],
    caller: NamedDependency[Caller],
    request: Asked,
) -> Response[bytes]:
    """Choose a side of a conflict, or give another value; whoever chooses is an editor of the draft."""

    def change(session: Session) -> Draft:
        draft = draft_to_change(session, caller, request, draft_id)
        rebasing.choose(session, draft, person_of(caller), number, take=data.take, value=data.value)
        return drafts.shown(session, draft)

    return write(caller, request, change)


def _conflict(row: ConflictRow) -> Conflict:
    return Conflict(
        number=row.number,
        kind=row.kind,  # type: ignore[arg-type] # the kinds that documents have
        name=row.name,
        pointer=rebasing.pointer_of(row),
        base=rebasing.value_of(row.base),
        published=rebasing.value_of(row.published),
        draft=rebasing.value_of(row.draft),
        taken=row.taken,  # type: ignore[arg-type] # a choice that was made
    )


HANDLERS = [rebase_draft, list_conflicts, settle_conflict]
