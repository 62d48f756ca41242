"""HTTP of what a draft would touch, and of what a revision did."""

from litestar import get
from litestar.datastructures import State
from litestar.di import NamedDependency
from litestar.params import FromPath

from snapline.wire.impact import Impact
from snapline_service.access.callers import Caller, needs
from snapline_service.database import reading
from snapline_service.drafts import drafts
from snapline_service.drafts.routes import DRAFT
from snapline_service.impact import impact


@get(
    f"{DRAFT}/impact",
    operation_id="get_draft_impact",
    tags=["drafts"],
    guards=[needs("read")],
    sync_to_thread=True,
    opt={"refused": ["404", "409"], "catalogue": True},
)
def get_draft_impact(draft_id: FromPath[str], caller: NamedDependency[Caller], state: State) -> Impact:
    """Tell what a draft would touch: vehicles, fixtures gained and lost, bays, kept visits."""
    with reading(state.engine) as session:
        draft = drafts.found(session, caller.principal.group_id, draft_id)
        return impact.of_draft(session, draft, caller.catalogue)


@get(
    "/v1/revisions/{number:int}/impact",
    operation_id="get_revision_impact",
    tags=["revisions"],
    guards=[needs("read")],
    sync_to_thread=True,
    opt={"refused": ["404"], "catalogue": True},
)
def get_revision_impact(number: FromPath[int], caller: NamedDependency[Caller], state: State) -> Impact:
    """Tell what a revision touched in the one before it; of the kept visits, those planned before it."""
    with reading(state.engine) as session:
        return impact.of_revision(session, caller.principal.group_id, number, caller.catalogue)


HANDLERS = [get_draft_impact, get_revision_impact]
