"""API keys of a group, for its administrators."""

from typing import Annotated

from msgspec import Meta

from snapline.wire.common import Label, Wire

SCOPES = ("read", "plan", "record", "edit", "review", "equip", "administer")
Scope = Annotated[str, Meta(pattern=r"^[a-z_]+$", extra_json_schema={"x-extensible-enum": list(SCOPES)})]


class KeyRequest(Wire, frozen=True, kw_only=True):
    """A key to be issued to a holder, who is created on first use."""

    holder: Label
    scopes: Annotated[tuple[Scope, ...], Meta(min_length=1, max_length=len(SCOPES))] = ("read", "plan")
    valid_days: Annotated[int, Meta(ge=1, le=36500)] | None = None


class Key(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """A key as its group's administrators see it. Times are RFC 3339 in UTC.

    The holder stays the same over all keys of that person or program.
    """

    id: str
    holder_id: str
    holder_name: str
    scopes: tuple[Scope, ...]
    created_at: str
    expires_at: str | None
    revoked_at: str | None


class KeyList(Wire, frozen=True, kw_only=True):
    """All keys of the group, oldest first."""

    items: tuple[Key, ...]


class IssuedKey(Wire, frozen=True, kw_only=True, omit_defaults=False):
    """A new key. ``token`` is shown this once: it is null when an earlier answer is repeated.

    With ``validate_only`` nothing is issued, and both parts are null.
    """

    key: Key | None
    token: str | None
