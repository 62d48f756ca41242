"""A workshop group under the hand of a test: files go in, revisions come out."""

from collections.abc import Iterable
from pathlib import Path
from typing import Any

import sqlalchemy as sa

from service import small
from snapline.offline import RevisionFile
from snapline.wire.keys import SCOPES
from snapline_service.access import keys
from snapline_service.access.keys import Issued
from snapline_service.catalogue.files import FileFault
from snapline_service.drafts import actions
from snapline_service.drafts.actions import Imported, Published
from snapline_service.revisions.revision_files import RevisionFiles, path_of
from snapline_service.settings import Settings

Rows = dict[str, list[tuple[Any, ...]]]


class Shop:
    """One group in a database that other groups may share."""

    def __init__(self, engine: sa.Engine, settings: Settings, folder: Path, name: str) -> None:
        self.engine = engine
        self.settings = settings
        self.folder = folder
        self.name = name
        self.group_id = keys.add_group(engine, name, name)

    def faults(self, path: Path, **options: Any) -> list[FileFault]:
        """Import files that must be refused and return what is wrong with them."""
        imported, faults = actions.import_files(self.engine, path, group=self.name, by="test", **options)
        assert imported is None
        return faults

    def import_(self, path: Path, **options: Any) -> Imported:
        imported, faults = actions.import_files(self.engine, path, group=self.name, by="test", **options)
        assert imported is not None, faults
        return imported

    def publish(self, **options: Any) -> Published:
        return actions.publish(self.engine, self.settings, group=self.name, by="test", **options)

    def put(self, documents: Iterable[small.Document], **options: Any) -> Published:
        """Write documents to a new folder, import and publish them."""
        count = sum(1 for _ in self.folder.iterdir()) if self.folder.exists() else 0
        self.import_(small.write(self.folder / f"files-{count}", list(documents)), **options)
        return self.publish()

    def file(self, published: Published) -> RevisionFile:
        files = RevisionFiles(self.engine, self.settings)
        return files.get(self.group_id, published.number, published.manifest_hash)

    def path(self, number: int) -> Path:
        return path_of(self.settings.data_folder, self.group_id, number)

    def key(self, *scopes: str, holder: str = "test") -> Issued:
        return keys.issue(
            self.engine, self.settings.secret, group=self.name, holder=holder, scopes=scopes or SCOPES
        )

    def rows(self) -> Rows:
        """Return all that the database holds of this group's catalogue."""
        return rows(self.engine, self.group_id)


def rows(engine: sa.Engine, group_id: str | None = None) -> Rows:
    """Return the content of every table as the schema has it now, or what in it belongs to a group."""
    there = sa.MetaData()
    there.reflect(engine)
    with engine.connect() as connection:
        return {
            table.name: sorted((tuple(row) for row in connection.execute(_query(table, group_id))), key=repr)
            for table in there.sorted_tables
            if table.name != "alembic_version" and (group_id is None or "group_id" in table.columns)
        }


def _query(table: sa.Table, group_id: str | None) -> sa.Select[Any]:
    return sa.select(table) if group_id is None else sa.select(table).where(table.c.group_id == group_id)
