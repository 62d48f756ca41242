"""Events leave the service's own network, unless that is allowed: whatever a name is made to lead to."""

import asyncio
import socket
from typing import Any

import pytest

from snapline_service.errors import InvalidValue
from snapline_service.webhooks import addresses, sending
from snapline_service.webhooks.sending import Parcel

SECRETS = ("whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw",)


@pytest.mark.parametrize(
    "address",
    [
        "127.0.0.1", "127.9.9.9", "::1",  # loopback
        "10.0.0.1", "172.16.0.1", "172.31.255.255", "192.168.1.1",  # RFC 1918
        "169.254.169.254", "169.254.0.1", "fe80::1", "fe80::1%eth0",  # link-local, and cloud metadata in it
        "100.64.0.1", "100.127.255.255",  # RFC 6598, carrier's NAT
        "fc00::1", "fd12:3456::1",  # RFC 4193
        "0.0.0.0", "::", "255.255.255.255", "240.0.0.1", "224.0.0.1", "ff02::1",
        "192.0.2.1", "198.51.100.1", "203.0.113.1", "2001:db8::1",  # documentation
        "::ffff:10.0.0.1", "::ffff:127.0.0.1", "2002:7f00:1::", "64:ff9b::a00:1",  # one in another
    ],
)  # fmt: skip
def test_addresses_of_the_special_purpose_registries_are_not_public(address: str) -> None:
    # IANA IPv4 and IPv6 Special-Purpose Address Registries (RFC 6890 and the RFCs beside the addresses).
    assert not addresses.is_public(address)


@pytest.mark.parametrize("address", ["1.1.1.1", "9.9.9.9", "172.32.0.1", "100.128.0.1", "2606:4700::1111"])
def test_others_are(address: str) -> None:
    assert addresses.is_public(address)


@pytest.mark.parametrize(
    "url",
    [
        "http://hooks.example.com/x", "https://localhost/x", "https://a.localhost/x", "https://127.0.0.1/x",
        "https://[::1]/x", "https://10.1.2.3:8443/x", "https://169.254.169.254/latest/meta-data", "https://",
        "https://LOCALHOST./", "https://a.localhost./x", "https://[fe80::1%25eth0]/x",
        # An address in the other forms that resolvers take.
        "https://127.1/", "https://2130706433/", "https://0x7f000001/", "https://0177.0.0.1/", "https://0/",
        "https://127.0.0.1./", "https://127。0。0。1/",
    ],
)  # fmt: skip
def test_what_will_never_do_is_refused_when_it_is_given(url: str) -> None:
    with pytest.raises(InvalidValue) as refused:
        addresses.require_usable_url(url, allow_private=False)
    assert refused.value.pointer == "/url"
    assert refused.value.mend


NOWHERE = [
    "https://xn--/", "https://xn--a/", "https://xn--0/x",  # no Punycode (RFC 3492)
    "https://%31%32%37.0.0.1/", "https://example..com/", "https://.../", "https://.example.com/",
    f"https://{'a' * 64}.com/", "https://hooks.example.com:0/", "https://hooks.example.com:99999/",
    "https://[::1", "https://[zz]/",
]  # fmt: skip


@pytest.mark.parametrize("allow_private", [False, True])
@pytest.mark.parametrize("url", NOWHERE)
def test_what_no_host_can_be_is_refused_whatever_is_allowed(url: str, allow_private: bool) -> None:
    with pytest.raises(InvalidValue) as refused:
        addresses.require_usable_url(url, allow_private=allow_private)
    assert refused.value.pointer == "/url"
    assert refused.value.mend


@pytest.mark.parametrize(
    "url",
    [
        "https://hooks.example.com/x", "https://hooks.example.com.:8443/x", "https://1.1.1.1/", "https://16843009/",
        "https://xn--bcher-kva.example/", "https://[2606:4700::1111]:65535/", "https://localhost.example.com/",
    ],
)  # fmt: skip
def test_what_may_be_public_is_taken(url: str) -> None:
    assert str(addresses.require_usable_url(url, allow_private=False)) == url


@pytest.mark.parametrize("url", ["http://localhost:8080/x", "https://127.1/", "http://[::1]/", "https://0/"])
def test_where_private_ones_are_allowed_this_machine_is_taken(url: str) -> None:
    assert str(addresses.require_usable_url(url, allow_private=True)) == url


def answer_with(*found: str) -> Any:
    """Return a resolver that leads a name to addresses."""

    async def resolve(*_: Any, **__: Any) -> list[Any]:
        return [(socket.AF_INET, socket.SOCK_STREAM, 6, "", (address, 443)) for address in found]

    return resolve


@pytest.mark.parametrize("found", [["10.0.0.1"], ["1.1.1.1", "10.0.0.1"], ["::ffff:169.254.169.254"]])
def test_a_name_that_leads_inside_is_refused_when_something_is_sent(
    found: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("asyncio.BaseEventLoop.getaddrinfo", lambda *_, **__: answer_with(*found)())
    with pytest.raises(InvalidValue, match="not on the public internet"):
        asyncio.run(addresses.resolve("hooks.example.com", 443, allow_private=False))


def test_the_very_address_that_was_looked_at_is_connected_to(monkeypatch: pytest.MonkeyPatch) -> None:
    """A name that leads elsewhere when asked again (DNS rebinding) is not asked again."""
    monkeypatch.setattr("asyncio.BaseEventLoop.getaddrinfo", lambda *_, **__: answer_with("1.1.1.1")())

    async def request() -> Any:
        parcel = Parcel("https://hooks.example.com:8443/x?y=1", SECRETS, "evt_1", b"{}")
        async with sending.new_client() as client:
            return await sending._request(client, parcel, allow_private=False)

    made = asyncio.run(request())
    assert str(made.url) == "https://1.1.1.1:8443/x?y=1"
    assert made.headers["host"] == "hooks.example.com:8443"
    assert made.extensions["sni_hostname"] == "hooks.example.com", "TLS asks for the name's certificate"


@pytest.mark.parametrize("address", ["1.1.1.1", "2606:4700::1111"])
def test_an_address_may_be_of_either_kind(address: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("asyncio.BaseEventLoop.getaddrinfo", lambda *_, **__: answer_with(address)())

    async def request() -> Any:
        async with sending.new_client() as client:
            parcel = Parcel("https://hooks.example.com/x", SECRETS, "evt_1", b"{}")
            return await sending._request(client, parcel, allow_private=False)

    assert asyncio.run(request()).url.host == address


def test_a_name_without_an_address_is_said_to_be_one() -> None:
    parcel = Parcel("https://no-such-name.invalid/x", SECRETS, "evt_1", b"{}")  # RFC 6761

    async def send() -> sending.Outcome:
        async with sending.new_client() as client:
            return await sending.send(client, parcel, allow_private=False)

    outcome = asyncio.run(send())
    assert (outcome.status, outcome.arrived) == (None, False)
    assert "no address" in outcome.said
