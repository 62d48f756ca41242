"""Filters and pages: what a query may say, and that nothing in it is passed over."""

import base64
import json
from collections.abc import Callable
from urllib.parse import quote

import httpx
import pytest

from service.catalogue.demo import FIXTURES, VEHICLES
from snapline import Snapline
from snapline.wire.catalogue import VehicleDocument

LIST = "/v1/vehicles"
SERVED = "/v1/fixtures/board-two-circle/vehicles"
VEHICLE = "/v1/vehicles/quellovane-lirra-2016-eu"


def refused(http: httpx.Client, address: str) -> list[dict[str, str]]:
    answer = http.get(address)
    assert answer.status_code == 422
    assert answer.headers["content-type"] == "application/problem+json"
    faults: list[dict[str, str]] = answer.json()["errors"]
    assert all(fault["detail"].endswith((".", "?")) for fault in faults)
    return faults


@pytest.mark.parametrize(
    ("address", "pointer"),
    [
        (f"{LIST}?page_size=0", "/page_size"),
        (f"{LIST}?page_size=201", "/page_size"),
        (f"{LIST}?page_size=-1", "/page_size"),
        (f"{LIST}?page_size=--5", "/page_size"),
        (f"{LIST}?page_size=1.5", "/page_size"),
        (f"{LIST}?page_size=1e1", "/page_size"),
        (f"{LIST}?page_size=ten", "/page_size"),
        (f"{LIST}?page_size=%C2%B2", "/page_size"),  # the digit two, raised
        (f"{LIST}?page_size=", "/page_size"),
        (f"{LIST}?page_size={'9' * 400}", "/page_size"),
        (f"{LIST}?model_year=1949", "/model_year"),
        (f"{LIST}?model_year=99999999999999999999", "/model_year"),
        (f"{LIST}?model_year=2020x", "/model_year"),
        (f"{LIST}?market=eu", "/market"),
        (f"{LIST}?market=EUROPE", "/market"),
        (f"{LIST}?make=", "/make"),
        (f"{LIST}?make={'x' * 121}", "/make"),
        (f"{LIST}?system_kind=Front%20camera", "/system_kind"),
        (f"{LIST}?q=", "/q"),
        (f"{LIST}?q={'x' * 201}", "/q"),
        (f"{LIST}?page_token=", "/page_token"),
        (f"{LIST}?page_token={'x' * 2001}", "/page_token"),
        (f"{LIST}?colour=red", "/colour"),
        (f"{LIST}?Make=Quellovane", "/Make"),
        (f"{LIST}?a%2Fb~c=1", "/a~1b~0c"),  # RFC 6901 escapes
        (f"{LIST}?make=Quellovane&make=Mirandeux", "/make"),
        (f"{LIST}?page_size=2&page_size=2", "/page_size"),
        ("/v1/fixtures?capability=Two%20circles", "/capability"),
        ("/v1/fixtures?make=Quellovane", "/make"),
        (f"{SERVED}?by_property=maybe", "/by_property"),
        (f"{SERVED}?by_property=1", "/by_property"),
        (f"{SERVED}?by_property=", "/by_property"),
        (f"{SERVED}?market=EU", "/market"),
        (f"{VEHICLE}?revision=1", "/revision"),
        (f"{VEHICLE}/systems/camera?full", "/full"),
        ("/v1/fixtures/mat-long?x~y=", "/x~0y"),
    ],
)
def test_a_parameter_that_cannot_be_used_is_named(http: httpx.Client, address: str, pointer: str) -> None:
    assert [fault["pointer"] for fault in refused(http, address)] == [pointer]


@pytest.mark.parametrize(
    ("address", "mend"),
    [
        (f"{LIST}?system_kind=zombie", "Known here: "),
        (f"{LIST}?system_kind=forward_camra", "Did you mean 'forward_camera'?"),
        (f"{SERVED}?system_kind=zombie", "Known here: "),
        ("/v1/fixtures?fixture_kind=zombie", "Known here: "),
        ("/v1/visits?state=zombie", "Known here: planned, in_work, closed, cancelled."),
        ("/v1/webhooks/any/deliveries?state=zombie", "Known here: pending, delivered, failed."),
        ("/v1/audit?type=zombie", "Known here: catalogue.published, "),
    ],
)
def test_a_word_that_nothing_can_have_is_no_empty_list(http: httpx.Client, address: str, mend: str) -> None:
    (fault,) = refused(http, address)
    assert fault["pointer"] == "/" + address.partition("?")[2].partition("=")[0]
    assert fault["mend"].startswith(mend)


def test_every_fault_of_a_query_is_named_at_once(http: httpx.Client) -> None:
    faults = refused(http, f"{LIST}?page_size=0&market=eu&modle=x")
    assert {fault["pointer"]: fault["code"] for fault in faults} == {
        "/page_size": "INVALID_VALUE",
        "/market": "INVALID_VALUE",
        "/modle": "UNKNOWN_FIELD",
    }
    assert any("'model'" in fault["detail"] for fault in faults)  # the name that was meant


