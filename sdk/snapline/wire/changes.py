"""What happened in a group: the change feed, the audit, and what a webhook carries."""

from typing import Annotated, Any

from msgspec import Meta

from snapline.wire.common import Wire
from snapline.wire.vehicles import PageSize, PageToken

EVENT_TYPES = (
    "catalogue.published",
    "draft.created",
    "draft.changed",
    "draft.submitted",
    "draft.approved",
    "draft.sent_back",
    "draft.dropped",
    "site.changed",
    "bay.changed",
    "asset.changed",
    "visit.kept",
    "visit.changed",
    "visit.cancelled",
    "note.created",
    "note.changed",
    "note.deleted",
    "key.issued",
    "key.revoked",
    "webhook.created",
    "webhook.changed",
    "webhook.deleted",
    "webhook.rotated",
    "webhook.replayed",
    "webhook.tested",
    "webhook.disabled",
)
EventType = Annotated[
    str, Meta(pattern=r"^[a-z_]+\.[a-z_]+$", extra_json_schema={"x-extensible-enum": list(EVENT_TYPES)})
]
EVENT_FILTERS = (*EVENT_TYPES, *dict.fromkeys(name.partition(".")[0] for name in EVENT_TYPES))
EventFilter = Annotated[
    str,
    Meta(
        description="A type of event, or what stands before its dot for all of those.",
        pattern=r"^[a-z_]+(\.[a-z_]+)?$",
        max_length=40,
        extra_json_schema={"x-extensible-enum": list(EVENT_FILTERS)},
    ),
]
Cursor = Annotated[int, Meta(ge=0, le=2**31 - 1)]
Moment = Annotated[
    str,
    Meta(
        description="RFC 3339 in UTC, or the beginning of it: a day, say.",
        pattern=r"^\d{4}-\d{2}-\d{2}(T\d{2}:\d{2}(:\d{2}(\.\d{1,6})?)?Z?)?$",
    ),
]


class Actor(Wire, frozen=True, kw_only=True):
    """Who did it: the holder of a key, or somebody at the service's command line."""

    holder_id: str
    name: str


class Event(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """Something that happened. ``cursor`` grows by one with each event of the group.

    ``subject`` is the address of what it is about. ``data`` has names and numbers alone: no VIN, no secret
    and nothing that people wrote.
    """

    id: str
    cursor: int
    type: EventType
    timestamp: str
    by: Actor
    subject: str
    data: dict[str, Any]


class ChangeQuery(Wire, frozen=True, kw_only=True):
    """Where to go on: behind which cursor, and with how many events at most."""

    after: Cursor = 0
    limit: Annotated[int, Meta(ge=1, le=500)] = 100


class ChangePage(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """Events of the feed, oldest first. Go on from ``next_cursor``, whether there were any or not.

    ``newest_cursor`` is that of the group's newest event: whoever wants what is still to come begins there.
    """

    items: tuple[Event, ...]
    next_cursor: int
    newest_cursor: int


class AuditQuery(Wire, frozen=True, kw_only=True):
    """Filters of the audit. ``holder`` is a holder's id or name; ``until`` itself is left out."""

    type: EventFilter | None = None
    holder: Annotated[str, Meta(min_length=1, max_length=200)] | None = None
    since: Moment | None = None
    until: Moment | None = None
    page_size: PageSize = 50
    page_token: PageToken | None = None


class AuditPage(Wire, frozen=True, kw_only=True):
    """One page of the audit, newest first."""

    items: tuple[Event, ...]
    next_page_token: str | None = None
