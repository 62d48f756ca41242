"""Drafts of the catalogue: prepare changes, have them reviewed by a second person, publish them."""

from collections.abc import Mapping, Sequence
from typing import Any, Literal, TypedDict, TypeVar, Unpack, cast
from uuid import uuid4

from msgspec import UNSET, Struct, structs

from snapline.calls import Call, as_page, get, whole
from snapline.paging import AsyncListing, Page
from snapline.resources.base import AsyncResource, Resource
from snapline.stored import MERGE_PATCH, Stored, create, delete, update
from snapline.wire.catalogue import FixtureDocument, OperationDocument, SourceDocument, VehicleDocument
from snapline.wire.diffs import Diff
from snapline.wire.drafts import (
    Acknowledgement,
    ConflictChoice,
    ConflictList,
    Draft,
    DraftChange,
    DraftChangePage,
    DraftChangeQuery,
    DraftPage,
    DraftPatch,
    DraftQuery,
    DraftRequest,
    Remark,
    RemarkRequest,
    Review,
    SubmitRequest,
)
from snapline.wire.impact import Impact
from snapline.wire.revisions import Revision
from snapline.wire.validation import ValidationReport

_DRAFTS, _DRAFT = "/v1/drafts", "/v1/drafts/{draft_id}"
Document = TypeVar("Document", VehicleDocument, FixtureDocument, SourceDocument, OperationDocument)
T = TypeVar("T")


class DraftFilters(TypedDict, total=False):
    """The fields of ``DraftQuery``."""

    state: Literal["draft", "in_review", "published", "dropped"] | None
    page_size: int
    page_token: str | None


class DraftChangeFilters(TypedDict, total=False):
    """The fields of ``DraftChangeQuery``."""

    page_size: int
    page_token: str | None


def create_draft(request: DraftRequest, idempotency_key: str | None) -> Call[Draft]:
    """Describe the beginning of a draft."""
    return create(_DRAFTS, request, Draft, idempotency_key, validate_only=False)


def list_drafts(query: DraftQuery) -> Call[DraftPage]:
    """Describe one page of the list of drafts."""
    return get(_DRAFTS, DraftPage, query=query)


def get_draft(draft_id: str) -> Call[Draft]:
    """Describe the reading of a draft."""
    return get(_DRAFT, Draft, draft_id=draft_id)


def update_draft(draft_id: str, patch: DraftPatch, etag: str) -> Call[Draft]:
    """Describe a change of a draft's note."""
    return update(_DRAFT, patch, Draft, etag, validate_only=False, draft_id=draft_id)


def drop_draft(draft_id: str, etag: str) -> Call[Draft]:
    """Describe the giving up of a draft."""
    return delete(_DRAFT, Draft, etag, draft_id=draft_id)


def list_draft_changes(draft_id: str, query: DraftChangeQuery) -> Call[DraftChangePage]:
    """Describe one page of what a draft changes."""
    return get(f"{_DRAFT}/changes", DraftChangePage, query=query, draft_id=draft_id)


def list_conflicts(draft_id: str) -> Call[ConflictList]:
    """Describe the list of a draft's conflicts."""
    return get(f"{_DRAFT}/conflicts", ConflictList, draft_id=draft_id)


def get_review(draft_id: str) -> Call[Review]:
    """Describe the reading of what was said of a draft."""
    return get(f"{_DRAFT}/review", Review, draft_id=draft_id)


def get_document(draft_id: str, kind: type[Document], name: str) -> Call[Document]:
    """Describe the reading of a document as a draft has it."""
    return get(_route(kind), kind, draft_id=draft_id, name=name)


def put_document(draft_id: str, document: Document, etag: str | None) -> Call[Document]:
    """Describe the addition of a document to a draft, or under an ETag its replacement."""
    kind = type(document)
    under = {"if-none-match": "*"} if etag is None else {"if-match": etag}
    call = get(_route(kind), kind, draft_id=draft_id, name=document.id)
    return _writing(call, "PUT", under, document)


def patch_document(
    draft_id: str, kind: type[Document], name: str, patch: Mapping[str, Any], etag: str
) -> Call[Document]:
    """Describe a merge patch (RFC 7396) of a document in a draft."""
    call = get(_route(kind), kind, draft_id=draft_id, name=name)
    return _writing(call, "PATCH", {"if-match": etag, "content-type": MERGE_PATCH}, cast("Struct", patch))


