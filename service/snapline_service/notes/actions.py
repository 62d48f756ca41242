"""Write, change and remove local notes, within one transaction."""

from collections.abc import Iterator

import msgspec
from sqlmodel import Session

from snapline.offline import RevisionFile
from snapline.wire.notes import Note, NotePatch, NoteRequest
from snapline_service.access.people import Person
from snapline_service.changes.record import record
from snapline_service.database import new_id, now
from snapline_service.errors import BadInput, Fault, NotFound
from snapline_service.faults import nearest
from snapline_service.merge_patch import merged
from snapline_service.notes import store
from snapline_service.notes.tables import NoteRow
from snapline_service.requests import convert
from snapline_service.sites import store as sites


def row_of(session: Session, group_id: str, note_id: str, *, to_change: bool = False) -> NoteRow:
    """Return a note. Raises NotFound."""
    row = store.note(session, group_id, note_id, to_change=to_change)
    if row is None:
        message = f"There is nothing called '{note_id[:80]}' here."
        raise NotFound(message, mend="List what there is with GET /v1/notes.")
    return row


def write(session: Session, group_id: str, by: Person, file: RevisionFile, request: NoteRequest) -> Note:
    """Write a note. Raises BadInput for what is not in the catalogue in force or at the site."""
    row = NoteRow(
        group_id=group_id,
        id=new_id("note"),
        vehicle_id=request.vehicle_id,
        procedure_id=None,
        site_id=None,
        body="",
    )
    note = _keep(session, row, by, file, request)
    _tell(session, row, by, "created")
    return note


def change(session: Session, row: NoteRow, by: Person, file: RevisionFile, patch: NotePatch) -> Note:
    """Change a note by a merge patch. Raises BadInput."""
    before = msgspec.json.decode(row.body)
    kept = {name: before[name] for name in NoteRequest.__struct_fields__ if name in before}
    changes = msgspec.json.decode(msgspec.json.encode(patch))
    note = _keep(session, row, by, file, convert(merged(kept, changes), NoteRequest))
    _tell(session, row, by, "changed")
    return note


def remove(session: Session, row: NoteRow, by: Person) -> Note:
    """Delete a note and return what it was."""
    note = msgspec.json.decode(row.body, type=Note)
    session.delete(row)
    session.flush()
    _tell(session, row, by, "deleted")
    return note


def _tell(session: Session, row: NoteRow, by: Person, what: str) -> None:
    """Record an event of a note, which says what the note is about and none of its words."""
    data = {"vehicle_id": row.vehicle_id, "procedure_id": row.procedure_id, "site": row.site_id}
    subject = f"/v1/notes/{row.id}"
    record(session, group_id=row.group_id, by=by, type=f"note.{what}", subject=subject, data=data)


def _keep(session: Session, row: NoteRow, by: Person, file: RevisionFile, request: NoteRequest) -> Note:
    faults = list(_faults(session, row.group_id, file, request))
    if faults:
        raise BadInput(faults)
    note = Note(**msgspec.structs.asdict(request), id=row.id, written_at=now(), written_by=by.name)
    row.procedure_id, row.site_id = request.procedure_id, request.site
    row.body = msgspec.json.encode(note).decode()
    session.add(row)
    session.flush()
    return note


def _faults(session: Session, group_id: str, file: RevisionFile, request: NoteRequest) -> Iterator[Fault]:
    if not request.text.strip():
        yield Fault("/text", "The text is blank.", "Write what others should know.")
    vehicle = file.get_vehicle(request.vehicle_id)
    if vehicle is None:
        detail = f"The catalogue has no vehicle '{request.vehicle_id}'."
        yield Fault("/vehicle_id", detail, "Look it up with GET /v1/vehicles.", "UNKNOWN_NAME")
    elif request.procedure_id:
        known = [procedure.id for procedure in vehicle.procedures]
        if request.procedure_id not in known:
            detail = f"The vehicle has no procedure '{request.procedure_id}'."
            yield Fault("/procedure_id", detail, nearest(request.procedure_id, known), "UNKNOWN_NAME")
    if request.site and sites.site(session, group_id, request.site) is None:
        detail = f"The group has no site '{request.site}'."
        yield Fault("/site", detail, "List them with GET /v1/sites.", "UNKNOWN_NAME")
    elif request.prefers_bay and not request.site:
        detail = "A bay is preferred, and it is not said of which site."
        yield Fault("/site", detail, "Give the site too.", "MISSING_FIELD")
    elif request.prefers_bay and sites.bay(session, group_id, str(request.site), request.prefers_bay) is None:
        detail = f"The site has no bay '{request.prefers_bay}'."
        yield Fault(
            "/prefers_bay", detail, "List its bays with GET /v1/sites/{site_id}/bays.", "UNKNOWN_NAME"
        )
