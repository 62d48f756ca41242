"""Record an event in the transaction of what it tells of."""

from collections.abc import Mapping
from typing import Any

import msgspec
import sqlalchemy as sa
from sqlalchemy.orm import SessionTransaction
from sqlmodel import Session

from snapline_service.access.people import Person
from snapline_service.changes import store
from snapline_service.changes.tables import EventRow
from snapline_service.database import new_id, now

_PENDING = "snapline_events"


def record(
    session: Session,
    *,
    group_id: str,
    by: Person,
    type: str,  # noqa: A002 - what the wire calls it
    subject: str,
    data: Mapping[str, Any],
) -> None:
    """Have an event written when the transaction commits, and not at all if it does not.

    ``subject`` is the address of what it is about. ``data`` must hold no free text, VIN or secret. What one
    transaction tells twice is one event. The number is given at the very end, under a lock that is held until
    the commit: so numbers appear in their order, which a cursor relies on, and nobody waits for another lock
    while holding this one.
    """
    if _PENDING not in session.info:
        session.info[_PENDING] = {}
        sa.event.listen(session, "before_commit", _write)
        sa.event.listen(session, "after_soft_rollback", _forget)
    text = msgspec.json.encode(data).decode()
    event = EventRow(
        group_id=group_id,
        number=0,
        id=new_id("evt"),
        at=now(),
        by_id=by.holder_id,
        by_name=by.name,
        type=type,
        subject=subject,
        data=text,
    )
    session.info[_PENDING].setdefault((group_id, by.holder_id, type, subject, text), event)


def _write(session: Session) -> None:
    """Give the events of a transaction their numbers, group by group in one order for all, and write them."""
    if session.in_nested_transaction():
        return
    session.flush()
    pending: list[EventRow] = list(session.info[_PENDING].values())
    for event in sorted(pending, key=lambda one: one.group_id):
        event.number = store.next_number(session, event.group_id)
        session.add(event)
    session.flush()
    session.info[_PENDING].clear()


def _forget(session: Session, undone: SessionTransaction) -> None:
    if not undone.nested:
        session.info[_PENDING].clear()
