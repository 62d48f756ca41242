"""What the service keeps for your group: read with its ETag, changed under it, each change made once."""

from typing import Generic, TypeVar
from uuid import uuid4

from msgspec import Struct, structs

from snapline.calls import Call, Response

T = TypeVar("T")
MERGE_PATCH = "application/merge-patch+json"


class Stored(Struct, Generic[T], frozen=True, kw_only=True):
    """Something stored, as it was read or left: ``data``, and the ``etag`` to change it under.

    A change under an ETag fails with Conflict (412) if somebody else was faster; the ETag ``"*"`` changes
    whatever is there.
    """

    data: T
    etag: str


def stored(response: Response[T]) -> Stored[T]:
    """Return what a response holds, with its ETag."""
    return Stored(data=response.data, etag=response.headers.get("etag", ""))


def create(
    route: str, body: Struct, answer: type[T], idempotency_key: str | None, *, validate_only: bool, **ids: str
) -> Call[T]:
    """Describe a creation. Its Idempotency-Key makes it safe to repeat."""
    call = _write("POST", route, answer, ids, idempotency_key)
    return structs.replace(call, body=body, query=_query(validate_only))


def replace(
    route: str, body: Struct, answer: type[T], etag: str, *, validate_only: bool, **ids: str
) -> Call[T]:
    """Describe a replacement of what has the ETag."""
    call = _write("PUT", route, answer, ids)
    headers = {**call.headers, "if-match": etag}
    return structs.replace(call, body=body, headers=headers, query=_query(validate_only))


def update(
    route: str, patch: Struct, answer: type[T], etag: str, *, validate_only: bool, **ids: str
) -> Call[T]:
    """Describe a merge patch (RFC 7396) of what has the ETag."""
    call = _write("PATCH", route, answer, ids)
    headers = {**call.headers, "if-match": etag, "content-type": MERGE_PATCH}
    return structs.replace(call, body=patch, headers=headers, query=_query(validate_only))


def delete(route: str, answer: type[T], etag: str, **ids: str) -> Call[T]:
    """Describe the deletion of what has the ETag; the answer is what it was."""
    call = _write("DELETE", route, answer, ids)
    return structs.replace(call, headers={**call.headers, "if-match": etag})


def _write(
    method: str, route: str, answer: type[T], ids: dict[str, str], idempotency_key: str | None = None
) -> Call[T]:
    once = {"idempotency-key": f'"{idempotency_key or uuid4()}"'}
    return Call(method=method, route=route, answer=answer, ids=ids, headers=once, safe=True)


def _query(validate_only: bool) -> dict[str, bool]:
    return {"validate_only": True} if validate_only else {}