def retire_document(draft_id: str, kind: type[Document], name: str, etag: str) -> Call[Document]:
    """Describe the retirement of a document in a draft."""
    return delete(_route(kind), kind, etag, draft_id=draft_id, name=name)


def validate_draft(draft_id: str) -> Call[ValidationReport]:
    """Describe the validation of a draft as it is."""
    call = get(f"{_DRAFT}/validate", ValidationReport, draft_id=draft_id)
    return structs.replace(call, method="POST", safe=True)


def compare_draft(draft_id: str) -> Call[Diff]:
    """Describe the comparison of a draft with its base."""
    return get(f"{_DRAFT}/diff", Diff, draft_id=draft_id)


def get_draft_impact(draft_id: str) -> Call[Impact]:
    """Describe the question what a draft would touch."""
    return get(f"{_DRAFT}/impact", Impact, draft_id=draft_id)


def act(draft_id: str, act: str, answer: type[T], etag: str, body: Struct | None = None) -> Call[T]:
    """Describe something done with a draft that has the ETag."""
    return _writing(get(f"{_DRAFT}/{act}", answer, draft_id=draft_id), "POST", {"if-match": etag}, body)


def comment_on_draft(draft_id: str, text: str) -> Call[Remark]:
    """Describe a remark about a draft."""
    route = f"{_DRAFT}/comments"
    return create(route, RemarkRequest(text=text), Remark, None, validate_only=False, draft_id=draft_id)


def _route(kind: type[Struct]) -> str:
    return f"{_DRAFT}/{kind.__struct_config__.tag}s/{{name}}"


def _writing(call: Call[T], method: str, headers: dict[str, str], body: Struct | None) -> Call[T]:
    once = {"idempotency-key": f'"{uuid4()}"', **headers}
    return structs.replace(call, method=method, headers=once, body=body, safe=True)


