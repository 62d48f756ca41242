"""Local notes on vehicles and procedures."""

import sqlalchemy as sa
from alembic import op

revision = "notes"
down_revision = "review"


def upgrade() -> None:
    op.create_table(
        "notes",
        sa.Column("group_id", sa.String, nullable=False),
        sa.Column("id", sa.String, nullable=False),
        sa.Column("vehicle_id", sa.String, nullable=False),
        sa.Column("procedure_id", sa.String),
        sa.Column("site_id", sa.String),
        sa.Column("body", sa.String, nullable=False),
        sa.PrimaryKeyConstraint("group_id", "id", name="pk_notes"),
        sa.ForeignKeyConstraint(["group_id"], ["groups.id"], name="fk_notes_group_id_groups"),
    )
    op.create_index("ix_notes_vehicle", "notes", ["group_id", "vehicle_id", "id"])


def downgrade() -> None:
    op.drop_table("notes")
