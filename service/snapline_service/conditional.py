"""Conditional requests on stored resources: ETag, If-None-Match and If-Match (RFC 9110, section 13).

An ETag is made from the body alone, so that a repeated answer and every host give the same one.
"""

import hashlib
from typing import Any

from litestar import Request, Response

from snapline_service.errors import PreconditionFailed, PreconditionRequired


def etag_of(body: bytes) -> str:
    """Return the strong ETag of these very bytes."""
    return f'"{hashlib.sha256(body).hexdigest()[:32]}"'


def answer(request: Request[Any, Any, Any], body: bytes) -> Response[bytes]:
    """Answer a stored resource, or 304 where If-None-Match names it already (by weak comparison)."""
    response = tagged(Response(body, media_type="application/json"))
    given = request.headers.get("if-none-match")
    if given is not None and _names(given.replace("W/", ""), response.headers["etag"]):
        return Response(b"", status_code=304, headers=response.headers)
    return response


def tagged(response: Response[bytes]) -> Response[bytes]:
    """Add the ETag of what a response carries."""
    response.headers["etag"] = etag_of(response.content)
    response.headers["cache-control"] = "private, no-cache"
    response.headers["vary"] = "Authorization"
    return response


def require_match(request: Request[Any, Any, Any], body: bytes) -> None:
    """Let a change through if If-Match names the present body, by strong comparison.

    Raises PreconditionRequired without If-Match, PreconditionFailed where it names something else.
    """
    given = request.headers.get("if-match")
    if given is None:
        detail = "A change must say what it is a change of."
        mend = "Send If-Match with the ETag that you read, or * for whatever is there."
        raise PreconditionRequired(detail, mend=mend)
    if not _names(given, etag_of(body)):
        detail = "This was changed since you read it."
        raise PreconditionFailed(detail, mend="Read it again and decide anew.")


def require_match_or_new(request: Request[Any, Any, Any], body: bytes | None) -> None:
    """Let a PUT through: ``If-None-Match: *`` makes something new, If-Match changes what is there.

    Raises PreconditionRequired, PreconditionFailed (RFC 9110, section 13.1).
    """
    new = request.headers.get("if-none-match")
    if new is not None and new.strip() == "*":
        if body is not None:
            raise PreconditionFailed("It is there already.", mend="Read it, and change it under If-Match.")
    elif body is not None:
        require_match(request, body)
    elif request.headers.get("if-match") is None:
        mend = "Send 'If-None-Match: *' to add something new, or If-Match to change what is there."
        raise PreconditionRequired("A change must say what it is a change of.", mend=mend)
    else:
        raise PreconditionFailed("It is not there (any more).", mend="Send 'If-None-Match: *' to add it.")


def _names(given: str, etag: str) -> bool:
    tags = {tag.strip() for tag in given.split(",")}
    return etag in tags or "*" in tags
