"""What a reply says: the typed answer, or the problem."""

from typing import Any, TypeVar

import msgspec

from snapline.calls import JSON, Call
from snapline.errors import ResponseUnreadable
from snapline.secret import Secret
from snapline.transport import Reply
from snapline.wire.problems import Problem

T = TypeVar("T")


def read_answer(call: Call[T], reply: Reply) -> T:
    """Return the reply's body as the type that the call expects."""
    if not 200 <= reply.status < 300:
        raise ResponseUnreadable(f"Status {reply.status} where an answer was expected{_towards(reply)}.")
    try:
        if call.accept == JSON:
            return msgspec.json.decode(reply.body, type=call.answer)
        return _read_document(call, reply)
    except (msgspec.DecodeError, UnicodeDecodeError) as error:
        raise ResponseUnreadable(
            f"The answer to {call.method} {call.route} ({_media_type(reply) or 'no content type'}) "
            f"cannot be read: {error}"
        ) from error


def read_problem(reply: Reply, request_id: str, secret: Secret) -> Problem:
    """Return the problem that an error reply states, or as much as can be said of another body."""
    stated = _stated(reply)
    problem = {
        "type": "about:blank",
        "title": f"Status {reply.status}",
        "detail": f"The answer ({_media_type(reply) or 'no content type'}) does not say what is wrong.",
        "code": f"HTTP_{reply.status}",
        "request_id": reply.headers.get("x-request-id", request_id),
    }
    told = {name: value for name, value in stated.items() if value is not None}
    for candidate in ({**problem, **told}, problem):
        try:
            return msgspec.convert(_redacted({**candidate, "status": reply.status}, secret), Problem)
        except msgspec.ValidationError:
            continue
    raise AssertionError("unreachable: the bare problem is valid")


def _read_document(call: Call[T], reply: Reply) -> T:
    if _media_type(reply) != call.accept:
        raise msgspec.DecodeError(f"{call.accept} was asked for")
    return msgspec.convert(reply.body if call.answer is bytes else reply.body.decode(), call.answer)


def _stated(reply: Reply) -> dict[str, Any]:
    try:
        body = msgspec.json.decode(reply.body)
    except msgspec.DecodeError:
        return {}
    return body if isinstance(body, dict) else {}


def _redacted(value: Any, secret: Secret) -> Any:
    if isinstance(value, str):
        return secret.redact(value)
    if isinstance(value, dict):
        return {name: _redacted(part, secret) for name, part in value.items()}
    if isinstance(value, list):
        return [_redacted(part, secret) for part in value]
    return value


def _media_type(reply: Reply) -> str:
    return reply.headers.get("content-type", "").partition(";")[0].strip().lower()


def _towards(reply: Reply) -> str:
    location = reply.headers.get("location")
    return f", with a redirect to {location}" if location else ""
