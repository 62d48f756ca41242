"""Events as answers and webhooks give them."""

import msgspec

from snapline.wire.changes import Actor, Event
from snapline_service.changes.tables import EventRow


def event_of(row: EventRow) -> Event:
    """Return an event for the wire; the same row always gives the same bytes."""
    return Event(
        id=row.id,
        cursor=row.number,
        type=row.type,
        timestamp=row.at,
        by=Actor(holder_id=row.by_id, name=row.by_name),
        subject=row.subject,
        data=msgspec.json.decode(row.data),
    )
