"""HTTP of a draft's validation, review and publication."""

from collections.abc import Callable
from pathlib import Path

import msgspec
from litestar import Response, get, post
from litestar.datastructures import State
from litestar.di import NamedDependency
from litestar.params import FromPath, JSONBody
from sqlmodel import Session

from snapline.wire.drafts import Acknowledgement, Draft, Remark, RemarkRequest, Review, SubmitRequest
from snapline.wire.revisions import Revision
from snapline.wire.validation import ValidationReport
from snapline_service.access.callers import Caller, needs
from snapline_service.access.people import Person
from snapline_service.catalogue import draft_store
from snapline_service.catalogue.tables import DraftRow, RemarkRow
from snapline_service.database import reading
from snapline_service.drafts import drafts, publishing, review
from snapline_service.drafts.publishing import Ready
from snapline_service.drafts.routes import DRAFT, draft_to_change
from snapline_service.errors import InvalidValue, SnaplineError
from snapline_service.revisions import apart, revision_files
from snapline_service.revisions.content import Built, Plan
from snapline_service.revisions.revisions import shown
from snapline_service.validation import reporting
from snapline_service.writing import Asked, person_of, write

_CHANGES = {"answers": Draft, "writes": True, "tagged": True, "conditional": True, "refused": ["404", "409"]}


def _act(
    caller: Caller, request: Asked, draft_id: str, act: Callable[[Session, DraftRow, Person], None]
) -> Response[bytes]:
    def change(session: Session) -> Draft:
        draft = draft_to_change(session, caller, request, draft_id)
        act(session, draft, person_of(caller))
        return drafts.shown(session, draft)

    return write(caller, request, change)


@get(
    f"{DRAFT}/review",
    operation_id="get_review",
    tags=["drafts"],
    guards=[needs("read")],
    sync_to_thread=True,
    opt={"refused": ["404"]},
)
def get_review(draft_id: FromPath[str], caller: NamedDependency[Caller], state: State) -> Review:
    """Get what was said of a draft and done with it, oldest first, and the warnings that may stand."""
    with reading(state.engine) as session:
        draft = drafts.found(session, caller.principal.group_id, draft_id)
        accepted = draft_store.acknowledgements(session, draft.id)
        return Review(
            remarks=tuple(_remark(row) for row in draft_store.remarks(session, draft.id)),
            acknowledgements=tuple(
                Acknowledgement(finding=row.finding, reason=row.reason) for row in accepted
            ),
        )


@post(
    f"{DRAFT}/comments",
    operation_id="comment_on_draft",
    tags=["drafts"],
    guards=[needs("read")],
    sync_to_thread=True,
    opt={"answers": Remark, "writes": True, "refused": ["404"]},
)
def comment_on_draft(
    draft_id: FromPath[str], data: JSONBody[RemarkRequest], caller: NamedDependency[Caller], request: Asked
) -> Response[bytes]:
    """Say something about a draft, whatever its state; the draft itself stays as it is."""
    if not data.text.strip():
        raise InvalidValue("The text is blank.", pointer="/text", mend="Write what is to be said.")

    def change(session: Session) -> Remark:
        draft = drafts.found(session, caller.principal.group_id, draft_id, to_change=True)
        return _remark(review.comment(session, draft, person_of(caller), data.text))

    return write(caller, request, change, status=201)


@post(
    f"{DRAFT}/submit",
    operation_id="submit_draft",
    tags=["drafts"],
    guards=[needs("edit")],
    status_code=200,
    sync_to_thread=True,
    opt=_CHANGES,
)
def submit_draft(
    draft_id: FromPath[str], data: JSONBody[SubmitRequest], caller: NamedDependency[Caller], request: Asked
) -> Response[bytes]:
    """Submit a draft for review.

    Errors of its content stop it, all of them at once; warnings need an acknowledgement with a reason. Any
    edit afterwards takes it back, and approvals with it.
    """

    def act(session: Session, draft: DraftRow, person: Person) -> None:
        path = caller.published.path if caller.published else None
        given = data.acknowledgements
        review.submit(session, draft, person, text=data.text, given=given, published=path)

    return _act(caller, request, draft_id, act)


