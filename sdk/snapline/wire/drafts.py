"""Drafts of the catalogue: changes on top of a revision, their conflicts and their review."""

from typing import Annotated, Any, Literal

from msgspec import UNSET, Meta, UnsetType

from snapline.wire.common import Id, Text, Wire
from snapline.wire.vehicles import PageSize, PageToken

DocumentKind = Literal["source", "operation", "fixture", "vehicle"]
DraftState = Annotated[
    str, Meta(extra_json_schema={"x-extensible-enum": ["draft", "in_review", "published", "dropped"]})
]
Note = Annotated[str, Meta(max_length=2000)]
Pointer = Annotated[
    str,
    Meta(
        description="RFC 6901, with an entry's id or name in place of its number; '' is the whole document."
    ),
]


class DraftRequest(Wire, frozen=True, kw_only=True):
    """A new draft on top of the revision in force, and why."""

    note: Note = ""


class DraftPatch(Wire, frozen=True, kw_only=True):
    """What changes in a draft itself (RFC 7396)."""

    note: Note | UnsetType = UNSET


class Draft(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """Changes being prepared on top of a revision (0: of nothing).

    ``editors`` are those who changed something in it; none of them can approve it. ``restores`` is the
    revision whose content it brings back.
    """

    id: str
    state: DraftState
    note: str
    base_revision: int
    version: int
    created_at: str
    created_by: str
    updated_at: str
    editors: tuple[str, ...]
    changes: int
    open_conflicts: int
    submitted_by: str | None = None
    approved_by: str | None = None
    published_as: int | None = None
    restores: int | None = None


class DraftQuery(Wire, frozen=True, kw_only=True):
    """Filters of the list of drafts."""

    state: Literal["draft", "in_review", "published", "dropped"] | None = None
    page_size: PageSize = 50
    page_token: PageToken | None = None


class DraftPage(Wire, frozen=True, kw_only=True):
    """One page of drafts, newest first."""

    items: tuple[Draft, ...]
    next_page_token: str | None = None


class DraftChange(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """What a draft does with one document, and who did it last."""

    kind: DocumentKind
    name: Id
    act: Literal["adds", "changes", "retires"]
    changed_at: str
    changed_by: str


class DraftChangeQuery(Wire, frozen=True, kw_only=True):
    """Which part of a draft's changes is asked for."""

    page_size: PageSize = 50
    page_token: PageToken | None = None


class DraftChangePage(Wire, frozen=True, kw_only=True):
    """One page of a draft's changes, ordered by kind and name."""

    items: tuple[DraftChange, ...]
    next_page_token: str | None = None


class Conflict(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """A place where a draft and what was published meanwhile say different things.

    ``base`` is what both began from; null is nothing. Until one is ``taken``, the draft keeps its own.
    """

    number: int
    kind: DocumentKind
    name: Id
    pointer: Pointer
    base: Any
    published: Any
    draft: Any
    taken: Literal["draft", "published", "value"] | None


class ConflictList(Wire, frozen=True, kw_only=True):
    """All conflicts of a draft, those that are settled too."""

    items: tuple[Conflict, ...]


class ConflictChoice(Wire, frozen=True, kw_only=True):
    """Which side of a conflict holds. With 'value' alone, ``value`` is given, and null means nothing."""

    take: Literal["draft", "published", "value"]
    value: Any = UNSET


class Acknowledgement(Wire, frozen=True, kw_only=True):
    """Why a warning of the validation report may stand; ``finding`` is its id."""

    finding: Annotated[str, Meta(min_length=1, max_length=100)]
    reason: Text


class SubmitRequest(Wire, frozen=True, kw_only=True):
    """A submission for review, with what it needs to say of warnings."""

    text: Note = ""
    acknowledgements: Annotated[tuple[Acknowledgement, ...], Meta(max_length=1000)] = ()


class RemarkRequest(Wire, frozen=True, kw_only=True):
    """What somebody says of a draft."""

    text: Text


class Remark(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """What was said of a draft or done with it."""

    number: int
    at: str
    by: str
    act: Annotated[
        str,
        Meta(
            extra_json_schema={
                "x-extensible-enum": [
                    "comment",
                    "submitted",
                    "approved",
                    "sent_back",
                    "reopened",
                    "rebased",
                    "published",
                    "dropped",
                ]
            }
        ),
    ]
    text: str


class Review(Wire, frozen=True, kw_only=True):
    """All that was said of a draft, oldest first, and the warnings that may stand."""

    remarks: tuple[Remark, ...]
    acknowledgements: tuple[Acknowledgement, ...]
