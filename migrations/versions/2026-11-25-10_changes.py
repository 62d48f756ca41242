"""Events that never change, webhooks, and what was delivered to them."""

import sqlalchemy as sa
from alembic import op

revision = "changes"
down_revision = "notes"

NEVER = "events never change"


def upgrade() -> None:
    op.create_table(
        "events",
        sa.Column("group_id", sa.String, nullable=False),
        sa.Column("number", sa.Integer, nullable=False),
        *(
            sa.Column(name, sa.String, nullable=False)
            for name in ("id", "at", "by_id", "by_name", "type", "subject", "data")
        ),
        sa.PrimaryKeyConstraint("group_id", "number", name="pk_events"),
        sa.UniqueConstraint("id", name="uq_events_id"),
    )
    op.create_table(
        "last_events",
        sa.Column("group_id", sa.String, nullable=False),
        sa.Column("number", sa.Integer, nullable=False),
        sa.PrimaryKeyConstraint("group_id", name="pk_last_events"),
    )
    op.create_table(
        "webhooks",
        sa.Column("id", sa.String, nullable=False),
        sa.Column("group_id", sa.String, nullable=False),
        sa.Column("state", sa.String, nullable=False),
        sa.Column("url", sa.String, nullable=False),
        sa.Column("body", sa.String, nullable=False),
        sa.Column("salt", sa.String, nullable=False),
        sa.Column("previous_salt", sa.String),
        sa.Column("previous_until", sa.String),
        sa.Column("through", sa.Integer, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_webhooks"),
        sa.ForeignKeyConstraint(["group_id"], ["groups.id"], name="fk_webhooks_group_id_groups"),
    )
    op.create_index("ix_webhooks_group_id", "webhooks", ["group_id"])
    op.create_table(
        "deliveries",
        sa.Column("webhook_id", sa.String, nullable=False),
        sa.Column("number", sa.Integer, nullable=False),
        sa.Column("state", sa.String, nullable=False),
        sa.Column("attempts", sa.Integer, nullable=False),
        sa.Column("due_at", sa.String),
        sa.Column("attempted_at", sa.String),
        sa.Column("response_status", sa.Integer),
        sa.Column("duration_ms", sa.Integer),
        sa.Column("said", sa.String),
        sa.PrimaryKeyConstraint("webhook_id", "number", name="pk_deliveries"),
        sa.ForeignKeyConstraint(
            ["webhook_id"], ["webhooks.id"], name="fk_deliveries_webhook_id_webhooks", ondelete="CASCADE"
        ),
    )
    op.create_index("ix_deliveries_due_at", "deliveries", ["due_at"])
    op.create_table(
        "leases",
        sa.Column("name", sa.String, nullable=False),
        sa.Column("holder", sa.String, nullable=False),
        sa.Column("until", sa.String, nullable=False),
        sa.PrimaryKeyConstraint("name", name="pk_leases"),
    )
    _guard()


def _guard() -> None:
    if op.get_bind().dialect.name == "postgresql":
        op.execute(
            "CREATE FUNCTION refuse_change_events() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN "
            f"RAISE EXCEPTION '{NEVER}' USING ERRCODE = 'integrity_constraint_violation'; END $$"
        )
        for event, each in (("UPDATE", "ROW"), ("DELETE", "ROW"), ("TRUNCATE", "STATEMENT")):
            op.execute(
                f"CREATE TRIGGER refuse_{event.lower()}_events BEFORE {event} ON events "
                f"FOR EACH {each} EXECUTE FUNCTION refuse_change_events()"
            )
        return
    for event in ("UPDATE", "DELETE"):
        op.execute(
            f"CREATE TRIGGER refuse_{event.lower()}_events BEFORE {event} ON events "
            f"BEGIN SELECT RAISE(ABORT, '{NEVER}'); END"
        )


def downgrade() -> None:
    for table in ("leases", "deliveries", "webhooks", "last_events", "events"):
        op.drop_table(table)
    if op.get_bind().dialect.name == "postgresql":
        op.execute("DROP FUNCTION refuse_change_events()")
