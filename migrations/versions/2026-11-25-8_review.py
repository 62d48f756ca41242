"""Review of drafts: who edited, said and approved what, conflicts, and how each revision came about."""

from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "review"
down_revision = "visits"

PARTS = {
    "draft_editors": ("holder_id", sa.String, ["name"], []),
    "draft_conflicts": (
        "number",
        sa.Integer,
        ["kind", "name", "path"],
        ["base", "published", "draft", "taken"],
    ),
    "draft_remarks": ("number", sa.Integer, ["at", "by", "act", "text"], []),
    "draft_acknowledgements": ("finding", sa.String, ["reason", "at", "by"], []),
}
NEVER = "published content never changes"


def upgrade() -> None:
    op.create_index("ix_entries_from", "entries", ["group_id", "from_revision"])
    for column in _of_drafts():
        op.add_column("drafts", column)
    for column in _of_changes():
        op.add_column("draft_changes", column)
    op.execute("UPDATE drafts SET state = 'published' WHERE published_as IS NOT NULL")
    op.execute("UPDATE drafts SET updated_at = created_at")
    for table, (key, kind, needed, optional) in PARTS.items():
        op.create_table(
            table,
            sa.Column("draft_id", sa.String, nullable=False),
            sa.Column(key, kind, nullable=False),
            *(sa.Column(name, sa.String, nullable=False) for name in needed),
            *(sa.Column(name, sa.String) for name in optional),
            sa.PrimaryKeyConstraint("draft_id", key, name=f"pk_{table}"),
            sa.ForeignKeyConstraint(["draft_id"], ["drafts.id"], name=f"fk_{table}_draft_id_drafts"),
        )
    op.create_table(
        "revision_origins",
        sa.Column("group_id", sa.String, nullable=False),
        sa.Column("number", sa.Integer, nullable=False),
        sa.Column("how", sa.String, nullable=False),
        sa.Column("draft_id", sa.String, nullable=False),
        sa.Column("reviewed_by", sa.String),
        sa.Column("restores", sa.Integer),
        sa.PrimaryKeyConstraint("group_id", "number", name="pk_revision_origins"),
        sa.ForeignKeyConstraint(
            ["group_id", "number"],
            ["revisions.group_id", "revisions.number"],
            name="fk_revision_origins_group_id_revisions",
        ),
    )
    _guard()


def _of_drafts() -> list[sa.Column[Any]]:
    return [
        sa.Column("state", sa.String, nullable=False, server_default="draft"),
        sa.Column("note", sa.String, nullable=False, server_default=""),
        sa.Column("version", sa.Integer, nullable=False, server_default="1"),
        sa.Column("updated_at", sa.String, nullable=False, server_default=""),
        sa.Column("restores", sa.Integer),
        *(sa.Column(name, sa.String) for name in ("submitted_by", "approver", "approved_by")),
    ]


def _of_changes() -> list[sa.Column[Any]]:
    return [
        sa.Column(name, sa.String, nullable=False, server_default="") for name in ("changed_at", "changed_by")
    ]


def _guard() -> None:
    """Refuse to change how a revision came about."""
    if op.get_bind().dialect.name == "postgresql":
        op.execute(
            "CREATE FUNCTION refuse_change_revision_origins() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN "
            f"RAISE EXCEPTION '{NEVER} (revision_origins)' "
            "USING ERRCODE = 'integrity_constraint_violation'; END $$"
        )
        for event, each in (("UPDATE", "ROW"), ("DELETE", "ROW"), ("TRUNCATE", "STATEMENT")):
            op.execute(
                f"CREATE TRIGGER refuse_{event.lower()}_revision_origins BEFORE {event} ON revision_origins "
                f"FOR EACH {each} EXECUTE FUNCTION refuse_change_revision_origins()"
            )
        return
    for event in ("UPDATE", "DELETE"):
        op.execute(
            f"CREATE TRIGGER refuse_{event.lower()}_revision_origins BEFORE {event} ON revision_origins "
            f"BEGIN SELECT RAISE(ABORT, '{NEVER} ({event} on revision_origins)'); END"
        )


def downgrade() -> None:
    postgresql = op.get_bind().dialect.name == "postgresql"
    op.drop_table("revision_origins")
    if postgresql:
        op.execute("DROP FUNCTION refuse_change_revision_origins()")
    for table in PARTS:
        op.drop_table(table)
    for column in _of_changes():
        op.drop_column("draft_changes", column.name)
    for column in _of_drafts():
        op.drop_column("drafts", column.name)
    op.drop_index("ix_entries_from", "entries")
