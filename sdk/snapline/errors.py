"""What can go wrong with a call.

SnaplineError
├── ConfigurationError            the client was set up wrongly, or is closed
├── UnusableValue                 a value that cannot be sent; a ValueError too
├── ConnectionFailed              no answer came
│   └── TimedOut                  … within the time allowed
├── ResponseUnreadable            an answer came that this SDK cannot read
└── ProblemError                  the service says why it cannot answer (RFC 9457)
    ├── BadRequest                400, 413, 415, 422
    │   ├── DatumsDoNotFixAPoint  code DATUMS_DO_NOT_FIX_A_POINT
    │   └── MissingDimension      code MISSING_DIMENSION
    ├── Unauthorized              401
    ├── Forbidden                 403
    ├── NotFound                  404
    ├── Conflict                  409, 412, 428
    ├── RateLimited               429
    └── ServiceFailed             500 and above

All are plain data: they can be copied, pickled and sent to another process.
"""

from snapline.retry import Attempt
from snapline.wire.problems import Problem, ProblemItem

SHOWN_FAULTS = 3


class SnaplineError(Exception):
    """A call that gave no answer. ``attempts`` lists every try, the last one included."""

    def __init__(self, detail: str) -> None:
        super().__init__(detail)
        self.detail = detail
        self.request_id: str | None = None
        self.attempts: tuple[Attempt, ...] = ()

    def __str__(self) -> str:
        notes = [f"request id {self.request_id}"] if self.request_id else []
        if len(self.attempts) > 1:
            notes.append(f"{len(self.attempts)} attempts")
        return self._headline() + (f" [{', '.join(notes)}]" if notes else "")

    def _headline(self) -> str:
        return self.detail


class ConfigurationError(SnaplineError):
    """The client lacks an address or a key, has an unusable option, or is closed."""


class UnusableValue(SnaplineError, ValueError):
    """A value that no request can carry: a number that is not finite, an empty id. Nothing was sent."""


class ConnectionFailed(SnaplineError):
    """The service could not be reached, or the connection broke before the answer was complete."""


class TimedOut(ConnectionFailed):
    """Time ran out. ``phase``: connect, write, read, or pool (waiting for a free connection)."""

    def __init__(self, detail: str, phase: str = "") -> None:
        super().__init__(detail)
        self.phase = phase


class ResponseUnreadable(SnaplineError):
    """The answer is not what the contract promises; often the address is that of something else."""


class ProblemError(SnaplineError):
    """The service's own account of why it cannot answer.

    ``code`` is stable and meant for programs; ``errors`` says, by RFC 6901 pointer into the request, what is
    wrong where and how to mend it. ``retry_after_s`` is the pause that the service asks for, if it asks.
    """

    def __init__(self, problem: Problem, retry_after_s: float | None = None) -> None:
        super().__init__(problem.detail)
        self.args = (problem,)  # what pickle builds it from; the rest travels as attributes
        self.request_id = problem.request_id or None
        self.type: str = problem.type
        self.title: str = problem.title
        self.status: int = problem.status
        self.code: str = problem.code
        self.instance: str | None = problem.instance
        self.retryable: bool = problem.retryable
        self.errors: tuple[ProblemItem, ...] = problem.errors
        self.retry_after_s = retry_after_s

    def _headline(self) -> str:
        faults = [self._told(item) for item in self.errors[:SHOWN_FAULTS] if self._told(item)]
        if len(self.errors) > SHOWN_FAULTS:
            faults.append(f"and {len(self.errors) - SHOWN_FAULTS} more")
        told = f"{self.status} {self.code}: {self.detail or self.title}"
        return told + (f" ({'; '.join(faults)})" if faults else "")

    def _told(self, item: ProblemItem) -> str:
        """Return a fault in words, without repeating what the whole problem says already."""
        if item.detail == self.detail:
            return f"at {item.pointer}" if item.pointer else ""
        return f"{item.pointer or 'request'}: {item.detail}"

    @property
    def mend(self) -> str:
        """How to put the first fault right."""
        return self.errors[0].mend if self.errors else ""


class BadRequest(ProblemError):
    """The request itself must be changed."""


class DatumsDoNotFixAPoint(BadRequest):
    """The two measured lines of a placement are parallel or nearly so."""


class MissingDimension(BadRequest):
    """A dimension that the computation needs is not known; ``errors`` names it."""


class Unauthorized(ProblemError):
    """The key is missing, unknown or withdrawn."""


class Forbidden(ProblemError):
    """The key is valid but its scope does not cover this."""


class NotFound(ProblemError):
    """There is no such vehicle, system, fixture or route."""


class Conflict(ProblemError):
    """The request does not agree with the present state, or with the revision that was read."""


class RateLimited(ProblemError):
    """Too many requests; ``retry_after_s`` says when to come back."""


class ServiceFailed(ProblemError):
    """The service, or something in front of it, failed."""


_BY_CODE: dict[str, type[ProblemError]] = {
    "DATUMS_DO_NOT_FIX_A_POINT": DatumsDoNotFixAPoint,
    "MISSING_DIMENSION": MissingDimension,
}
_BY_STATUS: dict[int, type[ProblemError]] = {
    **dict.fromkeys((400, 413, 415, 422), BadRequest),
    401: Unauthorized,
    403: Forbidden,
    404: NotFound,
    **dict.fromkeys((409, 412, 428), Conflict),
    429: RateLimited,
}


def problem_error(problem: Problem, retry_after_s: float | None = None) -> ProblemError:
    """Make the error of the most specific class: by code, else by the status's family."""
    family = ServiceFailed if problem.status >= 500 else ProblemError
    kind = _BY_CODE.get(problem.code) or _BY_STATUS.get(problem.status, family)
    return kind(problem, retry_after_s)
