"""Opaque page tokens: the sort key after which a page starts, bound to the filters it was made for."""

import base64
import hashlib
from functools import cache
from typing import Any

import msgspec

# A token is the JSON of a list, of a fingerprint in so many hexadecimal digits and the sort key.
_DIGITS = 12


class PageTokenInvalid(ValueError):
    """The token is damaged, or was made for other filters."""


def make(after: list[str | int], filters: object) -> str:
    """Return the token of the page that follows the sort key ``after``."""
    return _token(msgspec.json.encode(after), filters)


def read(token: str, filters: object, types: tuple[type, ...]) -> list[Any]:
    """Return the sort key that ``make`` put in. Raises PageTokenInvalid."""
    try:
        told = base64.urlsafe_b64decode(token + "=" * (-len(token) % 4))
        key = b"[" + told[len('["",') + _DIGITS :]
        after = list(_decoder(types).decode(key))
    except (ValueError, msgspec.MsgspecError):
        raise PageTokenInvalid from None
    if _token(key, filters) != token:
        raise PageTokenInvalid
    return after


def _token(key: bytes, filters: object) -> str:
    """Return the token of a sort key in JSON."""
    named = msgspec.json.encode([msgspec.Raw(key), filters], order="sorted")
    fingerprint = hashlib.blake2b(named, digest_size=_DIGITS // 2).hexdigest()
    return base64.urlsafe_b64encode(b'["%s",%s' % (fingerprint.encode(), key[1:])).rstrip(b"=").decode()


@cache
def _decoder(types: tuple[type, ...]) -> msgspec.json.Decoder[Any]:
    return msgspec.json.Decoder(tuple[types])  # type: ignore[valid-type]
