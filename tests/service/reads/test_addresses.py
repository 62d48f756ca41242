"""Which addresses there are, what they are called, and what may be done to them."""

import re

import httpx
import pytest

VEHICLE = "/v1/vehicles/quellovane-lirra-2016-eu"
READS = [
    "/v1/vehicles",
    VEHICLE,
    f"{VEHICLE}/systems/camera",
    "/v1/fixtures",
    "/v1/fixtures/mat-long",
    "/v1/fixtures/mat-long/vehicles",
]
# RFC 3986, appendix A: what a URI reference may be made of.
URI_REFERENCE = re.compile(r"(?:[A-Za-z0-9\-._~:/?#\[\]@!$&'()*+,;=]|%[0-9A-F]{2})+")


@pytest.mark.parametrize("address", READS)
def test_head_says_what_get_says_without_the_body(http: httpx.Client, address: str) -> None:
    got, head = http.get(address), http.head(address)
    assert (head.status_code, head.content) == (200, b"")
    changing = {"date", "x-request-id", "ratelimit"}
    assert {n: v for n, v in head.headers.items() if n not in changing} == {
        n: v for n, v in got.headers.items() if n not in changing
    }


def test_head_of_what_is_not_there_has_no_body_either(http: httpx.Client) -> None:
    head = http.head("/v1/vehicles/no-such-vehicle")
    assert (head.status_code, head.content) == (404, b"")
    assert head.headers["content-type"] == "application/problem+json"
    # The connection is still in step: what comes next is the next answer.
    assert http.get(VEHICLE).json()["id"] == "quellovane-lirra-2016-eu"


@pytest.mark.parametrize("address", READS)
@pytest.mark.parametrize("method", ["POST", "PUT", "PATCH", "DELETE", "OPTIONS"])
def test_a_look_up_is_only_read(http: httpx.Client, address: str, method: str) -> None:
    answer = http.request(method, address)
    assert answer.status_code == 405
    assert answer.headers["content-type"] == "application/problem+json"
    assert answer.json()["code"] == "METHOD_NOT_ALLOWED"
    # RFC 9110, 15.5.6: a 405 must say what is allowed.
    assert {name.strip() for name in answer.headers["allow"].split(",")} == {"GET", "HEAD"}


@pytest.mark.parametrize(
    ("address", "called"),
    [
        ("/v1/vehicles/quellovane-lirra-1916-eu", "quellovane-lirra-1916-eu"),
        ("/v1/vehicles/no-such-vehicle/systems/camera", "camera"),
        ("/v1/fixtures/board-of-directors", "board-of-directors"),
        ("/v1/fixtures/board-of-directors/vehicles", "board-of-directors"),
    ],
)
def test_what_is_not_there_is_named(http: httpx.Client, address: str, called: str) -> None:
    answer = http.get(address)
    problem = answer.json()
    assert (answer.status_code, problem["status"], problem["code"]) == (404, 404, "NOT_FOUND")
    assert f"'{called}'" in problem["detail"]
    assert "GET /v1/" in problem["errors"][0]["detail"]  # where to look instead
    assert (problem["instance"], problem["request_id"]) == (address, answer.headers["x-request-id"])


@pytest.mark.parametrize(
    "address",
    [
        "/v1/nothing",
        "/v1",
        "/v1/",
        "/V1/vehicles",
        f"{VEHICLE}/wheels",
        f"{VEHICLE}/systems",
        f"{VEHICLE}/systems/camera/more",
        "/v1/fixtures/mat-long/vehicles/1",
        "//v1/vehicles",
        "/etc/passwd",
    ],
)
def test_an_address_that_nothing_has_is_a_problem_too(http: httpx.Client, address: str) -> None:
    answer = http.get(f"{http.base_url.copy_with(path='')}{address}".replace("//v1", "/%2Fv1"))
    assert answer.status_code == 404
    assert answer.headers["content-type"] == "application/problem+json"
    assert answer.json()["errors"][0]["detail"]


def test_a_name_may_be_percent_encoded(http: httpx.Client) -> None:
    encoded = "".join(f"%{ord(character):02x}" for character in "quellovane-lirra-2016-eu")
    plain, same = http.get(VEHICLE), http.get(f"/v1/vehicles/{encoded}")
    assert (same.status_code, same.headers["etag"]) == (200, plain.headers["etag"])


@pytest.mark.parametrize(
    "name",
    [
        "%00",
        "%0d%0aX-Injected:%201",
        "%FF%FE",
        "%ED%A0%80",  # half of a surrogate pair
        "%E2%82%AC",
        "%F0%9F%9A%97",
        "%2e%2e",
        "a%2Fb",
        "%20quellovane-lirra-2016-eu",
        "quellovane-lirra-2016-eu%20",
        "QUELLOVANE-LIRRA-2016-EU",
        "'%20OR%20'1'='1",
        "%25s%25n",
        "*",
        "x" * 5000,
    ],
)
@pytest.mark.parametrize("collection", ["vehicles", "fixtures"])
def test_an_odd_name_is_merely_not_there(http: httpx.Client, collection: str, name: str) -> None:
    answer = http.get(f"/v1/{collection}/{name}")
    assert answer.status_code == 404
    assert "x-injected" not in answer.headers
    problem = answer.json()
    assert problem["code"] == "NOT_FOUND"
    assert URI_REFERENCE.fullmatch(problem["instance"])  # RFC 9457, 3.1.5


def test_an_odd_system_of_a_good_vehicle_is_not_there_either(http: httpx.Client) -> None:
    for name in ("%00", "%FF", "camera%20", "x" * 5000):
        assert http.get(f"{VEHICLE}/systems/{name}").status_code == 404


def test_a_system_that_a_vehicle_lacks_is_told_which_it_has(http: httpx.Client) -> None:
    answer = http.get("/v1/vehicles/mirandeux-celadine-2023-eu/systems/nope")
    assert answer.status_code == 404
    told = answer.json()["detail"]
    assert told.startswith("The vehicle has no system 'nope'. Known here: ")
    assert "rear-radars" in told
    slip = http.get("/v1/vehicles/mirandeux-celadine-2023-eu/systems/rear-radar").json()
    assert slip["errors"][0]["mend"] == "Did you mean 'rear-radars'?"
    assert "/v1/vehicles" in http.get("/v1/vehicles/nope/systems/nope").json()["errors"][0]["mend"]
