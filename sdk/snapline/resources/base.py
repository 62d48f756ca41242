"""What every resource does with a call: send it and hand over what the answer says."""

from typing import TYPE_CHECKING, TypeVar

from snapline.calls import Call
from snapline.paging import AsyncListing, Page, PageCall
from snapline.stored import Stored, stored

if TYPE_CHECKING:
    from snapline.client import AsyncSnapline, Snapline

T = TypeVar("T")


class Resource:
    """A noun of the API, over a client."""

    __slots__ = ("_client",)

    def __init__(self, client: "Snapline") -> None:
        self._client = client

    def _answer(self, call: Call[T]) -> T:
        return self._client.send(call).data

    def _stored(self, call: Call[T]) -> Stored[T]:
        return stored(self._client.send(call))

    def _pages(self, call: PageCall[T]) -> Page[T]:
        return Page(self._client.send, call)


class AsyncResource:
    """A noun of the API, over an asyncio client."""

    __slots__ = ("_client",)

    def __init__(self, client: "AsyncSnapline") -> None:
        self._client = client

    async def _answer(self, call: Call[T]) -> T:
        return (await self._client.send(call)).data

    async def _stored(self, call: Call[T]) -> Stored[T]:
        return stored(await self._client.send(call))

    def _pages(self, call: PageCall[T]) -> AsyncListing[T]:
        return AsyncListing(self._client.send, call)
