"""Send one event to one receiver, and say how that went."""

import asyncio
import ssl
import time

import httpx
from msgspec import Struct

from snapline_service.errors import InvalidValue
from snapline_service.webhooks import addresses, signing

ANSWER_WITHIN_S = 10.0
_READ_BYTES = 65_536
_KEPT_CHARACTERS = 1000


class Parcel(Struct, frozen=True):
    """An event for a receiver, and the secrets to sign it with."""

    url: str
    secrets: tuple[str, ...]
    event_id: str
    body: bytes


class Outcome(Struct, frozen=True):
    """How an attempt went. ``status`` is None if there was no answer, and ``said`` then says why."""

    status: int | None
    duration_ms: int
    said: str

    @property
    def arrived(self) -> bool:
        """Whether the receiver has it."""
        return self.status is not None and 200 <= self.status < 300

    @property
    def gone(self) -> bool:
        """Whether the receiver wants nothing any more."""
        return self.status == 410


def new_client() -> httpx.AsyncClient:
    """Return what sends: no redirects, no proxies, and a new connection each time.

    A connection is made to an address and not to a name, so that one kept open could serve another name.
    """
    return httpx.AsyncClient(
        follow_redirects=False,
        trust_env=False,
        timeout=ANSWER_WITHIN_S,
        limits=httpx.Limits(max_keepalive_connections=0),
        verify=ssl.create_default_context(),
        headers={"user-agent": "Snapline-Webhooks/1", "accept-encoding": "identity"},
    )


async def send(client: httpx.AsyncClient, parcel: Parcel, *, allow_private: bool) -> Outcome:
    """Make one attempt. An answer's status counts if it comes in time, however long its body is."""
    started_s = time.perf_counter()
    status: int | None = None
    said = ""
    try:
        async with asyncio.timeout(ANSWER_WITHIN_S):
            request = await _request(client, parcel, allow_private=allow_private)
            response = await client.send(request, stream=True)
            status = response.status_code
            try:
                said = await _beginning(response)
            finally:
                await response.aclose()
    except (TimeoutError, httpx.TimeoutException):
        said = "" if status else f"There was no answer within {ANSWER_WITHIN_S:g} s."
    except InvalidValue as refused:
        said = refused.detail
    except (httpx.HTTPError, httpx.InvalidURL, OSError) as error:
        said = f"{type(error).__name__}: {error}"
    duration_ms = round((time.perf_counter() - started_s) * 1000)
    return Outcome(status, duration_ms, said.replace("\x00", "")[:_KEPT_CHARACTERS])


async def _request(client: httpx.AsyncClient, parcel: Parcel, *, allow_private: bool) -> httpx.Request:
    """Return the request to the very address that was looked at; the name stays in Host and TLS."""
    url = addresses.require_usable_url(parcel.url, allow_private=allow_private)
    port = url.port or (443 if url.scheme == "https" else 80)
    name = url.raw_host.decode("ascii")
    address = await addresses.resolve(name, port, allow_private=allow_private)
    headers = signing.headers(parcel.secrets, parcel.event_id, int(time.time()), parcel.body)
    headers |= {"host": url.netloc.decode("ascii"), "content-type": "application/json"}
    return client.build_request(
        "POST",
        url.copy_with(host=address),
        content=parcel.body,
        headers=headers,
        extensions={"sni_hostname": name},
    )


async def _beginning(response: httpx.Response) -> str:
    read = bytearray()
    async for part in response.aiter_raw():
        read += part
        if len(read) >= _READ_BYTES:
            break
    return bytes(read[: 4 * _KEPT_CHARACTERS]).decode(errors="replace")
