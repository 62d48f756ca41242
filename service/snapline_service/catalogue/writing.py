"""What the routes of drafts and revisions share: who acts, writes done once and under If-Match, pages."""

from collections.abc import Callable
from typing import Any

import msgspec
from litestar import Request, Response
from litestar.datastructures import State
from msgspec import Struct
from sqlmodel import Session

from snapline import page_token
from snapline.page_token import PageTokenInvalid
from snapline_service import conditional
from snapline_service.access.callers import Caller
from snapline_service.catalogue import drafts
from snapline_service.catalogue.people import Person
from snapline_service.catalogue.tables import DraftRow
from snapline_service.database import LARGEST_INTEGER
from snapline_service.errors import BadInput, Fault, PreconditionFailed, PreconditionRequired
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


def draft_to_change(session: Session, caller: Caller, request: Asked, draft_id: str) -> DraftRow:
    """Return a draft that If-Match names as it is, held until the write is done.

    Raises NotFound, PreconditionRequired, PreconditionFailed.
    """
    draft = drafts.found(session, caller.principal.group_id, draft_id, to_change=True)
    conditional.require_match(request, msgspec.json.encode(drafts.shown(session, draft)))
    return draft


def require_match_or_new(request: Asked, body: bytes | None) -> None:
    """Let a PUT through: ``If-None-Match: *`` makes something new, If-Match changes what is there.

    Raises PreconditionRequired, PreconditionFailed (RFC 9110, section 13.1).
    """
    new = request.headers.get("if-none-match")
    if new is not None and new.strip() == "*":
        if body is not None:
            raise PreconditionFailed("It is there already.", mend="Read it, and change it under If-Match.")
    elif body is not None:
        conditional.require_match(request, body)
    elif request.headers.get("if-match") is None:
        mend = "Send 'If-None-Match: *' to add something new, or If-Match to change what is there."
        raise PreconditionRequired("A change must say what it is a change of.", mend=mend)
    else:
        raise PreconditionFailed("It is not there (any more).", mend="Send 'If-None-Match: *' to add it.")


def after(query: Any, *types: type) -> list[Any] | None:
    """Return the key behind which a page begins. Raises BadInput for a token of another list."""
    if query.page_token is None:
        return None
    try:
        found = page_token.read(query.page_token, _filters(query), types)
    except (PageTokenInvalid, RecursionError):  # the latter from a forged token
        found = ["\x00"]
    if any(_is_forged(part) for part in found):
        detail = "This page token is damaged or was made for other filters."
        raise BadInput([Fault("/page_token", detail, "Start again without it.")])
    return found


def _is_forged(part: str | int) -> bool:
    """Say whether a part of a token is nothing that a column could hold."""
    return "\x00" in part if isinstance(part, str) else not 0 <= part <= LARGEST_INTEGER


def next_token(query: Any, found: list[Any], key: Callable[[Any], list[str | int]]) -> str | None:
    """Return the token of the page behind one, if more was found than it holds."""
    size = query.page_size
    return page_token.make(key(found[size - 1]), _filters(query)) if len(found) > size else None


def _filters(query: Any) -> Any:
    return msgspec.structs.replace(query, page_size=1, page_token=None)
