"""Find, open, check and keep the revision files of this machine."""

import logging
import threading
from pathlib import Path

import sqlalchemy as sa
from sqlmodel import Session

from snapline.offline import RevisionFile
from snapline_service.catalogue import store
from snapline_service.database import reading
from snapline_service.revisions import apart, building, integrity
from snapline_service.revisions.content import Plan
from snapline_service.revisions.supplement import meta_of
from snapline_service.settings import Settings

# A larger file is answered from while its bytes are checked in a thread; others are checked before.
_CHECKED_FIRST_BYTES = 64_000_000
log = logging.getLogger("snapline.service")


def path_of(folder: Path, group_id: str, number: int) -> Path:
    """Return where a group's revision file stands."""
    return folder / group_id / f"revision-{number}.sqlite"


def kept_file(folder: Path, group_id: str, number: int, manifest_hash: str) -> Path | None:
    """Return a revision's file, if this machine has it."""
    path = path_of(folder, group_id, number)
    return path if meta_of(path).get("manifest_hash") == manifest_hash else None


class RevisionFiles:
    """The open revision files. One that this machine lacks, or that is damaged, is built from the database.

    Where there is an older one, that is brought up to date, which costs what changed meanwhile.
    """

    def __init__(self, engine: sa.Engine, settings: Settings) -> None:
        self._engine = engine
        self._folder = settings.data_folder
        self._url = settings.database
        self._open: dict[str, RevisionFile] = {}
        self._checked: set[tuple[str, int, int]] = set()
        self._lock = threading.Lock()
        for folder in self._folder.glob("*/"):
            building.sweep(folder)

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
                pass
            else:
                if file.manifest_hash == manifest_hash and self._is_sound(group_id, file):
                    return file
                file.close()
            integrity.remove(path)  # another worker may have been quicker
        path.parent.mkdir(parents=True, exist_ok=True)
        self._build(group_id, number, path)
        return RevisionFile(path)

    def _build(self, group_id: str, number: int, path: Path) -> None:
        built = building.beside(path)
        with reading(self._engine) as session:
            older = self._newest_before(session, group_id, number)
            base = store.revision(session, group_id, older) if older else None
            changes, retired = store.between(session, group_id, older, number)
            plan = Plan(
                group_id=group_id,
                number=number,
                base_number=older,
                base_manifest=base.manifest_hash if base else "",
                changes=changes,
                retired=retired,
            )
            previous = path_of(self._folder, group_id, older) if older else None
            apart.build(session, self._url, plan, built, previous)
        integrity.place(built, path)

    def _newest_before(self, session: Session, group_id: str, number: int) -> int:
        """Return the newest older revision whose file is here and sound; 0 if there is none."""
        names = (path_of(self._folder, group_id, 0).parent).glob("revision-*.sqlite")
        for older in sorted((number_of(path) for path in names), reverse=True):
            row = store.revision(session, group_id, older) if older < number else None
            path = path_of(self._folder, group_id, older)
            if row and meta_of(path).get("manifest_hash") == row.manifest_hash and self._is_whole(path):
                return older
        return 0

    def _is_whole(self, path: Path) -> bool:
        """Whether a file and the one that it supplements are as they were written."""
        layers = {path, path.with_name(meta_of(path).get("supplements", path.name))}
        return all(_state(layer) in self._checked or integrity.is_whole(layer) for layer in layers)

    def _is_sound(self, group_id: str, file: RevisionFile) -> bool:
        """Whether a file's bytes are as written, as far as is known yet: large ones are checked meanwhile."""
        layers = [path for path in (file.path, file.base_path) if path]
        unchecked = [path for path in layers if _state(path) not in self._checked]
        if not all(integrity.recorded(path) for path in unchecked):
            return False
        small = [path for path in unchecked if path.stat().st_size <= _CHECKED_FIRST_BYTES]
        if not all(integrity.is_whole(path) for path in small):
            return _report(file)
        self._checked |= {_state(path) for path in small}
        large = [path for path in unchecked if path not in small]
        if large:
            check = threading.Thread(target=self._check, args=(group_id, file, large), daemon=True)
            check.start()
        return True

    def _check(self, group_id: str, file: RevisionFile, paths: list[Path]) -> None:
        """Check large files; a damaged one is answered from no longer."""
        for path in paths:
            state = _state(path)
            if integrity.is_whole(path):
                self._checked.add(state)
            elif path.exists():  # or it was only pruned
                _report(file)
                with self._lock:
                    integrity.remove(path)
                    if self._open.get(group_id) is file:
                        del self._open[group_id]


def number_of(path: Path) -> int:
    """Return which revision a file holds, by its name."""
    return int(path.stem.removeprefix("revision-"))


def prune(folder: Path, group_id: str, newest: int, keep: int) -> None:
    """Remove files older than the newest ``keep``, but what those supplement; they can be rebuilt."""
    paths = list((folder / group_id).glob("revision-*.sqlite"))
    kept = {path for path in paths if number_of(path) > newest - keep}
    kept |= {path.with_name(meta_of(path).get("supplements", path.name)) for path in kept}
    for path in set(paths) - kept:
        integrity.remove(path)


def _state(path: Path) -> tuple[str, int, int]:
    found = path.stat()
    return str(path), found.st_ino, found.st_mtime_ns


def _report(file: RevisionFile) -> bool:
    log.error("revision file %s is damaged: it is built anew", file.path)
    return False


def in_force(session: Session, engine: sa.Engine, settings: Settings, group_id: str) -> RevisionFile | None:
    """Return the file of a group's revision in force, if there is one."""
    newest = store.newest_revision(session, group_id)
    if newest is None:
        return None
    return RevisionFiles(engine, settings).get(group_id, newest.number, newest.manifest_hash)
