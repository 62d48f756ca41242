"""One call from start to finish, without any input or output of its own.

``Exchange.steps`` is a generator that says what to do next (send this, pause so long) and is told what came
of it. The blocking and the asyncio client drive the same generator, so retries, cache and errors are
written once.
"""

from collections.abc import Callable, Generator
from platform import python_version
from typing import TYPE_CHECKING, Generic, TypeVar
from uuid import uuid4

from msgspec import Struct
from msgspec.structs import replace

from snapline.answers import read_answer, read_problem
from snapline.cache import Cache, Kept
from snapline.calls import JSON, Call, Response
from snapline.errors import ConnectionFailed, ResponseUnreadable, SnaplineError, problem_error
from snapline.retry import Attempt, Pace, RetryPolicy, is_repeatable, retry_after_s
from snapline.secret import Secret
from snapline.transport import Headers, Reply, Request, Timeout
from snapline.version import __version__

if TYPE_CHECKING:
    from logging import Logger

T = TypeVar("T")
DEBUG = 10  # logging.DEBUG, without importing logging and its seven modules before a client is built
USER_AGENT = f"snapline-sdk/{__version__} python/{python_version()}"


class Pause(Struct, frozen=True):
    """An order to wait."""

    seconds: float


class Core(Struct, frozen=True):
    """What a client and everything derived from it share."""

    url: str
    secret: Secret
    cache: Cache | None
    pace: Pace
    log: "Logger"


class Options(Struct, frozen=True, kw_only=True):
    """What may differ from call to call."""

    timeout: Timeout
    retries: RetryPolicy
    on_retry: Callable[[Attempt], None] | None = None


Step = Request | Pause
Outcome = Reply | SnaplineError


class Exchange(Generic[T]):
    """A call under way."""

    def __init__(self, call: Call[T], core: Core, options: Options) -> None:
        self.call = call
        self.core = core
        self.options = options
        self.url = call.url(core.url)
        self.cache = core.cache if call.method == "GET" else None
        self.cache_key = (self.url, core.secret, call.answer)
        self.started_s = core.pace.monotonic()
        self.request_id = ""
        self.attempts: list[Attempt] = []

    def steps(self) -> Generator[Step, Outcome, Response[T]]:
        """Yield requests and pauses, be sent the outcome of each request; return the response or raise."""
        kept = self.cache.find(self.cache_key) if self.cache is not None else None
        if kept is not None and self.started_s < kept.fresh_until_s:
            return replace(kept.response, reused=True)
        self.request_id = uuid4().hex
        request = self._request(kept)
        while True:
            sent_s = self.core.pace.monotonic()
            outcome = yield self._within_deadline(request, sent_s)
            ended_s = self.core.pace.monotonic()
            self._log(outcome, ended_s - sent_s)
            if isinstance(outcome, Reply) and outcome.status < 400:
                try:
                    return self._conclude(outcome, kept, ended_s)
                except ResponseUnreadable as error:
                    outcome = error
            wait_s = self._note_failure(outcome, sent_s, ended_s)
            if wait_s is None:
                raise self._failure(outcome)
            yield Pause(wait_s)

    def _request(self, kept: Kept | None) -> Request:
        call = self.call
        headers = {
            "accept": call.accept,
            "authorization": f"Bearer {self.core.secret.reveal()}",
            "user-agent": USER_AGENT,
            "x-request-id": self.request_id,
            **call.headers,
        }
        body = call.content()
        if body is not None:
            headers.setdefault("content-type", JSON)
        if kept is not None:
            headers["if-none-match"] = kept.etag
        return Request(
            method=call.method, url=self.url, headers=headers, timeout=self.options.timeout, body=body
        )

    def _within_deadline(self, request: Request, now_s: float) -> Request:
        remaining_s = self.options.retries.remaining_s(now_s - self.started_s)
        if remaining_s is None:
            return request
        return replace(request, timeout=request.timeout.at_most(remaining_s))

    def _conclude(self, reply: Reply, kept: Kept | None, now_s: float) -> Response[T]:
        self.request_id = reply.headers.get("x-request-id", self.request_id)
        if reply.status == 304 and kept is not None:
            response = self._confirmed(kept.response, reply)
        else:
            response = Response(
                data=read_answer(self.call, reply),
                status=reply.status,
                headers=reply.headers,
                request_id=self.request_id,
                raw=reply.body,
                attempts=tuple(self.attempts),
            )
        if self.cache is not None:
            self.cache.keep(self.cache_key, response, now_s)
        return response

    def _confirmed(self, kept: Response[T], reply: Reply) -> Response[T]:
        # The confirmation's own fields are newer: the revision moves on while the document stays the same.
        return replace(
            kept,
            headers=Headers({**kept.headers, **reply.headers}),
            request_id=self.request_id,
            attempts=tuple(self.attempts),
            reused=True,
        )

    def _note_failure(self, outcome: Outcome, sent_s: float, ended_s: float) -> float | None:
        """Record the attempt; return the pause before the next one, or None to give up."""
        number = len(self.attempts) + 1
        wait_s = None
        if self.call.repeatable and _is_passing(outcome):
            wait_s = self.options.retries.wait_s(
                failures=number,
                elapsed_s=ended_s - self.started_s,
                retry_after_s=self._asked_pause_s(outcome),
                random=self.core.pace.random,
            )
        status = outcome.status if isinstance(outcome, Reply) else None
        attempt = Attempt(
            number=number,
            failure=str(outcome) if status is None else f"status {status}",
            elapsed_s=ended_s - sent_s,
            status=status,
            wait_s=wait_s,
        )
        self.attempts.append(attempt)
        if wait_s is not None and self.options.on_retry is not None:
            self.options.on_retry(attempt)
        return wait_s

    def _asked_pause_s(self, outcome: Outcome) -> float | None:
        if not isinstance(outcome, Reply):
            return None
        return retry_after_s(outcome.headers, self.core.pace.now())

    def _failure(self, outcome: Outcome) -> SnaplineError:
        if isinstance(outcome, Reply):
            problem = read_problem(outcome, self.request_id, self.core.secret)
            failure: SnaplineError = problem_error(problem, self._asked_pause_s(outcome))
        else:
            failure = outcome
            failure.request_id = self.request_id
        failure.attempts = tuple(self.attempts)
        return failure

    def _log(self, outcome: Outcome, elapsed_s: float) -> None:
        if self.core.log.isEnabledFor(DEBUG):
            # The route, not the address: that could hold what a person typed, and a body a VIN.
            told = (
                self.call.method,
                self.call.route,
                _word(outcome),
                elapsed_s * 1000,
                len(self.attempts) + 1,
            )
            self.core.log.debug("%s %s: %s in %.0f ms, attempt %d, request id %s", *told, self.request_id)


def _is_passing(outcome: Outcome) -> bool:
    if isinstance(outcome, Reply):
        return is_repeatable(outcome.status)
    return isinstance(outcome, ConnectionFailed)


def _word(outcome: Outcome) -> str:
    return str(outcome.status) if isinstance(outcome, Reply) else type(outcome).__name__
