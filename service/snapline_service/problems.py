"""The one map from what can go wrong to RFC 9457 problem details."""

import logging
from typing import Any
from urllib.parse import quote

import msgspec
from litestar import Request, Response
from litestar.exceptions import HTTPException, MethodNotAllowedException
from msgspec import Struct

from snapline.wire.problems import Problem, ProblemItem
from snapline_service import errors
from snapline_service.errors import BadInput, SnaplineError

MEDIA_TYPE = "application/problem+json"
_LONGEST_DETAIL = 300
log = logging.getLogger("snapline.service")


class Kind(Struct, frozen=True):
    """A kind of problem: its HTTP status, its title, and what it means."""

    status: int
    title: str
    meaning: str


_STATUS: dict[type[SnaplineError], int] = {
    errors.BadInput: 422,
    errors.BodyTooLarge: 413,
    errors.BodyTooSlow: 408,
    errors.Conflict: 409,
    errors.DatumsDoNotFixAPoint: 422,
    errors.IdempotencyKeyReused: 422,
    errors.InvalidValue: 422,
    errors.MalformedJson: 400,
    errors.MissingDimension: 422,
    errors.NoSuchPart: 416,
    errors.NotAcceptable: 406,
    errors.NotAllowed: 403,
    errors.NotBuilt: 503,
    errors.NotFound: 404,
    errors.NothingPublished: 404,
    errors.NotSignedIn: 401,
    errors.PreconditionFailed: 412,
    errors.PreconditionRequired: 428,
    errors.RateLimited: 429,
    errors.SnaplineError: 500,
    errors.TookTooLong: 503,
    errors.UnknownName: 422,
}
# What the framework itself refuses, by its status: code, title and mend.
_FRAMEWORK = {
    400: ("MALFORMED_JSON", "The body is empty or not JSON", "Send a JSON object."),
    404: ("NOT_FOUND", "Not found", "Every address stands in /openapi.json."),
    405: ("METHOD_NOT_ALLOWED", "This method is not for this address", "Use one that Allow lists."),
    415: ("MEDIA_TYPE_NOT_SUPPORTED", "The body is of another media type", "Send the one that Accept names."),
}
_OTHERWISE = ("INVALID_VALUE", "The request cannot be handled", "Send it as /openapi.json describes it.")

KINDS: dict[str, Kind] = {
    **{code: Kind(status, title, f"{title}. {mend}") for status, (code, title, mend) in _FRAMEWORK.items()},
    **{
        cls.code: Kind(status, cls.title, " ".join((cls.__doc__ or "").split()))
        for cls, status in reversed(_STATUS.items())
    },
}


def type_of(code: str) -> str:
    """Return the relative reference under which the service explains a code."""
    return f"/problems/{code.lower().replace('_', '-')}"


def problem_of(error: SnaplineError, request_id: str, instance: str | None) -> Problem:
    """Return the problem details of a domain error."""
    if isinstance(error, BadInput):
        items = tuple(
            ProblemItem(pointer=f.pointer, code=f.code, detail=_told(f.detail, f.mend), mend=f.mend)
            for f in error.faults
        )
    else:
        told = _told(error.detail, error.mend)
        items = (ProblemItem(pointer=error.pointer, code=error.code, detail=told, mend=error.mend),)
    kind = KINDS[error.code]
    return Problem(
        type=type_of(error.code),
        title=kind.title,
        status=kind.status,
        detail=_told(error.detail, error.mend),
        code=error.code,
        request_id=request_id,
        retryable=kind.status in (408, 429) or kind.status >= 500,
        retry_after_s=error.retry_after_s if isinstance(error, errors.RateLimited) else None,
        instance=quote(instance) if instance else None,
        errors=items,
    )


def _told(detail: str, mend: str) -> str:
    """Return detail and mend as one text; what was sent may be repeated in it, but not at any length."""
    short = detail if len(detail) <= _LONGEST_DETAIL else f"{detail[:_LONGEST_DETAIL]}…"
    return f"{short} {mend}".strip()


def unexpected(request_id: str, instance: str | None) -> Problem:
    """Return the problem details of a failure that nobody foresaw; the log has the rest."""
    log.exception("request %s failed", request_id)
    return problem_of(SnaplineError("The service failed."), request_id, instance)


def _answer(problem: Problem) -> Response[bytes]:
    return Response(msgspec.json.encode(problem), status_code=problem.status, media_type=MEDIA_TYPE)


def _origin(request: Request[Any, Any, Any]) -> tuple[str, str]:
    return request.scope["state"]["request_id"], request.scope["path"]


def on_domain_error(request: Request[Any, Any, Any], error: SnaplineError) -> Response[bytes]:
    """Answer a domain error."""
    response = _answer(problem_of(error, *_origin(request)))
    if isinstance(error, errors.NoSuchPart):
        response.headers["content-range"] = f"bytes */{error.size_bytes}"
    return response


def on_framework_error(request: Request[Any, Any, Any], error: HTTPException) -> Response[bytes]:
    """Answer what the framework refuses."""
    allowed = request.scope["state"].get("allow")
    if error.status_code == 404 and allowed:
        error = MethodNotAllowedException(headers={"allow": allowed})
    request_id, instance = _origin(request)
    code, title, mend = _FRAMEWORK.get(error.status_code, _OTHERWISE)
    if error.status_code == 415 and "accept" in (error.headers or {}):
        mend = f"Send it with Content-Type: {error.headers['accept']}."  # type: ignore[index] # it is there
    problem = Problem(
        type=type_of(code),
        title=title,
        status=error.status_code,
        detail=f"{title}. {mend}",
        code=code,
        request_id=request_id,
        instance=quote(instance),
        errors=(ProblemItem(pointer="", code=code, detail=f"{title}. {mend}", mend=mend),),
    )
    response = _answer(problem)
    response.headers.update(error.headers or {})
    if allow := response.headers.get("allow"):
        response.headers["allow"] = ", ".join(sorted(set(allow.split(", ")) - {"OPTIONS"}))
    return response


def on_unexpected_error(request: Request[Any, Any, Any], _error: Exception) -> Response[bytes]:
    """Answer a failure that nobody foresaw."""
    return _answer(unexpected(*_origin(request)))
