"""Import into a draft, publish a draft at the command line, export a revision."""

from collections.abc import Callable, Iterator
from pathlib import Path

import sqlalchemy as sa
from msgspec import Struct
from sqlmodel import Session

from snapline.wire.catalogue import CatalogueDocument, OperationDocument
from snapline.wire.validation import ValidationReport
from snapline_service.access.keys import find_group
from snapline_service.access.people import Person, at_command_line
from snapline_service.catalogue import draft_store, files, store
from snapline_service.catalogue.documents import TYPES, canonical, content_hash, decode, kind_of
from snapline_service.catalogue.draft_store import Change
from snapline_service.catalogue.files import Filed, FileFault
from snapline_service.catalogue.references import Names, check
from snapline_service.catalogue.tables import DraftRow
from snapline_service.database import reading, writing
from snapline_service.drafts import drafts, publishing, review
from snapline_service.errors import BadInput, Conflict, NothingPublished, UnknownName
from snapline_service.revisions import building, revision_files
from snapline_service.revisions.content import Built, Plan
from snapline_service.settings import Settings
from snapline_service.validation import reporting

Seen = Callable[[int], None]


class Imported(Struct, frozen=True):
    """A new draft: how many names it sets, how many of them differ from its base, how many it retires."""

    draft_id: str
    base_revision: int
    documents: int
    changed: int
    retired: int


class Published(Struct, frozen=True):
    """A new revision. ``reviewed_by`` None: nobody but the publisher has agreed to it.

    ``draft`` tells which one it was, ``report`` holds the warnings that it had.
    """

    number: int
    manifest_hash: str
    entries: int
    reviewed_by: str | None
    draft: str
    report: ValidationReport


class _Faulty(Exception):
    """Carries the faults of files out of a transaction, which is then undone."""

    def __init__(self, faults: list[FileFault]) -> None:
        super().__init__(f"{len(faults)} faults")
        self.faults = faults


def check_files(path: Path, seen: Seen = lambda _count: None) -> tuple[int, list[FileFault]]:
    """Check a catalogue that stands by itself; return how many documents are well formed, and every fault."""
    count, names, faults = _survey(path, Names(frozenset(), frozenset(), {}), seen)
    return count, _with_reference_faults(path, names, faults)


def import_files(
    engine: sa.Engine,
    path: Path,
    *,
    group: str,
    by: str,
    retire_missing: bool = False,
    seen: Seen = lambda _count: None,
) -> tuple[Imported | None, list[FileFault]]:
    """Put a catalogue's files into a new draft on top of the revision in force.

    Returns the draft; or every fault of the files, and then nothing is written. With ``retire_missing``
    names that the files lack are retired, else they stay.
    """
    try:
        with writing(engine) as session:
            group_id = find_group(session, group).id
            person = at_command_line(by)
            draft = drafts.begin(session, group_id, person)
            return _fill(session, draft, person, path, retire_missing=retire_missing, seen=seen), []
    except _Faulty as faulty:
        return None, faulty.faults


def publish(
    engine: sa.Engine,
    settings: Settings,
    *,
    group: str,
    by: str,
    draft_id: str | None = None,
    note: str = "",
    progress: building.Progress = lambda _done, _all: None,
) -> Published:
    """Make a draft (by default the only open one) the group's next revision.

    Whoever works at the machine itself is trusted, but not silently: without a second person's approval the
    revision says that nobody reviewed it. Errors of its content stop it as they stop a submission, of however
    many documents: looking for them takes about as long as building the file. Raises NotFound,
    UnknownName, Conflict, BadInput, NotBuilt.
    """
    with reading(engine) as session:
        group_id = find_group(session, group).id
        draft = _open_draft(session, group_id, draft_id)
        drafts.require_open(draft)
        review.require_publishable(session, draft)
        told = drafts.told(session, draft)
        chosen, version = draft.id, draft.version
        report = _sound(session, engine, settings, draft)

    def build(session: Session, plan: Plan, place: Path, previous: Path | None) -> Built:
        return building.build(session, plan, place, previous, progress)

    ready = publishing.prepare(
        engine, settings, group_id=group_id, draft_id=chosen, agreed=_agreed, build=build
    )
    try:
        if ready.draft_version != version:
            raise Conflict("The draft was changed meanwhile.", mend="Read it again and decide anew.")
        with writing(engine) as session:
            revision = publishing.commit(session, ready, at_command_line(by), _agreed, note or None)
            origin = store.origin(session, group_id, revision.number)
            published = Published(
                revision.number,
                revision.manifest_hash,
                ready.built.entries,
                origin.reviewed_by if origin else None,
                told,
                report,
            )
    finally:
        ready.discard()
    revision_files.prune(settings.data_folder, group_id, published.number, settings.revision_files_kept)
    return published


def _sound(session: Session, engine: sa.Engine, settings: Settings, draft: DraftRow) -> ValidationReport:
    """Return the report of a draft without errors. Raises BadInput with the errors."""
    published = revision_files.in_force(session, engine, settings, draft.group_id)
    report = reporting.report(session, draft, published.path if published else None)
    faults = [review.fault(one) for one in report.items if one.severity == "error"]
    if faults:
        raise BadInput(faults)
    return report


def _agreed(_session: Session, draft: DraftRow) -> str:
    return "reviewed" if draft.approved_by else "command_line"


