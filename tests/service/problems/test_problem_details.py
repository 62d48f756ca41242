"""What a problem is made of beyond its faults: its type's explanation, and the name of the exchange."""

import re

import httpx
import pytest

from running import Service
from service.problems.bodies import GOOD, problem_of

ASKED = [
    ("GET", "/livez"),
    ("GET", "/openapi.json"),
    ("GET", "/v1/vehicles/quellovane-lirra-2016-eu"),
    ("GET", "/v1/vehicles/nothing"),
    ("GET", "/v1/vehicles?page_size=0"),
    ("GET", "/nothing"),
    ("PUT", "/v1/setups"),
    ("POST", "/v1/setups"),
    ("POST", "/v1/geometry/reflector"),
]


@pytest.mark.parametrize("given", ["a", "0", "job-17.4_B", "4bf92f3577b34da6a3ce929d0e0e4736", "x" * 100])
@pytest.mark.parametrize(("method", "address"), ASKED)
def test_a_sane_request_id_comes_back(http: httpx.Client, method: str, address: str, given: str) -> None:
    body = GOOD.get(address) if method == "POST" and address.endswith("reflector") else None
    answer = http.request(method, address, json=body, headers={"x-request-id": given})
    assert answer.headers.get_list("x-request-id") == [given]
    if answer.status_code >= 400:
        assert answer.json()["request_id"] == given


@pytest.mark.parametrize(
    "given", [None, "", "x" * 101, "two words", "a;b", "<script>", "%0a", "é", "a,b", '"a"']
)
@pytest.mark.parametrize(("method", "address"), ASKED)
def test_any_other_request_id_is_replaced(
    http: httpx.Client, method: str, address: str, given: str | None
) -> None:
    headers = {} if given is None else {b"x-request-id": given.encode()}
    answers = [http.request(method, address, headers=headers) for _ in range(2)]
    ids = [answer.headers["x-request-id"] for answer in answers]
    assert all(re.fullmatch(r"[A-Za-z0-9_.\-]{16,100}", name) for name in ids)
    assert ids[0] != ids[1]


def test_without_a_good_key_a_problem_says_so(demo_service: tuple[Service, str]) -> None:
    service, key = demo_service
    with httpx.Client(base_url=service.url, verify=False) as http:
        for authorization in ("", "Bearer", f"Basic {key}", key, f"Bearer {key}x", "Bearer x"):
            headers = {"authorization": authorization} if authorization else {}
            for method, address in ASKED:
                if address.startswith("/v1/"):
                    answer = http.request(method, address, headers=headers)
                    problem = problem_of(http, answer, 401)
                    assert problem["code"] == "UNAUTHORIZED"
                    # RFC 9110, 15.5.2: a 401 must say how to sign in.
                    assert answer.headers["www-authenticate"].startswith("Bearer")
                    assert key not in answer.text


def test_an_address_that_explains_no_problem_is_a_problem(http: httpx.Client) -> None:
    for name in ("nothing", "%00", "a/b", "..%2f..%2fetc", "x" * 2000):
        problem_of(http, http.get(f"/problems/{name}"), 404)


def test_the_explanations_need_no_key(demo_service: tuple[Service, str]) -> None:
    service, _ = demo_service
    explained = httpx.get(f"{service.url}/problems/datums-do-not-fix-a-point").json()
    assert (explained["code"], explained["status"]) == ("DATUMS_DO_NOT_FIX_A_POINT", 422)
    assert "parallel" in explained["meaning"]


@pytest.mark.parametrize(
    ("query", "pointer"),
    [
        ("x=1", "/x"),
        ("validate_onyl=true", "/validate_onyl"),
        ("validate_only=true&validate_only=true", "/validate_only"),
    ],
)
@pytest.mark.parametrize("route", GOOD)
def test_no_operation_passes_over_a_query_parameter(
    http: httpx.Client, route: str, query: str, pointer: str
) -> None:
    address = f"{route.partition('?')[0]}?{query}"
    problem = problem_of(http, http.post(address, json=GOOD[route]), 422)
    assert [fault["pointer"] for fault in problem["errors"]] == [pointer]


def test_a_name_with_a_null_character_is_not_there_on_either_database(http: httpx.Client) -> None:
    for method, address in (
        ("DELETE", "/v1/keys/%00"),
        ("GET", "/v1/vehicles/%00"),
        ("PUT", "/v1/nothing/%00"),
    ):
        problem_of(http, http.request(method, address))
    problem_of(http, http.delete("/v1/keys/key_%00"), 404)
