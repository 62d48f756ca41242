"""What the routes of sites, bays and physical fixtures share: an editor of the group's, and one write."""

from collections.abc import Callable

from litestar import Response
from msgspec import Struct
from sqlmodel import Session

from snapline_service import writing
from snapline_service.access.callers import Caller
from snapline_service.sites.actions import Editor
from snapline_service.writing import Asked, person_of


def write(
    caller: Caller, request: Asked, change: Callable[[Editor], Struct], *, status: int = 200
) -> Response[bytes]:
    """Make a change once and answer the document that it leaves, with its ETag."""

    def work(session: Session) -> Struct:
        return change(Editor(session, caller.principal.group_id, person_of(caller)))

    return writing.write(caller, request, work, status=status)
