"""All SQL of repeatable writes."""

import sqlalchemy as sa
from sqlmodel import Session, col

from snapline_service.idempotency.tables import RepeatableRow


def find(session: Session, group_id: str, idempotency_key: str) -> RepeatableRow | None:
    """Return what was answered under a key."""
    return session.get(RepeatableRow, (group_id, idempotency_key))


def forget_before(session: Session, created_at: str) -> None:
    """Drop answers that are older than they are kept."""
    session.exec(sa.delete(RepeatableRow).where(col(RepeatableRow.created_at) < created_at))
