"""HTTP of keys, for a group's administrators."""

from typing import Any

import msgspec
from litestar import Request, Response, delete, get, post
from litestar.datastructures import State
from litestar.di import NamedDependency
from litestar.params import FromPath, JSONBody
from sqlmodel import Session

from snapline.wire.keys import IssuedKey, Key, KeyList, KeyRequest
from snapline_service.access import keys, store
from snapline_service.access.callers import Caller, needs
from snapline_service.access.tables import HolderRow, KeyRow
from snapline_service.database import reading
from snapline_service.errors import NotFound, UnknownName
from snapline_service.idempotency.once import Done, perform
from snapline_service.writing import person_of


@get("/v1/keys", operation_id="list_keys", tags=["keys"], guards=[needs("administer")], sync_to_thread=True)
def list_keys(caller: NamedDependency[Caller], state: State) -> KeyList:
    """List the keys of your group, oldest first."""
    with reading(state.engine) as session:
        found = store.keys_of_group(session, caller.principal.group_id)
        return KeyList(items=tuple(_key(*one) for one in found))


@post(
    "/v1/keys",
    operation_id="issue_key",
    tags=["keys"],
    guards=[needs("administer")],
    sync_to_thread=True,
    opt={"answers": IssuedKey, "writes": True},
)
def issue_key(
    data: JSONBody[KeyRequest],
    caller: NamedDependency[Caller],
    request: Request[Any, Any, State],
    state: State,
) -> Response[bytes]:
    """Issue a key. Its token is in this answer alone."""

    def write(session: Session) -> Done:
        key, holder, token = keys.issue_in(
            session,
            state.secret,
            group_id=caller.principal.group_id,
            holder=data.holder,
            scopes=data.scopes,
            valid_days=data.valid_days,
            by=person_of(caller),
        )
        issued = IssuedKey(key=_key(key, holder), token=token)
        return Done(
            status=201,
            answer=issued,
            again=msgspec.structs.replace(issued, token=None),
            validated=IssuedKey(key=None, token=None),
        )

    return perform(state.engine, caller.principal.group_id, request, write)


@delete(
    "/v1/keys/{key_id:str}",
    operation_id="revoke_key",
    tags=["keys"],
    guards=[needs("administer")],
    status_code=200,
    sync_to_thread=True,
    opt={"answers": Key, "writes": True, "refused": ["404"]},
)
def revoke_key(
    key_id: FromPath[str],
    caller: NamedDependency[Caller],
    request: Request[Any, Any, State],
    state: State,
) -> Response[bytes]:
    """Revoke a key for good; every worker refuses it within a second."""

    def write(session: Session) -> Done:
        try:
            found = keys.revoke_in(
                session, group_id=caller.principal.group_id, key_id=key_id, by=person_of(caller)
            )
        except UnknownName as error:
            raise NotFound(error.detail, mend=error.mend) from None
        revoked = _key(*found)
        return Done(status=200, answer=revoked, again=revoked, validated=revoked)

    return perform(state.engine, caller.principal.group_id, request, write)


def _key(key: KeyRow, holder: HolderRow) -> Key:
    return Key(
        id=key.id,
        holder_id=holder.id,
        holder_name=holder.name,
        scopes=tuple(key.scopes.split()),
        created_at=key.created_at,
        expires_at=key.expires_at,
        revoked_at=key.revoked_at,
    )


HANDLERS = [list_keys, issue_key, revoke_key]
