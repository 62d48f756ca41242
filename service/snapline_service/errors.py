"""What can go wrong, in the domain's words.

Each error carries data and a stable code, never an HTTP status: ``problems.py`` holds the one map from
code to status. ``pointer`` is an RFC 6901 pointer into the request ('' for the whole of it) and ``mend``
says what would put it right.
"""

from typing import ClassVar

from msgspec import Struct


class Fault(Struct, frozen=True):
    """One fault of an input: where it is, what is wrong, how to mend it."""

    pointer: str
    detail: str
    mend: str
    code: str = "INVALID_VALUE"


class SnaplineError(Exception):
    """A request that cannot be answered."""

    code: ClassVar[str] = "INTERNAL"
    title: ClassVar[str] = "The service failed"

    def __init__(self, detail: str, *, pointer: str = "", mend: str = "") -> None:
        super().__init__(detail)
        self.detail = detail
        self.pointer = pointer
        self.mend = mend


class InvalidValue(SnaplineError):
    """A value is of the wrong type, not finite, out of range, missing or unknown."""

    code = "INVALID_VALUE"
    title = "A value cannot be used"


class UnknownName(SnaplineError):
    """A datum, sensor, system, procedure, fixture or option that the vehicle or catalogue does not have."""

    code = "UNKNOWN_NAME"
    title = "A name is not known here"


class DatumsDoNotFixAPoint(SnaplineError):
    """The two measured lines of a placement are parallel or nearly so."""

    code = "DATUMS_DO_NOT_FIX_A_POINT"
    title = "The datums do not fix a point"


class MissingDimension(SnaplineError):
    """A dimension that the computation needs is not known for this vehicle."""

    code = "MISSING_DIMENSION"
    title = "A dimension is missing"


class NotFound(SnaplineError):
    """The thing that the address names is not in the caller's group."""

    code = "NOT_FOUND"
    title = "Not found"


class Conflict(SnaplineError):
    """Something in the way: a name that is taken, or a state that has moved on."""

    code = "CONFLICT"
    title = "In conflict with the present state"


class PreconditionFailed(SnaplineError):
    """What If-Match names is not what is there now: somebody else changed it."""

    code = "PRECONDITION_FAILED"
    title = "It was changed by someone else"


class PreconditionRequired(SnaplineError):
    """A change of something stored lacks If-Match, without which it could undo another's change unseen."""

    code = "PRECONDITION_REQUIRED"
    title = "If-Match is needed"


class NotSignedIn(SnaplineError):
    """No key, or one that is unknown, expired or revoked."""

    code = "UNAUTHORIZED"
    title = "A valid key is needed"


class NotAllowed(SnaplineError):
    """The key lacks the scope that the operation needs."""

    code = "FORBIDDEN"
    title = "This key may not do that"


class NothingPublished(SnaplineError):
    """The group has not published a catalogue yet."""

    code = "NOTHING_PUBLISHED"
    title = "No catalogue is published"


class BadInput(SnaplineError):
    """The request has one or more faults of form; ``faults`` lists them all."""

    code = "INVALID_VALUE"
    title = "The request is not as documented"

    def __init__(self, faults: list[Fault]) -> None:
        first = faults[0]
        super().__init__(first.detail, pointer=first.pointer, mend=first.mend)
        self.faults = faults


class MalformedJson(BadInput):
    """The body is not JSON."""

    code = "MALFORMED_JSON"
    title = "The body is not JSON"


class NotAcceptable(SnaplineError):
    """None of the media types that the caller accepts can be made."""

    code = "NOT_ACCEPTABLE"
    title = "No acceptable media type"


class NoSuchPart(SnaplineError):
    """The Range begins behind the end of the file; Content-Range says how long that is."""

    code = "RANGE_NOT_SATISFIABLE"
    title = "There is no such part"

    def __init__(self, size_bytes: int) -> None:
        super().__init__(f"The file has {size_bytes} bytes.", mend="Ask for a part that begins within it.")
        self.size_bytes = size_bytes


class RateLimited(SnaplineError):
    """The key has made all the requests that it may make in a minute."""

    code = "RATE_LIMITED"
    title = "Too many requests"

    def __init__(self, retry_after_s: int, per_minute: int) -> None:
        detail = f"This key may make {per_minute} requests a minute."
        super().__init__(detail, mend=f"Wait {retry_after_s} s.")
        self.retry_after_s = retry_after_s


class BodyTooLarge(SnaplineError):
    """The body has more bytes than the service takes in."""

    code = "BODY_TOO_LARGE"
    title = "The body is too large"


class BodyTooSlow(SnaplineError):
    """The body did not arrive in time."""

    code = "BODY_TOO_SLOW"
    title = "The body arrives too slowly"


class TookTooLong(SnaplineError):
    """The answer was not ready in time."""

    code = "TOOK_TOO_LONG"
    title = "The computation took too long"


class NotBuilt(SnaplineError):
    """The file of a revision is not there: not yet, or because it could not be built or put in its place."""

    code = "REVISION_NOT_BUILT"
    title = "The file of the revision is not there"


class IdempotencyKeyReused(SnaplineError):
    """An Idempotency-Key stands for one request and came with another."""

    code = "IDEMPOTENCY_KEY_REUSED"
    title = "The Idempotency-Key belongs to another request"
