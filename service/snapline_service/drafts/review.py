"""Submit a draft, speak about it, approve it or send it back. Who edited it cannot approve it."""

from collections.abc import Iterable
from pathlib import Path

from sqlmodel import Session

from snapline.wire.drafts import Acknowledgement
from snapline.wire.validation import Finding as Reported
from snapline_service.access.people import Person
from snapline_service.catalogue import draft_store, store
from snapline_service.catalogue.tables import AcknowledgementRow, DraftRow, EditorRow, RemarkRow
from snapline_service.catalogue.telling import tell
from snapline_service.database import now
from snapline_service.drafts import drafts
from snapline_service.errors import BadInput, Conflict, Fault, NotAllowed
from snapline_service.validation.checking import Finding, findings

REVIEWING = ("edit", "review")


def submit(
    session: Session,
    draft: DraftRow,
    person: Person,
    *,
    text: str,
    given: Iterable[Acknowledgement],
    published: Path | None,
) -> None:
    """Submit a draft for review.

    ``published`` is the file of the revision in force. Raises Conflict if the draft cannot be reviewed as it
    is, BadInput for errors of its content and for warnings that nobody took note of.
    """
    drafts.require_open(draft)
    if draft.state == "in_review":
        raise Conflict("The draft is in review already.", mend="Approve it or send it back.")
    require_publishable(session, draft)
    for acknowledgement in given:
        session.merge(
            AcknowledgementRow(
                draft_id=draft.id,
                finding=acknowledgement.finding,
                reason=acknowledgement.reason,
                at=now(),
                by=person.name,
            )
        )
    session.flush()
    accepted = {row.finding for row in draft_store.acknowledgements(session, draft.id)}
    faults = [
        fault(f) for f in findings(session, draft, published) if f.severity == "error" or f.id not in accepted
    ]
    if faults:
        raise BadInput(faults)
    draft.state, draft.submitted_by = "in_review", person.name
    _note(session, draft, person, "submitted", text)
    tell(session, draft, person, "draft.submitted")


def comment(session: Session, draft: DraftRow, person: Person, text: str) -> RemarkRow:
    """Say something about a draft; it stays as it is."""
    return draft_store.add_remark(session, draft.id, person.name, "comment", text)


def approve(session: Session, draft: DraftRow, person: Person) -> None:
    """Agree with a draft as it is. Raises Conflict unless it is in review, NotAllowed for who edited it."""
    _require_in_review(draft)
    if session.get(EditorRow, (draft.id, person.holder_id)):
        message = "You changed something in this draft, with this key or another, and cannot approve it."
        raise NotAllowed(message, mend="Ask somebody else with the scope 'review' to read it.")
    draft.approver, draft.approved_by = person.holder_id, person.name
    _note(session, draft, person, "approved", "")
    tell(session, draft, person, "draft.approved")


def send_back(session: Session, draft: DraftRow, person: Person, text: str) -> None:
    """Send a draft back to who edits it, and say why. Raises Conflict unless it is in review."""
    _require_in_review(draft)
    draft.state = "draft"
    draft.submitted_by = draft.approver = draft.approved_by = None
    _note(session, draft, person, "sent_back", text)
    tell(session, draft, person, "draft.sent_back")


def agreed(session: Session, draft: DraftRow, person: Person) -> str:
    """Return how a draft in review was agreed on: 'reviewed' or 'alone'. Raises Conflict, NotAllowed."""
    _require_in_review(draft)
    if draft.approved_by:
        return "reviewed"
    if draft_store.holders_with(session, draft.group_id, REVIEWING, now()) - {person.holder_id}:
        detail = "Nobody has approved this draft as it is."
        raise NotAllowed(detail, mend="A second person with the scope 'review' approves it first.")
    return "alone"


def require_publishable(session: Session, draft: DraftRow) -> None:
    """Raise Conflict unless a draft changes something, is settled, and stands on the revision in force."""
    waiting = len(draft_store.conflicts(session, draft.id, still_open=True))
    if waiting:
        detail = f"The draft has open conflicts: {waiting}."
        raise Conflict(detail, mend="Choose a side of each with POST …/conflicts/{number}.")
    newest = store.newest_revision(session, draft.group_id)
    in_force = newest.number if newest else 0
    if draft.base_revision != in_force:
        message = f"Revision {in_force} was published after this draft was begun."
        raise Conflict(
            message, pointer="/draft_id", mend="Rebase it, or import the files again on top of that."
        )
    if not draft_store.count_changes(session, draft.id):
        raise Conflict("The draft changes nothing.", mend="Change a document first.")


def _require_in_review(draft: DraftRow) -> None:
    drafts.require_open(draft)
    if draft.state != "in_review":
        raise Conflict("The draft is not in review.", mend="Submit it first.")


def _note(session: Session, draft: DraftRow, person: Person, act: str, text: str) -> None:
    draft_store.add_remark(session, draft.id, person.name, act, text)
    drafts.touch(session, draft)


def fault(finding: Finding | Reported) -> Fault:
    """Return a finding as a fault of the draft."""
    at = f"/{finding.kind}s/{finding.name}{finding.pointer}"
    if finding.severity == "error":
        return Fault(at, finding.text, finding.mend, finding.code)
    mend = f"{finding.mend} Or acknowledge {finding.id} with a reason."
    return Fault(at, finding.text, mend, finding.code)
