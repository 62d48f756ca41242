"""Groups, holders and keys."""

import sqlalchemy as sa
from alembic import op

revision = "access"
down_revision = None


def upgrade() -> None:
    op.create_table(
        "groups",
        sa.Column("id", sa.String, nullable=False),
        sa.Column("name", sa.String, nullable=False),
        sa.Column("title", sa.String, nullable=False),
        sa.Column("created_at", sa.String, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_groups"),
        sa.UniqueConstraint("name", name="uq_groups_name"),
    )
    op.create_table(
        "holders",
        sa.Column("id", sa.String, nullable=False),
        sa.Column("group_id", sa.String, nullable=False),
        sa.Column("name", sa.String, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_holders"),
        sa.ForeignKeyConstraint(["group_id"], ["groups.id"], name="fk_holders_group_id_groups"),
        sa.UniqueConstraint("group_id", "name", name="uq_holders_group_id"),
    )
    op.create_table(
        "api_keys",
        sa.Column("id", sa.String, nullable=False),
        sa.Column("holder_id", sa.String, nullable=False),
        sa.Column("digest", sa.LargeBinary, nullable=False),
        sa.Column("scopes", sa.String, nullable=False),
        sa.Column("created_at", sa.String, nullable=False),
        sa.Column("expires_at", sa.String),
        sa.Column("revoked_at", sa.String),
        sa.PrimaryKeyConstraint("id", name="pk_api_keys"),
        sa.ForeignKeyConstraint(["holder_id"], ["holders.id"], name="fk_api_keys_holder_id_holders"),
        sa.UniqueConstraint("digest", name="uq_api_keys_digest"),
    )
    op.create_index("ix_api_keys_holder_id", "api_keys", ["holder_id"])


def downgrade() -> None:
    op.drop_table("api_keys")
    op.drop_table("holders")
    op.drop_table("groups")
