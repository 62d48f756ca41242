"""HTTP of visits: plan, keep, change."""

from collections.abc import Callable
from datetime import UTC, datetime

from litestar import Response, get, patch, post
from litestar.datastructures import State
from litestar.di import NamedDependency
from litestar.exceptions import HTTPException
from litestar.params import FromPath, JSONBody
from litestar.response import Stream
from msgspec import Struct
from sqlmodel import Session

from snapline.wire.visits import (
    BulkLine,
    KeepVisit,
    ReplannedVisit,
    Visit,
    VisitPage,
    VisitPatch,
    VisitPlan,
    VisitQuery,
    VisitRequest,
    VisitSummary,
)
from snapline_service import conditional, merge_patch
from snapline_service.access.callers import Caller, needs
from snapline_service.database import reading
from snapline_service.errors import NotAcceptable
from snapline_service.idempotency.once import Done, perform
from snapline_service.listing import filters_of, page_of
from snapline_service.setups.routes import HTML, JSON, PDF
from snapline_service.sites import store as sites
from snapline_service.visits import bulk, keeping, sheet, store
from snapline_service.visits.keeping import Keeper
from snapline_service.visits.promises import plan_around
from snapline_service.writing import Asked, person_of


@post(
    "/v1/visits/plan",
    operation_id="plan_visit",
    tags=["visits"],
    guards=[needs("plan")],
    status_code=200,
    sync_to_thread=True,
    opt={"answers": VisitPlan, "also": [HTML, PDF], "catalogue": True},
)
def plan_visit(
    data: JSONBody[VisitRequest], caller: NamedDependency[Caller], request: Asked, state: State
) -> Response[VisitPlan | str | bytes]:
    """Plan a visit: what the repair lines call for, and how each site could do it on the day.

    Nothing is kept. Whatever cannot be done says what blocks it and what would unblock it. Accept chooses
    application/json, or a sheet of the best site: text/html, or application/pdf, on ``paper``.
    """
    wanted = request.accept.best_match([JSON, HTML, PDF]) if request.headers.get("accept") else JSON
    if wanted is None:
        detail = f"A plan is made as {JSON}, {HTML} or {PDF}."
        raise NotAcceptable(detail, mend="Accept one of the three.")
    file = caller.catalogue
    with reading(state.engine) as session:
        made = plan_around(session, caller.principal.group_id, file, data)
        if wanted == JSON:
            return Response(made, media_type=JSON)
        group = tuple(sites.shelf(session, caller.principal.group_id).values())
    issue = sheet.issue(group, made, caller.principal.group_title, datetime.now(UTC).date())
    if wanted == HTML:
        return Response(sheet.as_html(file, made, issue, data.paper), media_type=HTML)
    return Response(sheet.as_pdf(file, made, issue, data.paper), media_type=PDF)


@post(
    bulk.PATH,
    operation_id="plan_visits",
    tags=["visits"],
    guards=[needs("plan")],
    status_code=200,
    opt={
        "lines": True,
        "body": VisitRequest,
        "answers": BulkLine,
        "media": bulk.MEDIA_TYPE,
        "catalogue": True,
    },
)
async def plan_visits(caller: NamedDependency[Caller], request: Asked, state: State) -> Stream:
    """Plan many visits: a request on each line, and for each an answer on a line as soon as it is there.

    A line that is wrong is answered with its problem and spoils none of the others. Nothing is kept.
    """
    if request.content_type[0] != bulk.MEDIA_TYPE:
        raise HTTPException(status_code=415, headers={"accept": bulk.MEDIA_TYPE})
    file, group_id = caller.catalogue, caller.principal.group_id

    def plan_one(asked: VisitRequest) -> VisitPlan:
        with reading(state.engine) as session:
            return plan_around(session, group_id, file, asked)

    found = bulk.answers(request.scope["state"]["parts"], plan_one, request.scope["state"]["request_id"])
    return Stream(found, media_type=bulk.MEDIA_TYPE)


