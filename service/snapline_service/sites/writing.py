"""What the routes of sites, bays and physical fixtures share: writes are done once, and under If-Match."""

from collections.abc import Callable
from typing import Any

from litestar import Request, Response
from litestar.datastructures import State
from msgspec import Struct
from sqlmodel import Session

from snapline_service import conditional
from snapline_service.access.callers import Caller
from snapline_service.idempotency.once import Done, perform
from snapline_service.sites.actions import Editor
from snapline_service.writing import person_of


def write(
    caller: Caller,
    request: Request[Any, Any, State],
    change: Callable[[Editor], Struct],
    *,
    status: int = 200,
) -> Response[bytes]:
    """Make a change once and answer the document that it leaves, with its ETag."""
    group_id = caller.principal.group_id

    def work(session: Session) -> Done:
        document = change(Editor(session, group_id, person_of(caller)))
        return Done(status=status, answer=document, again=document, validated=document)

    return conditional.tagged(perform(request.app.state.engine, group_id, request, work))
