"""Decode request bodies strictly and name every fault at once."""

from collections.abc import Iterator
from functools import cache
from typing import Any
from urllib.parse import parse_qsl

import msgspec
from litestar import Request
from litestar.exceptions import HTTPException

from snapline_service.errors import BadInput, Fault, MalformedJson
from snapline_service.faults import TOO_DEEP, Checker, nearest, parse, pointer, repeated_names, unconvertible
from snapline_service.schemas import closed, with_known_words


def decode(body: bytes, wire_type: Any) -> Any:
    """Return the body as a wire type. Raises MalformedJson, BadInput."""
    value, faults = parse(body)
    if faults:
        raise MalformedJson(faults)
    answer = convert(value, wire_type)
    faults = repeated_names(body) + list(_null_characters(value, []))
    if faults:
        raise BadInput(faults)
    return answer


def convert(value: Any, wire_type: Any, *, known_words: bool = False) -> Any:
    """Return a JSON value as a wire type. Raises BadInput with every fault, MalformedJson if too deep.

    ``known_words`` closes the open lists of words to those known today.
    """
    try:
        faults = _checker(wire_type, known_words).faults(value)
    except ValueError:  # the checker does not go as deep as the parser
        raise MalformedJson([TOO_DEEP]) from None
    if faults:
        raise BadInput(faults)
    try:
        return msgspec.convert(value, wire_type, strict=False)  # 24.0 is whole; types are checked above
    except msgspec.ValidationError as error:
        raise BadInput([unconvertible(error)]) from None


@cache
def _checker(wire_type: Any, known_words: bool) -> Checker:
    schema = closed(wire_type)
    return Checker(with_known_words(schema) if known_words else schema)


def require_known_query(query: bytes) -> None:
    """Raise BadInput for a query parameter that no computation or write takes, or that stands twice."""
    seen: set[str] = set()
    for name, _ in parse_qsl(query.decode("latin-1"), keep_blank_values=True):
        at = pointer([name[:80]])
        if name not in _QUERY:
            detail = f"The query parameter '{name[:80]}' is not known here."
            raise BadInput([Fault(at, detail, nearest(name, list(_QUERY)), "UNKNOWN_FIELD")])
        if name in seen:
            raise BadInput([Fault(at, f"The query parameter '{name}' stands twice.", "Give it once.")])
        seen.add(name)


_QUERY = ("validate_only",)
JSON = "application/json"


class StrictRequest(Request[Any, Any, Any]):
    """Litestar decodes bodies leniently ("1" for a number, unknown fields passed over); this does not."""

    async def json(self) -> Any:
        """Return the body as the type that the handler declares for its data."""
        wanted = self.route_handler.opt.get("media", JSON)
        if self.content_type[0] not in ("", wanted):
            raise HTTPException(status_code=415, headers={"accept": wanted})
        field = self.route_handler.parsed_data_field
        return decode(await self.body(), field.annotation if field else Any)


def _null_characters(value: Any, path: list[str | int]) -> Iterator[Fault]:
    """Find texts that PostgreSQL could not store."""
    if isinstance(value, str) and "\x00" in value:
        yield Fault(pointer(path), "The text holds a null character.", "Leave it out.")
    elif isinstance(value, dict | list):
        for step, part in value.items() if isinstance(value, dict) else enumerate(value):
            yield from _null_characters(part, [*path, step])
