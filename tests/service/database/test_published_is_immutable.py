"""The database itself refuses to change what is published, whoever asks."""

import re
from collections.abc import Callable

import pytest
import sqlalchemy as sa

from service import small
from service.shop import Shop
from snapline_service.catalogue.tables import DocumentRow, RevisionRow
from snapline_service.database import writing

OPEN = "group_id = :g AND name = 'brenn-2021' AND until_revision IS NULL"
CLOSED = "group_id = :g AND name = 'ambrel-2020' AND until_revision = 2"
USED = "(SELECT MIN(hash) FROM documents WHERE group_id = :g AND hash <> 'spare')"
BODY = "(SELECT body FROM documents WHERE group_id = :g AND hash = 'spare')"

# After two revisions: ambrel-2020 has an interval 1 to 2 and an open one from 2; the rest is open from 1.
FORBIDDEN = {
    "rewrite a document": f"UPDATE documents SET body = {BODY} WHERE group_id = :g",
    "rename a document": "UPDATE documents SET hash = 'other' WHERE group_id = :g AND hash = " + USED,
    "rewrite what nothing uses": "UPDATE documents SET body = body WHERE group_id = :g AND hash = 'spare'",
    "upsert over a document": (
        f"INSERT INTO documents VALUES (:g, {USED}, {BODY}) "
        "ON CONFLICT (group_id, hash) DO UPDATE SET body = excluded.body"
    ),
    "delete documents in use": "DELETE FROM documents WHERE group_id = :g AND hash <> 'spare'",
    "add to the first revision": "INSERT INTO entries VALUES (:g, 'vehicle', 'x', 1, NULL, 'spare')",
    "add to the newest revision": "INSERT INTO entries VALUES (:g, 'vehicle', 'x', 2, NULL, 'spare')",
    "add before all revisions": "INSERT INTO entries VALUES (:g, 'vehicle', 'x', 0, NULL, 'spare')",
    "add an interval that is closed already": (
        "INSERT INTO entries VALUES (:g, 'vehicle', 'x', 3, 4, 'spare')"
    ),
    "put another document under a name": f"UPDATE entries SET hash = 'spare' WHERE {OPEN}",
    "rename an entry": f"UPDATE entries SET name = 'x' WHERE {OPEN}",
    "turn an entry into another kind": f"UPDATE entries SET kind = 'fixture' WHERE {OPEN}",
    "move the start of an interval": f"UPDATE entries SET from_revision = 2 WHERE {OPEN}",
    "change a document while closing": f"UPDATE entries SET until_revision = 3, hash = 'spare' WHERE {OPEN}",
    "close an interval in the newest revision": f"UPDATE entries SET until_revision = 2 WHERE {OPEN}",
    "close an interval in the first revision": f"UPDATE entries SET until_revision = 1 WHERE {OPEN}",
    "close an interval before it begins": f"UPDATE entries SET until_revision = 0 WHERE {OPEN}",
    "open an interval again": f"UPDATE entries SET until_revision = NULL WHERE {CLOSED}",
    "move the end of an interval": f"UPDATE entries SET until_revision = 3 WHERE {CLOSED}",
    "touch an interval without changing it": f"UPDATE entries SET until_revision = 2 WHERE {CLOSED}",
    "delete an open interval": f"DELETE FROM entries WHERE {OPEN}",
    "delete a closed interval": f"DELETE FROM entries WHERE {CLOSED}",
    "delete all intervals": "DELETE FROM entries WHERE group_id = :g",
    "change a note": "UPDATE revisions SET note = 'x' WHERE group_id = :g AND number = 1",
    "change a content hash": "UPDATE revisions SET manifest_hash = 'x' WHERE group_id = :g AND number = 2",
    "renumber a revision": "UPDATE revisions SET number = 3 WHERE group_id = :g AND number = 2",
    "delete the newest revision": "DELETE FROM revisions WHERE group_id = :g AND number = 2",
    "delete all revisions": "DELETE FROM revisions WHERE group_id = :g",
    "publish a number again": "INSERT INTO revisions VALUES (:g, 2, 'h', 't', 'p', 'n')",
    "leave out a number": "INSERT INTO revisions VALUES (:g, 4, 'h', 't', 'p', 'n')",
    "publish number zero": "INSERT INTO revisions VALUES (:g, 0, 'h', 't', 'p', 'n')",
    "begin with number two": "INSERT INTO revisions VALUES (:other, 2, 'h', 't', 'p', 'n')",
}
# Only SQLite has REPLACE, which deletes what is in its way.
FORBIDDEN_ON_SQLITE = {
    "replace a document": (f"REPLACE INTO documents VALUES (:g, {USED}, {BODY})"),
    "replace an entry": f"REPLACE INTO entries SELECT * FROM entries WHERE {OPEN}",
    "replace a revision": "REPLACE INTO revisions VALUES (:g, 2, 'h', 't', 'p', 'n')",
}
PERMITTED = {
    "store a new document": f"INSERT INTO documents VALUES (:g, 'new', {BODY})",
    "delete a document that nothing uses": "DELETE FROM documents WHERE group_id = :g AND hash = 'spare'",
    "add to the next revision": "INSERT INTO entries VALUES (:g, 'vehicle', 'x', 3, NULL, 'spare')",
    "close an open interval in the next revision": f"UPDATE entries SET until_revision = 3 WHERE {OPEN}",
    "publish the next number": "INSERT INTO revisions VALUES (:g, 3, 'h', 't', 'p', 'n')",
    "publish another group's first": "INSERT INTO revisions VALUES (:other, 1, 'h', 't', 'p', 'n')",
}