class Drafts(Resource):
    """Changes of the catalogue on top of a revision."""

    def begin(self, note: str = "", *, idempotency_key: str | None = None) -> Stored[Draft]:
        """Begin a draft on top of the revision in force."""
        return self._stored(create_draft(DraftRequest(note=note), idempotency_key))

    def list(self, query: DraftQuery | None = None, /, **filters: Unpack[DraftFilters]) -> Page[Draft]:
        """List the drafts of your group, newest first."""
        return self._pages(list_drafts(whole(DraftQuery, query, filters)))

    def get(self, draft_id: str) -> Stored[Draft]:
        """Return a draft and its ETag."""
        return self._stored(get_draft(draft_id))

    def annotate(self, draft_id: str, note: str, *, etag: str) -> Stored[Draft]:
        """Give a draft another note."""
        return self._stored(update_draft(draft_id, DraftPatch(note=note), etag))

    def drop(self, draft_id: str, *, etag: str) -> Draft:
        """Give a draft up; it stays readable."""
        return self._answer(drop_draft(draft_id, etag))

    def changes(
        self, draft_id: str, query: DraftChangeQuery | None = None, /, **filters: Unpack[DraftChangeFilters]
    ) -> Page[DraftChange]:
        """List the documents that a draft adds, changes or retires."""
        return self._pages(list_draft_changes(draft_id, whole(DraftChangeQuery, query, filters)))

    def document(self, draft_id: str, kind: type[Document], name: str) -> Stored[Document]:
        """Return a document as a draft has it, and its ETag; ``kind`` is such as ``VehicleDocument``."""
        return self._stored(get_document(draft_id, kind, name))

    def put(self, draft_id: str, document: Document, *, etag: str | None = None) -> Stored[Document]:
        """Add a document to a draft, or replace what has the ETag."""
        return self._stored(put_document(draft_id, document, etag))

    def patch(
        self, draft_id: str, kind: type[Document], name: str, patch: Mapping[str, Any], *, etag: str
    ) -> Stored[Document]:
        """Change a document in a draft by a merge patch: None removes, lists are replaced as a whole."""
        return self._stored(patch_document(draft_id, kind, name, patch, etag))

    def retire(self, draft_id: str, kind: type[Document], name: str, *, etag: str) -> Document:
        """Retire a document in a draft and return what it was."""
        return self._answer(retire_document(draft_id, kind, name, etag))

    def rebase(self, draft_id: str, *, etag: str) -> Stored[Draft]:
        """Put a draft on top of the revision in force, merged field by field."""
        return self._stored(act(draft_id, "rebase", Draft, etag))

    def conflicts(self, draft_id: str) -> ConflictList:
        """Return the places where a draft and what was published meanwhile differ."""
        return self._answer(list_conflicts(draft_id))

    def settle(
        self,
        draft_id: str,
        number: int,
        take: Literal["draft", "published", "value"],
        value: Any = UNSET,
        *,
        etag: str,
    ) -> Stored[Draft]:
        """Choose a side of a conflict, or another value: None removes what is in dispute."""
        choice = ConflictChoice(take=take, value=value)
        return self._stored(act(draft_id, f"conflicts/{number}", Draft, etag, choice))

    def validate(self, draft_id: str) -> ValidationReport:
        """Return what is wrong or doubtful in a draft as it is; it changes nothing."""
        return self._answer(validate_draft(draft_id))

    def diff(self, draft_id: str) -> Diff:
        """Return what a draft changes in its base, in words."""
        return self._answer(compare_draft(draft_id))

    def diff_html(self, draft_id: str) -> str:
        """Return the same as a page to read."""
        return self._answer(as_page(compare_draft(draft_id)))

    def impact(self, draft_id: str) -> Impact:
        """Return what a draft would touch: vehicles, fixtures, bays, kept visits."""
        return self._answer(get_draft_impact(draft_id))

    def submit(
        self,
        draft_id: str,
        text: str = "",
        acknowledgements: Sequence[Acknowledgement] = (),
        *,
        etag: str,
    ) -> Stored[Draft]:
        """Submit a draft for review; warnings need an acknowledgement."""
        request = SubmitRequest(text=text, acknowledgements=tuple(acknowledgements))
        return self._stored(act(draft_id, "submit", Draft, etag, request))

    def comment(self, draft_id: str, text: str) -> Remark:
        """Say something about a draft."""
        return self._answer(comment_on_draft(draft_id, text))

    def review(self, draft_id: str) -> Review:
        """Return what was said of a draft and done with it."""
        return self._answer(get_review(draft_id))

    def approve(self, draft_id: str, *, etag: str) -> Stored[Draft]:
        """Agree with a draft as it is; who edited it cannot."""
        return self._stored(act(draft_id, "approve", Draft, etag))

    def send_back(self, draft_id: str, text: str, *, etag: str) -> Stored[Draft]:
        """Send a draft back to those who edit it, and say why."""
        return self._stored(act(draft_id, "send-back", Draft, etag, RemarkRequest(text=text)))

    def publish(self, draft_id: str, *, etag: str) -> Revision:
        """Put an approved draft in force as the next revision."""
        return self._answer(act(draft_id, "publish", Revision, etag))


