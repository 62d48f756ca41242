"""A write that is sent again has no second effect (draft-ietf-httpapi-idempotency-key-header-07)."""

import threading
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor

import httpx
import pytest

from running import Service
from snapline import Snapline

BODY = {"holder": "Front desk", "scopes": ["read"]}


@pytest.fixture
def http(demo_service: tuple[Service, str]) -> Iterator[httpx.Client]:
    service, key = demo_service
    with httpx.Client(base_url=service.url, headers={"authorization": f"Bearer {key}"}) as client:
        yield client


def issue(http: httpx.Client, key: str | None = None, **body: object) -> httpx.Response:
    headers = {"idempotency-key": key} if key else {}
    return http.post("/v1/keys", json={**BODY, **body}, headers=headers)


def holders(http: httpx.Client, name: str) -> list[dict[str, str]]:
    return [item for item in http.get("/v1/keys").json()["items"] if item["holder_name"] == name]


def test_an_issued_key_opens_what_its_scopes_say(http: httpx.Client) -> None:
    issued = issue(http)
    assert issued.status_code == 201
    mine = {"authorization": f"Bearer {issued.json()['token']}"}
    assert http.get("/v1/vehicles", headers=mine).status_code == 200
    assert http.get("/v1/keys", headers=mine).status_code == 403


def test_the_same_request_twice_issues_one_key_and_shows_its_token_once(http: httpx.Client) -> None:
    first = issue(http, '"desk-1"', holder="Twice")
    again = issue(http, '"desk-1"', holder="Twice")
    assert (first.status_code, again.status_code) == (201, 201)
    assert first.json()["token"]
    assert again.json()["token"] is None
    assert first.json()["key"] == again.json()["key"]
    assert "idempotency-replayed" not in first.headers
    assert again.headers["idempotency-replayed"] == "true"
    assert len(holders(http, "Twice")) == 1


def test_another_request_under_the_same_key_is_refused(http: httpx.Client) -> None:
    issue(http, '"desk-2"', holder="First")
    other = issue(http, '"desk-2"', holder="Second")
    assert other.status_code == 422
    assert other.json()["code"] == "IDEMPOTENCY_KEY_REUSED"
    assert holders(http, "Second") == []


def test_a_failed_write_may_be_sent_again_corrected(http: httpx.Client) -> None:
    wrong = issue(http, '"desk-3"', scopes=["everything"])
    assert (wrong.status_code, wrong.json()["errors"][0]["pointer"]) == (422, "/scopes")
    assert issue(http, '"desk-3"').status_code == 201


def test_bare_and_quoted_keys_are_the_same_and_long_ones_refused(http: httpx.Client) -> None:
    assert issue(http, '"desk-4"', holder="Quoted").status_code == 201
    assert issue(http, "desk-4", holder="Quoted").headers["idempotency-replayed"] == "true"
    assert issue(http, "x" * 201).status_code == 422


def test_many_at_the_same_time_issue_one_key(demo_service: tuple[Service, str], http: httpx.Client) -> None:
    service, key = demo_service
    start = threading.Barrier(8)

    def send(_: int) -> httpx.Response:
        with httpx.Client(base_url=service.url, headers={"authorization": f"Bearer {key}"}) as client:
            start.wait()
            return issue(client, '"desk-5"', holder="Race")

    with ThreadPoolExecutor(8) as pool:
        answers = list(pool.map(send, range(8)))
    assert {answer.status_code for answer in answers} == {201}
    assert sum(answer.json()["token"] is not None for answer in answers) == 1
    assert len(holders(http, "Race")) == 1


def test_validating_alone_changes_nothing(http: httpx.Client) -> None:
    valid = http.post("/v1/keys?validate_only=true", json={**BODY, "holder": "Nobody"})
    assert (valid.status_code, valid.json()) == (200, {"key": None, "token": None})
    invalid = http.post("/v1/keys?validate_only=true", json={**BODY, "scopes": []})
    assert invalid.status_code == 422
    assert holders(http, "Nobody") == []
    assert http.post("/v1/keys?validate_only=perhaps", json=BODY).status_code == 422


def test_the_sdk_issues_lists_and_revokes(client: Snapline) -> None:
    assert client.keys.issue(holder="SDK", validate_only=True).key is None
    issued = client.keys.issue(holder="SDK", scopes=["read"], valid_days=30)
    assert issued.token
    assert issued.key
    assert issued.key.expires_at
    assert issued.key in client.keys.list().items
    revoked = client.keys.revoke(issued.key.id)
    assert revoked.revoked_at is not None
    assert client.keys.revoke(issued.key.id) == revoked


def test_a_key_of_nobody_cannot_be_revoked(http: httpx.Client) -> None:
    refused = http.delete("/v1/keys/key_of_nobody")
    assert (refused.status_code, refused.json()["code"]) == (404, "NOT_FOUND")
