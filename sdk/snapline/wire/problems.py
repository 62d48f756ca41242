"""RFC 9457 problem details, as every error answer carries them."""

from typing import Annotated

from msgspec import Meta

from snapline.wire.common import Wire


class ProblemItem(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """One fault: where it is (RFC 6901), its code, what is wrong and how to mend it."""

    pointer: str
    code: str
    detail: str


class Problem(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """Why a request could not be answered."""

    type: str
    title: str
    status: Annotated[int, Meta(ge=100, le=599)]
    detail: str
    code: str
    request_id: str
    retryable: bool = False
    retry_after_s: int | None = None
    instance: str | None = None
    errors: tuple[ProblemItem, ...] = ()
