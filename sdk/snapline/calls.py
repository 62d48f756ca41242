"""What is asked of the service and what comes back, as plain values: ``Call[T]`` and ``Response[T]``."""

import math
from collections.abc import Callable, Iterator, Mapping
from enum import Enum
from typing import Any, Generic, TypeVar
from urllib.parse import quote, urlencode

import msgspec
from msgspec import Struct

from snapline.errors import UnusableValue
from snapline.retry import Attempt
from snapline.transport import Headers

JSON = "application/json"
SVG = "image/svg+xml"
HTML = "text/html"
PDF = "application/pdf"
NDJSON = "application/x-ndjson"

T = TypeVar("T")
R = TypeVar("R", bound=Struct)
T_co = TypeVar("T_co", covariant=True)


class Call(Struct, Generic[T_co], frozen=True, kw_only=True):
    """One call of the API, described but not made.

    ``route`` names its ``ids`` in braces and holds nothing of a customer, so it may be logged. ``safe`` marks
    a POST that is pure computation. Of several bodies each is a line of NDJSON; a ``file`` is sent as it is.
    """

    method: str
    route: str
    answer: type[T_co]
    ids: dict[str, str] = {}
    query: dict[str, Any] = {}
    body: Struct | tuple[Struct, ...] | None = None
    file: bytes | None = None
    headers: dict[str, str] = {}
    accept: str = JSON
    safe: bool = False

    @property
    def repeatable(self) -> bool:
        """Whether making the call twice does no harm."""
        return self.safe or self.method in {"GET", "HEAD"}

    def url(self, base: str) -> str:
        """Return the full address, identifiers percent-encoded."""
        path = self.route.format_map({name: _segment(name, value) for name, value in self.ids.items()})
        fields = [(name, _query_text(value)) for name, value in self.query.items() if value is not None]
        return base + path + ("?" + urlencode(fields, quote_via=quote) if fields else "")

    def content(self) -> bytes | None:
        """Return the body as JSON. A number that JSON has no word for would become null: it is refused."""
        if self.body is None:
            return self.file
        for pointer in _not_finite(msgspec.to_builtins(self.body), ""):
            raise UnusableValue(f"{pointer} is not a finite number.")
        if isinstance(self.body, tuple):
            return msgspec.json.Encoder().encode_lines(self.body)
        return msgspec.json.encode(self.body)


class Response(Struct, Generic[T], frozen=True, kw_only=True):
    """An answer with what came around it. ``raw`` holds fields that this SDK does not know yet.

    ``attempts`` are the tries that failed before; ``reused`` says that ``data`` was kept from an earlier
    answer, because the service confirmed it or allowed it.
    """

    data: T
    status: int
    headers: Headers
    request_id: str
    raw: bytes
    attempts: tuple[Attempt, ...] = ()
    reused: bool = False


def get(route: str, answer: type[T], *, query: Struct | None = None, **ids: str) -> Call[T]:
    """Describe a read. Of a query, what is not given is not sent."""
    fields = {} if query is None else msgspec.to_builtins(query)
    return Call(method="GET", route=route, answer=answer, ids=ids, query=fields)


def as_page(call: Call[Any]) -> Call[str]:
    """Describe the same call for an answer that a person reads."""
    return msgspec.structs.replace(call, answer=str, accept=HTML)


def compute(route: str, answer: type[T], body: Struct, *, accept: str = JSON) -> Call[T]:
    """Describe a pure computation: a POST that changes nothing and may be repeated."""
    return Call(method="POST", route=route, answer=answer, body=body, accept=accept, safe=True)


def whole(kind: Callable[..., R], request: R | None, fields: Mapping[str, object]) -> R:
    """Return the request as given, or made from its fields."""
    if request is None:
        return kind(**fields)
    if fields:
        raise TypeError(f"Give the whole {type(request).__name__} or its fields, not both.")
    return request


def _segment(name: str, value: str) -> str:
    # '.' and '..' survive percent-encoding and would be taken for steps along the path.
    if value in {"", ".", ".."}:
        raise UnusableValue(f"{name} cannot be {value!r}.")
    return quote(value, safe="")


def _query_text(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    return str(value.value if isinstance(value, Enum) else value)


def _not_finite(value: Any, pointer: str) -> Iterator[str]:
    if isinstance(value, float):
        if not math.isfinite(value):
            yield pointer
    elif isinstance(value, dict):
        for name, part in value.items():
            yield from _not_finite(part, f"{pointer}/{str(name).replace('~', '~0').replace('/', '~1')}")
    elif isinstance(value, list | tuple):
        for index, part in enumerate(value):
            yield from _not_finite(part, f"{pointer}/{index}")
