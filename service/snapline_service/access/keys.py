"""Issue, list and revoke keys; tell who holds one."""

import hmac
import secrets
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta

import sqlalchemy as sa
from msgspec import Struct
from sqlmodel import Session

from snapline_service.access import store
from snapline_service.access.tables import GroupRow, HolderRow, KeyRow
from snapline_service.database import new_id, now, reading, writing
from snapline_service.errors import Conflict, InvalidValue, UnknownName

SCOPES = ("read", "plan", "record", "edit", "review", "equip", "administer")
PREFIX = "snl_"


class Principal(Struct, frozen=True):
    """Who is calling, for which group, and what they may do."""

    group_id: str
    holder_id: str
    holder_name: str
    key_id: str
    scopes: frozenset[str]


class Issued(Struct, frozen=True):
    """A new key. ``token`` is shown this once and stored nowhere."""

    key_id: str
    holder_id: str
    token: str


def digest(token: bytes, secret: bytes) -> bytes:
    """Return the keyed hash under which a token is stored; tokens are random, so no slow hash is needed."""
    return hmac.digest(secret, token, "sha256")


def add_group(engine: sa.Engine, name: str, title: str) -> str:
    """Create a group and return its id. Raises Conflict if the name is taken."""
    with writing(engine) as session:
        if store.group_by_name(session, name):
            message = f"There is already a group called '{name}'."
            raise Conflict(message, pointer="/name", mend="Choose another name.")
        group = GroupRow(id=new_id("grp"), name=name, title=title, created_at=now())
        session.add(group)
        return group.id


def find_group(session: Session, name: str) -> GroupRow:
    """Return the group with this name. Raises UnknownName."""
    group = store.group_by_name(session, name)
    if group is None:
        message = f"There is no group called '{name}'."
        raise UnknownName(message, pointer="/group", mend="Add it with: snapline groups add")
    return group


def issue(
    engine: sa.Engine,
    secret: bytes,
    *,
    group: str,
    holder: str,
    scopes: Sequence[str],
    valid_days: int | None = None,
) -> Issued:
    """Issue a key to a holder, who is created on first use. Raises UnknownName, InvalidValue."""
    unknown = sorted(set(scopes) - set(SCOPES))
    if unknown or not scopes:
        message = f"Not a scope: {', '.join(unknown)}." if unknown else "A key needs at least one scope."
        raise InvalidValue(message, pointer="/scopes", mend=f"Use any of: {', '.join(SCOPES)}.")
    token = PREFIX + secrets.token_urlsafe(32)
    with writing(engine) as session:
        group_id = find_group(session, group).id
        row = store.holder_by_name(session, group_id, holder)
        if row is None:
            row = HolderRow(id=new_id("hld"), group_id=group_id, name=holder)
            session.add(row)
            session.flush()
        key = KeyRow(
            id=new_id("key"),
            holder_id=row.id,
            digest=digest(token.encode(), secret),
            scopes=" ".join(scope for scope in SCOPES if scope in scopes),
            created_at=now(),
            expires_at=_in_days(valid_days) if valid_days else None,
            revoked_at=None,
        )
        session.add(key)
        return Issued(key.id, row.id, token)


def revoke(engine: sa.Engine, *, group: str, key_id: str) -> None:
    """Revoke a key of the group; once revoked it stays so. Raises UnknownName."""
    with writing(engine) as session:
        key = store.key_of_group(session, find_group(session, group).id, key_id)
        if key is None:
            message = f"The group has no key '{key_id}'."
            raise UnknownName(message, pointer="/key_id", mend="List them with: snapline keys list")
        key.revoked_at = key.revoked_at or now()
        session.add(key)


def listing(engine: sa.Engine, *, group: str) -> list[tuple[KeyRow, HolderRow]]:
    """Return the group's keys and holders. Raises UnknownName."""
    with reading(engine) as session:
        return store.keys_of_group(session, find_group(session, group).id)


def holder_of(session: Session, token_digest: bytes) -> Principal | None:
    """Return who holds a key, or None if it is unknown, revoked or expired."""
    found = store.key_by_digest(session, token_digest)
    if found is None:
        return None
    key, holder = found
    if key.revoked_at or (key.expires_at and key.expires_at <= now()):
        return None
    return Principal(holder.group_id, holder.id, holder.name, key.id, frozenset(key.scopes.split()))


def _in_days(days: int) -> str:
    return (datetime.now(UTC) + timedelta(days=days)).strftime("%Y-%m-%dT%H:%M:%S.%fZ")
