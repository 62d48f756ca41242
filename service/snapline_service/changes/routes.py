"""HTTP of the change feed and of the audit."""

from litestar import get
from litestar.datastructures import State
from litestar.di import NamedDependency

from snapline.wire.changes import AuditPage, AuditQuery, ChangePage, ChangeQuery
from snapline_service.access.callers import Caller, needs
from snapline_service.changes import store
from snapline_service.changes.period import require_period
from snapline_service.changes.shown import event_of
from snapline_service.database import reading
from snapline_service.errors import InvalidValue
from snapline_service.listing import after, filters_of, next_token
from snapline_service.writing import Asked


@get(
    "/v1/changes",
    operation_id="list_changes",
    tags=["changes"],
    guards=[needs("read")],
    sync_to_thread=True,
    opt={"query": ChangeQuery},
)
def list_changes(caller: NamedDependency[Caller], request: Asked, state: State) -> ChangePage:
    """Follow what changes in your group: its catalogue and drafts, sites, visits and notes, oldest first.

    Ask again from ``next_cursor``, at any pace: no event is left out, however close together changes are
    made, and none comes twice.
    """
    group_id, wanted = caller.principal.group_id, filters_of(request, ChangeQuery)
    with reading(state.engine) as session:
        rows = store.feed(session, group_id, wanted.after, wanted.limit)
        newest = store.last_number(session, group_id)
    if wanted.after > newest:
        mend = f"Begin at 0, or at {newest} for what is still to come."
        raise InvalidValue("That cursor is of another feed.", pointer="/after", mend=mend)
    following = rows[-1].number if rows else wanted.after
    return ChangePage(items=tuple(map(event_of, rows)), next_cursor=following, newest_cursor=newest)


@get(
    "/v1/audit",
    operation_id="list_audit",
    tags=["changes"],
    guards=[needs("administer")],
    sync_to_thread=True,
    opt={"query": AuditQuery},
)
def list_audit(caller: NamedDependency[Caller], request: Asked, state: State) -> AuditPage:
    """List who did what and when in your group, newest first. Nothing is ever taken out of this list."""
    group_id, wanted = caller.principal.group_id, filters_of(request, AuditQuery)
    require_period(wanted)
    (before,) = after(wanted, int) or (None,)
    with reading(state.engine) as session:
        rows = store.audit(session, group_id, wanted, before, wanted.page_size + 1)
    token = next_token(wanted, rows, lambda row: [row.number])
    return AuditPage(items=tuple(map(event_of, rows[: wanted.page_size])), next_page_token=token)


HANDLERS = [list_changes, list_audit]
