"""Kept visits, and the assets that they are promised."""

import sqlalchemy as sa
from alembic import op

revision = "visits"
down_revision = "sites"


def upgrade() -> None:
    op.create_table(
        "visits",
        sa.Column("id", sa.String, nullable=False),
        sa.Column("group_id", sa.String, nullable=False),
        sa.Column("version", sa.Integer, nullable=False),
        sa.Column("state", sa.String, nullable=False),
        sa.Column("reference", sa.String, nullable=True),
        sa.Column("site", sa.String, nullable=False),
        sa.Column("date", sa.String, nullable=False),
        sa.Column("vehicle_id", sa.String, nullable=False),
        sa.Column("catalogue_revision", sa.Integer, nullable=False),
        sa.Column("body", sa.LargeBinary, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_visits"),
        sa.ForeignKeyConstraint(["group_id"], ["groups.id"], name="fk_visits_group_id_groups"),
    )
    op.create_index("ix_visits_day", "visits", ["group_id", "date", "id"])
    op.create_table(
        "visit_promises",
        sa.Column("group_id", sa.String, nullable=False),
        sa.Column("date", sa.String, nullable=False),
        sa.Column("asset", sa.String, nullable=False),
        sa.Column("visit_id", sa.String, nullable=False),
        sa.PrimaryKeyConstraint("group_id", "date", "asset", name="pk_visit_promises"),
        sa.ForeignKeyConstraint(["visit_id"], ["visits.id"], name="fk_visit_promises_visit_id_visits"),
    )
    op.create_index("ix_visit_promises_visit_id", "visit_promises", ["visit_id"])


def downgrade() -> None:
    op.drop_table("visit_promises")
    op.drop_table("visits")
