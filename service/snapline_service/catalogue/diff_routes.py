"""HTTP of what a draft or a revision comes to: its validation report, what it changes, what that touches."""

from litestar import Request, Response, get, post
from litestar.datastructures import State
from litestar.di import NamedDependency
from litestar.params import FromPath

from snapline.wire.diffs import Diff
from snapline.wire.impact import Impact
from snapline.wire.validation import ValidationReport
from snapline_service.access.callers import Caller, needs
from snapline_service.catalogue import comparing, drafts, impact, reporting
from snapline_service.catalogue.diff_page import page
from snapline_service.catalogue.draft_routes import DRAFT
from snapline_service.database import reading
from snapline_service.errors import NotAcceptable

JSON, HTML = "application/json", "text/html"
Asked = Request[object, object, State]


@post(
    f"{DRAFT}/validate",
    operation_id="validate_draft",
    tags=["drafts"],
    guards=[needs("read")],
    status_code=200,
    sync_to_thread=True,
    opt={"refused": ["404"]},
)
def validate_draft(
    draft_id: FromPath[str], caller: NamedDependency[Caller], state: State
) -> ValidationReport:
    """Report what is wrong or doubtful in a draft as it is now. It changes nothing.

    Errors stop a submission; warnings need an acknowledgement with a reason there.
    """
    with reading(state.engine) as session:
        draft = drafts.found(session, caller.principal.group_id, draft_id)
        return reporting.report(session, draft, caller.published.path if caller.published else None)


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
        return impact.impact(session, draft, caller.catalogue)


def _as_asked(request: Asked, found: Diff) -> Response[Diff | str]:
    wanted = request.accept.best_match([JSON, HTML]) if request.headers.get("accept") else JSON
    if wanted is None:
        raise NotAcceptable(f"A diff is made as {JSON} or {HTML}.", mend="Accept one of the two.")
    return Response(found if wanted == JSON else page(found), media_type=wanted)


HANDLERS = [validate_draft, compare_revisions, compare_draft, get_draft_impact]