@pytest.mark.parametrize("size", [1, 7, 200])
def test_the_page_size_holds_up_to_its_limits(http: httpx.Client, size: int) -> None:
    page = http.get(f"{LIST}?page_size={size}").json()
    assert len(page["items"]) == min(size, len(VEHICLES))
    assert ("next_page_token" in page) == (size < len(VEHICLES))


@pytest.mark.parametrize("size", [1, 4, 33])
def test_pages_follow_each_other_without_gap_or_repetition(client: Snapline, size: int) -> None:
    walked = [item.id for item in client.vehicles.list(page_size=size)]
    in_order = sorted(
        VEHICLES.values(), key=lambda v: (v.make.lower(), v.model.lower(), v.model_year_first, v.id)
    )
    assert walked == [vehicle.id for vehicle in in_order]
    assert [item.id for item in client.fixtures.list(page_size=size)] == sorted(FIXTURES)


@pytest.mark.parametrize(
    ("filters", "passes"),
    [
        ({"make": "QUELLOVANE"}, lambda v: v.make == "Quellovane"),
        ({"make": "quellovane", "model": "sablune"}, lambda v: v.model == "Sablune"),
        ({"model_year": 2021}, lambda v: v.model_year_first <= 2021 <= (v.model_year_last or 9999)),
        ({"market": "US"}, lambda v: "US" in v.markets),
        ({"system_kind": "rear_corner_radar"}, lambda v: "rear_corner_radar" in {s.kind for s in v.systems}),
        ({"make": "Jorvantel", "market": "CA"}, lambda v: v.make == "Jorvantel" and "CA" in v.markets),
        ({"q": "jorv rhe"}, lambda v: (v.make, v.model) == ("Jorvantel", "Rhedgarn")),
        ({"make": "Nobody"}, lambda _: False),
        ({"q": "'\" OR *"}, lambda _: False),
        ({"q": "-- ;"}, lambda _: False),
    ],
)
def test_a_filter_passes_what_it_says(
    client: Snapline, filters: dict[str, object], passes: Callable[[VehicleDocument], bool]
) -> None:
    found = {item.id for item in client.vehicles.list(page_size=2, **filters)}  # type: ignore[arg-type]
    assert found == {vehicle.id for vehicle in VEHICLES.values() if passes(vehicle)}


def token(http: httpx.Client, address: str) -> str:
    found: str = http.get(address).json()["next_page_token"]
    return found


@pytest.mark.parametrize(
    ("made_at", "used_at"),
    [
        (f"{LIST}?page_size=1", f"{LIST}?make=Quellovane"),
        (f"{LIST}?page_size=1&make=Quellovane", LIST),
        (f"{LIST}?page_size=1&q=q", f"{LIST}?q=k"),
        (f"{LIST}?page_size=1", "/v1/fixtures"),
        ("/v1/fixtures?page_size=1", LIST),
        (f"{SERVED}?page_size=1", "/v1/fixtures/board-wide/vehicles"),
        (f"{SERVED}?page_size=1", f"{SERVED}?by_property=true"),
    ],
)
def test_a_token_is_good_only_where_it_was_made(http: httpx.Client, made_at: str, used_at: str) -> None:
    separator = "&" if "?" in used_at else "?"
    faults = refused(http, f"{used_at}{separator}page_token={token(http, made_at)}")
    assert [fault["pointer"] for fault in faults] == ["/page_token"]
    assert "Start again" in faults[0]["detail"]


def test_a_token_is_good_with_another_page_size(http: httpx.Client) -> None:
    second = http.get(f"{LIST}?page_size=1&page_token={token(http, f'{LIST}?page_size=1')}").json()["items"]
    rest = http.get(f"{LIST}?page_size=200&page_token={token(http, f'{LIST}?page_size=1')}").json()["items"]
    assert rest[:1] == second
    assert len(rest) == len(VEHICLES) - 1


def test_a_damaged_or_forged_token_is_refused(http: httpx.Client) -> None:
    good = token(http, f"{LIST}?page_size=1")
    fingerprint, *after = json.loads(base64.urlsafe_b64decode(good + "=" * (-len(good) % 4)))
    forged = [
        [fingerprint],
        [fingerprint, *after, "more"],
        [fingerprint, *after[:2], 10**30, after[3]],  # beyond any integer of the database
        [fingerprint, *after[:2], "2016", after[3]],
        [fingerprint, *after[:2], 2016.0, after[3]],
        [fingerprint, None, *after[1:]],
        {"fingerprint": fingerprint},
    ]
    tokens = [base64.urlsafe_b64encode(json.dumps(value).encode()).decode() for value in forged]
    tokens += [good[:-3], good[3:], good.swapcase(), "€", "%00", "!!!!", "A", "W10", "bnVsbA"]
    tokens += [base64.urlsafe_b64encode(b"[" * 1400).decode(), base64.urlsafe_b64encode(b"\xff\xfe").decode()]
    for bad in tokens:
        faults = refused(http, f"{LIST}?page_token={quote(bad)}")
        assert [fault["pointer"] for fault in faults] == ["/page_token"], bad
