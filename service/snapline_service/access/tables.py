"""Tables of groups, holders and keys."""

import sqlalchemy as sa
from sqlmodel import Field, SQLModel

from snapline_service import database  # noqa: F401 - sets the naming convention before any table


class GroupRow(SQLModel, table=True):
    """A tenant. ``name`` is its handle at the command line."""

    __tablename__ = "groups"

    id: str = Field(primary_key=True)
    name: str = Field(unique=True)
    title: str
    created_at: str


class HolderRow(SQLModel, table=True):
    """A person or program that keys are issued to; stays the same over all of its keys."""

    __tablename__ = "holders"
    __table_args__ = (sa.UniqueConstraint("group_id", "name"),)

    id: str = Field(primary_key=True)
    group_id: str = Field(foreign_key="groups.id")
    name: str


class KeyRow(SQLModel, table=True):
    """An API key: only a keyed hash of it is stored. ``scopes`` are words separated by blanks."""

    __tablename__ = "api_keys"

    id: str = Field(primary_key=True)
    holder_id: str = Field(foreign_key="holders.id", index=True)
    digest: bytes = Field(unique=True)
    scopes: str
    created_at: str
    expires_at: str | None
    revoked_at: str | None
