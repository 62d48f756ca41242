"""Run the schema migrations, from the service or from the alembic command."""

import os

from alembic import context
from sqlmodel import SQLModel

import snapline_service.access.tables
import snapline_service.catalogue.tables
import snapline_service.changes.tables
import snapline_service.idempotency.tables
import snapline_service.notes.tables
import snapline_service.sites.tables
import snapline_service.visits.tables
import snapline_service.webhooks.tables  # noqa: F401 - registers the tables
from snapline_service import database

engine = context.config.attributes.get("connection")
if engine is None:
    engine = database.connect(os.environ.get("SNAPLINE_DATABASE", "sqlite:///snapline.db"))

with engine.connect().execution_options(snapline_writes=True) as connection:
    context.configure(
        connection=connection,
        target_metadata=SQLModel.metadata,
        render_as_batch=True,
        compare_type=True,
        transaction_per_migration=True,
    )
    with context.begin_transaction():
        context.run_migrations()
