"""The two clients. Everything but sending and waiting is shared."""

import os
from collections.abc import Callable
from typing import TYPE_CHECKING, Self, TypeVar
from urllib.parse import urlsplit

from msgspec import UNSET, UnsetType

from snapline import resources
from snapline.cache import Cache
from snapline.calls import Call, Response
from snapline.errors import ConfigurationError, SnaplineError
from snapline.exchange import Core, Exchange, Options, Outcome, Pause
from snapline.retry import Attempt, Pace, RetryPolicy
from snapline.secret import Secret
from snapline.transport import AsyncTransport, Request, Timeout, Transport

if TYPE_CHECKING:
    from logging import Logger

T = TypeVar("T")
OnRetry = Callable[[Attempt], None]


class _Client:
    """Address, key and options, without sending."""

    _owns_transport: bool

    def __init__(
        self,
        url: str | None,
        key: str | None,
        *,
        timeout: Timeout | float,
        max_retries: int,
        deadline_s: float | None,
        on_retry: OnRetry | None,
        cache: Cache | bool,
        pace: Pace,
    ) -> None:
        self._core = Core(_address(url), _secret(key), _cache(cache), pace, _log())
        self._options = Options(
            timeout=Timeout.of(timeout), retries=_retries(max_retries, deadline_s), on_retry=on_retry
        )

    @property
    def url(self) -> str:
        """The service's address."""
        return self._core.url

    def with_options(
        self,
        *,
        timeout: Timeout | float | UnsetType = UNSET,
        max_retries: int | UnsetType = UNSET,
        deadline_s: float | UnsetType | None = UNSET,
        on_retry: OnRetry | UnsetType | None = UNSET,
    ) -> Self:
        """Return this client with other options; it shares connections and cache, and need not be closed."""
        options = self._options
        retries = _retries(
            options.retries.max_retries if max_retries is UNSET else max_retries,
            options.retries.deadline_s if deadline_s is UNSET else deadline_s,
        )
        derived = object.__new__(type(self))
        derived.__dict__.update(self.__dict__)
        derived._options = Options(
            timeout=options.timeout if timeout is UNSET else Timeout.of(timeout),
            retries=retries,
            on_retry=options.on_retry if on_retry is UNSET else on_retry,
        )
        derived._owns_transport = False
        return derived

    def __repr__(self) -> str:
        return f"{type(self).__name__}(url={self.url!r})"


