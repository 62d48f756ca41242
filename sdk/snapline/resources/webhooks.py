"""Webhooks of your group, for its administrators."""

from typing import TypedDict, Unpack
from uuid import uuid4

from snapline.calls import Call, get, whole
from snapline.paging import AsyncListing, Page
from snapline.resources.base import AsyncResource, Resource
from snapline.stored import Stored, create, delete, update
from snapline.wire.changes import Cursor
from snapline.wire.webhooks import (
    Delivery,
    DeliveryPage,
    DeliveryQuery,
    IssuedWebhook,
    ReplayRequest,
    RotatedSecret,
    RotateRequest,
    Webhook,
    WebhookList,
    WebhookPatch,
    WebhookRequest,
)

_WEBHOOKS, _WEBHOOK = "/v1/webhooks", "/v1/webhooks/{webhook_id}"


class DeliveryFilters(TypedDict, total=False):
    """The fields of ``DeliveryQuery``."""

    state: str | None
    page_size: int
    page_token: str | None


def list_webhooks() -> Call[WebhookList]:
    """Describe the list of webhooks."""
    return get(_WEBHOOKS, WebhookList)


def get_webhook(webhook_id: str) -> Call[Webhook]:
    """Describe the reading of a webhook."""
    return get(_WEBHOOK, Webhook, webhook_id=webhook_id)


def create_webhook(
    request: WebhookRequest, idempotency_key: str | None, *, validate_only: bool
) -> Call[IssuedWebhook]:
    """Describe a new webhook. It is not repeated by itself: a repeated answer lacks the secret."""
    return Call(
        method="POST",
        route=_WEBHOOKS,
        answer=IssuedWebhook,
        query={"validate_only": True} if validate_only else {},
        body=request,
        headers=_once(idempotency_key),
    )


def update_webhook(webhook_id: str, patch: WebhookPatch, etag: str, *, validate_only: bool) -> Call[Webhook]:
    """Describe a change of a webhook."""
    return update(_WEBHOOK, patch, Webhook, etag, validate_only=validate_only, webhook_id=webhook_id)


def delete_webhook(webhook_id: str, etag: str) -> Call[Webhook]:
    """Describe the deletion of a webhook."""
    return delete(_WEBHOOK, Webhook, etag, webhook_id=webhook_id)


def rotate_webhook(webhook_id: str, request: RotateRequest) -> Call[RotatedSecret]:
    """Describe a new secret. It is not repeated by itself: a repeated answer lacks the secret."""
    return Call(
        method="POST",
        route=f"{_WEBHOOK}/rotate",
        answer=RotatedSecret,
        ids={"webhook_id": webhook_id},
        body=request,
        headers=_once(None),
    )


def replay_webhook(webhook_id: str, request: ReplayRequest) -> Call[Webhook]:
    """Describe that events are sent again."""
    return create(f"{_WEBHOOK}/replay", request, Webhook, None, validate_only=False, webhook_id=webhook_id)


def test_webhook(webhook_id: str) -> Call[Webhook]:
    """Describe that a test event is sent."""
    return Call(
        method="POST",
        route=f"{_WEBHOOK}/test",
        answer=Webhook,
        ids={"webhook_id": webhook_id},
        headers=_once(None),
        safe=True,
    )


def list_deliveries(webhook_id: str, query: DeliveryQuery) -> Call[DeliveryPage]:
    """Describe one page of a webhook's deliveries."""
    return get(f"{_WEBHOOK}/deliveries", DeliveryPage, query=query, webhook_id=webhook_id)


def _once(idempotency_key: str | None) -> dict[str, str]:
    return {"idempotency-key": f'"{idempotency_key or uuid4()}"'}


