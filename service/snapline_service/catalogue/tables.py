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
        sa.Index("ix_entries_from", "group_id", "from_revision"),
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


class OriginRow(SQLModel, table=True):
    """How a revision came about, which never changes either.

    ``how`` is 'reviewed', 'alone' (in a group with nobody else to review it) or 'command_line' (without
    review).
    """

    __tablename__ = "revision_origins"
    __table_args__ = (
        sa.ForeignKeyConstraint(["group_id", "number"], ["revisions.group_id", "revisions.number"]),
    )

    group_id: str = Field(primary_key=True)
    number: int = Field(primary_key=True)
    how: str
    draft_id: str
    reviewed_by: str | None
    restores: int | None


class DraftRow(SQLModel, table=True):
    """Changes being prepared on top of a revision (0: on top of nothing).

    ``version`` counts everything that happens to it. ``approver`` is the holder who approved it as it is.
    """

    __tablename__ = "drafts"

    id: str = Field(primary_key=True)
    group_id: str = Field(foreign_key="groups.id", index=True)
    base_revision: int
    created_at: str
    created_by: str
    published_as: int | None
    state: str = "draft"
    note: str = ""
    version: int = 1
    updated_at: str = ""
    restores: int | None = None
    submitted_by: str | None = None
    approver: str | None = None
    approved_by: str | None = None


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
    changed_at: str = ""
    changed_by: str = ""


class EditorRow(SQLModel, table=True):
    """Somebody who changed something in a draft, and so cannot approve it."""

    __tablename__ = "draft_editors"

    draft_id: str = Field(primary_key=True, foreign_key="drafts.id")
    holder_id: str = Field(primary_key=True)
    name: str


class ConflictRow(SQLModel, table=True):
    """A place where a draft and what was published meanwhile say different things.

    ``base``, ``published`` and ``draft`` are JSON, None where there is nothing; ``taken``: what was chosen.
    """

    __tablename__ = "draft_conflicts"

    draft_id: str = Field(primary_key=True, foreign_key="drafts.id")
    number: int = Field(primary_key=True)
    kind: str
    name: str
    path: str
    base: str | None
    published: str | None
    draft: str | None
    taken: str | None


class RemarkRow(SQLModel, table=True):
    """What was said of a draft, and what became of it, in order."""

    __tablename__ = "draft_remarks"

    draft_id: str = Field(primary_key=True, foreign_key="drafts.id")
    number: int = Field(primary_key=True)
    at: str
    by: str
    act: str
    text: str


class AcknowledgementRow(SQLModel, table=True):
    """A warning of the validation report that somebody took note of, and why it may stand."""

    __tablename__ = "draft_acknowledgements"

    draft_id: str = Field(primary_key=True, foreign_key="drafts.id")
    finding: str = Field(primary_key=True)
    reason: str
    at: str
    by: str
