"""Sites go with their tables and with nothing else, and come back empty, on both engines."""

from pathlib import Path

import pytest
import sqlalchemy as sa

from conftest import settings_in
from service.catalogue.demo import FOLDER
from service.shop import rows
from snapline_service import database
from snapline_service.access import keys
from snapline_service.sites.importing import import_files

TABLES = {"sites", "bays", "assets"}


def test_the_step_down_takes_the_sites_alone_and_the_step_up_brings_the_tables_back(
    empty_database: str, tmp_path: Path
) -> None:
    settings = settings_in(tmp_path, empty_database)
    database.migrate(empty_database)
    engine = database.connect(empty_database)
    keys.add_group(engine, "north", "North")
    keys.issue(engine, settings.secret, group="north", holder="Ada", scopes=["read"])
    imported, _ = import_files(engine, FOLDER / "sites", group="north", by="test")
    assert imported is not None
    database.migrate(empty_database, "sites")
    before = rows(engine)
    assert {name: len(before[name]) for name in TABLES} == {"sites": 4, "bays": 9, "assets": 52}
    database.migrate(empty_database, "immutable")
    assert not TABLES & set(sa.inspect(engine).get_table_names())
    assert rows(engine) == {name: found for name, found in before.items() if name not in TABLES}
    database.migrate(empty_database, "sites")
    after = rows(engine)
    assert {name: after.pop(name) for name in TABLES} == {name: [] for name in TABLES}
    assert after == {name: found for name, found in before.items() if name not in TABLES}
    database.migrate(empty_database)
    again, _ = import_files(engine, FOLDER / "sites", group="north", by="test")
    assert again == imported
    engine.dispose()


def test_a_bay_and_an_asset_need_their_site(empty_database: str) -> None:
    database.migrate(empty_database, "sites")
    engine = database.connect(empty_database)
    keys.add_group(engine, "north", "North")
    state = "'{}', 1, '', ''"
    for table, names in (("bays", "group_id, site_id, id"), ("assets", "group_id, site_id, id")):
        more = ", fixture_id, condition" if table == "assets" else ""
        values = ", 'board', 'in_service'" if more else ""
        statement = (
            f"INSERT INTO {table} ({names}{more}, body, version, updated_at, updated_by) "
            f"SELECT id, 'nowhere', 'x'{values}, {state} FROM groups"
        )
        with pytest.raises(sa.exc.IntegrityError), engine.begin() as connection:
            connection.execute(sa.text(statement))
    engine.dispose()