class Webhooks(Resource):
    """Who is told of what, by signed events."""

    def list(self) -> WebhookList:
        """Return all webhooks of your group, oldest first."""
        return self._answer(list_webhooks())

    def get(self, webhook_id: str) -> Stored[Webhook]:
        """Return a webhook and its ETag."""
        return self._stored(get_webhook(webhook_id))

    def create(
        self, request: WebhookRequest, *, idempotency_key: str | None = None, validate_only: bool = False
    ) -> IssuedWebhook:
        """Have events sent to an address. The secret is in this answer alone; keep it."""
        return self._answer(create_webhook(request, idempotency_key, validate_only=validate_only))

    def update(
        self, webhook_id: str, patch: WebhookPatch, *, etag: str, validate_only: bool = False
    ) -> Stored[Webhook]:
        """Change what the patch gives."""
        return self._stored(update_webhook(webhook_id, patch, etag, validate_only=validate_only))

    def delete(self, webhook_id: str, *, etag: str) -> Webhook:
        """Delete a webhook and return what it was."""
        return self._answer(delete_webhook(webhook_id, etag))

    def rotate(self, webhook_id: str, *, overlap_hours: int = 24) -> RotatedSecret:
        """Give a webhook a new secret; the old one signs too for some hours."""
        return self._answer(rotate_webhook(webhook_id, RotateRequest(overlap_hours=overlap_hours)))

    def replay(
        self, webhook_id: str, *, after: Cursor | None = None, events: tuple[str, ...] | None = None
    ) -> Webhook:
        """Have events sent again: all behind a cursor, or these."""
        return self._answer(replay_webhook(webhook_id, ReplayRequest(after=after, events=events)))

    def test(self, webhook_id: str) -> Webhook:
        """Have a test event sent."""
        return self._answer(test_webhook(webhook_id))

    def deliveries(
        self, webhook_id: str, query: DeliveryQuery | None = None, /, **filters: Unpack[DeliveryFilters]
    ) -> Page[Delivery]:
        """List what was sent to a webhook and how it went, newest event first."""
        return self._pages(list_deliveries(webhook_id, whole(DeliveryQuery, query, filters)))


class AsyncWebhooks(AsyncResource):
    """Who is told of what, by signed events."""

    async def list(self) -> WebhookList:
        """Return all webhooks of your group, oldest first."""
        return await self._answer(list_webhooks())

    async def get(self, webhook_id: str) -> Stored[Webhook]:
        """Return a webhook and its ETag."""
        return await self._stored(get_webhook(webhook_id))

    async def create(
        self, request: WebhookRequest, *, idempotency_key: str | None = None, validate_only: bool = False
    ) -> IssuedWebhook:
        """Have events sent to an address. The secret is in this answer alone; keep it."""
        return await self._answer(create_webhook(request, idempotency_key, validate_only=validate_only))

    async def update(
        self, webhook_id: str, patch: WebhookPatch, *, etag: str, validate_only: bool = False
    ) -> Stored[Webhook]:
        """Change what the patch gives."""
        return await self._stored(update_webhook(webhook_id, patch, etag, validate_only=validate_only))

    async def delete(self, webhook_id: str, *, etag: str) -> Webhook:
        """Delete a webhook and return what it was."""
        return await self._answer(delete_webhook(webhook_id, etag))

    async def rotate(self, webhook_id: str, *, overlap_hours: int = 24) -> RotatedSecret:
        """Give a webhook a new secret; the old one signs too for some hours."""
        return await self._answer(rotate_webhook(webhook_id, RotateRequest(overlap_hours=overlap_hours)))

    async def replay(
        self, webhook_id: str, *, after: Cursor | None = None, events: tuple[str, ...] | None = None
    ) -> Webhook:
        """Have events sent again: all behind a cursor, or these."""
        return await self._answer(replay_webhook(webhook_id, ReplayRequest(after=after, events=events)))

    async def test(self, webhook_id: str) -> Webhook:
        """Have a test event sent."""
        return await self._answer(test_webhook(webhook_id))

    def deliveries(
        self, webhook_id: str, query: DeliveryQuery | None = None, /, **filters: Unpack[DeliveryFilters]
    ) -> AsyncListing[Delivery]:
        """List what was sent to a webhook and how it went, newest event first."""
        return self._pages(list_deliveries(webhook_id, whole(DeliveryQuery, query, filters)))
