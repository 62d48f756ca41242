"""Published revisions of the catalogue, and their copies for offline use."""

import hashlib
from pathlib import Path
from typing import BinaryIO, TypedDict, Unpack

from msgspec import structs

from snapline.calls import Call, as_page, get, whole
from snapline.errors import ResponseUnreadable
from snapline.paging import AsyncListing, Page
from snapline.resources.base import AsyncResource, Resource
from snapline.stored import Stored, create
from snapline.wire.diffs import Diff
from snapline.wire.drafts import Draft
from snapline.wire.impact import Impact
from snapline.wire.revisions import (
    RestoreRequest,
    Revision,
    RevisionPage,
    RevisionPart,
    RevisionParts,
    RevisionQuery,
)

_REVISION = "/v1/revisions/{number}"
_PIECE_BYTES = 8 << 20
SQLITE = "application/vnd.sqlite3"


class RevisionFilters(TypedDict, total=False):
    """The fields of ``RevisionQuery``."""

    page_size: int
    page_token: str | None


def list_revisions(query: RevisionQuery) -> Call[RevisionPage]:
    """Describe one page of the list of revisions."""
    return get("/v1/revisions", RevisionPage, query=query)


def get_revision(number: int) -> Call[Revision]:
    """Describe the reading of a revision."""
    return get(_REVISION, Revision, number=str(number))


def compare_revisions(number: int, other: int) -> Call[Diff]:
    """Describe the comparison of two revisions."""
    return get(f"{_REVISION}/diff/{{other}}", Diff, number=str(number), other=str(other))


def get_revision_impact(number: int) -> Call[Impact]:
    """Describe the question what a revision touched."""
    return get(f"{_REVISION}/impact", Impact, number=str(number))


def restore_revision(number: int, request: RestoreRequest, idempotency_key: str | None) -> Call[Draft]:
    """Describe the beginning of a draft that brings an older content back."""
    route, ids = f"{_REVISION}/restore", {"number": str(number)}
    return create(route, request, Draft, idempotency_key, validate_only=False, **ids)


def list_revision_files(number: int) -> Call[RevisionParts]:
    """Describe the list of the files of a revision's offline copy."""
    return get(f"{_REVISION}/files", RevisionParts, number=str(number))


def download_piece(number: int, part: RevisionPart, begin: int) -> Call[bytes]:
    """Describe the download of a piece of a file, which can be repeated and resumed."""
    call = get(f"{_REVISION}/files/{{file_name}}", bytes, number=str(number), file_name=part.name)
    end = min(begin + _PIECE_BYTES, part.size_bytes) - 1
    headers = {"range": f"bytes={begin}-{end}", "if-range": f'"{part.sha256}"'}
    return structs.replace(call, headers=headers, accept=SQLITE)


class _Download:
    """One file on its way into a folder: goes on where it stopped, and is in its place only when whole."""

    def __init__(self, part: RevisionPart, folder: Path) -> None:
        self.part = part
        self.path = folder / part.name
        self._begun = folder / f"{part.name}.{part.sha256[:12]}.part"

    def is_there(self) -> bool:
        """Whether the file is there with the right content."""
        return self.path.exists() and _sha256(self.path) == self.part.sha256

    def open(self) -> BinaryIO:
        """Open what is there of it, at its end."""
        return self._begun.open("ab")

    def add(self, file: BinaryIO, piece: bytes) -> None:
        """Add a piece. Raises ResponseUnreadable if it is not one of this file."""
        if not 0 < len(piece) <= min(_PIECE_BYTES, self.part.size_bytes - file.tell()):
            raise ResponseUnreadable(
                f"The service sent another piece of {self.part.name} than was asked for."
            )
        file.write(piece)

    def finish(self) -> None:
        """Move the file to its place. Raises ResponseUnreadable if it is damaged."""
        if _sha256(self._begun) != self.part.sha256:
            self._begun.unlink()
            raise ResponseUnreadable(f"{self.part.name} arrived damaged: download it again.")
        self._begun.replace(self.path)


