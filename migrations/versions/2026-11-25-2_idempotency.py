"""Answers of writes that may be sent again."""

import sqlalchemy as sa
from alembic import op

revision = "idempotency"
down_revision = "access"


def upgrade() -> None:
    op.create_table(
        "idempotent_requests",
        sa.Column("group_id", sa.String, nullable=False),
        sa.Column("idempotency_key", sa.String, nullable=False),
        sa.Column("fingerprint", sa.String, nullable=False),
        sa.Column("status", sa.Integer, nullable=False),
        sa.Column("body", sa.LargeBinary, nullable=False),
        sa.Column("created_at", sa.String, nullable=False),
        sa.PrimaryKeyConstraint("group_id", "idempotency_key", name="pk_idempotent_requests"),
        sa.ForeignKeyConstraint(["group_id"], ["groups.id"], name="fk_idempotent_requests_group_id_groups"),
    )
    op.create_index("ix_idempotent_requests_created_at", "idempotent_requests", ["created_at"])


def downgrade() -> None:
    op.drop_table("idempotent_requests")