class Published:
    """A group with two revisions, and one with none."""

    def __init__(self, shop: Shop, other: Shop) -> None:
        self.shop = shop
        self._names = {":g": f"'{shop.group_id}'", ":other": f"'{other.group_id}'"}
        shop.put(small.catalogue())
        shop.put([small.vehicle(distance_mm=2450)])
        with writing(shop.engine) as session:
            session.add(DocumentRow(group_id=shop.group_id, hash="spare", body=b"{}"))

    def run(self, connection: sa.Connection, statement: str) -> int:
        """Return how many rows a statement touches."""
        text = re.sub(":[a-z]+", lambda name: self._names[name[0]], statement)
        return connection.exec_driver_sql(text).rowcount


@pytest.fixture(scope="module")
def published(new_shop: Callable[[], Shop]) -> Published:
    return Published(new_shop(), new_shop())


def refuse(published: Published, statement: str, why: str) -> None:
    before = published.shop.rows()
    with pytest.raises(sa.exc.DatabaseError, match=why), published.shop.engine.begin() as connection:
        published.run(connection, statement)
    assert published.shop.rows() == before


@pytest.mark.parametrize("name", FORBIDDEN)
def test_it_is_refused_to(published: Published, name: str) -> None:
    refuse(published, FORBIDDEN[name], "published content never changes")


@pytest.mark.parametrize("name", FORBIDDEN_ON_SQLITE)
def test_on_sqlite_it_is_refused_to(published: Published, name: str) -> None:
    """PostgreSQL does not know the statement."""
    refuse(published, FORBIDDEN_ON_SQLITE[name], "published content never changes|syntax error")


@pytest.mark.parametrize("name", PERMITTED)
def test_it_is_permitted_to(published: Published, name: str) -> None:
    with published.shop.engine.connect() as connection:
        assert published.run(connection, PERMITTED[name]) == 1


def test_what_is_not_published_yet_can_be_taken_away_again(published: Published) -> None:
    with published.shop.engine.connect() as connection:
        published.run(connection, PERMITTED["add to the next revision"])
        taken = published.run(connection, "DELETE FROM entries WHERE group_id = :g AND from_revision = 3")
        assert taken == 1


def test_even_what_is_not_published_yet_cannot_end_before_it_begins(published: Published) -> None:
    with published.shop.engine.connect() as connection:
        published.run(connection, "INSERT INTO entries VALUES (:g, 'vehicle', 'x', 5, NULL, 'spare')")
        with pytest.raises(sa.exc.IntegrityError, match="published content never changes"):
            published.run(
                connection, "UPDATE entries SET until_revision = 4 WHERE group_id = :g AND name = 'x'"
            )


def test_a_refusal_undoes_the_whole_transaction(published: Published) -> None:
    def store_and_rewrite() -> None:
        with writing(published.shop.engine) as session:
            published.run(session.connection(), PERMITTED["store a new document"])
            revision = session.get_one(RevisionRow, (published.shop.group_id, 1))
            revision.note = "rewritten"
            session.add(revision)

    before = published.shop.rows()
    with pytest.raises(sa.exc.IntegrityError):
        store_and_rewrite()
    assert published.shop.rows() == before
