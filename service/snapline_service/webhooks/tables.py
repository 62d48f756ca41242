"""Tables of webhooks, of what is delivered to them, and of who delivers."""

import sqlalchemy as sa
from sqlmodel import Field, SQLModel

from snapline_service import database  # noqa: F401 - sets the naming convention before any table


class WebhookRow(SQLModel, table=True):
    """A webhook. ``body`` is the document as answers give it, ``through`` the last event made deliveries of.

    A secret is never stored: it is derived from the salt and the service's own secret.
    """

    __tablename__ = "webhooks"

    id: str = Field(primary_key=True)
    group_id: str = Field(foreign_key="groups.id", index=True)
    state: str
    url: str
    body: str
    salt: str
    previous_salt: str | None
    previous_until: str | None
    through: int


class DeliveryRow(SQLModel, table=True):
    """An event on its way to a webhook, and how the latest attempt went. ``due_at`` is null once settled."""

    __tablename__ = "deliveries"

    webhook_id: str = Field(
        sa_column=sa.Column(sa.ForeignKey("webhooks.id", ondelete="CASCADE"), primary_key=True)
    )
    number: int = Field(primary_key=True)
    state: str
    attempts: int
    due_at: str | None = Field(index=True)
    attempted_at: str | None
    response_status: int | None
    duration_ms: int | None
    said: str | None


class LeaseRow(SQLModel, table=True):
    """Who of several processes does a job that one alone must do, and until when."""

    __tablename__ = "leases"

    name: str = Field(primary_key=True)
    holder: str
    until: str
