"""Issue, list and revoke keys; tell who holds one."""

import hmac
import secrets
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta

import sqlalchemy as sa
from msgspec import Struct
from sqlmodel import Session

from snapline.wire.keys import SCOPES
from snapline_service.access import store
from snapline_service.access.people import Person, at_command_line
from snapline_service.access.tables import GroupRow, HolderRow, KeyRow
from snapline_service.changes.record import record
from snapline_service.database import new_id, now, reading, writing
from snapline_service.errors import Conflict, InvalidValue, UnknownName

PREFIX = "snl_"
_TAG_LENGTH = 12
_OPERATOR = at_command_line("operator")


class Principal(Struct, frozen=True):
    """Who is calling, for which group, and what they may do."""

    group_id: str
    holder_id: str
    holder_name: str
    key_id: str
    scopes: frozenset[str]
    group_title: str = ""


class Issued(Struct, frozen=True):
    """A new key. ``token`` is shown this once and stored nowhere."""

    key_id: str
    holder_id: str
    token: str


def digest(token: bytes, secret: bytes) -> bytes:
    """Return the keyed hash under which a token is stored; tokens are random, so no slow hash is needed."""
    return hmac.digest(secret, token, "sha256")


def add_group(engine: sa.Engine, name: str, title: str) -> str:
    """Create a group and return its id. Raises Conflict if the name is taken, InvalidValue if it is empty."""
    _require_name(name, "/name")
    with writing(engine) as session:
        if store.group_by_name(session, name):
            message = f"There is already a group called '{name}'."
            raise Conflict(message, pointer="/name", mend="Choose another name.")
        group = GroupRow(id=new_id("grp"), name=name, title=title, created_at=now())
        session.add(group)
        return group.id


def groups(engine: sa.Engine) -> list[GroupRow]:
    """Return all groups by name."""
    with reading(engine) as session:
        return store.groups(session)


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
    by: Person = _OPERATOR,
) -> Issued:
    """Issue a key to a holder, who is created on first use. Raises UnknownName, InvalidValue."""
    with writing(engine) as session:
        group_id = find_group(session, group).id
        key, holder_row, token = issue_in(
            session, secret, group_id=group_id, holder=holder, scopes=scopes, valid_days=valid_days, by=by
        )
        return Issued(key.id, holder_row.id, token)


def issue_in(
    session: Session,
    secret: bytes,
    *,
    group_id: str,
    holder: str,
    scopes: Sequence[str],
    valid_days: int | None,
    by: Person,
) -> tuple[KeyRow, HolderRow, str]:
    """Issue a key within a transaction; return its row, its holder's and the token. Raises InvalidValue."""
    unknown = sorted(set(scopes) - set(SCOPES))
    if unknown or not scopes:
        message = f"Not a scope: {', '.join(unknown)}." if unknown else "A key needs at least one scope."
        raise InvalidValue(message, pointer="/scopes", mend=f"Use any of: {', '.join(SCOPES)}.")
    _require_name(holder, "/holder")
    token = new_token(secret)
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
        expires_at=None if valid_days is None else _in_days(valid_days),
        revoked_at=None,
    )
    session.add(key)
    session.flush()
    _tell(session, key, row, by, "issued")
    return key, row, token


def _tell(session: Session, key: KeyRow, holder: HolderRow, by: Person, what: str) -> None:
    data = {"holder_id": holder.id, "scopes": key.scopes.split(), "expires_at": key.expires_at}
    subject = f"/v1/keys/{key.id}"
    record(session, group_id=holder.group_id, by=by, type=f"key.{what}", subject=subject, data=data)


def new_token(secret: bytes) -> str:
    """Return a random token that ends in a tag which only this service's secret makes."""
    random = PREFIX + secrets.token_urlsafe(32)
    return random + _tag(random.encode(), secret)


def is_ours(token: bytes, secret: bytes) -> bool:
    """Whether a token was made with this secret, so that guessed ones never reach the database."""
    return hmac.compare_digest(_tag(token[:-_TAG_LENGTH], secret).encode(), token[-_TAG_LENGTH:])


def _tag(random: bytes, secret: bytes) -> str:
    return hmac.digest(secret, b"tag " + random, "sha256").hex()[:_TAG_LENGTH]


def revoke(engine: sa.Engine, *, group: str, key_id: str, by: Person = _OPERATOR) -> None:
    """Revoke a key of the group; once revoked it stays so. Raises UnknownName."""
    with writing(engine) as session:
        revoke_in(session, group_id=find_group(session, group).id, key_id=key_id, by=by)


def revoke_in(session: Session, *, group_id: str, key_id: str, by: Person) -> tuple[KeyRow, HolderRow]:
    """Revoke a key within a transaction and return it with its holder. Raises UnknownName."""
    found = store.key_of_group(session, group_id, key_id)
    if found is None:
        message = f"The group has no key '{key_id[:80]}'."
        raise UnknownName(message, pointer="/key_id", mend="List the group's keys to find it.")
    key, holder = found
    if key.revoked_at is None:
        key.revoked_at = now()
        session.add(key)
        session.flush()
        _tell(session, key, holder, by, "revoked")
    return found


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
    title = store.group_title(session, holder.group_id)
    return Principal(holder.group_id, holder.id, holder.name, key.id, frozenset(key.scopes.split()), title)


def _require_name(name: str, pointer: str) -> None:
    if not name.strip():
        message = "A name is empty."
        raise InvalidValue(message, pointer=pointer, mend="Give a name that people will know it by.")


def _in_days(days: int) -> str:
    return (datetime.now(UTC) + timedelta(days=days)).strftime("%Y-%m-%dT%H:%M:%S.%fZ")
