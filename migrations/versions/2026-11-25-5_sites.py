"""Sites, bays and physical fixtures."""

import sqlalchemy as sa
from alembic import op

revision = "sites"
down_revision = "immutable"


def upgrade() -> None:
    op.create_table(
        "sites",
        sa.Column("group_id", sa.String, nullable=False),
        sa.Column("id", sa.String, nullable=False),
        *_state(),
        sa.PrimaryKeyConstraint("group_id", "id", name="pk_sites"),
        sa.ForeignKeyConstraint(["group_id"], ["groups.id"], name="fk_sites_group_id_groups"),
    )
    op.create_table(
        "bays",
        sa.Column("group_id", sa.String, nullable=False),
        sa.Column("site_id", sa.String, nullable=False),
        sa.Column("id", sa.String, nullable=False),
        *_state(),
        sa.PrimaryKeyConstraint("group_id", "site_id", "id", name="pk_bays"),
        _of_a_site("bays"),
    )
    op.create_table(
        "assets",
        sa.Column("group_id", sa.String, nullable=False),
        sa.Column("id", sa.String, nullable=False),
        sa.Column("site_id", sa.String, nullable=False),
        sa.Column("fixture_id", sa.String, nullable=False),
        sa.Column("condition", sa.String, nullable=False),
        *_state(),
        sa.PrimaryKeyConstraint("group_id", "id", name="pk_assets"),
        _of_a_site("assets"),
    )
    op.create_index("ix_assets_site", "assets", ["group_id", "site_id"])


def _state() -> list[sa.Column[object]]:
    return [
        sa.Column("body", sa.String, nullable=False),
        sa.Column("version", sa.Integer, nullable=False),
        sa.Column("updated_at", sa.String, nullable=False),
        sa.Column("updated_by", sa.String, nullable=False),
    ]


def _of_a_site(table: str) -> sa.ForeignKeyConstraint:
    columns, name = ["group_id", "site_id"], f"fk_{table}_group_id_sites"
    return sa.ForeignKeyConstraint(columns, ["sites.group_id", "sites.id"], name=name)


def downgrade() -> None:
    for table in ("assets", "bays", "sites"):
        op.drop_table(table)
