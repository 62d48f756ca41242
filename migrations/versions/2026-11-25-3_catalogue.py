"""Documents, drafts and revisions of the catalogue."""

import sqlalchemy as sa
from alembic import op

revision = "catalogue"
down_revision = "idempotency"


def upgrade() -> None:
    op.create_table(
        "documents",
        sa.Column("group_id", sa.String, nullable=False),
        sa.Column("hash", sa.String, nullable=False),
        sa.Column("body", sa.LargeBinary, nullable=False),
        sa.PrimaryKeyConstraint("group_id", "hash", name="pk_documents"),
        sa.ForeignKeyConstraint(["group_id"], ["groups.id"], name="fk_documents_group_id_groups"),
    )
    op.create_table(
        "revisions",
        sa.Column("group_id", sa.String, nullable=False),
        sa.Column("number", sa.Integer, nullable=False),
        sa.Column("manifest_hash", sa.String, nullable=False),
        sa.Column("published_at", sa.String, nullable=False),
        sa.Column("published_by", sa.String, nullable=False),
        sa.Column("note", sa.String, nullable=False),
        sa.PrimaryKeyConstraint("group_id", "number", name="pk_revisions"),
        sa.ForeignKeyConstraint(["group_id"], ["groups.id"], name="fk_revisions_group_id_groups"),
    )
    op.create_table(
        "entries",
        sa.Column("group_id", sa.String, nullable=False),
        sa.Column("kind", sa.String, nullable=False),
        sa.Column("name", sa.String, nullable=False),
        sa.Column("from_revision", sa.Integer, nullable=False),
        sa.Column("until_revision", sa.Integer),
        sa.Column("hash", sa.String, nullable=False),
        sa.PrimaryKeyConstraint("group_id", "kind", "name", "from_revision", name="pk_entries"),
        sa.ForeignKeyConstraint(
            ["group_id", "hash"],
            ["documents.group_id", "documents.hash"],
            name="fk_entries_group_id_documents",
        ),
    )
    op.create_index("ix_entries_until", "entries", ["group_id", "until_revision"])
    op.create_table(
        "drafts",
        sa.Column("id", sa.String, nullable=False),
        sa.Column("group_id", sa.String, nullable=False),
        sa.Column("base_revision", sa.Integer, nullable=False),
        sa.Column("created_at", sa.String, nullable=False),
        sa.Column("created_by", sa.String, nullable=False),
        sa.Column("published_as", sa.Integer),
        sa.PrimaryKeyConstraint("id", name="pk_drafts"),
        sa.ForeignKeyConstraint(["group_id"], ["groups.id"], name="fk_drafts_group_id_groups"),
    )
    op.create_index("ix_drafts_group_id", "drafts", ["group_id"])
    op.create_table(
        "draft_changes",
        sa.Column("draft_id", sa.String, nullable=False),
        sa.Column("kind", sa.String, nullable=False),
        sa.Column("name", sa.String, nullable=False),
        sa.Column("group_id", sa.String, nullable=False),
        sa.Column("hash", sa.String),
        sa.PrimaryKeyConstraint("draft_id", "kind", "name", name="pk_draft_changes"),
        sa.ForeignKeyConstraint(["draft_id"], ["drafts.id"], name="fk_draft_changes_draft_id_drafts"),
        sa.ForeignKeyConstraint(
            ["group_id", "hash"],
            ["documents.group_id", "documents.hash"],
            name="fk_draft_changes_group_id_documents",
        ),
    )


def downgrade() -> None:
    for table in ("draft_changes", "drafts", "entries", "revisions", "documents"):
        op.drop_table(table)
