"""RFC 9457 problem details, as every error answer carries them."""

from typing import Annotated

from msgspec import Meta

from snapline.wire.common import Wire


class ProblemItem(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """One fault: where it is (RFC 6901), its code, and what is wrong and how to mend it.

    ``mend`` is the last part by itself, for programs that show it apart.
    """

    pointer: str
    code: str
    detail: str
    mend: str = ""


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
