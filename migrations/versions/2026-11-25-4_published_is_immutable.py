"""Triggers that refuse to change what is published.

Documents are addressed by their content and never change. An entry may be written only for a revision that
is not published yet, and an interval may be closed only once, by such a revision. Revisions stay as they are.
"""

from alembic import op

revision = "immutable"
down_revision = "catalogue"

PUBLISHED = "EXISTS (SELECT 1 FROM revisions r WHERE r.group_id = {row}.group_id AND r.number >= {number})"
IN_USE = (
    "EXISTS (SELECT 1 FROM entries e WHERE e.group_id = OLD.group_id AND e.hash = OLD.hash "
    "AND EXISTS (SELECT 1 FROM revisions r WHERE r.group_id = e.group_id AND r.number >= e.from_revision))"
)
CLOSES_ONCE = (
    "OLD.until_revision IS NULL AND NEW.until_revision IS NOT NULL AND NEW.group_id = OLD.group_id "
    "AND NEW.kind = OLD.kind AND NEW.name = OLD.name AND NEW.from_revision = OLD.from_revision "
    "AND NEW.hash = OLD.hash AND NEW.until_revision > OLD.from_revision AND NOT "
    + PUBLISHED.format(row="NEW", number="NEW.until_revision")
)
NEXT_NUMBER = (
    "NEW.number = 1 + COALESCE((SELECT MAX(r.number) FROM revisions r WHERE r.group_id = NEW.group_id), 0)"
)
# Table, event, the condition under which the event is refused.
RULES = (
    ("documents", "UPDATE", "1 = 1"),
    ("documents", "DELETE", IN_USE),
    (
        "entries",
        "INSERT",
        PUBLISHED.format(row="NEW", number="NEW.from_revision") + " OR NEW.until_revision IS NOT NULL",
    ),
    ("entries", "UPDATE", f"NOT ({CLOSES_ONCE})"),
    ("entries", "DELETE", PUBLISHED.format(row="OLD", number="OLD.from_revision")),
    ("revisions", "INSERT", f"NOT ({NEXT_NUMBER})"),
    ("revisions", "UPDATE", "1 = 1"),
    ("revisions", "DELETE", "1 = 1"),
)
TABLES = ("documents", "entries", "revisions")


def upgrade() -> None:
    if op.get_bind().dialect.name == "postgresql":
        for table, event, refused in RULES:
            name = f"refuse_{event.lower()}_{table}"
            row = "OLD" if event == "DELETE" else "NEW"
            op.execute(
                f"CREATE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN IF {refused} THEN "
                f"RAISE EXCEPTION 'published content never changes ({event} on {table})' "
                f"USING ERRCODE = 'integrity_constraint_violation'; END IF; RETURN {row}; END $$"
            )
            op.execute(
                f"CREATE TRIGGER {name} BEFORE {event} ON {table} FOR EACH ROW EXECUTE FUNCTION {name}()"
            )
        op.execute(
            "CREATE FUNCTION refuse_truncate() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN "
            "RAISE EXCEPTION 'published content never changes (TRUNCATE)' "
            "USING ERRCODE = 'integrity_constraint_violation'; END $$"
        )
        for table in TABLES:
            op.execute(
                f"CREATE TRIGGER refuse_truncate_{table} BEFORE TRUNCATE ON {table} "
                "FOR EACH STATEMENT EXECUTE FUNCTION refuse_truncate()"
            )
        return
    for table, event, refused in RULES:
        op.execute(
            f"CREATE TRIGGER refuse_{event.lower()}_{table} BEFORE {event} ON {table} WHEN {refused} BEGIN "
            f"SELECT RAISE(ABORT, 'published content never changes ({event} on {table})'); END"
        )


def downgrade() -> None:
    postgresql = op.get_bind().dialect.name == "postgresql"
    if postgresql:
        for table in TABLES:
            op.execute(f"DROP TRIGGER refuse_truncate_{table} ON {table}")
        op.execute("DROP FUNCTION refuse_truncate()")
    for table, event, _ in RULES:
        name = f"refuse_{event.lower()}_{table}"
        op.execute(f"DROP TRIGGER {name}" + (f" ON {table}" if postgresql else ""))
        if postgresql:
            op.execute(f"DROP FUNCTION {name}()")
