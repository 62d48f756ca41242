"""PostgreSQL can empty a table without touching a row; published tables refuse that too."""

from pathlib import Path

import pytest
import sqlalchemy as sa

from conftest import new_database
from running import PostgreSQL
from snapline_service import database


@pytest.mark.parametrize("table", ["documents", "entries", "revisions"])
def test_a_published_table_cannot_be_emptied(
    tmp_path: Path, postgresql: PostgreSQL | None, table: str
) -> None:
    url = new_database("postgresql", tmp_path, postgresql)
    database.migrate(url)
    engine = database.connect(url)
    with engine.connect() as connection, pytest.raises(sa.exc.IntegrityError, match="never changes"):
        connection.execute(sa.text(f"TRUNCATE {table} CASCADE"))
    engine.dispose()
    database.migrate(url, "base")
