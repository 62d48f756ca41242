"""Keys of your group, for its administrators."""

from collections.abc import Sequence
from uuid import uuid4

from snapline.calls import Call, get
from snapline.resources.base import AsyncResource, Resource
from snapline.wire.keys import IssuedKey, Key, KeyList, KeyRequest

_DEFAULT = ("read", "plan")


def list_keys() -> Call[KeyList]:
    """Describe the list of a group's keys."""
    return get("/v1/keys", KeyList)


def issue_key(request: KeyRequest, idempotency_key: str | None, *, validate_only: bool) -> Call[IssuedKey]:
    """Describe the issue of a key. It is not repeated by itself: a repeated answer lacks the token."""
    return Call(
        method="POST",
        route="/v1/keys",
        answer=IssuedKey,
        query={"validate_only": True} if validate_only else {},
        body=request,
        headers={"idempotency-key": f'"{idempotency_key or uuid4()}"'},
    )


def revoke_key(key_id: str) -> Call[Key]:
    """Describe the revocation of a key, which twice is the same as once."""
    return Call(method="DELETE", route="/v1/keys/{key_id}", answer=Key, ids={"key_id": key_id}, safe=True)


class Keys(Resource):
    """Who may use the service for your group, and for what."""

    def list(self) -> KeyList:
        """Return all keys of your group, oldest first."""
        return self._answer(list_keys())

    def issue(
        self,
        *,
        holder: str,
        scopes: Sequence[str] = _DEFAULT,
        valid_days: int | None = None,
        idempotency_key: str | None = None,
        validate_only: bool = False,
    ) -> IssuedKey:
        """Issue a key. Its token is in this answer alone; keep it."""
        request = KeyRequest(holder=holder, scopes=tuple(scopes), valid_days=valid_days)
        return self._answer(issue_key(request, idempotency_key, validate_only=validate_only))

    def revoke(self, key_id: str) -> Key:
        """Revoke a key for good."""
        return self._answer(revoke_key(key_id))


class AsyncKeys(AsyncResource):
    """Who may use the service for your group, and for what."""

    async def list(self) -> KeyList:
        """Return all keys of your group, oldest first."""
        return await self._answer(list_keys())

    async def issue(
        self,
        *,
        holder: str,
        scopes: Sequence[str] = _DEFAULT,
        valid_days: int | None = None,
        idempotency_key: str | None = None,
        validate_only: bool = False,
    ) -> IssuedKey:
        """Issue a key. Its token is in this answer alone; keep it."""
        request = KeyRequest(holder=holder, scopes=tuple(scopes), valid_days=valid_days)
        return await self._answer(issue_key(request, idempotency_key, validate_only=validate_only))

    async def revoke(self, key_id: str) -> Key:
        """Revoke a key for good."""
        return await self._answer(revoke_key(key_id))
