"""Do a write once, however often it is sent."""

import hashlib
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any

import msgspec
import sqlalchemy as sa
from litestar import Request, Response
from msgspec import Struct
from sqlmodel import Session

from snapline_service.database import now, writing
from snapline_service.errors import (
    Conflict,
    IdempotencyKeyReused,
    InvalidValue,
    NotFound,
    PreconditionFailed,
)
from snapline_service.idempotency import store
from snapline_service.idempotency.tables import RepeatableRow

_KEPT = timedelta(hours=24)
_LONGEST_KEY = 200


class Done(Struct, frozen=True):
    """What a write answers: now, when it is sent again (no secret in it), and when only validated."""

    status: int
    answer: Struct
    again: Struct
    validated: Struct


class _OnlyValidated(Exception):
    """Undoes a write that was only to be validated, and carries its answer out."""

    def __init__(self, done: Done) -> None:
        super().__init__()
        self.done = done


def perform(
    engine: sa.Engine, group_id: str, request: Request[Any, Any, Any], write: Callable[[Session], Done]
) -> Response[bytes]:
    """Perform a write in one transaction, at most once under the request's Idempotency-Key.

    With ``?validate_only=true`` everything is tried and nothing kept. Raises IdempotencyKeyReused,
    InvalidValue, Conflict where another write was faster, and whatever the write raises.
    """
    if only_validates(request):
        return _only_validate(engine, write)
    key, fingerprint = _key_of(request), _fingerprint(request)
    try:
        return _attempt(engine, group_id, key, fingerprint, write)
    except (Conflict, NotFound, PreconditionFailed):
        if key is None:
            raise
    except sa.exc.IntegrityError:
        if key is None:
            detail = "Another write was a little faster."
            raise Conflict(detail, mend="Read what is there now, and try again.") from None
    # If the same request, sent at the same time, was a little faster, its answer is there now.
    return _attempt(engine, group_id, key, fingerprint, write)


def _attempt(
    engine: sa.Engine, group_id: str, key: str | None, fingerprint: str, write: Callable[[Session], Done]
) -> Response[bytes]:
    with writing(engine) as session:
        before = store.find(session, group_id, key) if key else None
        if before:
            return _repeated(before, fingerprint)
        done = write(session)
        if key:
            session.add(
                RepeatableRow(
                    group_id=group_id,
                    idempotency_key=key,
                    fingerprint=fingerprint,
                    status=done.status,
                    body=msgspec.json.encode(done.again),
                    created_at=now(),
                )
            )
            oldest = datetime.now(UTC) - _KEPT
            store.forget_before(session, oldest.strftime("%Y-%m-%dT%H:%M:%S.%fZ"))
    return _response(done.status, msgspec.json.encode(done.answer))


def _only_validate(engine: sa.Engine, write: Callable[[Session], Done]) -> Response[bytes]:
    try:
        with writing(engine) as session:
            raise _OnlyValidated(write(session))
    except _OnlyValidated as validated:
        return _response(200, msgspec.json.encode(validated.done.validated))


def _repeated(before: RepeatableRow, fingerprint: str) -> Response[bytes]:
    if before.fingerprint != fingerprint:
        detail = "This Idempotency-Key was used for another request."
        raise IdempotencyKeyReused(detail, mend="Choose a new key for a new request.")
    response = _response(before.status, before.body)
    response.headers["idempotency-replayed"] = "true"
    return response


def _response(status: int, body: bytes) -> Response[bytes]:
    return Response(body, status_code=status, media_type="application/json")


def only_validates(request: Request[Any, Any, Any]) -> bool:
    """Say whether a write is only to be validated. Raises InvalidValue, also for a key that cannot be one."""
    _key_of(request)
    given = request.query_params.get("validate_only", "false")
    if given not in ("true", "false"):
        detail = "'validate_only' is true or false."
        raise InvalidValue(detail, pointer="/validate_only", mend="Give one of them.")
    return bool(given == "true")


def _key_of(request: Request[Any, Any, Any]) -> str | None:
    """Return the key, which RFC 9651 writes in quotes; bare keys are taken too."""
    given = request.headers.get("idempotency-key")
    if given is None:
        return None
    key = given.strip().removeprefix('"').removesuffix('"')
    if not 0 < len(key) <= _LONGEST_KEY:
        detail = f"An Idempotency-Key has 1 to {_LONGEST_KEY} characters."
        raise InvalidValue(detail, mend="Send a UUID.")
    return str(key)


def _fingerprint(request: Request[Any, Any, Any]) -> str:
    """Return what tells requests apart; a body is already read when a handler runs."""
    address = f"{request.method} {request.scope['path']} ".encode() + request.scope["query_string"]
    return hashlib.sha256(address + b" " + request.scope["state"]["body"]).hexdigest()
