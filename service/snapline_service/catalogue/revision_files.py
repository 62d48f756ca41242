"""Find, open and keep the revision files of this machine."""

import threading
from pathlib import Path

import sqlalchemy as sa

from snapline.offline import RevisionFile
from snapline_service.catalogue import building
from snapline_service.database import reading
from snapline_service.settings import Settings


def path_of(folder: Path, group_id: str, number: int) -> Path:
    """Return where a group's revision file stands."""
    return folder / group_id / f"revision-{number}.sqlite"


class RevisionFiles:
    """The open revision files. A file that this machine lacks is rebuilt from the database."""

    def __init__(self, engine: sa.Engine, settings: Settings) -> None:
        self._engine = engine
        self._folder = settings.data_folder
        self._open: dict[str, RevisionFile] = {}
        self._lock = threading.Lock()

    def get(self, group_id: str, number: int, manifest_hash: str) -> RevisionFile:
        """Return a group's revision file; only the newest that was asked for stays open."""
        file = self._open.get(group_id)
        if file is None or file.revision != number:
            with self._lock:
                file = self._open[group_id] = self._load(group_id, number, manifest_hash)
        return file

    def _load(self, group_id: str, number: int, manifest_hash: str) -> RevisionFile:
        path = path_of(self._folder, group_id, number)
        if path.exists():
            try:
                file = RevisionFile(path)
            except ValueError:
                path.unlink(missing_ok=True)  # another worker may have been quicker
            else:
                if file.manifest_hash == manifest_hash:
                    return file
                file.close()
        path.parent.mkdir(parents=True, exist_ok=True)
        with reading(self._engine) as session:
            building.build(session, group_id, number, path)
        return RevisionFile(path)


def prune(folder: Path, group_id: str, newest: int, keep: int) -> None:
    """Remove files older than the newest ``keep``; they can be rebuilt."""
    for path in (folder / group_id).glob("revision-*.sqlite"):
        if int(path.stem.removeprefix("revision-")) <= newest - keep:
            path.unlink(missing_ok=True)
