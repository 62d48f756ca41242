"""Revision files made on trial: what a draft would become, and what an older revision was."""

from collections.abc import Iterator
from contextlib import contextmanager

from sqlmodel import Session

from snapline.offline import RevisionFile
from snapline_service.catalogue import draft_store, store
from snapline_service.catalogue.store import Entry
from snapline_service.catalogue.tables import DraftRow
from snapline_service.revisions import building
from snapline_service.revisions.content import Plan


@contextmanager
def as_drafted(session: Session, draft: DraftRow, now: RevisionFile) -> Iterator[RevisionFile]:
    """Build the revision that a draft on the one in force would become, and remove it again."""
    number = draft.base_revision + 1
    changes = [(c.kind, c.name, Entry(c.kind, c.name, c.hash, number) if c.hash else None)
               for c in draft_store.changes(session, draft.id)]  # fmt: skip
    with _built(session, draft.group_id, number, now, changes) as file:
        yield file


@contextmanager
def as_it_was(session: Session, group_id: str, number: int, now: RevisionFile) -> Iterator[RevisionFile]:
    """Build an older revision from the one in force, and remove it again: its own file may be long gone."""
    if number == now.revision:
        yield now
        return
    changes = [(kind, name, store.entry(session, group_id, number, kind, name))
               for kind, name in store.names_between(session, group_id, number, now.revision)]  # fmt: skip
    with _built(session, group_id, number, now, changes) as file:
        yield file


@contextmanager
def _built(
    session: Session,
    group_id: str,
    number: int,
    now: RevisionFile,
    changes: list[tuple[str, str, Entry | None]],
) -> Iterator[RevisionFile]:
    plan = Plan(
        group_id=group_id,
        number=number,
        base_number=now.revision,
        base_manifest=now.manifest_hash,
        changes=[entry for _, _, entry in changes if entry],
        retired=[(kind, name) for kind, name, entry in changes if entry is None],
    )
    place = building.beside(now.path)
    try:
        building.build(session, plan, place, now.path)
        file = RevisionFile(place)
        try:
            yield file
        finally:
            file.close()
    finally:
        place.unlink(missing_ok=True)