class AsyncDrafts(AsyncResource):
    """Changes of the catalogue on top of a revision."""

    async def begin(self, note: str = "", *, idempotency_key: str | None = None) -> Stored[Draft]:
        """Begin a draft on top of the revision in force."""
        return await self._stored(create_draft(DraftRequest(note=note), idempotency_key))

    def list(
        self, query: DraftQuery | None = None, /, **filters: Unpack[DraftFilters]
    ) -> AsyncListing[Draft]:
        """List the drafts of your group, newest first."""
        return self._pages(list_drafts(whole(DraftQuery, query, filters)))

    async def get(self, draft_id: str) -> Stored[Draft]:
        """Return a draft and its ETag."""
        return await self._stored(get_draft(draft_id))

    async def annotate(self, draft_id: str, note: str, *, etag: str) -> Stored[Draft]:
        """Give a draft another note."""
        return await self._stored(update_draft(draft_id, DraftPatch(note=note), etag))

    async def drop(self, draft_id: str, *, etag: str) -> Draft:
        """Give a draft up; it stays readable."""
        return await self._answer(drop_draft(draft_id, etag))

    def changes(
        self, draft_id: str, query: DraftChangeQuery | None = None, /, **filters: Unpack[DraftChangeFilters]
    ) -> AsyncListing[DraftChange]:
        """List the documents that a draft adds, changes or retires."""
        return self._pages(list_draft_changes(draft_id, whole(DraftChangeQuery, query, filters)))

    async def document(self, draft_id: str, kind: type[Document], name: str) -> Stored[Document]:
        """Return a document as a draft has it, and its ETag; ``kind`` is such as ``VehicleDocument``."""
        return await self._stored(get_document(draft_id, kind, name))

    async def put(self, draft_id: str, document: Document, *, etag: str | None = None) -> Stored[Document]:
        """Add a document to a draft, or replace what has the ETag."""
        return await self._stored(put_document(draft_id, document, etag))

    async def patch(
        self, draft_id: str, kind: type[Document], name: str, patch: Mapping[str, Any], *, etag: str
    ) -> Stored[Document]:
        """Change a document in a draft by a merge patch: None removes, lists are replaced as a whole."""
        return await self._stored(patch_document(draft_id, kind, name, patch, etag))

    async def retire(self, draft_id: str, kind: type[Document], name: str, *, etag: str) -> Document:
        """Retire a document in a draft and return what it was."""
        return await self._answer(retire_document(draft_id, kind, name, etag))

    async def rebase(self, draft_id: str, *, etag: str) -> Stored[Draft]:
        """Put a draft on top of the revision in force, merged field by field."""
        return await self._stored(act(draft_id, "rebase", Draft, etag))

    async def conflicts(self, draft_id: str) -> ConflictList:
        """Return the places where a draft and what was published meanwhile differ."""
        return await self._answer(list_conflicts(draft_id))

    async def settle(
        self,
        draft_id: str,
        number: int,
        take: Literal["draft", "published", "value"],
        value: Any = UNSET,
        *,
        etag: str,
    ) -> Stored[Draft]:
        """Choose a side of a conflict, or another value: None removes what is in dispute."""
        choice = ConflictChoice(take=take, value=value)
        return await self._stored(act(draft_id, f"conflicts/{number}", Draft, etag, choice))

    async def validate(self, draft_id: str) -> ValidationReport:
        """Return what is wrong or doubtful in a draft as it is; it changes nothing."""
        return await self._answer(validate_draft(draft_id))

    async def diff(self, draft_id: str) -> Diff:
        """Return what a draft changes in its base, in words."""
        return await self._answer(compare_draft(draft_id))

    async def diff_html(self, draft_id: str) -> str:
        """Return the same as a page to read."""
        return await self._answer(as_page(compare_draft(draft_id)))

    async def impact(self, draft_id: str) -> Impact:
        """Return what a draft would touch: vehicles, fixtures, bays, kept visits."""
        return await self._answer(get_draft_impact(draft_id))

    async def submit(
        self,
        draft_id: str,
        text: str = "",
        acknowledgements: Sequence[Acknowledgement] = (),
        *,
        etag: str,
    ) -> Stored[Draft]:
        """Submit a draft for review; warnings need an acknowledgement."""
        request = SubmitRequest(text=text, acknowledgements=tuple(acknowledgements))
        return await self._stored(act(draft_id, "submit", Draft, etag, request))

    async def comment(self, draft_id: str, text: str) -> Remark:
        """Say something about a draft."""
        return await self._answer(comment_on_draft(draft_id, text))

    async def review(self, draft_id: str) -> Review:
        """Return what was said of a draft and done with it."""
        return await self._answer(get_review(draft_id))

    async def approve(self, draft_id: str, *, etag: str) -> Stored[Draft]:
        """Agree with a draft as it is; who edited it cannot."""
        return await self._stored(act(draft_id, "approve", Draft, etag))

    async def send_back(self, draft_id: str, text: str, *, etag: str) -> Stored[Draft]:
        """Send a draft back to those who edit it, and say why."""
        return await self._stored(act(draft_id, "send-back", Draft, etag, RemarkRequest(text=text)))

    async def publish(self, draft_id: str, *, etag: str) -> Revision:
        """Put an approved draft in force as the next revision."""
        return await self._answer(act(draft_id, "publish", Revision, etag))
