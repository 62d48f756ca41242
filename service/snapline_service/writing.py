"""Writes of stored things: who acts, and a change that is made once and answered with its ETag."""

from collections.abc import Callable
from typing import Any

from litestar import Request, Response
from litestar.datastructures import State
from msgspec import Struct
from sqlmodel import Session

from snapline_service import conditional
from snapline_service.access.callers import Caller
from snapline_service.access.people import Person
from snapline_service.idempotency.once import Done, perform

Asked = Request[Any, Any, State]


def person_of(caller: Caller) -> Person:
    """Return who holds the key."""
    return Person(caller.principal.holder_id, caller.principal.holder_name)


def write(
    caller: Caller, request: Asked, change: Callable[[Session], Struct], *, status: int = 200
) -> Response[bytes]:
    """Make a change once and answer what it leaves, with its ETag."""

    def work(session: Session) -> Done:
        left = change(session)
        return Done(status=status, answer=left, again=left, validated=left)

    return conditional.tagged(perform(request.app.state.engine, caller.principal.group_id, request, work))
