"""Pages of stored documents, ordered by id."""

from collections.abc import Callable, Sequence
from typing import Any, Protocol, TypeVar

import msgspec
from litestar import Request
from msgspec import Struct

from snapline import page_token
from snapline.page_token import PageTokenInvalid
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
    wanted = msgspec.structs.replace(query, page_size=1, page_token=None)
    bodies = fetch(_after(query.page_token, wanted), query.page_size + 1)
    items = tuple(msgspec.json.decode(body, type=kind) for body in bodies[: query.page_size])
    more = len(bodies) > query.page_size
    return items, page_token.make([items[-1].id], wanted) if more else None


def _after(token: str | None, wanted: Struct) -> str | None:
    if token is None:
        return None
    try:
        (after,) = page_token.read(token, wanted, (str,))
    except (PageTokenInvalid, RecursionError):  # the latter from a forged token
        after = "\x00"
    if "\x00" in after:  # PostgreSQL takes no such text
        detail = "This page token is damaged or was made for other filters."
        raise BadInput([Fault("/page_token", detail, "Start again without it.")])
    return str(after)
