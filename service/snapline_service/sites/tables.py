"""Tables of sites, bays and physical fixtures.

``body`` is the document as answers give it; the columns beside it are what is searched for. ``version``
counts its states from 1, and ``updated_by`` names the holder of the key, or who was at the command line.
"""

import sqlalchemy as sa
from sqlmodel import Field, SQLModel

from snapline_service import database  # noqa: F401 - sets the naming convention before any table


class SiteRow(SQLModel, table=True):
    """A site."""

    __tablename__ = "sites"

    group_id: str = Field(primary_key=True, foreign_key="groups.id")
    id: str = Field(primary_key=True)
    body: str
    version: int
    updated_at: str
    updated_by: str


class BayRow(SQLModel, table=True):
    """A bay of a site."""

    __tablename__ = "bays"
    __table_args__ = (sa.ForeignKeyConstraint(["group_id", "site_id"], ["sites.group_id", "sites.id"]),)

    group_id: str = Field(primary_key=True)
    site_id: str = Field(primary_key=True)
    id: str = Field(primary_key=True)
    body: str
    version: int
    updated_at: str
    updated_by: str


class AssetRow(SQLModel, table=True):
    """A physical fixture and the site where it is."""

    __tablename__ = "assets"
    __table_args__ = (
        sa.ForeignKeyConstraint(["group_id", "site_id"], ["sites.group_id", "sites.id"]),
        sa.Index("ix_assets_site", "group_id", "site_id"),
    )

    group_id: str = Field(primary_key=True)
    id: str = Field(primary_key=True)
    site_id: str
    fixture_id: str
    condition: str
    body: str
    version: int
    updated_at: str
    updated_by: str