@post(
    f"{DRAFT}/approve",
    operation_id="approve_draft",
    tags=["drafts"],
    guards=[needs("review")],
    status_code=200,
    sync_to_thread=True,
    opt=_CHANGES,
)
def approve_draft(
    draft_id: FromPath[str], caller: NamedDependency[Caller], request: Asked
) -> Response[bytes]:
    """Agree with a draft as it is. Who changed anything in it cannot, whichever key they use."""
    return _act(caller, request, draft_id, review.approve)


@post(
    f"{DRAFT}/send-back",
    operation_id="send_draft_back",
    tags=["drafts"],
    guards=[needs("review")],
    status_code=200,
    sync_to_thread=True,
    opt=_CHANGES,
)
def send_draft_back(
    draft_id: FromPath[str], data: JSONBody[RemarkRequest], caller: NamedDependency[Caller], request: Asked
) -> Response[bytes]:
    """Send a draft back to those who edit it, and say why."""

    def act(session: Session, draft: DraftRow, person: Person) -> None:
        review.send_back(session, draft, person, data.text)

    return _act(caller, request, draft_id, act)


@post(
    f"{DRAFT}/publish",
    operation_id="publish_draft",
    tags=["drafts"],
    guards=[needs("review")],
    sync_to_thread=True,
    opt={
        "answers": Revision,
        "writes": True,
        "tagged": True,
        "conditional": True,
        "refused": ["404", "409"],
    },
)
def publish_draft(
    draft_id: FromPath[str], caller: NamedDependency[Caller], request: Asked, state: State
) -> Response[bytes]:
    """Put an approved draft in force as the next revision, in every worker within a second.

    In a group where nobody else may edit or review, its only holder publishes alone, and the revision says
    so. A build that fails leaves the revision in force as it is.
    """
    group_id, person = caller.principal.group_id, person_of(caller)

    def agreed(session: Session, draft: DraftRow) -> str:
        return review.agreed(session, draft, person)

    ready = _prepared(caller, request, state, draft_id, agreed)

    def change(session: Session) -> Revision:
        if isinstance(
            ready, SnaplineError
        ):  # told only now: the request may be one that was answered already
            raise ready
        draft_to_change(session, caller, request, draft_id)
        row = publishing.commit(session, ready, person, agreed)
        return shown(session, row)

    try:
        response = write(caller, request, change, status=201)
    finally:
        if isinstance(ready, Ready):
            ready.discard()
    if isinstance(ready, Ready):
        settings = state.settings
        revision_files.prune(settings.data_folder, group_id, ready.plan.number, settings.revision_files_kept)
    return response


def _prepared(
    caller: Caller, request: Asked, state: State, draft_id: str, agreed: publishing.Agreed
) -> Ready | SnaplineError:
    group_id = caller.principal.group_id

    def build(session: Session, plan: Plan, place: Path, previous: Path | None) -> Built:
        return apart.build(session, state.settings.database, plan, place, previous)

    try:
        with reading(state.engine) as session:
            draft_to_change(session, caller, request, draft_id)
        return publishing.prepare(
            state.engine, state.settings, group_id=group_id, draft_id=draft_id, agreed=agreed, build=build
        )
    except SnaplineError as error:
        return error


def _remark(row: RemarkRow) -> Remark:
    return msgspec.convert(row, Remark, from_attributes=True)


@post(
    f"{DRAFT}/validate",
    operation_id="validate_draft",
    tags=["drafts"],
    guards=[needs("read")],
    status_code=200,
    sync_to_thread=True,
    opt={"refused": ["404"]},
)
def validate_draft(
    draft_id: FromPath[str], caller: NamedDependency[Caller], state: State
) -> ValidationReport:
    """Report what is wrong or doubtful in a draft as it is now. It changes nothing.

    Errors stop a submission; warnings need an acknowledgement with a reason there.
    """
    with reading(state.engine) as session:
        draft = drafts.found(session, caller.principal.group_id, draft_id)
        return reporting.report(session, draft, caller.published.path if caller.published else None)


HANDLERS = [
    validate_draft,
    get_review,
    comment_on_draft,
    submit_draft,
    approve_draft,
    send_draft_back,
    publish_draft,
]
