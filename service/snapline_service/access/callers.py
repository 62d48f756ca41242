"""From the Authorization header to the caller and the revision that answers come from."""

import asyncio
import time

import sqlalchemy as sa
from litestar.connection import ASGIConnection
from litestar.handlers import BaseRouteHandler
from litestar.types import Guard
from msgspec import Struct

from snapline.offline import RevisionFile
from snapline_service.access import keys
from snapline_service.access.keys import Principal
from snapline_service.catalogue import store
from snapline_service.database import reading
from snapline_service.errors import NotAllowed, NothingPublished, NotSignedIn
from snapline_service.requests import require_known_query
from snapline_service.revisions.revision_files import RevisionFiles
from snapline_service.settings import Settings

# A revoked key works, and a new revision goes unseen, for at most this long in each worker.
_TRUSTED_S = 1.0
_REMEMBERED = 10_000


class Caller(Struct, frozen=True):
    """Who is calling and the published revision of their group, if there is one.

    ``readable`` is that revision again if the key may read it: what look-ups ask, once for all of a second's.
    """

    principal: Principal
    published: RevisionFile | None
    readable: RevisionFile | None

    @property
    def catalogue(self) -> RevisionFile:
        """The revision in force. Raises NothingPublished."""
        if self.published is None:
            message = "Your group has not published a catalogue yet."
            raise NothingPublished(message, mend="Publish one with: snapline catalogue publish")
        return self.published

    def require(self, scope: str) -> None:
        """Raise NotAllowed unless the key has the scope."""
        if scope not in self.principal.scopes:
            message = f"This key lacks the scope '{scope}'."
            raise NotAllowed(message, mend="Ask your group's administrator for a key with it.")


class Callers:
    """Tells who calls; remembers it for a second, so that a busy caller costs one query in that time."""

    def __init__(self, engine: sa.Engine, settings: Settings) -> None:
        self._engine = engine
        self._secret = settings.secret
        self._files = RevisionFiles(engine, settings)
        self._known: dict[bytes, tuple[float, Caller]] = {}

    def known(self, authorization: bytes, now_s: float) -> Caller | None:
        """Return the caller behind an Authorization header if it was identified within the last second."""
        known = self._known.get(authorization)
        return known[1] if known and known[0] > now_s else None

    async def identify(self, authorization: bytes) -> Caller:
        """Return the caller behind an Authorization header. Raises NotSignedIn."""
        self._known.pop(authorization, None)
        scheme, _, token = authorization.partition(b" ")
        if scheme.lower() != b"bearer" or not token:
            raise _not_signed_in("There is no key in the request.")
        if not keys.is_ours(token, self._secret):
            raise _not_signed_in("The key is mistyped, or was issued with another SNAPLINE_SECRET.")
        caller = await asyncio.to_thread(self._look_up, keys.digest(token, self._secret))
        if caller is None:
            raise _not_signed_in("The key is unknown, expired or revoked.")
        if len(self._known) >= _REMEMBERED:
            self._known.clear()
        self._known[authorization] = (time.perf_counter() + _TRUSTED_S, caller)
        return caller

    def _look_up(self, digest: bytes) -> Caller | None:
        with reading(self._engine) as session:
            principal = keys.holder_of(session, digest)
            if principal is None:
                return None
            newest = store.newest_revision(session, principal.group_id)
            found = (newest.number, newest.manifest_hash) if newest else None
        published = self._files.get(principal.group_id, *found) if found else None
        return Caller(principal, published, published if "read" in principal.scopes else None)


class Needs(Struct, frozen=True):
    """A guard that lets only keys with the scope pass; the API document reads the scope from it."""

    scope: str

    async def __call__(self, connection: ASGIConnection, handler: BaseRouteHandler) -> None:  # type: ignore[type-arg]
        """Raise NotSignedIn or NotAllowed unless the caller may pass, BadInput for an unknown query.

        A list reads its own filters.
        """
        caller: Caller | None = connection.scope["state"].get("caller")
        if caller is None:  # the router is kinder to odd spellings of an address than the front is
            raise _not_signed_in("The address is not spelt as documented.")
        caller.require(self.scope)
        if "query" not in handler.opt:
            require_known_query(connection.scope["query_string"])


def needs(scope: str) -> Guard:
    """Return a guard that lets only keys with the scope pass."""
    return Needs(scope)


def _not_signed_in(detail: str) -> NotSignedIn:
    return NotSignedIn(detail, mend="Send 'Authorization: Bearer …' with a key of your group.")
