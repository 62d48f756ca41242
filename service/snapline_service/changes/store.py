"""All SQL of events."""

import sqlalchemy as sa
from sqlmodel import Session, col, select

from snapline.wire.changes import AuditQuery
from snapline_service.changes.tables import EventRow, LastEventRow

# What a holder of any key may follow; the rest is for administrators.
_PRIVATE = ("key.%", "webhook.%")
_NEXT = sa.text(
    "INSERT INTO last_events (group_id, number) VALUES (:group_id, 1) "
    "ON CONFLICT (group_id) DO UPDATE SET number = last_events.number + 1 RETURNING number"
)


def next_number(session: Session, group_id: str) -> int:
    """Return the number of the group's next event; others who want one wait until this one is committed."""
    return int(session.connection().execute(_NEXT, {"group_id": group_id}).scalar_one())


def last_number(session: Session, group_id: str) -> int:
    """Return the number of the group's newest event, 0 before the first."""
    row = session.get(LastEventRow, group_id)
    return row.number if row else 0


def events(session: Session, group_id: str, after: int, limit: int) -> list[EventRow]:
    """Return the group's events behind a number, oldest first."""
    query = select(EventRow).where(EventRow.group_id == group_id, EventRow.number > after)
    return list(session.exec(query.order_by(col(EventRow.number)).limit(limit)))


def feed(session: Session, group_id: str, after: int, limit: int) -> list[EventRow]:
    """Return the events behind a number that anybody in the group may see, oldest first."""
    query = select(EventRow).where(EventRow.group_id == group_id, EventRow.number > after)
    for family in _PRIVATE:
        query = query.where(col(EventRow.type).not_like(family))
    return list(session.exec(query.order_by(col(EventRow.number)).limit(limit)))


def named(session: Session, group_id: str, ids: tuple[str, ...]) -> dict[str, int]:
    """Return the numbers of the group's events that have these ids."""
    query = select(EventRow.id, EventRow.number)
    return dict(session.exec(query.where(EventRow.group_id == group_id, col(EventRow.id).in_(ids))).all())


def audit(
    session: Session, group_id: str, wanted: AuditQuery, before: int | None, limit: int
) -> list[EventRow]:
    """Return the events that pass the filters, newest first, those before a number."""
    query = select(EventRow).where(EventRow.group_id == group_id)
    if wanted.type:
        family = col(EventRow.type).startswith(wanted.type + ".", autoescape=True)
        query = query.where(sa.or_(col(EventRow.type) == wanted.type, family))
    if wanted.holder:
        named = (col(EventRow.by_id) == wanted.holder, col(EventRow.by_name) == wanted.holder)
        query = query.where(sa.or_(*named))
    if wanted.since:
        query = query.where(EventRow.at >= _beginning(wanted.since))
    if wanted.until:
        query = query.where(EventRow.at < _beginning(wanted.until))
    if before is not None:
        query = query.where(EventRow.number < before)
    return list(session.exec(query.order_by(col(EventRow.number).desc()).limit(limit)))


def _beginning(moment: str) -> str:
    """Return the text that every time from this moment on follows: "10:00Z" would come behind "10:00:05Z"."""
    return moment.removesuffix("Z")
