"""Pages of what is stored, by the key behind which each begins."""

from collections.abc import Callable, Sequence
from typing import Any, Protocol, TypeVar

import msgspec
from litestar import Request
from msgspec import Struct

from snapline import page_token
from snapline.page_token import PageTokenInvalid
from snapline_service.database import LARGEST_INTEGER
from snapline_service.errors import BadInput, Fault
from snapline_service.reads import filters


class Named(Protocol):
    """A document with an id."""

    @property
    def id(self) -> str: ...  # noqa: D102 - the name says it


T = TypeVar("T", bound=Named)
Q = TypeVar("Q", bound=Struct)
Fetch = Callable[[str | None, int], Sequence[str | bytes]]


def filters_of(request: Request[Any, Any, Any], query_type: type[Q]) -> Q:
    """Return the filters that a request gives. Raises BadInput."""
    answer: Q = filters(query_type, request.scope["query_string"])
    return answer


def page_of(kind: type[T], query: Any, fetch: Fetch) -> tuple[tuple[T, ...], str | None]:
    """Return a page of documents and the token of the next one. Raises BadInput for a token of another list.

    ``fetch`` takes the id behind which the page begins, and how many bodies to bring.
    """
    (behind,) = after(query, str) or (None,)
    bodies = fetch(behind, query.page_size + 1)
    items = tuple(msgspec.json.decode(body, type=kind) for body in bodies[: query.page_size])
    more = len(bodies) > query.page_size
    return items, page_token.make([items[-1].id], bound_to(query)) if more else None


def after(query: Any, *types: type) -> list[Any] | None:
    """Return the key behind which a page begins. Raises BadInput for a token of another list."""
    if query.page_token is None:
        return None
    try:
        found = page_token.read(query.page_token, bound_to(query), types)
    except (PageTokenInvalid, RecursionError):  # the latter from a forged token
        found = ["\x00"]
    if any(_is_forged(part) for part in found):
        detail = "This page token is damaged or was made for other filters or another list."
        raise BadInput([Fault("/page_token", detail, "Start again without it.")])
    return found


def _is_forged(part: str | int) -> bool:
    """Say whether a part of a token is nothing that a column could hold."""
    return "\x00" in part if isinstance(part, str) else not 0 <= part <= LARGEST_INTEGER


def next_token(query: Any, found: list[Any], key: Callable[[Any], list[str | int]]) -> str | None:
    """Return the token of the page behind one, if more was found than it holds."""
    size = query.page_size
    return page_token.make(key(found[size - 1]), bound_to(query)) if len(found) > size else None


def bound_to(query: Any) -> Any:
    """Return what a token is bound to: the list, which its type of query names, and its filters."""
    return [type(query).__name__, msgspec.structs.replace(query, page_size=1, page_token=None)]