class Snapline(_Client):
    """A client of one Snapline service, for one API key. Thread-safe; a context manager.

    ``url`` and ``key`` default to the environment's SNAPLINE_URL and SNAPLINE_KEY. ``timeout`` (seconds or
    ``Timeout``) holds for each attempt, ``deadline_s`` for the whole call with retries and pauses (only an
    answer that trickles in may outlast it). ``on_retry`` is told of each failed attempt that will be
    repeated. A ``transport`` of your own is left open by ``close``.
    """

    def __init__(
        self,
        url: str | None = None,
        key: str | None = None,
        *,
        timeout: Timeout | float = Timeout(),  # noqa: B008  frozen
        max_retries: int = 2,
        deadline_s: float | None = None,
        on_retry: OnRetry | None = None,
        transport: Transport | None = None,
        cache: Cache | bool = True,
        pace: Pace = Pace(),  # noqa: B008  frozen
    ) -> None:
        super().__init__(
            url,
            key,
            timeout=timeout,
            max_retries=max_retries,
            deadline_s=deadline_s,
            on_retry=on_retry,
            cache=cache,
            pace=pace,
        )
        self._owns_transport = transport is None
        self._transport = transport or _httpx_transport()

    @property
    def vehicles(self) -> "resources.vehicles.Vehicles":
        """Identify, search and look up vehicles."""
        return resources.vehicles.Vehicles(self)

    @property
    def fixtures(self) -> "resources.fixtures.Fixtures":
        """Fixture types, what they can do, and the vehicles they serve."""
        return resources.fixtures.Fixtures(self)

    @property
    def setups(self) -> "resources.setups.Setups":
        """Where every fixture of a procedure stands on a vehicle."""
        return resources.setups.Setups(self)

    @property
    def geometry(self) -> "resources.geometry.Geometry":
        """Calculators that need no catalogue."""
        return resources.geometry.Geometry(self)

    @property
    def sites(self) -> "resources.sites.Sites":
        """Workshops of your group, and their bays."""
        return resources.sites.Sites(self)

    @property
    def assets(self) -> "resources.assets.Assets":
        """Physical fixtures of your group: where each is, and whether it may be used."""
        return resources.assets.Assets(self)

    @property
    def visits(self) -> "resources.visits.Visits":
        """Planned visits, and those that are kept."""
        return resources.visits.Visits(self)

    @property
    def drafts(self) -> "resources.drafts.Drafts":
        """Changes of the catalogue: prepare, review, publish."""
        return resources.drafts.Drafts(self)

    @property
    def changes(self) -> "resources.changes.Changes":
        """Follow what happens in your group, and read who did what."""
        return resources.changes.Changes(self)

    @property
    def webhooks(self) -> "resources.webhooks.Webhooks":
        """Have signed events sent to whoever wants to know at once."""
        return resources.webhooks.Webhooks(self)

    @property
    def notes(self) -> "resources.notes.Notes":
        """What your group's own people remark on vehicles and procedures."""
        return resources.notes.Notes(self)

    @property
    def revisions(self) -> "resources.revisions.Revisions":
        """Published states of the catalogue, and their copies for offline use."""
        return resources.revisions.Revisions(self)

    @property
    def spreadsheets(self) -> "resources.spreadsheets.Spreadsheets":
        """The flat parts of the catalogue as spreadsheets."""
        return resources.spreadsheets.Spreadsheets(self)

    @property
    def keys(self) -> "resources.keys.Keys":
        """Who may use the service for your group, and for what."""
        return resources.keys.Keys(self)

    def send(self, call: Call[T]) -> Response[T]:
        """Make a call and return its answer with headers, request id and raw bytes."""
        steps = Exchange(call, self._core, self._options).steps()
        try:
            step = next(steps)
            while True:
                if isinstance(step, Pause):
                    self._core.pace.sleep(step.seconds)
                    step = next(steps)
                else:
                    step = steps.send(self._outcome(step))
        except StopIteration as end:
            response: Response[T] = end.value
            return response

    def _outcome(self, request: Request) -> Outcome:
        try:
            return self._transport.send(request)
        except SnaplineError as failure:
            return failure

    def close(self) -> None:
        """Let go of all connections."""
        if self._owns_transport:
            self._transport.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *error: object) -> None:
        self.close()


