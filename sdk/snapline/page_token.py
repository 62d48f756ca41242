"""Opaque page tokens: the sort key after which a page starts, bound to the filters it was made for."""

import base64
import hashlib
from typing import Any

import msgspec


class PageTokenInvalid(ValueError):
    """The token is damaged, or was made for other filters."""


def _fingerprint(after: list[Any], filters: object) -> str:
    named = msgspec.json.encode([after, filters], order="sorted")
    return hashlib.blake2b(named, digest_size=6).hexdigest()


def make(after: list[str | int], filters: object) -> str:
    """Return the token of the page that follows the sort key ``after``."""
    body = msgspec.json.encode([_fingerprint(after, filters), *after])
    return base64.urlsafe_b64encode(body).rstrip(b"=").decode()


def read(token: str, filters: object, types: tuple[type, ...]) -> list[Any]:
    """Return the sort key that ``make`` put in. Raises PageTokenInvalid."""
    try:
        body = msgspec.json.decode(base64.urlsafe_b64decode(token + "=" * (-len(token) % 4)))
    except (ValueError, msgspec.MsgspecError):
        body = None
    if not isinstance(body, list) or len(body) != len(types) + 1:
        raise PageTokenInvalid
    after = body[1:]
    if any(type(value) is not wanted for value, wanted in zip(after, types, strict=True)):
        raise PageTokenInvalid
    if make(after, filters) != token:
        raise PageTokenInvalid
    return after
