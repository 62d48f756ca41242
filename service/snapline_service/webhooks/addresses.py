"""Where a webhook may be sent: never into the service's own network, unless that is allowed."""

import asyncio
import socket
from ipaddress import IPv4Address, IPv6Address, IPv6Network, ip_address

import httpx

from snapline_service.errors import InvalidValue

_NAT64 = IPv6Network("64:ff9b::/96")  # RFC 6052: an IPv4 address in its last 32 bits
_LONGEST_LABEL = 63  # RFC 1035, 2.3.4
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
        host = parts.host.removesuffix(".")
    except (httpx.InvalidURL, UnicodeError) as error:  # the latter from a name that begins with xn--
        raise _useless(f"This is no address: {error}.") from error
    if not host:
        raise _useless("The address names no host.")
    if parts.port is not None and not 1 <= parts.port <= 65_535:
        raise _useless("There is no such port.", mend="Give a port from 1 to 65535, or none.")
    address = _address(host)
    if address is None:
        _require_name(host)
    if allow_private:
        return parts
    if parts.scheme != "https":
        raise _useless("Events are sent by https alone.", mend="Give an https address.")
    # A name is looked up only when something is sent.
    public = _is_public(address) if address else not f".{host}".endswith(".localhost")
    if not public:
        raise _useless("The address is not on the public internet.")
    return parts


def _address(host: str) -> IPv4Address | IPv6Address | None:
    """Return the IP address that a host is, in any form that resolvers take (127.1, 0x7f000001), or None."""
    try:
        return ip_address(host)
    except ValueError:
        pass
    try:
        return IPv4Address(socket.inet_aton(host))
    except (OSError, UnicodeError):
        return None


def _require_name(host: str) -> None:
    if "%" in host:
        raise _useless("The host is percent-encoded.", mend="Write the host's name as it is.")
    if not all(1 <= len(label) <= _LONGEST_LABEL for label in host.split(".")):
        detail = f"Between two dots of the host there is nothing, or more than {_LONGEST_LABEL} characters."
        raise _useless(detail, mend="Write the host's name as hooks.example.com.")


def _useless(detail: str, *, mend: str = _MEND) -> InvalidValue:
    return InvalidValue(detail, pointer="/url", mend=mend)
