"""For whoever receives webhooks: check that they are from the service, and read what they say.

>>> event = verify(request_body, request_headers, secret)     # raises WebhookRefused
>>> if event.type == "catalogue.published":
...     fetch(event.data["revision"])

The signature is that of Standard Webhooks 1.0 (v1): HMAC-SHA256 over id, timestamp and body.
"""

import base64
import binascii
import hmac
import time
from collections.abc import Iterable, Mapping

import msgspec

from snapline.wire.changes import Actor, Event

__all__ = [
    "Actor",
    "Event",
    "EventUnreadable",
    "HeadersIncomplete",
    "NotSigned",
    "TooOld",
    "WebhookRefused",
    "new_secret",
    "sign",
    "verify",
]

PREFIX = "whsec_"
_TOLERANCE_S = 300
_LATEST_S = 253402300799  # the year 9999


class WebhookRefused(Exception):
    """A delivery that must not be trusted: answer it with 400, and do nothing."""


class HeadersIncomplete(WebhookRefused):
    """webhook-id, webhook-timestamp or webhook-signature is missing or no such thing."""


class TooOld(WebhookRefused):
    """The timestamp lies outside the tolerance: a replayed delivery, or a clock that is wrong."""


class NotSigned(WebhookRefused):
    """No signature fits: another secret, or the body was changed on its way."""


class EventUnreadable(WebhookRefused):
    """It is signed, but is not an event that this SDK can read."""


def verify(
    payload: bytes,
    headers: Mapping[str, str],
    secret: str | Iterable[str],
    *,
    tolerance_s: float = _TOLERANCE_S,
    now_s: float | None = None,
) -> Event:
    """Return the event that a delivery carries. Raises WebhookRefused if it cannot be trusted.

    ``payload`` are the bytes as they came in, ``headers`` by name in any case. Deliveries may come twice and
    in another order: ``event.id`` stays the same, ``event.cursor`` tells the order. Raises ValueError for a
    secret that is none.
    """
    fields = {name.lower(): value for name, value in headers.items()}
    names = ("webhook-id", "webhook-timestamp", "webhook-signature")
    missing = [name for name in names if not fields.get(name)]
    if missing:
        raise HeadersIncomplete(f"Missing: {', '.join(missing)}.")
    message_id, timestamp, signatures = (fields[name] for name in names)
    secrets = [secret] if isinstance(secret, str) else list(secret)
    at_s = _seconds(timestamp)
    expected = [sign(one, message_id, at_s, payload).encode() for one in secrets]
    given = [one.encode() for one in signatures.split()]
    # Every pair is compared, so that the time taken says nothing of which of them came close.
    fits = [hmac.compare_digest(one, other) for one in expected for other in given]
    if not any(fits):
        raise NotSigned("No signature is of this body and secret.")
    apart_s = (time.time() if now_s is None else now_s) - at_s
    if abs(apart_s) > tolerance_s:
        raise TooOld(f"It was signed {apart_s:.0f} s ago; {tolerance_s:g} s are allowed.")
    try:
        return msgspec.json.decode(payload, type=Event)
    except (msgspec.MsgspecError, UnicodeDecodeError, RecursionError) as error:
        raise EventUnreadable(str(error)) from error


def sign(secret: str, message_id: str, timestamp_s: int, payload: bytes) -> str:
    """Return the signature of a message, as it stands in webhook-signature. Raises ValueError."""
    signed = f"{message_id}.{timestamp_s}.".encode() + payload
    return "v1," + base64.b64encode(hmac.digest(_key(secret), signed, "sha256")).decode()


def new_secret(key: bytes) -> str:
    """Return a key of 24 to 64 bytes as a secret is written."""
    return PREFIX + base64.b64encode(key).decode()


def _key(secret: str) -> bytes:
    try:
        return base64.b64decode(secret.removeprefix(PREFIX), validate=True)
    except (binascii.Error, ValueError):
        raise ValueError(f"A secret is {PREFIX} and base64.") from None


def _seconds(timestamp: str) -> int:
    if not (timestamp.isascii() and timestamp.isdigit()) or not 0 <= int(timestamp[:20]) <= _LATEST_S:
        raise HeadersIncomplete("webhook-timestamp is no number of seconds.")
    return int(timestamp)