def export(session: Session, *, group: str, number: int | None = None) -> Iterator[CatalogueDocument]:
    """Return the documents of a revision, by default the one in force, to be read one by one.

    Raises UnknownName, NothingPublished.
    """
    group_id = find_group(session, group).id
    row = store.revision(session, group_id, number) if number else store.newest_revision(session, group_id)
    if row is None:
        message = f"Revision {number} does not exist." if number else "The group has published nothing yet."
        raise NothingPublished(
            message, pointer="/revision", mend="Publish a draft, or name another revision."
        )
    return _documents(session, group_id, row.number)


def _documents(session: Session, group_id: str, number: int) -> Iterator[CatalogueDocument]:
    for kind in TYPES:
        hashes = [entry.hash for entry in store.entries(session, group_id, number, kind)]
        for _, body in store.bodies(session, group_id, hashes):
            yield decode(kind, body)


def _fill(
    session: Session, draft: DraftRow, person: Person, path: Path, *, retire_missing: bool, seen: Seen
) -> Imported:
    group_id = draft.group_id
    base = {(e.kind, e.name): e.hash for e in store.entries(session, group_id, draft.base_revision)}
    known = Names(frozenset(), frozenset(), {}) if retire_missing else names_in(session, group_id, base)
    count, names, faults = _survey(path, known, seen)
    if faults:
        raise _Faulty(_with_reference_faults(path, names, faults))
    in_files: set[tuple[str, str]] = set()
    changed: list[Change] = []

    def documents() -> Iterator[tuple[str, bytes]]:
        for filed in files.read(path):
            if isinstance(filed, FileFault):  # the file changed since the survey
                raise _Faulty([filed])
            faults.extend(_reference_faults(filed, names))
            name = (kind_of(filed.document), filed.document.id)
            body = canonical(filed.document)
            in_files.add(name)
            if base.get(name) != content_hash(body):
                changed.append(Change(*name, content_hash(body)))
                yield content_hash(body), body

    store.add_documents(session, group_id, documents())
    if any(change.kind == "operation" for change in changed):
        rest = [digest for name, digest in base.items() if name[0] == "vehicle" and name not in in_files]
        faults += [] if retire_missing else _stranded(session, group_id, rest, names)
    if faults:
        raise _Faulty(faults)
    retired = [Change(*name, None) for name in base if name not in in_files] if retire_missing else []
    if not changed and not retired:
        message = "The files say what the revision in force says already."
        raise Conflict(message, pointer="/path", mend="Change something, or leave it.")
    drafts.put_many(session, draft, person, [*changed, *retired])
    return Imported(draft.id, draft.base_revision, count, len(changed), len(retired))


def _survey(path: Path, known: Names, seen: Seen) -> tuple[int, Names, list[FileFault]]:
    """Read the files once: count good documents, collect faults of form and what can be referred to."""
    names: dict[str, set[str]] = {"source": set(known.sources), "fixture": set(known.fixtures)}
    operations = dict(known.operations)
    faults: list[FileFault] = []
    count = 0
    for found in files.read(path):
        if isinstance(found, FileFault):
            faults.append(found)
            if found.document:
                operations[found.document] = None
                names["source"].add(found.document)
                names["fixture"].add(found.document)
            continue
        count += 1
        seen(count)
        if isinstance(found.document, OperationDocument):
            operations[found.document.id] = found.document
        elif kind_of(found.document) in names:
            names[kind_of(found.document)].add(found.document.id)
    return count, Names(frozenset(names["source"]), frozenset(names["fixture"]), operations), faults


def _with_reference_faults(path: Path, names: Names, faults: list[FileFault]) -> list[FileFault]:
    """Return the faults of form and those of reference, in the order of files and lines."""
    filed = (found for found in files.read(path) if isinstance(found, Filed))
    found = [*faults, *(fault for one in filed for fault in _reference_faults(one, names))]
    return sorted(found, key=lambda fault: (fault.file, fault.line))


def _reference_faults(filed: Filed, names: Names) -> Iterator[FileFault]:
    return (files.locate(filed.origin, fault) for fault in check(filed.document, names))


def names_in(session: Session, group_id: str, base: dict[tuple[str, str], str]) -> Names:
    """Return what documents may refer to in a revision, whose names lead to their hashes."""
    hashes = [digest for (kind, _), digest in base.items() if kind == "operation"]
    operations = [decode("operation", body) for _, body in store.bodies(session, group_id, hashes)]
    return Names(
        frozenset(name for kind, name in base if kind == "source"),
        frozenset(name for kind, name in base if kind == "fixture"),
        {operation.id: operation for operation in operations if isinstance(operation, OperationDocument)},
    )


def _stranded(session: Session, group_id: str, hashes: list[str], names: Names) -> list[FileFault]:
    """Return the faults that changed operations would make in vehicles that the files leave alone."""
    return [
        FileFault(Path("published") / f"{vehicle.id}.json", 1, fault.pointer, fault.detail, fault.mend)
        for _, body in store.bodies(session, group_id, hashes)
        for vehicle in [decode("vehicle", body)]
        for fault in check(vehicle, names)
    ]


def _open_draft(session: Session, group_id: str, draft_id: str | None) -> DraftRow:
    if draft_id is None:
        return drafts.only_open(session, group_id)
    found = draft_store.find(session, group_id, draft_id)
    if found is None:
        message = f"There is no draft '{draft_id}'."
        raise UnknownName(message, pointer="/draft_id", mend="Make one with: snapline catalogue import")
    if found.published_as:
        message = f"This draft is already published as revision {found.published_as}."
        raise Conflict(message, pointer="/draft_id", mend="Import again to make a new draft.")
    return found
