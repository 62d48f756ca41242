"""HTTP of visits: plan, keep, change."""

from collections.abc import Callable
from typing import Any

from litestar import Request, Response, get, patch, post
from litestar.datastructures import State
from litestar.di import NamedDependency
from litestar.params import FromPath, JSONBody
from msgspec import Struct
from sqlmodel import Session

from snapline.wire.visits import (
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
from snapline_service.idempotency.once import Done, perform
from snapline_service.sites.listing import filters_of, page_of
from snapline_service.visits import keeping, store
from snapline_service.visits.keeping import Keeper
from snapline_service.visits.plan import plan

Asked = Request[Any, Any, State]


@post(
    "/v1/visits/plan",
    operation_id="plan_visit",
    tags=["visits"],
    guards=[needs("plan")],
    status_code=200,
    sync_to_thread=True,
    opt={"answers": VisitPlan, "catalogue": True},
)
def plan_visit(data: JSONBody[VisitRequest], caller: NamedDependency[Caller], state: State) -> VisitPlan:
    """Plan a visit: what the repair lines call for, and how each site could do it on the day.

    Nothing is kept. Whatever cannot be done says what blocks it and what would unblock it.
    """
    with reading(state.engine) as session:
        group = keeping.group_on(session, caller.principal.group_id, data.date)
    return plan(caller.catalogue, group, data)


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
    """Plan a visit at one site and keep it: the assets of the plan are promised to it on its day."""
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
    principal = caller.principal
    return Keeper(session, principal.group_id, principal.holder_name, caller.catalogue)


def _write(
    caller: Caller, request: Asked, change: Callable[[Session], Struct], *, status: int = 200
) -> Response[bytes]:
    """Make a change once, and answer what it leaves."""

    def work(session: Session) -> Done:
        left = change(session)
        return Done(status=status, answer=left, again=left, validated=left)

    return perform(request.app.state.engine, caller.principal.group_id, request, work)


HANDLERS = [plan_visit, list_visits, get_visit, keep_visit, update_visit, replan_visit]
