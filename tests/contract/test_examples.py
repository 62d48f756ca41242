"""Every example of the document, sent to the running service, and every refusal that it can provoke."""

import threading
import xml.etree.ElementTree as ET
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import httpx
import msgspec
import pytest

from contract.api import OPERATIONS, Operation, answer_faults, every_operation, on_sqlite
from running import Service, running
from snapline.wire.keys import SCOPES
from snapline_service.access import keys
from snapline_service.demo.scenario import GROUP
from snapline_service.problems import KINDS

pytestmark = on_sqlite

NEEDING_A_KEY = {name: o for name, o in OPERATIONS.items() if o.described["security"]}
WITH_A_BODY = {
    name: o
    for name, o in OPERATIONS.items()
    if o.body and "413" in o.described["responses"] and o.media != "application/octet-stream"
}
LOOK_UPS = {name: o for name, o in OPERATIONS.items() if "304" in o.described["responses"]}
LISTS = {name: o for name, o in LOOK_UPS.items() if any(p["in"] == "query" for p in o.parameters)}


def each(chosen: dict[str, Operation]) -> pytest.MarkDecorator:
    return pytest.mark.parametrize("operation", chosen.values(), ids=chosen)


def example_of(operation: Operation, http: httpx.Client) -> httpx.Request:
    """Return the request of an operation's examples; what it takes back is made first."""
    request = operation.request(http)
    if operation.id == "revoke_key":
        made = http.send(OPERATIONS["issue_key"].request(http)).json()
        request.url = request.url.copy_with(path=f"/v1/keys/{made['key']['id']}")
    if "{visit_id}" in operation.path:
        made = http.send(OPERATIONS["keep_visit"].request(http)).raise_for_status().json()
        request.url = request.url.copy_with(path=operation.path.replace("{visit_id}", made["id"]))
    if operation.id in DELETES.values():
        (creation,) = (name for name, deletion in DELETES.items() if deletion == operation.id)
        http.send(OPERATIONS[creation].request(http)).raise_for_status()
        request.url = request.url.copy_with(path=made_at(creation, http))
    if any(p["name"] == "If-Match" for p in operation.parameters):
        request.headers["if-match"] = http.get(request.url).headers["etag"]
    return request


# What an example creates is deleted by one, so that the scenario stays as it was.
DELETES = {"create_site": "delete_site", "create_bay": "delete_bay", "create_asset": "delete_asset"}


def made_at(creation: str, http: httpx.Client) -> str:
    """Return the address of what a creation's example makes."""
    operation = OPERATIONS[creation]
    assert operation.body is not None
    return f"{operation.request(http).url.path}/{operation.body['example']['id']}"


@contextmanager
def left_as_found(operation: Operation, request: httpx.Request, http: httpx.Client) -> Iterator[None]:
    """Undo what an example has changed, so that the next finds everything free and in its place."""
    before = http.get(request.url) if operation.method == "put" else None
    yield
    if before is not None:
        http.put(request.url, json=before.json(), headers={"if-match": "*"}).raise_for_status()
    if operation.id in DELETES:
        http.delete(made_at(operation.id, http), headers={"if-match": "*"}).raise_for_status()
    if operation.described["tags"] == ["visits"]:
        cancel_visits(http, OPERATIONS["keep_visit"])


def cancel_visits(http: httpx.Client, keep: Operation) -> None:
    """Cancel what is kept for the day of the examples."""
    assert keep.body is not None
    day = keep.body["example"]["request"]["date"]
    for visit in http.get("/v1/visits", params={"date": day}).json()["items"]:
        if visit["state"] in ("planned", "in_work"):
            headers = {"if-match": "*", "content-type": "application/merge-patch+json"}
            gone = http.patch(f"/v1/visits/{visit['id']}", json={"state": "cancelled"}, headers=headers)
            gone.raise_for_status()


