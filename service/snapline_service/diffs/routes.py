"""HTTP of what differs between two revisions, and what a draft changes."""

from litestar import Response, get
from litestar.datastructures import State
from litestar.di import NamedDependency
from litestar.params import FromPath

from snapline.wire.diffs import Diff
from snapline_service.access.callers import Caller, needs
from snapline_service.database import reading
from snapline_service.diffs import comparing
from snapline_service.diffs.page import page
from snapline_service.drafts import drafts
from snapline_service.drafts.routes import DRAFT
from snapline_service.errors import NotAcceptable
from snapline_service.writing import Asked

JSON, HTML = "application/json", "text/html"


@get(
    "/v1/revisions/{number:int}/diff/{other:int}",
    operation_id="compare_revisions",
    tags=["revisions"],
    guards=[needs("read")],
    sync_to_thread=True,
    opt={"answers": Diff, "also": [HTML], "refused": ["404"]},
)
def compare_revisions(
    number: FromPath[int], other: FromPath[int], caller: NamedDependency[Caller], request: Asked, state: State
) -> Response[Diff | str]:
    """Tell what differs from one revision to another, in words; as JSON or, by Accept, as a page to read."""
    with reading(state.engine) as session:
        return _as_asked(request, comparing.revisions(session, caller.principal.group_id, number, other))


@get(
    f"{DRAFT}/diff",
    operation_id="compare_draft",
    tags=["drafts"],
    guards=[needs("read")],
    sync_to_thread=True,
    opt={"answers": Diff, "also": [HTML], "refused": ["404"]},
)
def compare_draft(
    draft_id: FromPath[str], caller: NamedDependency[Caller], request: Asked, state: State
) -> Response[Diff | str]:
    """Tell what a draft changes in its base, in words; as JSON or, by Accept, as a page to read."""
    with reading(state.engine) as session:
        draft = drafts.found(session, caller.principal.group_id, draft_id)
        return _as_asked(request, comparing.draft(session, draft))


def _as_asked(request: Asked, found: Diff) -> Response[Diff | str]:
    wanted = request.accept.best_match([JSON, HTML]) if request.headers.get("accept") else JSON
    if wanted is None:
        raise NotAcceptable(f"A diff is made as {JSON} or {HTML}.", mend="Accept one of the two.")
    return Response(found if wanted == JSON else page(found), media_type=wanted)


HANDLERS = [compare_revisions, compare_draft]
