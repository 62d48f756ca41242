"""What differs between two states of the catalogue, in the trade's words."""

from typing import Annotated, Any

from msgspec import Meta

from snapline.wire.common import Id, Wire
from snapline.wire.drafts import DocumentKind, Pointer

Act = Annotated[str, Meta(extra_json_schema={"x-extensible-enum": ["adds", "changes", "retires"]})]


class DiffItem(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """One thing that differs. ``before`` or ``after`` null: it is not there.

    ``text`` says it in a sentence; ``system``, ``procedure`` and ``placement`` are the ids of what it is in.
    """

    act: Act
    kind: DocumentKind
    name: Id
    pointer: Pointer
    before: Any
    after: Any
    text: str
    system: Id | None = None
    procedure: Id | None = None
    placement: Id | None = None


class Diff(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """What differs between two revisions, or between a draft and its base.

    ``documents`` counts all that differ; ``items`` are of the first ``documents_shown``.
    """

    before: str
    after: str
    documents: int
    documents_shown: int
    items: tuple[DiffItem, ...]
