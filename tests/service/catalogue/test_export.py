"""What is exported and imported again is the same catalogue, in either form and on either engine."""

import sqlite3
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa

from conftest import settings_in
from running import PostgreSQL, Service
from service import small
from service.shop import Shop
from snapline_service import database
from snapline_service.access.keys import find_group
from snapline_service.catalogue import files, store
from snapline_service.database import new_id, reading
from snapline_service.demo import scenario
from snapline_service.drafts import actions
from snapline_service.errors import Conflict, InvalidValue

WRITERS = {"folder": files.write_folder, "lines.ndjson": files.write_lines}


def export(engine: sa.Engine, group: str, path: Path, number: int | None = None) -> Path:
    with reading(engine) as session:
        WRITERS[path.name](actions.export(session, group=group, number=number), path)
    return path


def content(path: Path) -> dict[str, list[tuple[Any, ...]]]:
    """Return every table of a revision file but the text index, which has no content to select."""
    file = sqlite3.connect(path)
    names = file.execute("SELECT name FROM sqlite_schema WHERE type = 'table' ORDER BY name").fetchall()
    found = {
        name: file.execute(f"SELECT * FROM {name}").fetchall()
        for (name,) in names
        if not name.startswith("vehicle_text")
    }
    file.close()
    return found


@pytest.mark.parametrize("name", WRITERS)
def test_the_demo_catalogue_comes_back_the_same(
    demo_service: tuple[Service, str], tmp_path: Path, name: str
) -> None:
    service, _ = demo_service
    with service.engine() as engine:
        path = export(engine, scenario.GROUP, tmp_path / name)
        shop = Shop(engine, service.settings, tmp_path / "copy", f"copy-{new_id('x')}")
        shop.import_(path)
        copied = shop.publish()
        with reading(engine) as session:
            original = list(actions.export(session, group=scenario.GROUP))
            assert list(actions.export(session, group=shop.name)) == original
            row = store.newest_revision(session, find_group(session, scenario.GROUP).id)
            assert row is not None
            assert copied.manifest_hash == row.manifest_hash
            assert copied.entries == len(original)


@pytest.mark.parametrize("name", WRITERS)
def test_a_past_revision_can_be_exported(shop: Shop, tmp_path: Path, name: str) -> None:
    first = shop.put(small.catalogue())
    shop.put([small.vehicle(distance_mm=2450)])
    path = export(shop.engine, shop.name, tmp_path / name, number=1)
    other = Shop(shop.engine, shop.settings, tmp_path / "other", f"{shop.name}-copy")
    other.import_(path)
    assert other.publish().manifest_hash == first.manifest_hash


@pytest.mark.parametrize("name", WRITERS)
def test_an_export_imported_again_changes_nothing(shop: Shop, tmp_path: Path, name: str) -> None:
    shop.put(small.catalogue())
    path = export(shop.engine, shop.name, tmp_path / name)
    _, faults = actions.check_files(path)
    assert faults == []
    with pytest.raises(Conflict):
        shop.import_(path, retire_missing=True)


def test_a_folder_in_use_is_not_written_into(shop: Shop, tmp_path: Path) -> None:
    shop.put(small.catalogue())
    with reading(shop.engine) as session:
        documents = list(actions.export(session, group=shop.name))
    place = tmp_path / "folder"
    assert files.write_folder(documents, place) == 5
    before = {path: path.read_bytes() for path in place.rglob("*.json")}
    with pytest.raises(InvalidValue, match="not an empty folder"):
        files.write_folder(documents, place)
    with pytest.raises(InvalidValue, match="not an empty folder"):
        files.write_folder(documents, next(iter(before)))
    assert {path: path.read_bytes() for path in place.rglob("*.json")} == before
    (tmp_path / "empty").mkdir()
    assert files.write_folder(documents, tmp_path / "empty") == 5


def icu_database(postgresql: PostgreSQL) -> str:
    """Return a database that sorts as people do: 'ab' between 'a-b' and 'a-c'."""
    url = postgresql.new_database()
    name = url.partition("@/")[2].partition("?")[0]
    engine = database.connect(url)
    with engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:
        connection.exec_driver_sql(
            f"CREATE DATABASE {name}_icu TEMPLATE template0 LOCALE_PROVIDER icu ICU_LOCALE 'en' LOCALE 'C'"
        )
    engine.dispose()
    return url.replace(f"/{name}?", f"/{name}_icu?")


def with_many_stands() -> list[small.Document]:
    """Return a catalogue in which a board needs a stand, for which there are many."""
    car = small.vehicle()
    car["procedures"][0]["stages"][0]["placements"][0]["carrier"] = {"capability": "stand"}
    stated = [{"capability": "stand", "source": small.quoted("sheet 2")}]
    names = ("ab", "a-b", "a_c", "a-c", "aa", "b", "a1", "a-1")
    stands = [{**small.fixture(name), "capabilities": stated} for name in names]
    return [*small.catalogue()[:3], *stands, car]


@pytest.fixture
def three_shops(
    postgresql: PostgreSQL | None, tmp_path: Path
) -> Iterator[Callable[[], list[tuple[str, Path]]]]:
    """Publish a catalogue on SQLite and on PostgreSQL with either way of sorting; return hashes and files."""
    urls = {"sqlite": f"sqlite:///{tmp_path}/one.db"}
    if postgresql is not None:
        urls |= {"postgresql": postgresql.new_database(), "icu": icu_database(postgresql)}
    engines = {name: database.connect(url) for name, url in urls.items()}

    def publish() -> list[tuple[str, Path]]:
        found = []
        for name, engine in engines.items():
            database.migrate(urls[name])
            shop = Shop(engine, settings_in(tmp_path / name, urls[name]), tmp_path / f"{name}-files", "north")
            found.append((shop.put(with_many_stands()).manifest_hash, shop.path(1)))
        return found

    yield publish
    for engine in engines.values():
        engine.dispose()


def test_the_answers_do_not_depend_on_the_engine_or_its_way_of_sorting(
    three_shops: Callable[[], list[tuple[str, Path]]],
) -> None:
    published = three_shops()
    assert len({manifest for manifest, _ in published}) == 1
    first, *others = (content(path) for _, path in published)
    assert any(
        b'"fixtures":["a-1","a-b","a-c","a1","a_c","aa","ab","b"]' in row[-1]
        for row in first["fixture_vehicles"]
    )
    for other in others:
        assert other == first
