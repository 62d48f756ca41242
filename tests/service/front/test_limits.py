"""Requests have limits, and who meets one is told what to do."""

import asyncio
import re
import socket
from collections.abc import Iterator
from pathlib import Path
from typing import Any, cast
from urllib.parse import urlsplit

import httpx
import msgspec
import pytest

from conftest import settings_in
from running import Service, running
from snapline_service import database
from snapline_service.access import keys
from snapline_service.access.callers import Callers
from snapline_service.demo import scenario
from snapline_service.front import Front
from snapline_service.reads import Reads


@pytest.fixture(scope="module")
def narrow(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Service, str]]:
    """A service that lets a key make five requests a minute and waits half a second for a body."""
    folder = tmp_path_factory.mktemp("narrow")
    settings = settings_in(folder, f"sqlite:///{folder}/snapline.db")
    database.migrate(settings.database)
    key = scenario.load(settings)
    narrowed = msgspec.structs.replace(settings, requests_per_minute=5, body_within_s=0.5)
    with running(narrowed) as service:
        yield service, key


def test_a_key_beyond_its_quota_is_told_how_long_to_wait(narrow: tuple[Service, str]) -> None:
    # Header fields of draft-ietf-httpapi-ratelimit-headers-10, section 3, and Retry-After of RFC 9110 10.2.3.
    service, key = narrow
    with httpx.Client(base_url=service.url, headers={"authorization": f"Bearer {key}"}) as client:
        answers = [client.get("/v1/fixtures") for _ in range(6)]
    assert [answer.status_code for answer in answers] == [200] * 5 + [429]
    left = [re.fullmatch(r'"default";r=(\d+);t=(\d+)', a.headers["ratelimit"]) for a in answers[:5]]
    assert [int(found[1]) for found in left if found] == [4, 3, 2, 1, 0]
    assert answers[0].headers["ratelimit-policy"] == '"default";q=5;w=60'
    refused = answers[5]
    assert refused.json()["code"] == "RATE_LIMITED"
    assert 1 <= int(refused.headers["retry-after"]) <= 60
    assert refused.json()["retryable"] is True


def test_who_has_no_key_has_no_quota_to_use_up(narrow: tuple[Service, str]) -> None:
    service, _ = narrow
    with httpx.Client(base_url=service.url) as client:
        assert {client.get("/livez").status_code for _ in range(10)} == {200}
        guesses = [
            client.get("/v1/fixtures", headers={"authorization": f"Bearer snl_{n}"}) for n in range(20)
        ]
        assert {guess.status_code for guess in guesses} == {401}


def test_a_body_that_drips_is_not_waited_for(narrow: tuple[Service, str]) -> None:
    service, _ = narrow
    with service.engine() as engine:
        secret = service.settings.secret
        key = keys.issue(engine, secret, group=scenario.GROUP, holder="slow", scopes=["plan"]).token
    place = urlsplit(service.url)
    with socket.create_connection((place.hostname, place.port), timeout=10) as connection:
        head = f"POST /v1/geometry/reflector HTTP/1.1\r\nHost: x\r\nAuthorization: Bearer {key}\r\n"
        connection.sendall(head.encode() + b"Content-Type: application/json\r\nContent-Length: 500\r\n\r\n{")
        answer = connection.recv(4000)
        while b"BODY_TOO_SLOW" not in answer:
            more = connection.recv(4000)
            assert more, answer
            answer += more
    assert b" 408 " in answer.split(b"\r\n")[0]


def test_an_answer_that_takes_too_long_is_given_up(tmp_path: Path) -> None:
    async def never(*_: object) -> None:
        await asyncio.sleep(60)

    sent: list[dict[str, Any]] = []

    async def send(message: Any) -> None:
        sent.append(message)

    async def receive() -> Any:
        return {"type": "http.request", "body": b"", "more_body": False}

    settings = msgspec.structs.replace(settings_in(tmp_path, "sqlite://"), answer_within_s=0.01)
    front = Front(never, cast("Callers", None), Reads(()), settings)
    scope: Any = {"type": "http", "method": "GET", "path": "/livez", "headers": [], "query_string": b""}
    asyncio.run(front(scope, receive, send))
    assert sent[0]["status"] == 503
    assert msgspec.json.decode(sent[1]["body"])["code"] == "TOOK_TOO_LONG"
