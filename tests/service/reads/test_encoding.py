"""Content codings by RFC 9110, 12.5.3: what the caller takes decides what it gets."""

import gzip

import httpx
import pytest

VEHICLE = "/v1/vehicles/mirandeux-celadine-2023-eu"
PREPARED = [VEHICLE, "/v1/fixtures/stand-radar"]
MADE_FOR_THE_OCCASION = [
    "/v1/vehicles",
    f"{VEHICLE}/systems/camera",
    "/v1/fixtures/board-two-circle/vehicles",
]


def octets(http: httpx.Client, address: str, accept_encoding: str | None) -> tuple[httpx.Headers, bytes]:
    """Return the headers and the body as it travelled."""
    request = http.build_request("GET", address)
    del request.headers["accept-encoding"]
    if accept_encoding is not None:
        request.headers["accept-encoding"] = accept_encoding
    response = http.send(request, stream=True)
    try:
        return response.headers, b"".join(response.iter_raw())
    finally:
        response.close()


@pytest.mark.parametrize("address", PREPARED)
def test_the_compressed_body_is_the_plain_one_compressed(http: httpx.Client, address: str) -> None:
    headers, compressed = octets(http, address, "gzip")
    _, plain = octets(http, address, "identity")
    assert headers["content-encoding"] == "gzip"
    assert len(compressed) == int(headers["content-length"]) < len(plain)
    assert gzip.decompress(compressed) == plain


@pytest.mark.parametrize(
    "accepted",
    [
        "gzip",
        "gzip, deflate",
        "br, gzip;q=0.001",
        "deflate, gzip;q=1.0, *;q=0.5",  # the example of the RFC
        "GZIP",
        "*",
        "*;q=0, gzip",
        "identity;q=0, gzip; q=0.8",
    ],
)
def test_gzip_is_sent_to_whoever_takes_it(http: httpx.Client, accepted: str) -> None:
    headers, _ = octets(http, VEHICLE, accepted)
    assert headers["content-encoding"] == "gzip"


@pytest.mark.parametrize(
    "accepted",
    [
        None,
        "",
        "identity",
        "deflate, br",
        "notgzip",
        "gzip;q=0",
        "gzip; q=0.000",
        "gzip ;q=0.",
        "gzip;Q=0",
        "gzip;q=0, *",
        "*, gzip;q=0",
        "*;q=0",
    ],
)
def test_gzip_is_not_sent_to_whoever_does_not(http: httpx.Client, accepted: str | None) -> None:
    headers, body = octets(http, VEHICLE, accepted)
    assert "content-encoding" not in headers
    assert len(body) == int(headers["content-length"])
    assert body.startswith(b'{"kind":"vehicle"')


@pytest.mark.parametrize("address", PREPARED + MADE_FOR_THE_OCCASION)
@pytest.mark.parametrize("accepted", ["gzip", "identity"])
def test_caches_are_told_what_the_answer_depends_on(http: httpx.Client, address: str, accepted: str) -> None:
    headers, _ = octets(http, address, accepted)
    assert {name.strip().lower() for name in headers["vary"].split(",")} == {
        "accept-encoding",
        "authorization",
    }
    # Groups share addresses and not catalogues: no shared cache, and none that is not asked again.
    assert {word.strip() for word in headers["cache-control"].split(",")} == {"private", "no-cache"}
    assert headers["content-type"] == "application/json"
    assert headers["catalogue-revision"] == "2"
