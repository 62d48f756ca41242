"""Tables of catalogue documents, drafts and published revisions.

A document is stored once per group by the hash of its content. ``entries`` says by validity interval which
document a name has in which revision: from ``from_revision`` up to, not including, ``until_revision``.
"""

import sqlalchemy as sa
from sqlmodel import Field, SQLModel

from snapline_service import database  # noqa: F401 - sets the naming convention before any table


class DocumentRow(SQLModel, table=True):
    """A document as canonical JSON (RFC 8785) under the SHA-256 of those bytes."""

    __tablename__ = "documents"

    group_id: str = Field(primary_key=True, foreign_key="groups.id")
    hash: str = Field(primary_key=True)
    body: bytes


class EntryRow(SQLModel, table=True):
    """What a name stands for during an interval of revisions."""

    __tablename__ = "entries"
    __table_args__ = (
        sa.ForeignKeyConstraint(["group_id", "hash"], ["documents.group_id", "documents.hash"]),
        sa.Index("ix_entries_until", "group_id", "until_revision"),
    )

    group_id: str = Field(primary_key=True)
    kind: str = Field(primary_key=True)
    name: str = Field(primary_key=True)
    from_revision: int = Field(primary_key=True)
    until_revision: int | None
    hash: str


class RevisionRow(SQLModel, table=True):
    """A published revision. The newest is in force; older ones are superseded."""

    __tablename__ = "revisions"

    group_id: str = Field(primary_key=True, foreign_key="groups.id")
    number: int = Field(primary_key=True)
    manifest_hash: str
    published_at: str
    published_by: str
    note: str


class DraftRow(SQLModel, table=True):
    """Changes being prepared on top of a revision (0: on top of nothing)."""

    __tablename__ = "drafts"

    id: str = Field(primary_key=True)
    group_id: str = Field(foreign_key="groups.id", index=True)
    base_revision: int
    created_at: str
    created_by: str
    published_as: int | None


class DraftChangeRow(SQLModel, table=True):
    """One name's new document in a draft, or None where the draft retires it."""

    __tablename__ = "draft_changes"
    __table_args__ = (
        sa.ForeignKeyConstraint(["group_id", "hash"], ["documents.group_id", "documents.hash"]),
    )

    draft_id: str = Field(primary_key=True, foreign_key="drafts.id")
    kind: str = Field(primary_key=True)
    name: str = Field(primary_key=True)
    group_id: str
    hash: str | None