class AsyncSnapline(_Client):
    """A client of one Snapline service for asyncio; like ``Snapline`` in everything else."""

    def __init__(
        self,
        url: str | None = None,
        key: str | None = None,
        *,
        timeout: Timeout | float = Timeout(),  # noqa: B008  frozen
        max_retries: int = 2,
        deadline_s: float | None = None,
        on_retry: OnRetry | None = None,
        transport: AsyncTransport | None = None,
        cache: Cache | bool = True,
        pace: Pace = Pace(),  # noqa: B008  frozen
    ) -> None:
        super().__init__(
            url,
            key,
            timeout=timeout,
            max_retries=max_retries,
            deadline_s=deadline_s,
            on_retry=on_retry,
            cache=cache,
            pace=pace,
        )
        self._owns_transport = transport is None
        self._transport = transport or _async_httpx_transport()

    @property
    def vehicles(self) -> "resources.vehicles.AsyncVehicles":
        """Identify, search and look up vehicles."""
        return resources.vehicles.AsyncVehicles(self)

    @property
    def fixtures(self) -> "resources.fixtures.AsyncFixtures":
        """Fixture types, what they can do, and the vehicles they serve."""
        return resources.fixtures.AsyncFixtures(self)

    @property
    def setups(self) -> "resources.setups.AsyncSetups":
        """Where every fixture of a procedure stands on a vehicle."""
        return resources.setups.AsyncSetups(self)

    @property
    def geometry(self) -> "resources.geometry.AsyncGeometry":
        """Calculators that need no catalogue."""
        return resources.geometry.AsyncGeometry(self)

    @property
    def sites(self) -> "resources.sites.AsyncSites":
        """Workshops of your group, and their bays."""
        return resources.sites.AsyncSites(self)

    @property
    def assets(self) -> "resources.assets.AsyncAssets":
        """Physical fixtures of your group: where each is, and whether it may be used."""
        return resources.assets.AsyncAssets(self)

    @property
    def visits(self) -> "resources.visits.AsyncVisits":
        """Planned visits, and those that are kept."""
        return resources.visits.AsyncVisits(self)

    @property
    def drafts(self) -> "resources.drafts.AsyncDrafts":
        """Changes of the catalogue: prepare, review, publish."""
        return resources.drafts.AsyncDrafts(self)

    @property
    def changes(self) -> "resources.changes.AsyncChanges":
        """Follow what happens in your group, and read who did what."""
        return resources.changes.AsyncChanges(self)

    @property
    def webhooks(self) -> "resources.webhooks.AsyncWebhooks":
        """Have signed events sent to whoever wants to know at once."""
        return resources.webhooks.AsyncWebhooks(self)

    @property
    def notes(self) -> "resources.notes.AsyncNotes":
        """What your group's own people remark on vehicles and procedures."""
        return resources.notes.AsyncNotes(self)

    @property
    def revisions(self) -> "resources.revisions.AsyncRevisions":
        """Published states of the catalogue, and their copies for offline use."""
        return resources.revisions.AsyncRevisions(self)

    @property
    def spreadsheets(self) -> "resources.spreadsheets.AsyncSpreadsheets":
        """The flat parts of the catalogue as spreadsheets."""
        return resources.spreadsheets.AsyncSpreadsheets(self)

    @property
    def keys(self) -> "resources.keys.AsyncKeys":
        """Who may use the service for your group, and for what."""
        return resources.keys.AsyncKeys(self)

    async def send(self, call: Call[T]) -> Response[T]:
        """Make a call and return its answer with headers, request id and raw bytes."""
        steps = Exchange(call, self._core, self._options).steps()
        try:
            step = next(steps)
            while True:
                if isinstance(step, Pause):
                    await self._core.pace.sleep_async(step.seconds)
                    step = next(steps)
                else:
                    step = steps.send(await self._outcome(step))
        except StopIteration as end:
            response: Response[T] = end.value
            return response

    async def _outcome(self, request: Request) -> Outcome:
        try:
            return await self._transport.send(request)
        except SnaplineError as failure:
            return failure

    async def close(self) -> None:
        """Let go of all connections."""
        if self._owns_transport:
            await self._transport.close()

    async def __aenter__(self) -> Self:
        return self

    async def __aexit__(self, *error: object) -> None:
        await self.close()


def _address(url: str | None) -> str:
    given = url or os.environ.get("SNAPLINE_URL")
    if not given:
        raise ConfigurationError("No service address: give url=… or set SNAPLINE_URL.")
    try:
        parts = urlsplit(given)
        usable = parts.scheme in {"http", "https"} and parts.hostname and (parts.port is None or parts.port)
    except ValueError:
        usable = False
    if not usable or parts.query or parts.fragment or not given.isprintable() or " " in given:
        raise ConfigurationError(
            "The service address must look like https://host, https://host:port or https://host/path."
        )
    if parts.username is not None or parts.password is not None:
        raise ConfigurationError(
            "The service address must not hold a user name or password: use key=… instead."
        )
    return given.rstrip("/")


def _secret(key: str | None) -> Secret:
    given = key or os.environ.get("SNAPLINE_KEY")
    if not given:
        raise ConfigurationError("No API key: give key=… or set SNAPLINE_KEY.")
    return Secret(given)


def _cache(cache: Cache | bool) -> Cache | None:
    if isinstance(cache, Cache):
        return cache
    return Cache() if cache else None


def _retries(max_retries: int, deadline_s: float | None) -> RetryPolicy:
    if max_retries < 0:
        raise ConfigurationError("max_retries cannot be negative.")
    if deadline_s is not None and not deadline_s > 0:
        raise ConfigurationError("deadline_s must be above zero.")
    return RetryPolicy(max_retries=max_retries, deadline_s=deadline_s)


def _log() -> "Logger":
    from logging import getLogger  # noqa: PLC0415  keeps the import of snapline light

    return getLogger("snapline")


def _httpx_transport() -> Transport:
    from snapline.httpx_transport import HttpxTransport  # noqa: PLC0415  as above

    return HttpxTransport()


def _async_httpx_transport() -> AsyncTransport:
    from snapline.httpx_transport import AsyncHttpxTransport  # noqa: PLC0415  as above

    return AsyncHttpxTransport()
