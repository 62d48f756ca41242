"""What happens in your group, to follow from anywhere; and who did what."""

import asyncio
import time
from collections.abc import AsyncIterator, Iterator
from typing import TypedDict, Unpack

from snapline.calls import Call, get, whole
from snapline.paging import AsyncListing, Page
from snapline.resources.base import AsyncResource, Resource
from snapline.wire.changes import AuditPage, AuditQuery, ChangePage, ChangeQuery, Event


class AuditFilters(TypedDict, total=False):
    """The fields of ``AuditQuery``."""

    type: str | None
    holder: str | None
    since: str | None
    until: str | None
    page_size: int
    page_token: str | None


def list_changes(query: ChangeQuery) -> Call[ChangePage]:
    """Describe the events behind a cursor."""
    return get("/v1/changes", ChangePage, query=query)


def list_audit(query: AuditQuery) -> Call[AuditPage]:
    """Describe one page of the audit."""
    return get("/v1/audit", AuditPage, query=query)


class Changes(Resource):
    """What happens in your group."""

    def list(self, *, after: int = 0, limit: int = 100) -> ChangePage:
        """Return the events behind a cursor, oldest first, and the cursor to go on from."""
        return self._answer(list_changes(ChangeQuery(after=after, limit=limit)))

    def follow(self, *, after: int | None = None, every_s: float = 2.0) -> Iterator[Event]:
        """Yield events for ever, those behind a cursor or (None) those to come; keep ``event.cursor``."""
        cursor = self.list(limit=1).newest_cursor if after is None else after
        while True:
            page = self.list(after=cursor)
            yield from page.items
            cursor = page.next_cursor
            if not page.items:
                time.sleep(every_s)

    def audit(self, query: AuditQuery | None = None, /, **filters: Unpack[AuditFilters]) -> Page[Event]:
        """List who did what and when, newest first."""
        return self._pages(list_audit(whole(AuditQuery, query, filters)))


class AsyncChanges(AsyncResource):
    """What happens in your group."""

    async def list(self, *, after: int = 0, limit: int = 100) -> ChangePage:
        """Return the events behind a cursor, oldest first, and the cursor to go on from."""
        return await self._answer(list_changes(ChangeQuery(after=after, limit=limit)))

    async def follow(self, *, after: int | None = None, every_s: float = 2.0) -> AsyncIterator[Event]:
        """Yield events for ever, those behind a cursor or (None) those to come; keep ``event.cursor``."""
        cursor = (await self.list(limit=1)).newest_cursor if after is None else after
        while True:
            page = await self.list(after=cursor)
            for event in page.items:
                yield event
            cursor = page.next_cursor
            if not page.items:
                await asyncio.sleep(every_s)

    def audit(
        self, query: AuditQuery | None = None, /, **filters: Unpack[AuditFilters]
    ) -> AsyncListing[Event]:
        """List who did what and when, newest first."""
        return self._pages(list_audit(whole(AuditQuery, query, filters)))
