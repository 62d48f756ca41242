"""All SQL of webhooks and their deliveries."""

from collections.abc import Collection, Iterable

import sqlalchemy as sa
from sqlmodel import Session, col, select

from snapline.wire.webhooks import DeliveryQuery
from snapline_service.changes.tables import EventRow, LastEventRow
from snapline_service.webhooks.tables import DeliveryRow, LeaseRow, WebhookRow

_LEASE = "webhooks"
_ADD = sa.text(
    "INSERT INTO deliveries (webhook_id, number, state, attempts, due_at) "
    "VALUES (:webhook_id, :number, 'pending', 0, :now) "
    "ON CONFLICT (webhook_id, number) DO UPDATE SET state = 'pending', attempts = 0, due_at = excluded.due_at"
)
_TAKE = sa.text(
    "INSERT INTO leases (name, holder, until) VALUES (:name, :holder, :until) "
    "ON CONFLICT (name) DO UPDATE SET holder = excluded.holder, until = excluded.until "
    "WHERE leases.holder = excluded.holder OR leases.until < :now"
)


def webhook(
    session: Session, group_id: str, webhook_id: str, *, to_change: bool = False
) -> WebhookRow | None:
    """Return a webhook of the group. ``to_change`` makes others who want to change it wait."""
    query = select(WebhookRow).where(WebhookRow.id == webhook_id, WebhookRow.group_id == group_id)
    return session.exec(query.with_for_update() if to_change else query).first()


def webhooks(session: Session, group_id: str) -> list[WebhookRow]:
    """Return the group's webhooks, oldest first."""
    query = select(WebhookRow).where(WebhookRow.group_id == group_id)
    return list(session.exec(query.order_by(col(WebhookRow.id))))


def deliveries(
    session: Session, row: WebhookRow, wanted: DeliveryQuery, before: int | None, limit: int
) -> list[tuple[DeliveryRow, EventRow]]:
    """Return a webhook's deliveries with their events, newest event first, those before a number."""
    query = (
        select(DeliveryRow, EventRow)
        .join(EventRow, col(EventRow.number) == col(DeliveryRow.number))
        .where(DeliveryRow.webhook_id == row.id, EventRow.group_id == row.group_id)
    )
    if wanted.state:
        query = query.where(DeliveryRow.state == wanted.state)
    if before is not None:
        query = query.where(DeliveryRow.number < before)
    return list(session.exec(query.order_by(col(DeliveryRow.number).desc()).limit(limit)))


def add_deliveries(session: Session, webhook_id: str, numbers: Iterable[int], now: str) -> None:
    """Have events delivered to a webhook, again if they were before."""
    values = [{"webhook_id": webhook_id, "number": number, "now": now} for number in numbers]
    if values:
        session.connection().execute(_ADD, values)


def _behind() -> list[sa.ColumnElement[bool]]:
    """Return what holds of webhooks that have not been given all of their group's events."""
    return [
        col(WebhookRow.state) == "active",
        col(LastEventRow.group_id) == col(WebhookRow.group_id),
        col(LastEventRow.number) > col(WebhookRow.through),
    ]


def _due(now: str | sa.BindParameter[str]) -> list[sa.ColumnElement[bool]]:
    return [
        col(WebhookRow.id) == col(DeliveryRow.webhook_id),
        col(WebhookRow.state) == "active",
        col(DeliveryRow.due_at) <= now,
    ]


_WAITS = sa.select(sa.or_(sa.exists().where(*_behind()), sa.exists().where(*_due(sa.bindparam("now")))))


def work_waits(session: Session, now: str) -> bool:
    """Whether there is anything to deliver; cheap, for it is asked every second."""
    return bool(session.connection().execute(_WAITS, {"now": now}).scalar())


def webhooks_behind(session: Session) -> list[WebhookRow]:
    """Return webhooks that have not been given all of their group's events, held until the commit."""
    query = select(WebhookRow).where(sa.exists().where(*_behind()).correlate(WebhookRow))
    return list(session.exec(query.order_by(col(WebhookRow.id)).with_for_update(skip_locked=True)))


def webhooks_with_work(session: Session, now: str, but: Collection[str], limit: int) -> list[str]:
    """Return active webhooks that have something due, but those that are busy."""
    query = select(WebhookRow.id).where(sa.exists().where(*_due(now)).correlate(WebhookRow))
    return list(session.exec(query.where(col(WebhookRow.id).not_in(list(but))).limit(limit)))


def next_due(session: Session, webhook_id: str, now: str) -> tuple[WebhookRow, DeliveryRow, EventRow] | None:
    """Return the oldest event that is due at an active webhook."""
    query = (
        select(WebhookRow, DeliveryRow, EventRow)
        .where(WebhookRow.id == webhook_id, *_due(now))
        .where(
            col(EventRow.group_id) == col(WebhookRow.group_id),
            col(EventRow.number) == col(DeliveryRow.number),
        )
        .order_by(col(DeliveryRow.number))
    )
    return session.exec(query.limit(1)).first()


def settle(session: Session, webhook_id: str, number: int, attempts: int, values: dict[str, object]) -> None:
    """Write how an attempt went, unless the delivery was settled or begun anew meanwhile."""
    session.exec(
        sa.update(DeliveryRow)
        .where(
            col(DeliveryRow.webhook_id) == webhook_id,
            col(DeliveryRow.number) == number,
            col(DeliveryRow.attempts) == attempts,
            col(DeliveryRow.state) == "pending",
        )
        .values(**values)
    )


def forget_settled(session: Session, before: str) -> None:
    """Drop the log of deliveries that were settled before a time; the events themselves stay."""
    session.exec(
        sa.delete(DeliveryRow).where(
            col(DeliveryRow.due_at).is_(None), col(DeliveryRow.attempted_at) < before
        )
    )


def take_lease(session: Session, holder: str, *, now: str, until: str) -> bool:
    """Become or stay the one who delivers. False if another one is."""
    values = {"name": _LEASE, "holder": holder, "now": now, "until": until}
    return bool(session.connection().execute(_TAKE, values).rowcount)


def leave_lease(session: Session, holder: str) -> None:
    """Let another one deliver at once."""
    session.exec(sa.delete(LeaseRow).where(col(LeaseRow.holder) == holder))
