"""Local notes on vehicles and procedures."""

from typing import TypedDict, Unpack

from snapline.calls import Call, get, whole
from snapline.paging import AsyncListing, Page
from snapline.resources.base import AsyncResource, Resource
from snapline.stored import Stored, create, delete, update
from snapline.wire.notes import Note, NotePage, NotePatch, NoteQuery, NoteRequest

_NOTES, _NOTE = "/v1/notes", "/v1/notes/{note_id}"


class NoteFilters(TypedDict, total=False):
    """The fields of ``NoteQuery``."""

    vehicle_id: str | None
    procedure_id: str | None
    site: str | None
    page_size: int
    page_token: str | None


def list_notes(query: NoteQuery) -> Call[NotePage]:
    """Describe one page of the list of notes."""
    return get(_NOTES, NotePage, query=query)


def get_note(note_id: str) -> Call[Note]:
    """Describe the reading of a note."""
    return get(_NOTE, Note, note_id=note_id)


def create_note(note: NoteRequest, idempotency_key: str | None, *, validate_only: bool) -> Call[Note]:
    """Describe the writing of a note."""
    return create(_NOTES, note, Note, idempotency_key, validate_only=validate_only)


def update_note(note_id: str, patch: NotePatch, etag: str, *, validate_only: bool) -> Call[Note]:
    """Describe a change of a note."""
    return update(_NOTE, patch, Note, etag, validate_only=validate_only, note_id=note_id)


def delete_note(note_id: str, etag: str) -> Call[Note]:
    """Describe the deletion of a note."""
    return delete(_NOTE, Note, etag, note_id=note_id)


class Notes(Resource):
    """What your group's own people remark on vehicles and procedures."""

    def list(self, query: NoteQuery | None = None, /, **filters: Unpack[NoteFilters]) -> Page[Note]:
        """List the notes that pass every filter given, oldest first."""
        return self._pages(list_notes(whole(NoteQuery, query, filters)))

    def get(self, note_id: str) -> Stored[Note]:
        """Return a note and its ETag."""
        return self._stored(get_note(note_id))

    def create(
        self, note: NoteRequest, *, idempotency_key: str | None = None, validate_only: bool = False
    ) -> Stored[Note]:
        """Write a note."""
        return self._stored(create_note(note, idempotency_key, validate_only=validate_only))

    def update(
        self, note_id: str, patch: NotePatch, *, etag: str, validate_only: bool = False
    ) -> Stored[Note]:
        """Change what the patch gives."""
        return self._stored(update_note(note_id, patch, etag, validate_only=validate_only))

    def delete(self, note_id: str, *, etag: str) -> Note:
        """Delete a note and return what it was."""
        return self._answer(delete_note(note_id, etag))


class AsyncNotes(AsyncResource):
    """What your group's own people remark on vehicles and procedures."""

    def list(self, query: NoteQuery | None = None, /, **filters: Unpack[NoteFilters]) -> AsyncListing[Note]:
        """List the notes that pass every filter given, oldest first."""
        return self._pages(list_notes(whole(NoteQuery, query, filters)))

    async def get(self, note_id: str) -> Stored[Note]:
        """Return a note and its ETag."""
        return await self._stored(get_note(note_id))

    async def create(
        self, note: NoteRequest, *, idempotency_key: str | None = None, validate_only: bool = False
    ) -> Stored[Note]:
        """Write a note."""
        return await self._stored(create_note(note, idempotency_key, validate_only=validate_only))

    async def update(
        self, note_id: str, patch: NotePatch, *, etag: str, validate_only: bool = False
    ) -> Stored[Note]:
        """Change what the patch gives."""
        return await self._stored(update_note(note_id, patch, etag, validate_only=validate_only))

    async def delete(self, note_id: str, *, etag: str) -> Note:
        """Delete a note and return what it was."""
        return await self._answer(delete_note(note_id, etag))