@pytest.fixture(scope="module", autouse=True)
def a_visit_to_list(demo_service: tuple[Service, str]) -> None:
    """Keep a visit for the list's filters to find, on another day than that of the examples."""
    service, key = demo_service
    keep = OPERATIONS["keep_visit"]
    assert keep.body is not None
    day = filters_of(OPERATIONS["list_visits"])["date"]
    wanted = {**keep.body["example"], "request": {**keep.body["example"]["request"], "date": day}}
    with httpx.Client(base_url=service.url, headers={"authorization": f"Bearer {key}"}) as http:
        http.post(keep.path, json=wanted).raise_for_status()


def filters_of(operation: Operation) -> dict[str, Any]:
    return {p["name"]: p["example"] for p in operation.parameters if p["in"] == "query"}


@every_operation
def test_every_example_is_answered_as_described(operation: Operation, http: httpx.Client) -> None:
    request = example_of(operation, http)
    with left_as_found(operation, request, http):
        answer = http.send(request)
        assert str(answer.status_code) == operation.success_status
        assert answer_faults(operation, answer) == []


@pytest.mark.parametrize(
    ("operation", "name"),
    [(o, name) for o in LISTS.values() for name in filters_of(o) if name != "page_token"],
    ids=lambda value: value if isinstance(value, str) else value.id,
)
def test_every_filter_of_a_list_finds_something(operation: Operation, name: str, http: httpx.Client) -> None:
    request = operation.request(http, params={name: filters_of(operation)[name]})
    answer = http.send(request)
    assert answer.status_code == 200
    assert answer_faults(operation, answer) == []
    assert answer.json()["items"]


@each(LISTS)
def test_all_filters_of_a_list_together_find_something(operation: Operation, http: httpx.Client) -> None:
    # With them comes the page token, which belongs to exactly these filters.
    answer = http.send(operation.request(http, params=filters_of(operation)))
    assert answer.status_code == 200
    assert answer_faults(operation, answer) == []
    assert answer.json()["items"]


@each(LOOK_UPS)
def test_an_etag_sent_back_is_answered_by_304_as_described(operation: Operation, http: httpx.Client) -> None:
    request = example_of(operation, http)
    with left_as_found(operation, request, http):
        request.headers["if-none-match"] = http.send(request).headers["etag"]
        answer = http.send(request)
    assert answer.status_code == 304
    assert answer_faults(operation, answer) == []


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


@pytest.fixture(scope="session")
def key_without(demo_service: tuple[Service, str]) -> Iterator[dict[str, str]]:
    """For each scope that the document names, a key with all the others."""
    service, _ = demo_service
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
    operation: Operation, status: int, sent: dict[str, Any], http: httpx.Client
) -> None:
    headers = {"content-type": sent.get("media", operation.media)}
    request = http.build_request(operation.method, operation.path, content=sent["content"], headers=headers)
    assert_refused(operation, http.send(request), status)


@each(LOOK_UPS)
def test_a_query_that_is_not_described_is_refused(operation: Operation, http: httpx.Client) -> None:
    assert_refused(operation, http.send(operation.request(http, params={"colour": "red"})), 422)


@each({name: o for name, o in OPERATIONS.items() if "{" in o.path})
def test_a_name_that_is_not_there_is_refused_as_described(operation: Operation, http: httpx.Client) -> None:
    request = operation.request(http)
    *_, last = (p["example"] for p in operation.parameters if p["in"] == "path")
    request.url = request.url.copy_with(path=request.url.path.replace(last, "not-there"))
    answer = http.send(request)
    assert_refused(operation, answer, 404)


def test_a_media_type_that_cannot_be_made_is_refused_as_described(http: httpx.Client) -> None:
    operation = OPERATIONS["compute_setup"]
    answer = http.send(operation.request(http, headers={"accept": "image/png"}))
    assert_refused(operation, answer, 406)


def test_limits_of_rate_and_time_are_refused_as_described(demo_service: tuple[Service, str]) -> None:
    service, key = demo_service
    operation = OPERATIONS["compute_setup"]
    strict = msgspec.structs.replace(
        service.settings, requests_per_minute=2, body_within_s=0.2, answer_within_s=0.0
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
