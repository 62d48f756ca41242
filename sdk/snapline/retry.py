"""When a failed attempt is repeated, and after what pause."""

import time
from collections.abc import Awaitable, Callable, Mapping

from msgspec import Struct


async def _sleep_async(seconds: float) -> None:
    import asyncio  # noqa: PLC0415  not needed without async

    await asyncio.sleep(seconds)


def _random() -> float:
    from random import random  # noqa: PLC0415  costs eight modules; needed only after a failure

    return random()  # noqa: S311  jitter, no secret


class Pace(Struct, frozen=True):
    """How a client tells the time, waits and rolls its dice; tests put their own in."""

    monotonic: Callable[[], float] = time.monotonic
    now: Callable[[], float] = time.time
    random: Callable[[], float] = _random
    sleep: Callable[[float], None] = time.sleep
    sleep_async: Callable[[float], Awaitable[None]] = _sleep_async


class Attempt(Struct, frozen=True, kw_only=True):
    """One failed try of a call: what came of it, how long it took, and the pause that followed, if any."""

    number: int
    failure: str
    elapsed_s: float
    status: int | None = None
    wait_s: float | None = None


class RetryPolicy(Struct, frozen=True, kw_only=True):
    """Exponential pauses with full jitter; ``Retry-After`` goes first but never beyond its cap.

    ``deadline_s`` bounds the whole call: no pause is begun that would outlast it.
    """

    max_retries: int = 2
    first_wait_s: float = 0.5
    longest_wait_s: float = 8.0
    longest_retry_after_s: float = 30.0
    deadline_s: float | None = None

    def remaining_s(self, elapsed_s: float) -> float | None:
        """Seconds left of the deadline, or None without one."""
        return None if self.deadline_s is None else self.deadline_s - elapsed_s

    def wait_s(
        self, *, failures: int, elapsed_s: float, retry_after_s: float | None, random: Callable[[], float]
    ) -> float | None:
        """Return the pause before the next attempt, or None when it is time to give up."""
        if failures > self.max_retries:
            return None
        if retry_after_s is None:
            # The exponent is capped so that a caller's thousand retries cannot overflow a float.
            ceiling_s = min(self.longest_wait_s, self.first_wait_s * 2 ** min(failures - 1, 30))
            wait_s = random() * ceiling_s
        elif retry_after_s > self.longest_retry_after_s:
            return None
        else:
            wait_s = retry_after_s
        remaining_s = self.remaining_s(elapsed_s)
        return None if remaining_s is not None and wait_s >= remaining_s else wait_s


def is_repeatable(status: int) -> bool:
    """Whether an answer with this status may turn out better a moment later."""
    return status in {408, 429} or status >= 500


def retry_after_s(headers: Mapping[str, str], now_s: float) -> float | None:
    """Read ``Retry-After`` (RFC 9110, 10.2.3): seconds or an HTTP-date; None when absent or unreadable.

    A date counts from the answer's own ``Date``, so that a wrong clock here does not matter.
    """
    text = headers.get("retry-after", "").strip()
    if text.isascii() and text.isdigit():
        return float(text)
    until_s = _http_date_s(text)
    if until_s is None:
        return None
    return max(0.0, until_s - (_http_date_s(headers.get("date", "")) or now_s))


def _http_date_s(text: str) -> float | None:
    if not text:
        return None
    from email.utils import parsedate_to_datetime  # noqa: PLC0415  pulls in 26 modules, rarely needed

    try:
        return parsedate_to_datetime(text).timestamp()
    except (ValueError, OverflowError):
        return None
