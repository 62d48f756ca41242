"""Tables of kept visits and the assets that they promise."""

import sqlalchemy as sa
from sqlmodel import Field, SQLModel

from snapline_service import database  # noqa: F401 - sets the naming convention before any table


class VisitRow(SQLModel, table=True):
    """A kept visit. ``body`` is the document as answers give it, the columns what is searched for."""

    __tablename__ = "visits"
    __table_args__ = (sa.Index("ix_visits_day", "group_id", "date", "id"),)

    id: str = Field(primary_key=True)
    group_id: str = Field(foreign_key="groups.id")
    version: int
    state: str
    reference: str | None
    site: str
    date: str
    vehicle_id: str
    catalogue_revision: int
    body: bytes


class PromiseRow(SQLModel, table=True):
    """An asset that a visit has on one of the days that it takes; no other visit has it then."""

    __tablename__ = "visit_promises"

    group_id: str = Field(primary_key=True)
    date: str = Field(primary_key=True)
    asset: str = Field(primary_key=True)
    visit_id: str = Field(foreign_key="visits.id", index=True)
