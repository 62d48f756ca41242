"""Make a draft the next revision: build its file, then switch to it in one short transaction.

The file is built before anything is written, so that a build that takes long or fails holds up nobody and
leaves the revision in force as it is. The transaction checks that nothing moved meanwhile, moves the file to
its place and writes what changed. Killed at any point, either the old or the new revision is in force: a file
in its place counts only once the database says that there is such a revision, with this content.
"""

import sqlite3
from collections.abc import Callable
from pathlib import Path

import sqlalchemy as sa
from msgspec import Struct
from sqlmodel import Session

from snapline_service.access.people import Person
from snapline_service.catalogue import draft_store, store
from snapline_service.catalogue.store import Entry
from snapline_service.catalogue.tables import DraftRow, OriginRow, RevisionRow
from snapline_service.catalogue.telling import tell
from snapline_service.database import now, reading
from snapline_service.drafts import drafts, review
from snapline_service.errors import Conflict, NotBuilt
from snapline_service.revisions import building, integrity, revision_files
from snapline_service.revisions.content import Built, Plan
from snapline_service.settings import Settings

Agreed = Callable[[Session, DraftRow], str]
Builder = Callable[[Session, Plan, Path, Path | None], Built]


class Ready(Struct, frozen=True):
    """A revision whose file is built beside its place."""

    draft_id: str
    draft_version: int
    plan: Plan
    built: Built
    beside: Path
    path: Path

    def discard(self) -> None:
        """Remove the file, unless it has moved to its place."""
        self.beside.unlink(missing_ok=True)


def prepare(
    engine: sa.Engine,
    settings: Settings,
    *,
    group_id: str,
    draft_id: str,
    agreed: Agreed,
    build: Builder = building.build,
) -> Ready:
    """Build the file of the revision that a draft makes. Raises NotFound, Conflict, NotAllowed, NotBuilt."""
    with reading(engine) as session:
        draft = drafts.found(session, group_id, draft_id)
        _require_ready(session, draft, agreed)
        plan = _plan(session, draft)
        path = revision_files.path_of(settings.data_folder, group_id, plan.number)
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            building.sweep(path.parent)
            previous = revision_files.kept_file(
                settings.data_folder, group_id, plan.base_number, plan.base_manifest
            )
            place = building.beside(path)
            built = build(session, plan, place, previous)
        except (OSError, sqlite3.Error) as error:
            detail = f"The revision file could not be built: {_reason(error)}."
            mend = "The revision in force stays as it is. Make room on the service's disk and publish again."
            raise NotBuilt(detail, mend=mend) from error
    return Ready(draft.id, draft.version, plan, built, place, path)


def commit(
    session: Session, ready: Ready, person: Person, agreed: Agreed, note: str | None = None
) -> RevisionRow:
    """Put a revision in force, within a transaction. Raises Conflict if something moved, NotBuilt."""
    plan = ready.plan
    store.lock_group(session, plan.group_id)
    draft = drafts.found(session, plan.group_id, ready.draft_id, to_change=True)
    how = _require_ready(session, draft, agreed)
    if draft.version != ready.draft_version:
        raise Conflict("The draft was changed while it was published.", mend="Read it again and decide anew.")
    store.apply_changes(session, draft.id, plan.group_id, plan.number)
    revision = RevisionRow(
        group_id=plan.group_id,
        number=plan.number,
        manifest_hash=ready.built.manifest_hash,
        published_at=now(),
        published_by=person.name,
        note=draft.note if note is None else note,
    )
    session.add(revision)
    session.flush()
    origin = OriginRow(
        group_id=plan.group_id,
        number=plan.number,
        how=how,
        draft_id=draft.id,
        reviewed_by=draft.approved_by if how == "reviewed" else None,
        restores=draft.restores,
    )
    session.add(origin)
    draft.state, draft.published_as = "published", plan.number
    draft_store.add_remark(session, draft.id, person.name, "published", f"as revision {plan.number}")
    tell(session, draft, person, "catalogue.published")
    drafts.touch(session, draft)
    try:
        integrity.place(ready.beside, ready.path)
    except OSError as error:
        detail = f"The revision file could not be put in its place: {_reason(error)}."
        raise NotBuilt(detail, mend="Make room on the service's disk and publish again.") from error
    return revision


def _require_ready(session: Session, draft: DraftRow, agreed: Agreed) -> str:
    drafts.require_open(draft)
    how = agreed(session, draft)
    review.require_publishable(session, draft)
    return how


def _plan(session: Session, draft: DraftRow) -> Plan:
    newest = store.newest_revision(session, draft.group_id)
    number = draft.base_revision + 1
    changes = draft_store.changes(session, draft.id)
    return Plan(
        group_id=draft.group_id,
        number=number,
        base_number=draft.base_revision,
        base_manifest=newest.manifest_hash if newest else "",
        changes=[Entry(c.kind, c.name, c.hash, number) for c in changes if c.hash],
        retired=[(c.kind, c.name) for c in changes if c.hash is None],
    )


def _reason(error: OSError | sqlite3.Error) -> str:
    return (isinstance(error, OSError) and error.strerror) or str(error)
