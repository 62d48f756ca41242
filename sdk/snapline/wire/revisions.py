"""Published revisions of the catalogue."""

from typing import Annotated

from msgspec import Meta

from snapline.wire.common import Wire
from snapline.wire.drafts import Note
from snapline.wire.vehicles import PageSize, PageToken


class Revision(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """A published revision. The newest is in force.

    ``review`` says how it was agreed on: ``reviewed`` by a second person, ``alone`` in a group that has
    nobody else to review, or ``none``: published at the command line without review.
    """

    number: int
    manifest_hash: Annotated[
        str, Meta(description="SHA-256 over kind, name and content hash of every document, sorted.")
    ]
    published_at: str
    published_by: str
    note: str
    review: Annotated[str, Meta(extra_json_schema={"x-extensible-enum": ["reviewed", "alone", "none"]})]
    reviewed_by: str | None
    draft_id: str | None
    restores: int | None


class RevisionQuery(Wire, frozen=True, kw_only=True):
    """Which part of the list of revisions is asked for."""

    page_size: PageSize = 50
    page_token: PageToken | None = None


class RevisionPage(Wire, frozen=True, kw_only=True):
    """One page of revisions, newest first."""

    items: tuple[Revision, ...]
    next_page_token: str | None = None


class RestoreRequest(Wire, frozen=True, kw_only=True):
    """Why an older content is to come back."""

    note: Note = ""


class RevisionPart(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """A file of which a revision's offline copy consists."""

    name: str
    size_bytes: int
    sha256: str


class RevisionParts(Wire, frozen=True, kw_only=True):
    """The files of a revision's offline copy, which belong into one folder.

    The first is opened; the second, if there is one, is the whole file that it supplements.
    """

    items: tuple[RevisionPart, ...]
