"""Every example of the document, sent to the running service, and every refusal that it can provoke."""

import threading
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import httpx
import msgspec
import pytest

from contract.api import OPERATIONS, Operation, answer_faults, every_operation
from contract.scene import ANY, Scene
from running import Service, running
from snapline.wire.keys import SCOPES
from snapline_service.access import keys
from snapline_service.demo.scenario import GROUP
from snapline_service.problems import KINDS

NEEDING_A_KEY = {name: o for name, o in OPERATIONS.items() if o.described["security"]}
WITH_A_BODY = {
    name: o
    for name, o in OPERATIONS.items()
    if o.body and "413" in o.described["responses"] and o.media != "application/octet-stream"
}
LOOK_UPS = {name: o for name, o in OPERATIONS.items() if "304" in o.described["responses"]}
GETS = {name: o for name, o in NEEDING_A_KEY.items() if o.method == "get"}
LISTS = {name: o for name, o in GETS.items() if {"page_size", "after"} & {p["name"] for p in o.parameters}}


def each(chosen: dict[str, Operation]) -> pytest.MarkDecorator:
    return pytest.mark.parametrize("operation", chosen.values(), ids=chosen)


def filters_of(operation: Operation) -> dict[str, Any]:
    return {p["name"]: p["example"] for p in operation.parameters if p["in"] == "query"}


@contextmanager
def example_of(operation: Operation, scene: Scene, **more: Any) -> Iterator[httpx.Request]:
    """Yield the request of an operation's example. What it is about is made before and cleared away after."""
    names = scene.names(operation)
    request = operation.request(scene.first, names, **more)
    before = scene.first.get(request.url) if operation.method in ("put", "patch") else None
    if before is not None and any(p["name"] == "If-Match" for p in operation.parameters):
        request.headers["if-match"] = before.headers["etag"]
    elif any(p["name"] == "If-Match" for p in operation.parameters):
        request.headers["if-match"] = "*"
    yield request
    if before is not None and operation.described["tags"] == ["sites"]:
        scene.first.put(request.url, json=before.json(), headers=ANY)
    scene.clear(operation, names)


@pytest.fixture(scope="module", autouse=True)
def something_to_list(scene: Scene) -> None:
    """Make what the filters of lists find, on another day than that of the examples."""
    keep, note = OPERATIONS["keep_visit"].body, OPERATIONS["create_note"].body
    assert keep is not None
    assert note is not None
    day = filters_of(OPERATIONS["list_visits"])["date"]
    visit = {**keep["example"], "request": {**keep["example"]["request"], "date": day}}
    wanted = filters_of(OPERATIONS["list_notes"])
    about = {name: wanted[name] for name in ("vehicle_id", "procedure_id", "site")}
    for path, body in (
        ("/v1/visits", visit),
        ("/v1/notes", {**note["example"], **about, "text": "Two people carry it."}),
    ):
        scene.first.post(path, json=body).raise_for_status()
    scene.send("issue_key")


@every_operation
def test_every_example_is_answered_as_described(operation: Operation, scene: Scene) -> None:
    with example_of(operation, scene) as request:
        answer = scene.first.send(request)
        assert str(answer.status_code) == operation.success_status, answer.text
        assert answer_faults(operation, answer) == []


@pytest.mark.parametrize(
    ("operation", "name"),
    [(o, name) for o in LISTS.values() for name in filters_of(o) if name != "page_token"],
    ids=lambda value: value if isinstance(value, str) else value.id,
)
def test_every_filter_of_a_list_finds_something(operation: Operation, name: str, scene: Scene) -> None:
    with example_of(operation, scene, params={name: filters_of(operation)[name]}) as request:
        answer = scene.first.send(request)
        assert answer.status_code == 200
        assert answer_faults(operation, answer) == []
        assert answer.json()["items"]


@each(LISTS)
def test_all_filters_of_a_list_together_find_something(operation: Operation, scene: Scene) -> None:
    # With them comes the page token, which belongs to exactly these filters.
    with example_of(operation, scene, params=filters_of(operation)) as request:
        answer = scene.first.send(request)
        assert answer.status_code == 200
        assert answer_faults(operation, answer) == []
        assert answer.json()["items"]


@each(LOOK_UPS)
def test_an_etag_sent_back_is_answered_by_304_as_described(operation: Operation, scene: Scene) -> None:
    with example_of(operation, scene) as request:
        request.headers["if-none-match"] = scene.first.send(request).headers["etag"]
        answer = scene.first.send(request)
        assert answer.status_code == 304
        assert answer_faults(operation, answer) == []


def test_a_part_of_a_file_is_answered_as_described(scene: Scene) -> None:
    operation = OPERATIONS["download_revision_file"]
    with example_of(operation, scene, headers={"range": "bytes=0-15"}) as request:
        answer = scene.first.send(request)
        request.headers["range"] = "bytes=99999999999-"
        beyond = scene.first.send(request)
    assert answer.status_code == 206
    assert answer.content == b"SQLite format 3\x00"
    assert answer_faults(operation, answer) == []
    assert beyond.status_code == 416
    assert answer_faults(operation, beyond) == []


