"""Webhooks: who is told of what, and how each delivery went. They follow Standard Webhooks 1.0."""

from typing import Annotated

from msgspec import UNSET, Meta, UnsetType

from snapline.wire.changes import Cursor, EventFilter, EventType
from snapline.wire.common import Label, Wire
from snapline.wire.vehicles import PageSize, PageToken

STATES = ("active", "paused", "disabled")
DELIVERY_STATES = ("pending", "delivered", "failed")

Url = Annotated[
    str,
    Meta(
        description="https, without a user's name or password in it.",
        pattern=r"^https?://[^\s@#]+$",
        max_length=2000,
        extra_json_schema={"format": "uri"},
    ),
]
Types = Annotated[
    tuple[EventFilter, ...],
    Meta(description="Which events. None: all that the change feed has.", max_length=40),
]
_WORD = r"^[a-z_]+$"
WebhookState = Annotated[str, Meta(pattern=_WORD, extra_json_schema={"x-extensible-enum": list(STATES)})]
DeliveryState = Annotated[
    str, Meta(pattern=_WORD, extra_json_schema={"x-extensible-enum": list(DELIVERY_STATES)})
]


class WebhookRequest(Wire, frozen=True, kw_only=True):
    """Where events are to be sent, and which."""

    url: Url
    types: Types = ()
    description: Label | None = None


class WebhookPatch(Wire, frozen=True, kw_only=True):
    """What changes in a webhook (RFC 7396). ``state`` is set to ``active`` or ``paused``."""

    url: Url | UnsetType = UNSET
    types: Types | UnsetType = UNSET
    description: Label | UnsetType | None = UNSET
    state: WebhookState | UnsetType = UNSET


class Webhook(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """A webhook. What happens while it is paused or disabled is sent as soon as it is active again.

    ``disabled_because`` says why the service has disabled it.
    """

    id: str
    url: Url
    types: Types
    description: Label | None
    state: WebhookState
    disabled_because: str | None
    created_at: str
    updated_at: str


class WebhookList(Wire, frozen=True, kw_only=True):
    """All webhooks of the group, oldest first."""

    items: tuple[Webhook, ...]


class IssuedWebhook(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """A new webhook. ``secret`` is shown this once: it is null when an earlier answer is repeated.

    With ``validate_only`` nothing is made, and both parts are null.
    """

    webhook: Webhook | None
    secret: str | None


class RotateRequest(Wire, frozen=True, kw_only=True):
    """For how long deliveries are signed with the old secret too."""

    overlap_hours: Annotated[int, Meta(ge=0, le=168)] = 24


class RotatedSecret(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """The new secret, shown this once, and until when the old one signs beside it."""

    secret: str | None
    previous_until: str | None


class ReplayRequest(Wire, frozen=True, kw_only=True):
    """What is sent again: all that the webhook is for behind a cursor, or these events. One of the two."""

    after: Cursor | None = None
    events: (
        Annotated[tuple[Annotated[str, Meta(max_length=80)], ...], Meta(min_length=1, max_length=100)] | None
    ) = None


class DeliveryQuery(Wire, frozen=True, kw_only=True):
    """Filters of the list of deliveries."""

    state: DeliveryState | None = None
    page_size: PageSize = 50
    page_token: PageToken | None = None


class Delivery(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """An event on its way to a webhook, and how the latest attempt went.

    ``said`` is the beginning of the answer, or why there was none.
    """

    event_id: str
    event_type: EventType
    cursor: int
    state: DeliveryState
    attempts: int
    next_attempt_at: str | None
    attempted_at: str | None
    response_status: int | None
    duration_ms: int | None
    said: str | None


class DeliveryPage(Wire, frozen=True, kw_only=True):
    """One page of deliveries, newest event first."""

    items: tuple[Delivery, ...]
    next_page_token: str | None = None