def _sha256(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


class Revisions(Resource):
    """Published states of the catalogue, which never change."""

    def list(
        self, query: RevisionQuery | None = None, /, **filters: Unpack[RevisionFilters]
    ) -> Page[Revision]:
        """List revisions, newest first; the newest is in force."""
        return self._pages(list_revisions(whole(RevisionQuery, query, filters)))

    def get(self, number: int) -> Revision:
        """Return a revision: when, by whom and why it was published, and who agreed."""
        return self._answer(get_revision(number))

    def diff(self, number: int, other: int) -> Diff:
        """Return what differs from one revision to another, in words."""
        return self._answer(compare_revisions(number, other))

    def diff_html(self, number: int, other: int) -> str:
        """Return the same as a page to read."""
        return self._answer(as_page(compare_revisions(number, other)))

    def impact(self, number: int) -> Impact:
        """Return what a revision touched in the one before it; of kept visits, those planned before it."""
        return self._answer(get_revision_impact(number))

    def restore(self, number: int, note: str = "", *, idempotency_key: str | None = None) -> Stored[Draft]:
        """Begin a draft that brings back all content of an older revision; it is reviewed as any other."""
        return self._stored(restore_revision(number, RestoreRequest(note=note), idempotency_key))

    def download(self, folder: str | Path, number: int | None = None) -> Path:
        """Bring a folder's offline copy up to a revision, by default that in force; return the file to open.

        Open it with ``snapline.offline.RevisionFile``. What is there already is not fetched again, and a
        download that broke off goes on where it stopped. Raises ResponseUnreadable if a file arrives damaged.
        """
        place = Path(folder)
        place.mkdir(parents=True, exist_ok=True)
        if number is None:
            newest = (self._answer(list_revisions(RevisionQuery(page_size=1)))).items
            number = newest[0].number if newest else 0  # of which there is none: the service says so
        parts = (self._answer(list_revision_files(number))).items
        for part in reversed(parts):  # the one to open last, so that what it supplements is there before it
            download = _Download(part, place)
            if not download.is_there():
                with download.open() as file:
                    while file.tell() < part.size_bytes:
                        call = download_piece(number, part, file.tell())
                        download.add(file, self._answer(call))
                download.finish()
        return place / parts[0].name


class AsyncRevisions(AsyncResource):
    """Published states of the catalogue, which never change."""

    def list(
        self, query: RevisionQuery | None = None, /, **filters: Unpack[RevisionFilters]
    ) -> AsyncListing[Revision]:
        """List revisions, newest first; the newest is in force."""
        return self._pages(list_revisions(whole(RevisionQuery, query, filters)))

    async def get(self, number: int) -> Revision:
        """Return a revision: when, by whom and why it was published, and who agreed."""
        return await self._answer(get_revision(number))

    async def diff(self, number: int, other: int) -> Diff:
        """Return what differs from one revision to another, in words."""
        return await self._answer(compare_revisions(number, other))

    async def diff_html(self, number: int, other: int) -> str:
        """Return the same as a page to read."""
        return await self._answer(as_page(compare_revisions(number, other)))

    async def impact(self, number: int) -> Impact:
        """Return what a revision touched in the one before it; of kept visits, those planned before it."""
        return await self._answer(get_revision_impact(number))

    async def restore(
        self, number: int, note: str = "", *, idempotency_key: str | None = None
    ) -> Stored[Draft]:
        """Begin a draft that brings back all content of an older revision; it is reviewed as any other."""
        return await self._stored(restore_revision(number, RestoreRequest(note=note), idempotency_key))

    async def download(self, folder: str | Path, number: int | None = None) -> Path:
        """Bring a folder's offline copy up to a revision, by default that in force; return the file to open.

        Open it with ``snapline.offline.RevisionFile``. What is there already is not fetched again, and a
        download that broke off goes on where it stopped. Raises ResponseUnreadable if a file arrives damaged.
        """
        place = Path(folder)
        place.mkdir(parents=True, exist_ok=True)
        if number is None:
            newest = (await self._answer(list_revisions(RevisionQuery(page_size=1)))).items
            number = newest[0].number if newest else 0  # of which there is none: the service says so
        parts = (await self._answer(list_revision_files(number))).items
        for part in reversed(parts):  # the one to open last, so that what it supplements is there before it
            download = _Download(part, place)
            if not download.is_there():
                with download.open() as file:
                    while file.tell() < part.size_bytes:
                        call = download_piece(number, part, file.tell())
                        download.add(file, await self._answer(call))
                download.finish()
        return place / parts[0].name
