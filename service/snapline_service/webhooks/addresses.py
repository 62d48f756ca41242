"""Where a webhook may be sent: never into the service's own network, unless that is allowed."""

import asyncio
import socket
from ipaddress import IPv4Address, IPv6Address, IPv6Network, ip_address

import httpx

from snapline_service.errors import InvalidValue

_NAT64 = IPv6Network("64:ff9b::/96")  # RFC 6052: an IPv4 address in its last 32 bits
_MEND = "Give an address on the public internet, or set SNAPLINE_WEBHOOKS_ALLOW_PRIVATE=1 for the service."


def is_public(address: str) -> bool:
    """Whether an IP address is on the public internet, also where one hides in another."""
    return _is_public(ip_address(address.partition("%")[0]))


def _is_public(ip: IPv4Address | IPv6Address) -> bool:
    if isinstance(ip, IPv6Address):
        inner = ip.ipv4_mapped or ip.sixtofour
        if inner is None and ip in _NAT64:
            inner = IPv4Address(int(ip) & 0xFFFFFFFF)
        if inner is not None:
            return _is_public(inner)
    return ip.is_global and not ip.is_multicast and not ip.is_reserved


async def resolve(host: str, port: int, *, allow_private: bool) -> str:
    """Return the address to connect to: the caller uses this very one, and asks for the name no more.

    Raises InvalidValue if the name has no address, or one that is not public: a name that leads both inside
    and outside is not trusted.
    """
    loop = asyncio.get_running_loop()
    try:
        found = await loop.getaddrinfo(host, port, type=socket.SOCK_STREAM)
    except (OSError, UnicodeError) as error:
        raise InvalidValue(f"The name has no address: {error}.", pointer="/url") from error
    addresses = [str(entry[4][0]) for entry in found]
    if not allow_private and not all(map(is_public, addresses)):
        raise InvalidValue("The address is not on the public internet.", pointer="/url", mend=_MEND)
    return addresses[0]


def require_usable_url(url: str, *, allow_private: bool) -> httpx.URL:
    """Return an address, taken apart. Raises InvalidValue for one that is plainly of no use."""
    try:
        parts = httpx.URL(url)
    except httpx.InvalidURL as error:
        raise InvalidValue(f"This is no address: {error}.", pointer="/url", mend=_MEND) from error
    if not parts.host:
        raise InvalidValue("The address names no host.", pointer="/url", mend=_MEND)
    if allow_private:
        return parts
    if parts.scheme != "https":
        raise InvalidValue("Events are sent by https alone.", pointer="/url", mend="Give an https address.")
    try:
        public = is_public(parts.host)
    except ValueError:  # a name: it is looked up when something is sent
        public = parts.host != "localhost" and not parts.host.endswith(".localhost")
    if not public:
        raise InvalidValue("The address is not on the public internet.", pointer="/url", mend=_MEND)
    return parts