def test_a_setup_comes_as_a_drawing_too(http: httpx.Client) -> None:
    operation = OPERATIONS["compute_setup"]
    answer = http.send(operation.request(http, headers={"accept": "image/svg+xml"}))
    assert answer_faults(operation, answer) == []
    assert ET.fromstring(answer.content).tag == "{http://www.w3.org/2000/svg}svg"


def test_an_idempotency_key_and_a_validation_are_answered_as_described(http: httpx.Client) -> None:
    operation = OPERATIONS["issue_key"]
    once = {"idempotency-key": "contract-test"}
    first = http.send(operation.request(http, headers=once))
    again = http.send(operation.request(http, headers=once))
    only_validated = http.send(operation.request(http, params={"validate_only": "true"}))
    assert [a.status_code for a in (first, again, only_validated)] == [201, 201, 200]
    assert again.headers["idempotency-replayed"] == "true"
    assert [answer_faults(operation, a) for a in (first, again, only_validated)] == [[], [], []]


def assert_refused(operation: Operation, answer: httpx.Response, status: int) -> None:
    assert answer.status_code == status
    assert answer_faults(operation, answer) == []
    problem = answer.json()
    assert KINDS[problem["code"]].status == status == problem["status"]
    assert problem["request_id"] == answer.headers["x-request-id"]


@each(NEEDING_A_KEY)
def test_without_a_key_every_operation_is_refused(operation: Operation, http: httpx.Client) -> None:
    request = operation.request(http)
    del request.headers["authorization"]
    assert_refused(operation, http.send(request), 401)


@pytest.fixture(scope="module")
def key_without(own_service: tuple[Service, str]) -> Iterator[dict[str, str]]:
    """For each scope that the document names, a key with all the others."""
    service, _ = own_service
    named = {operation.described["security"][0]["key"][0] for operation in NEEDING_A_KEY.values()}
    with service.engine() as engine:
        yield {
            scope: keys.issue(
                engine,
                service.settings.secret,
                group=GROUP,
                holder=f"contract without {scope}",
                scopes=[other for other in SCOPES if other != scope],
            ).token
            for scope in named
        }


@each(NEEDING_A_KEY)
def test_the_scope_that_is_described_is_the_one_that_is_needed(
    operation: Operation, http: httpx.Client, key_without: dict[str, str]
) -> None:
    ((scope,),) = (requirement["key"] for requirement in operation.described["security"])
    request = operation.request(http, headers={"authorization": f"Bearer {key_without[scope]}"})
    assert_refused(operation, http.send(request), 403)


@each(WITH_A_BODY)
@pytest.mark.parametrize(
    ("status", "sent"),
    [
        (400, {"content": b"{"}),
        (413, {"content": b" " * 1_000_001}),
        (415, {"content": b"<setup/>", "media": "application/xml"}),
        (422, {"content": b'{"wheelbase_in": 113.8}'}),
    ],
)
def test_a_body_that_cannot_be_used_is_refused_as_described(
    operation: Operation, status: int, sent: dict[str, Any], scene: Scene, http: httpx.Client
) -> None:
    headers = {"content-type": sent.get("media", operation.media)}
    with example_of(operation, scene, content=sent["content"]) as request:
        request.headers.update(headers)
        assert_refused(operation, http.send(request), status)  # the connection may be given up with it


@each(GETS)
def test_a_query_that_is_not_described_is_refused(operation: Operation, http: httpx.Client) -> None:
    assert_refused(operation, http.send(operation.request(http, params={"colour": "red"})), 422)


@each({name: o for name, o in OPERATIONS.items() if "{" in o.path})
def test_a_name_that_is_not_there_is_refused_as_described(operation: Operation, http: httpx.Client) -> None:
    *_, last = (p["name"] for p in operation.parameters if p["in"] == "path")
    answer = http.send(operation.request(http, {last: "not-there"}))
    assert_refused(operation, answer, 404)


def test_a_media_type_that_cannot_be_made_is_refused_as_described(http: httpx.Client) -> None:
    operation = OPERATIONS["compute_setup"]
    answer = http.send(operation.request(http, headers={"accept": "image/png"}))
    assert_refused(operation, answer, 406)


def test_limits_of_rate_and_time_are_refused_as_described(own_service: tuple[Service, str]) -> None:
    service, key = own_service
    operation = OPERATIONS["compute_setup"]
    strict = msgspec.structs.replace(
        service.settings, requests_per_minute=2, body_within_s=0.2, answer_within_s=1e-6
    )
    with (
        running(strict) as limited,
        httpx.Client(base_url=limited.url, headers={"authorization": f"Bearer {key}"}) as http,
    ):

        def slowly() -> Iterator[bytes]:
            yield b"{"
            threading.Event().wait(1.0)
            yield b"}"

        answers = [http.post(operation.path, content=slowly())]
        answers += [http.send(operation.request(http)) for _ in range(2)]
    for answer, status in zip(answers, (408, 503, 429), strict=True):
        assert_refused(operation, answer, status)
        assert answer.json()["retryable"]
    assert 0 < int(answers[-1].headers["retry-after"]) <= 60