@get(
    "/v1/visits",
    operation_id="list_visits",
    tags=["visits"],
    guards=[needs("read")],
    sync_to_thread=True,
    opt={"query": VisitQuery},
)
def list_visits(caller: NamedDependency[Caller], request: Asked, state: State) -> VisitPage:
    """List kept visits, in the order in which they were kept."""
    wanted, group_id = filters_of(request, VisitQuery), caller.principal.group_id
    with reading(state.engine) as session:
        items, following = page_of(
            VisitSummary,
            wanted,
            lambda after, limit: [row.body for row in store.visits(session, group_id, wanted, after, limit)],
        )
    return VisitPage(items=items, next_page_token=following)


@get(
    "/v1/visits/{visit_id:str}",
    operation_id="get_visit",
    tags=["visits"],
    guards=[needs("read")],
    sync_to_thread=True,
    opt={"answers": Visit, "tagged": True, "refused": ["404"]},
)
def get_visit(
    visit_id: FromPath[str], caller: NamedDependency[Caller], request: Asked, state: State
) -> Response[bytes]:
    """Get a kept visit with its plan."""
    with reading(state.engine) as session:
        row = keeping.row_of(session, caller.principal.group_id, visit_id)
    return conditional.answer(request, row.body)


@post(
    "/v1/visits",
    operation_id="keep_visit",
    tags=["visits"],
    guards=[needs("plan")],
    sync_to_thread=True,
    opt={"answers": Visit, "writes": True, "tagged": True, "refused": ["409"], "catalogue": True},
)
def keep_visit(data: JSONBody[KeepVisit], caller: NamedDependency[Caller], request: Asked) -> Response[bytes]:
    """Plan a visit at one site and keep it: the assets of the plan are promised to it on its day.

    One that runs past midnight has them on the next day too.
    """
    kept = _write(caller, request, lambda session: keeping.keep(_keeper(session, caller), data), status=201)
    return conditional.tagged(kept)


@patch(
    "/v1/visits/{visit_id:str}",
    operation_id="update_visit",
    tags=["visits"],
    guards=[needs("plan")],
    sync_to_thread=True,
    opt={
        "answers": Visit,
        "writes": True,
        "tagged": True,
        "conditional": True,
        "refused": ["404", "409"],
        "media": merge_patch.MEDIA_TYPE,
        "catalogue": True,
    },
)
def update_visit(
    visit_id: FromPath[str], data: JSONBody[VisitPatch], caller: NamedDependency[Caller], request: Asked
) -> Response[bytes]:
    """Change a kept visit by a merge patch: its state, or what it is planned from."""

    def change(session: Session) -> Visit:
        row = keeping.row_of(session, caller.principal.group_id, visit_id, to_change=True)
        conditional.require_match(request, row.body)
        return keeping.change(_keeper(session, caller), row, data)

    return conditional.tagged(_write(caller, request, change))


@post(
    "/v1/visits/{visit_id:str}/replan",
    operation_id="replan_visit",
    tags=["visits"],
    guards=[needs("plan")],
    status_code=200,
    sync_to_thread=True,
    opt={"answers": ReplannedVisit, "writes": True, "refused": ["404", "409"], "catalogue": True},
)
def replan_visit(visit_id: FromPath[str], caller: NamedDependency[Caller], request: Asked) -> Response[bytes]:
    """Plan a kept visit anew on the catalogue and assets of now, and say what differs.

    With ``validate_only=true`` it only says so.
    """

    def change(session: Session) -> ReplannedVisit:
        row = keeping.row_of(session, caller.principal.group_id, visit_id, to_change=True)
        return keeping.replan(_keeper(session, caller), row)

    return _write(caller, request, change)


def _keeper(session: Session, caller: Caller) -> Keeper:
    return Keeper(session, caller.principal.group_id, person_of(caller), caller.catalogue)


def _write(
    caller: Caller, request: Asked, change: Callable[[Session], Struct], *, status: int = 200
) -> Response[bytes]:
    """Make a change once, and answer what it leaves."""

    def work(session: Session) -> Done:
        left = change(session)
        return Done(status=status, answer=left, again=left, validated=left)

    return perform(request.app.state.engine, caller.principal.group_id, request, work)


HANDLERS = [plan_visit, plan_visits, list_visits, get_visit, keep_visit, update_visit, replan_visit]
