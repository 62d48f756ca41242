"""The validation report of a draft."""

from typing import Annotated

from msgspec import Meta

from snapline.wire.common import Id, Wire
from snapline.wire.drafts import DocumentKind

Severity = Annotated[str, Meta(extra_json_schema={"x-extensible-enum": ["error", "warning"]})]


class Finding(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """Something wrong or doubtful in a document of a draft.

    An error stops the draft; a warning may stand once somebody says why. ``id`` is another as soon as the
    finding is another, so that an acknowledgement holds only for what was read.
    """

    id: str
    severity: Severity
    code: str
    kind: DocumentKind
    name: Id
    pointer: Annotated[str, Meta(description="RFC 6901, into the document.")]
    text: str
    mend: str
    acknowledged: Annotated[
        str | None, Meta(description="Why a warning may stand; null while nobody has said so.")
    ]


class ValidationReport(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """What is wrong with a draft as it is now: errors first. Counts are of all, ``items`` are the first."""

    errors: int
    warnings: int
    acknowledged: int
    items: tuple[Finding, ...]
