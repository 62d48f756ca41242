"""Lists that arrive in pages: iterating one walks them all, asking for the next only when it is needed."""

from collections.abc import AsyncIterator, Awaitable, Callable, Generator, Iterator
from typing import Any, Generic, Protocol, TypeVar

from msgspec.structs import replace

from snapline.calls import Call, Response
from snapline.errors import ResponseUnreadable

T = TypeVar("T")
T_co = TypeVar("T_co", covariant=True)


class PageBody(Protocol[T_co]):
    """The shape that every page has on the wire."""

    @property
    def items(self) -> tuple[T_co, ...]:
        """The page's entries."""

    @property
    def next_page_token(self) -> str | None:
        """Where the next page begins; None on the last."""


PageCall = Call[PageBody[T]]
PageResponse = Response[PageBody[T]]


class _Page(Generic[T]):
    """One page, with the call that it answers and the response it came in."""

    def __init__(self, call: PageCall[T], response: PageResponse[T]) -> None:
        self.call = call
        self.response = response

    @property
    def items(self) -> tuple[T, ...]:
        """The entries of this page alone."""
        return self.response.data.items

    @property
    def next_page_token(self) -> str | None:
        """Where the next page begins; None on the last."""
        return self.response.data.next_page_token

    def _next_call(self) -> PageCall[T] | None:
        """Return the call for the next page: the same filters, to which the service binds its token."""
        token = self.next_page_token
        if not token:
            return None
        if token == self.call.query.get("page_token"):
            raise ResponseUnreadable("The list goes round in circles: a page names itself as the next.")
        return replace(self.call, query={**self.call.query, "page_token": token})


class Page(_Page[T]):
    """A page of a list. ``for entry in page`` goes on through all following pages."""

    def __init__(self, send: Callable[[PageCall[T]], PageResponse[T]], call: PageCall[T]) -> None:
        super().__init__(call, send(call))
        self._send = send

    def pages(self) -> Iterator["Page[T]"]:
        """Walk the pages, this one first."""
        page: Page[T] | None = self
        while page is not None:
            yield page
            page = page.next()

    def next(self) -> "Page[T] | None":
        """Fetch the next page; None after the last."""
        call = self._next_call()
        return None if call is None else Page(self._send, call)

    def __iter__(self) -> Iterator[T]:
        for page in self.pages():
            yield from page.items


class AsyncPage(_Page[T]):
    """A page of a list. ``async for entry in page`` goes on through all following pages."""

    def __init__(self, listing: "AsyncListing[T]", response: PageResponse[T]) -> None:
        super().__init__(listing.call, response)
        self._listing = listing

    async def pages(self) -> AsyncIterator["AsyncPage[T]"]:
        """Walk the pages, this one first."""
        page: AsyncPage[T] | None = self
        while page is not None:
            yield page
            page = await page.next()

    async def next(self) -> "AsyncPage[T] | None":
        """Fetch the next page; None after the last."""
        call = self._next_call()
        return None if call is None else await AsyncListing(self._listing.send, call)

    async def __aiter__(self) -> AsyncIterator[T]:
        async for page in self.pages():
            for entry in page.items:
                yield entry


class AsyncListing(Generic[T]):
    """A list not yet asked for: ``await`` it for its first page, or ``async for`` through every entry."""

    def __init__(self, send: Callable[[PageCall[T]], Awaitable[PageResponse[T]]], call: PageCall[T]) -> None:
        self.send = send
        self.call = call

    def __await__(self) -> Generator[Any, None, AsyncPage[T]]:
        return self._first().__await__()

    async def _first(self) -> AsyncPage[T]:
        return AsyncPage(self, await self.send(self.call))

    async def pages(self) -> AsyncIterator[AsyncPage[T]]:
        """Walk the pages."""
        async for page in (await self).pages():
            yield page

    async def __aiter__(self) -> AsyncIterator[T]:
        async for entry in await self:
            yield entry
