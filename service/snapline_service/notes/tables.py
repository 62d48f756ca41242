"""Table of local notes."""

import sqlalchemy as sa
from sqlmodel import Field, SQLModel

from snapline_service import database  # noqa: F401 - sets the naming convention before any table


class NoteRow(SQLModel, table=True):
    """A note as answers give it, and beside it what it is searched for by."""

    __tablename__ = "notes"
    __table_args__ = (sa.Index("ix_notes_vehicle", "group_id", "vehicle_id", "id"),)

    group_id: str = Field(primary_key=True, foreign_key="groups.id")
    id: str = Field(primary_key=True)
    vehicle_id: str
    procedure_id: str | None
    site_id: str | None
    body: str
